"""What a reference value is: a figure with its unit, its kind and its source."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from appraise.models.base import Currency, Id, Label, Model, Note
from appraise.models.findings import Area, Look
from appraise.models.jobs import Job
from appraise.models.ranges import Range
from appraise.models.vehicle import Fuel

__all__ = [
    "Access",
    "AreaReference",
    "Caution",
    "Citation",
    "Kind",
    "Provenance",
    "Source",
    "Tool",
    "TypicalJob",
    "Unit",
    "Value",
]


class Kind(StrEnum):
    """How good the ground under a value is."""

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
    publisher: Annotated[str, Field(max_length=200)] = ""
    year: Annotated[int, Field(ge=1800, le=2100)] | None = None
    note: Note = ""


class Unit(Model):
    """A unit that a reference value may have; the list is closed."""

    id: Id
    label: Label


class Citation(Model):
    """Where in a source."""

    id: Id
    at: Annotated[str, Field(max_length=300)] = ""


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
        from_memory = "no published source; from memory" in self.note
        if self.kind is Kind.COMMON_PRACTICE and not self.sources and not from_memory:
            raise ValueError("common practice: say 'no published source; from memory'")
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
    value: Decimal | None = None
    range: Range | None = None
    table: dict[Id, Decimal] | None = None
    points: tuple[tuple[Decimal, Decimal], ...] | None = None

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
    text: Annotated[str, Field(min_length=10, max_length=400)]
    kind: Kind
    sources: tuple[Citation, ...] = ()


class TypicalJob(Model):
    """One of the repairs that a fault in an area not looked at may need."""

    job: Id
    weight: Annotated[Decimal, Field(gt=0, le=100)]


class AreaReference(Provenance):
    """An area of the car: how often it hides a fault, what that takes, what a look finds.

    Attributes
    ----------
    rate : chance of a fault worth money at a middling age and mileage, in [0, 1].
    found : chance that a look of each kind finds such a fault, in [0, 1].
    typical : repairs that such a fault needs, by weight.
    """

    id: Area
    label: Label
    rate: Annotated[Decimal, Field(ge=0, lt=1)]
    found: dict[Look, Annotated[Decimal, Field(ge=0, le=1)]]
    typical: tuple[TypicalJob, ...] = Field(min_length=1)
    not_for: tuple[Fuel, ...] = ()
    look_for: Annotated[str, Field(max_length=500)] = ""


class JobFile(Provenance):
    """What holds for every job of a file."""

    schema_version: Literal[1]
    currency: Currency
    base_year: Annotated[int, Field(ge=2000, le=2100)]
    job: tuple[Job, ...] = ()
