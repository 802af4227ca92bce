"""What a reference value is: a figure with its unit, its kind and its source."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Any, Literal, Self

from pydantic import Field, field_validator, model_validator

from appraise.models.base import (
    PRINTABLE,
    SANE,
    Amount,
    Chance,
    Currency,
    Id,
    Label,
    Model,
    Note,
    Number,
    Words,
)
from appraise.models.findings import Area, Look, Severity
from appraise.models.jobs import Job
from appraise.models.ranges import Range
from appraise.models.vehicle import Fits, Fuel
from appraise.reference.code_ranges import spelled_out

__all__ = [
    "Access",
    "AreaReference",
    "Brand",
    "Brands",
    "Caution",
    "Check",
    "Citation",
    "CodeGroup",
    "Fault",
    "Kind",
    "Limit",
    "Link",
    "MakerPlace",
    "MakerPlaces",
    "Pid",
    "PidField",
    "Pids",
    "Provenance",
    "Remedy",
    "Shows",
    "Source",
    "Symptom",
    "Tool",
    "Unit",
    "Value",
]

ROUNDING = Decimal("1e-9")


class Kind(StrEnum):
    """What a value rests on, from law down to common practice."""

    LAW = "law"
    STANDARD = "standard"
    OFFICIAL_STATISTIC = "official statistic"
    TEXTBOOK = "textbook"
    OPEN_DATA = "open data"
    MAKER = "maker"
    COMMON_PRACTICE = "common practice"
    DERIVED = "derived"
    OWN = "own"


NEEDS_SOURCE = {
    Kind.LAW,
    Kind.STANDARD,
    Kind.OFFICIAL_STATISTIC,
    Kind.TEXTBOOK,
    Kind.OPEN_DATA,
    Kind.MAKER,
}


class Source(Model):
    """Something published."""

    id: Id
    title: Label
    publisher: Annotated[str, Field(max_length=200), PRINTABLE] = ""
    year: Annotated[int, Field(ge=1800, le=2100)] | None = None
    note: Note = ""


class Unit(Model):
    """A unit that a reference value may have; the list is closed."""

    id: Id
    label: Label


class Citation(Model):
    """Where in a source."""

    id: Id
    at: Annotated[str, Field(max_length=300), PRINTABLE] = ""


class Provenance(Model):
    """Where a value comes from and when somebody last looked whether it still holds."""

    kind: Kind
    sources: tuple[Citation, ...] = ()
    checked_on: date | None = None
    note: Note = ""

    @model_validator(mode="after")
    def _has_its_source(self) -> Self:
        if self.kind in NEEDS_SOURCE and not self.sources:
            raise ValueError(f"{self.kind.value}: names no source")
        own_estimate = "our estimate, no published source" in self.note
        if self.kind is Kind.COMMON_PRACTICE and not self.sources and not own_estimate:
            raise ValueError("common practice: say 'our estimate, no published source'")
        if self.kind is not Kind.OWN and self.checked_on is None:
            raise ValueError("says not when it was last checked: checked_on")
        if self.kind is Kind.DERIVED and not self.note:
            raise ValueError("derived: say from what")
        return self


class Value(Provenance):
    """One figure, range, table or curve, with its source.

    Exactly one of `value`, `range`, `table` and `points` is given. A curve is read by straight
    lines between its points and flat beyond them.
    """

    id: Id
    label: Label
    unit: Id
    valid_from: date | None = None
    value: Number | None = None
    range: Range | None = None
    table: dict[Id, Number] | None = None
    points: tuple[tuple[Number, Number], ...] | None = None

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        given = [self.value, self.range, self.table, self.points]
        if sum(one is not None for one in given) != 1:
            raise ValueError("give exactly one of value, range, table and points")
        if self.points is not None:
            places = [at for at, _ in self.points]
            if len(places) < 2 or places != sorted(set(places)):  # noqa: PLR2004
                raise ValueError("points: at least two, in ascending order")
        return self


class Access(Model):
    """What has to come off, paid once however many jobs need it.

    Attributes
    ----------
    covers : groups that this one includes, so that they are not paid beside it.
    """

    id: Id
    label: Label
    hours: Range
    hours_family: Literal["wheel_end", "engine_bay", "underside", "inside", "outside", "same"] = (
        "same"
    )
    covers: tuple[Id, ...] = ()
    cautions: tuple[Id, ...] = ()


class Tool(Model):
    """A special tool: what it costs to get the use of it once, hired or bought cheap."""

    id: Id
    label: Label
    price: Range


class Caution(Model):
    """A warning that stands beside a kind of work."""

    id: Id
    work: Label
    text: Annotated[str, Field(min_length=10, max_length=400), PRINTABLE]
    kind: Kind
    sources: tuple[Citation, ...] = ()


class AreaReference(Provenance):
    """An area of the car: how often it hides a fault, what that takes, what a look finds.

    Attributes
    ----------
    rate : share of cars of 12 years and 120,000 miles with a fault worth money there, in [0, 1].
    curve : how that goes with age and miles: `fault.age.CURVE` and `fault.miles.CURVE`.
    found : chance that a look of each kind finds such a fault, in [0, 1].
    """

    id: Area
    label: Label
    rate: Annotated[Decimal, Field(ge=0, lt=1), SANE]
    curve: Literal["wear", "rust", "electrical", "cosmetic", "tires"]
    found: dict[Look, Chance]
    not_for: tuple[Fuel, ...] = ()
    look_for: Annotated[str, Field(max_length=500), PRINTABLE] = ""


class Remedy(Model):
    """One of the ways in which a fault is repaired.

    Attributes
    ----------
    jobs : all of them together; a first try that failed stands beside what it took then. None
        where nothing is to be bought or done.
    weight : how often it comes to this, against the fault's other remedies.
    """

    jobs: tuple[Id, ...] = ()
    weight: Annotated[Decimal, Field(gt=0, le=100), SANE]


class Fault(Fits):
    """One thing that can be wrong with a car, under one id wherever it is named.

    Attributes
    ----------
    area : where it hides when nobody has inspected that.
    often : cars in a thousand that have it, among those of its kind of 12 years and 120,000 miles
        that nobody prepared for sale. Only the proportions within an area count: together its
        faults meet the area's own rate.
    remedies : what repairs it, by weight.
    """

    id: Id
    label: Label
    area: Area
    often: Annotated[Decimal, Field(gt=0, le=1000), SANE]
    remedies: tuple[Remedy, ...] = Field(min_length=1)
    note: Note = ""

    @property
    def usual_jobs(self) -> tuple[Id, ...]:
        """The jobs of the likeliest remedy."""
        return max(self.remedies, key=lambda one: one.weight).jobs

    @property
    def jobs(self) -> tuple[Id, ...]:
        """Every job that may repair it, each once, those of the likeliest remedy first."""
        by_weight = sorted(self.remedies, key=lambda one: -one.weight)
        return tuple(dict.fromkeys(job for one in by_weight for job in one.jobs))


class Shows(StrEnum):
    """How often a car with a fault shows a sign of it; the chances stand in `shows.chance`."""

    ALWAYS = "always"
    MOSTLY = "mostly"
    OFTEN = "often"
    SOMETIMES = "sometimes"
    RARELY = "rarely"
    HARDLY_EVER = "hardly_ever"


class Link(Model):
    """A fault behind a symptom or a code.

    Attributes
    ----------
    share : of the cars that show the sign and nothing else, how many turn out to have it.
    shows : how often a car with the fault shows the sign; fitted from shares, then read through.
    """

    cause: Id
    share: Annotated[Decimal, Field(gt=0, le=1), SANE]
    shows: Shows | None = None


class Symptom(Provenance, Fits):
    """Something that a person sees, hears, feels or smells.

    Attributes
    ----------
    causes : by share; what they leave to 1 is something else.
    phenomenon : what it is a word for, where other signs are words for the same thing.
    ask : other words for it, to be found by.
    """

    id: Id
    label: Label
    area: Area
    severity: Severity
    ask: tuple[Label, ...] = ()
    causes: tuple[Link, ...] = Field(min_length=1)
    phenomenon: Words = ""

    @model_validator(mode="after")
    def _shares_fit(self) -> Self:
        _check_shares(self.causes)
        return self


class TroubleCode(Model):
    """A code of a group, with its plain meaning."""

    code: Annotated[str, Field(pattern=r"^[PBCU][0-3][0-9A-F]{3}$")]
    label: Label


class CodeGroup(Provenance):
    """Codes that have the same causes.

    Attributes
    ----------
    urgency : `stop` (before driving), `high` (before sale), `medium` (soon), `low` (when
        convenient).
    monitor : the readiness monitor that owns the code, if one does.
    codes : may be written as ranges, see `appraise.reference.code_ranges`.
    phenomenon : what it is a word for, where other signs are words for the same thing.
    """

    id: Id
    system: Label
    area: Area
    urgency: Literal["stop", "high", "medium", "low"]
    monitor: Words = ""
    codes: tuple[TroubleCode, ...] = Field(min_length=1)
    causes: tuple[Link, ...] = Field(min_length=1)
    phenomenon: Words = ""

    @field_validator("codes", mode="before")
    @classmethod
    def _codes_spelled_out(cls, rows: Any) -> Any:  # noqa: ANN401
        if not isinstance(rows, list):
            return rows
        return [one for row in rows for one in _row_spelled_out(row)]

    @model_validator(mode="after")
    def _shares_fit(self) -> Self:
        _check_shares(self.causes)
        return self


def _row_spelled_out(row: Any) -> list[Any]:  # noqa: ANN401
    """Return the codes of a row of a group; a row of another shape is left to be refused."""
    match row:
        case {"code": str(code), "label": str(label), **more} if not more:
            return list(spelled_out(code, label))
    return [row]


def _check_shares(causes: tuple[Link, ...]) -> None:
    names = [one.cause for one in causes]
    if len(names) != len(set(names)):
        raise ValueError("names a cause twice")
    total = sum((one.share for one in causes), Decimal(0))
    if total > 1:
        raise ValueError(f"the shares of its causes sum to {total}, above 1")


class Likelihood(Model):
    """How likely each outcome of a check is under some causes; in the order of its outcomes."""

    causes: tuple[Id, ...] = Field(min_length=1)
    chances: tuple[Chance, ...]


class Check(Provenance):
    """A test that tells causes apart.

    Attributes
    ----------
    minutes : low, likely, high, for somebody with the tools at hand.
    cost : money out for one use, without tools.
    outcomes : what one may find, each in a few words.
    given : chances of the outcomes under the causes that it speaks to.
    otherwise : the same under every other cause, and when nothing is wrong.
    needs : where it can be done: `standing` (as the car stands at a viewing), `running` (engine
        runs), `driven` (a drive), `raised` (on stands), `workshop` (time and tools).
    """

    id: Id
    label: Label
    minutes: Range
    cost: Amount = Decimal(0)
    tools: tuple[Id, ...] = ()
    how: Annotated[str, Field(min_length=20, max_length=500), PRINTABLE]
    cautions: tuple[Id, ...] = ()
    needs: Literal["standing", "running", "driven", "raised", "workshop"]
    outcomes: tuple[Label, ...] = Field(min_length=2, max_length=5)
    given: tuple[Likelihood, ...] = Field(min_length=1)
    otherwise: tuple[Chance, ...]

    @model_validator(mode="after")
    def _chances_fit(self) -> Self:
        if len(self.outcomes) != len(set(self.outcomes)):
            raise ValueError("two outcomes share one name")
        named: set[str] = set()
        for chances in (self.otherwise, *(one.chances for one in self.given)):
            if len(chances) != len(self.outcomes):
                raise ValueError("give one chance for each outcome")
            if abs(sum(chances, Decimal(0)) - 1) > ROUNDING:
                raise ValueError(f"chances {[str(one) for one in chances]} do not sum to 1")
        for one in self.given:
            twice = named & set(one.causes)
            if twice:
                raise ValueError(f"speaks twice of {min(twice)}")
            named |= set(one.causes)
        return self


class Printed(Model):
    """The same limit as its source prints it in another unit."""

    unit: Label
    good_at_least: Number | None = None
    good_at_most: Number | None = None


class ByQuantity(Model):
    """What a limit hangs on: straight lines between points, `good_at_most` as the height."""

    label: Label
    unit: Label
    points: tuple[tuple[Number, Number], ...] = Field(min_length=2)


class Limit(Provenance):
    """What a measurement is held against.

    Passes within the good bounds, fails beyond the bad ones, and between them nobody can tell. A
    limit of law has no such between: its good and bad bounds are the same.

    Attributes
    ----------
    asks : `number`, or `yes` / `no`: a question to be answered so in order to pass.
    jurisdiction : where it holds: a country, a law, or `general` for a rule of thumb.
    printed : how the source prints the limit in other units; used for a reading in that unit.
    by : what the limit hangs on, if on anything.
    jobs : what usually repairs a fail.
    cautions : what can hurt while it is measured.
    """

    id: Id
    label: Label
    area: Area
    asks: Literal["number", "yes", "no"] = "number"
    unit: Annotated[str, Field(max_length=30), PRINTABLE] = ""
    jurisdiction: Label
    good_at_least: Number | None = None
    good_at_most: Number | None = None
    bad_below: Number | None = None
    bad_above: Number | None = None
    printed: tuple[Printed, ...] = ()
    by: ByQuantity | None = None
    severity: Severity
    failed: Label
    cautions: tuple[Id, ...] = ()
    jobs: tuple[Id, ...] = ()
    how: Annotated[str, Field(max_length=500), PRINTABLE] = ""

    @model_validator(mode="after")
    def _has_bounds(self) -> Self:
        bounds = (self.good_at_least, self.good_at_most, self.bad_below, self.bad_above)
        given = any(one is not None for one in bounds) or self.by is not None
        if self.asks == "number" and not (given and self.unit):
            raise ValueError("a number needs a unit and a bound")
        if self.asks != "number" and given:
            raise ValueError("a question has no bounds")
        if (
            self.good_at_least is not None
            and self.bad_below is not None
            and self.bad_below > self.good_at_least
        ):
            raise ValueError("bad_below lies above good_at_least")
        if (
            self.good_at_most is not None
            and self.bad_above is not None
            and self.bad_above < self.good_at_most
        ):
            raise ValueError("bad_above lies below good_at_most")
        return self


class MakerPlace(Model):
    """A run of first two characters of a vehicle's number and the country it is given to.

    Attributes
    ----------
    first, last : the run's ends, both in it.
    standing : what the entry rests on.
    """

    first: Annotated[str, Field(pattern=r"^[A-HJ-NPR-Z0-9]{2}$")]
    last: Annotated[str, Field(pattern=r"^[A-HJ-NPR-Z0-9]{2}$")]
    country: Label
    standing: Literal["public lists", "one public list", "from memory"] = "public lists"


class MakerPlaces(Provenance):
    """The file `maker_places.toml`: which country each maker code is given to."""

    place: tuple[MakerPlace, ...] = Field(min_length=1)


class Brand(Model):
    """A title brand.

    Attributes
    ----------
    name : as in the list, lower case.
    means : one sentence.
    road : whether a car so marked may go on the road.
    later : whether it stands only in the later federal list; no published source for that.
    also : other words for it.
    """

    name: Label
    means: Label
    road: Literal["may", "not until inspected", "not"] = "may"
    later: bool = False
    also: tuple[Label, ...] = ()


class Brands(Provenance):
    """The file `title_brands.toml`: the brands that a title may carry."""

    brand: tuple[Brand, ...] = Field(min_length=1)


class PidField(Model):
    """One value in an answer: ``(raw * times + plus) / over``, whole numbers throughout.

    Attributes
    ----------
    at : first byte, from 0 behind the PID.
    size : bytes, the highest first.
    bit : bit of the first byte that says whether the car has this value; None if it need not.
    signed : the bytes are one number in two's complement.
    stops : a raw value of all ones means "this or more".
    unused : raw value that means that the sensor is not used for this.
    scaled_by : which maximum of PIDs 4F and 50 rescales it.
    note : what to know about it, or an empty string.
    """

    name: Label
    unit: Label
    at: Annotated[int, Field(ge=0)] = 0
    size: Annotated[int, Field(ge=1)] = 1
    times: int = 1
    plus: int = 0
    over: Annotated[int, Field(ge=1)] = 1
    bit: Annotated[int, Field(ge=0, le=7)] | None = None
    signed: bool = False
    stops: bool = False
    unused: int | None = None
    scaled_by: Literal["", "lambda", "volts", "milliamps", "map", "air"] = ""
    note: Words = ""

    @property
    def most(self) -> int:
        """The largest raw value: all ones."""
        return (1 << 8 * self.size) - 1


class PidLayout(Model):
    """The values of an answer of so many data bytes."""

    size: Annotated[int, Field(ge=1)]
    field: tuple[PidField, ...] = Field(min_length=1)


class Pid(Model):
    """How one answer is read: a layout, or two where cars send two forms."""

    number: Annotated[int, Field(ge=0, le=0xFF)]
    name: Label
    layout: tuple[PidLayout, ...] = Field(min_length=1)

    @property
    def layouts(self) -> dict[int, tuple[PidField, ...]]:
        """Its values by the number of data bytes."""
        return {one.size: one.field for one in self.layout}


class Named(Model):
    """What one number of an enumeration says."""

    value: int
    words: Label


class Pids(Provenance):
    """The file `pids.toml`: how live data of the standard are read."""

    fuel_system: tuple[Named, ...]
    standard: tuple[Named, ...]
    fuel_type: tuple[Named, ...]
    pid: tuple[Pid, ...] = Field(min_length=1)


class JobFile(Provenance):
    """What holds for every job of a file."""

    schema_version: Literal[1]
    currency: Currency
    base_year: Annotated[int, Field(ge=2000, le=2100)]
    job: tuple[Job, ...] = ()
