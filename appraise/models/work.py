"""Work on a car that is owned: what is to be done, what was paid and worked, what proves it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from decimal import Decimal
from enum import StrEnum
from graphlib import CycleError, TopologicalSorter
from typing import Annotated, Self

from pydantic import Field, model_validator

from appraise.models.base import (
    SANE,
    Chance,
    Currency,
    Day,
    Id,
    Label,
    Model,
    Money,
    Note,
    Number,
    Words,
)
from appraise.models.files import Attachments
from appraise.models.findings import TroubleCode
from appraise.models.jobs import DoneBy
from appraise.models.ledger import Entry, check_entries
from appraise.models.measurements import Measurement
from appraise.models.ranges import Range

__all__ = [
    "Breaking",
    "BreakingLine",
    "Bypass",
    "CodeProof",
    "Grade",
    "JobProof",
    "PlannedJob",
    "PlannedPart",
    "PullProof",
    "Purpose",
    "Stage",
    "Work",
]

MOST_JOBS = 200
MOST_ENTRIES = 3_000


class Grade(StrEnum):
    """Where a part comes from."""

    MAKER = "maker"
    AFTERMARKET = "aftermarket"
    USED = "used"


class Stage(StrEnum):
    """How far a job has come."""

    PLANNED = "planned"
    STARTED = "started"
    DONE = "done"
    DROPPED = "dropped"


class Purpose(StrEnum):
    """What a job is for."""

    REPAIR = "repair"
    PREVENTIVE = "preventive"
    UPGRADE = "upgrade"
    BYPASS = "bypass"


class PlannedPart(Model):
    """A part to buy for a job."""

    id: Id = Field(description="Stable name within the job")
    label: Label = Field(description="Part")
    grade: Grade = Field(default=Grade.AFTERMARKET, description="Where it comes from")
    supplier: Words = Field(default="", description="Supplier")
    quantity: Annotated[int, Field(ge=1, le=100)] = Field(default=1, description="Quantity")
    price: Money | None = Field(
        default=None, description="Price each; empty for what the catalog expects"
    )
    shipping: Money = Field(default=Decimal(0), description="Shipping, all together")
    tax: Money = Field(default=Decimal(0), description="Tax, all together")
    core: Money = Field(default=Decimal(0), description="Deposit each on the old unit")
    delivery_days: Annotated[int, Field(ge=0, le=365)] | None = Field(
        default=None, description="Days until it is here"
    )
    warranty_months: Annotated[int, Field(ge=0, le=240)] | None = Field(
        default=None, description="Warranty, months"
    )
    ordered_on: Day | None = Field(default=None, description="Ordered on")
    arrived_on: Day | None = Field(default=None, description="Arrived on")

    @model_validator(mode="after")
    def _arrives_after_the_order(self) -> Self:
        if self.ordered_on and self.arrived_on and self.arrived_on < self.ordered_on:
            raise ValueError(f"arrived on {self.arrived_on}, before it was ordered")
        return self

    @property
    def cost(self) -> Decimal | None:
        """What it comes to without the deposit, or None as long as no price is known."""
        if self.price is None:
            return None
        return self.price * self.quantity + self.shipping + self.tax


class CodeProof(Model):
    """Answers of the car after its codes were cleared and it was driven."""

    codes: tuple[TroubleCode, ...] = Field(
        default=(), max_length=40, description="Codes that the job was to end"
    )
    at_clear: Note = Field(
        default="", description="The car's answers right after the codes were cleared, as pasted"
    )
    answers: Note = Field(default="", description="The car's answers after the drive, as pasted")


class PullProof(Model):
    """Averages over a logged full-load pull before and after, in one unit."""

    quantity: Label = Field(description="What was logged")
    unit: Words = Field(default="", description="Unit")
    before: Number | None = Field(default=None, description="Average before")
    after: Number = Field(description="Average after")
    low: Number = Field(description="Target from")
    high: Number = Field(description="Target to")

    @model_validator(mode="after")
    def _target_in_order(self) -> Self:
        if self.low > self.high:
            raise ValueError(f"the target begins at {self.low}, above its end {self.high}")
        return self


class JobProof(Model):
    """What shows that a job did what it was for."""

    measurements: tuple[Measurement, ...] = Field(
        default=(), max_length=40, description="Measurements after the job"
    )
    code: CodeProof | None = Field(default=None, description="Codes and monitor after the job")
    pull: PullProof | None = Field(default=None, description="Logged pull before and after")
    why_none: Words = Field(default="", description="Why there is no proof")

    @property
    def empty(self) -> bool:
        """Whether there is neither a proof nor a reason for having none."""
        return not (self.measurements or self.code or self.pull or self.why_none)


class Bypass(Model):
    """A control put out of action for a time."""

    what: Label = Field(description="What is bypassed")
    reason: Label = Field(description="Why")
    started_on: Day = Field(description="Since")
    restore: Label = Field(description="What has to be done to restore it")
    restored_on: Day | None = Field(default=None, description="Restored on")

    @model_validator(mode="after")
    def _ends_after_it_began(self) -> Self:
        if self.restored_on and self.restored_on < self.started_on:
            raise ValueError(f"restored on {self.restored_on}, before it began")
        return self

    @property
    def open(self) -> bool:
        """Whether the control is still out of action."""
        return self.restored_on is None


class PlannedJob(Model):
    """A job on this very car, planned, begun, done or dropped."""

    id: Id = Field(description="Stable name within the case")
    job: Id = Field(description="Job of the catalog or of the case's own list")
    quantity: Annotated[int, Field(ge=1, le=20)] = Field(default=1, description="How many times")
    findings: tuple[Id, ...] = Field(default=(), max_length=40, description="Findings it repairs")
    purpose: Purpose = Field(default=Purpose.REPAIR, description="What it is for")
    must: bool = Field(
        default=False, description="Must be done before a private buyer drives it away"
    )
    done_by: DoneBy | None = Field(default=None, description="Done by; empty as in the deal")
    parts: tuple[PlannedPart, ...] = Field(default=(), max_length=40, description="Parts to buy")
    money: Range | None = Field(
        default=None, description="Own figure for all its parts, instead of the catalog"
    )
    hours: Range | None = Field(
        default=None, description="Own figure for its hours, instead of the catalog"
    )
    after: tuple[Id, ...] = Field(
        default=(), max_length=40, description="Jobs that have to be done before it"
    )
    stage: Stage = Field(default=Stage.PLANNED, description="How far it is")
    started_on: Day | None = Field(default=None, description="Begun on")
    done_on: Day | None = Field(default=None, description="Done on")
    proof: JobProof = Field(default=JobProof(), description="What proves it")
    bypass: Bypass | None = Field(default=None, description="The control it puts out of action")
    adds: Range | None = Field(
        default=None, description="What it adds to the price; empty for the estimate"
    )
    attachments: Attachments = Field(default=(), description="Photos and PDFs of it")
    note: Note = Field(default="", description="Note")

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        if self.stage is Stage.DONE:
            if self.done_on is None:
                raise ValueError("done, but without the day")
            if self.proof.empty:
                raise ValueError("done needs a proof, or the reason why there is none")
        elif self.done_on is not None:
            raise ValueError(f"has a day on which it was done, but is {self.stage.value}")
        if self.started_on and self.done_on and self.done_on < self.started_on:
            raise ValueError(f"done on {self.done_on}, before it was begun")
        if (self.purpose is Purpose.BYPASS) != (self.bypass is not None):
            raise ValueError(
                "a bypass says what is bypassed, why, since when and how to restore it"
            )
        twice = [name for name, count in Counter(one.id for one in self.parts).items() if count > 1]
        if twice:
            raise ValueError(f"two parts share the id {twice[0]!r}")
        return self

    @property
    def open(self) -> bool:
        """Whether it is still to be done."""
        return self.stage in (Stage.PLANNED, Stage.STARTED)


class BreakingLine(Model):
    """Something that can be sold off the car when it is broken for parts."""

    label: Label = Field(description="What is sold")
    price: Range = Field(description="What it brings")
    chance: Chance = Field(default=Decimal("0.7"), description="Chance that it sells, in [0, 1]")
    hours: Annotated[Decimal, Field(ge=0, le=200), SANE] = Field(
        default=Decimal(1), description="Hours to take it off and sell it"
    )


class Breaking(Model):
    """Breaking the car for its parts."""

    lines: tuple[BreakingLine, ...] = Field(default=(), max_length=60, description="Parts to sell")
    scrap: Money | None = Field(
        default=None, description="What the rest brings as scrap; empty for the default"
    )
    days: Annotated[int, Field(ge=0, le=1000)] = Field(
        default=60, description="Days until it is gone"
    )


class Work(Model):
    """All that is done to a car, and the limits of it."""

    jobs: tuple[PlannedJob, ...] = Field(default=(), max_length=MOST_JOBS, description="Jobs")
    entries: tuple[Entry, ...] = Field(
        default=(), max_length=MOST_ENTRIES, description="Receipts, refunds and hours"
    )
    start_on: Day | None = Field(default=None, description="Work begins on")
    money_limit: Money | None = Field(default=None, description="Most money still to put in")
    hours_limit: Annotated[Decimal, Field(ge=0, le=10_000), SANE] | None = Field(
        default=None, description="Most of your hours still to put in"
    )
    at_most_one: tuple[tuple[Id, ...], ...] = Field(
        default=(), max_length=40, description="Jobs of which at most one is done"
    )
    breaking: Breaking | None = Field(default=None, description="Parting it out")
    worth_to_keep: Range | None = Field(
        default=None, description="What the repaired car is worth to its owner; empty for its price"
    )
    disclosed: tuple[Id, ...] = Field(
        default=(), max_length=MOST_JOBS, description="Bypasses named to the buyer in writing"
    )

    @model_validator(mode="after")
    def _names_are_known(self) -> Self:
        names = [one.id for one in self.jobs]
        twice = next((name for name, count in Counter(names).items() if count > 1), None)
        if twice is not None:
            raise ValueError(f"two planned jobs share the id {twice!r}")
        known = set(names)
        for job in self.jobs:
            _known(job.after, known, f"job {job.id}: has to wait for")
        for group in self.at_most_one:
            _known(group, known, "at most one of: names")
        _known(self.disclosed, known, "disclosed: names")
        for entry in self.entries:
            if entry.job is not None and entry.job not in known:
                raise ValueError(
                    f"entry {entry.id} of {entry.on} belongs to the job {entry.job}, which is not "
                    "there: a job with receipts or hours is dropped, not deleted"
                )
        return self

    @model_validator(mode="after")
    def _order_is_possible(self) -> Self:
        try:
            TopologicalSorter({job.id: job.after for job in self.jobs}).prepare()
        except CycleError as error:
            ring = " before ".join(str(name) for name in error.args[1])
            raise ValueError(f"jobs wait for each other in a ring: {ring}") from error
        return self

    @model_validator(mode="after")
    def _entries_add_up(self) -> Self:
        check_entries(self.entries)
        return self

    def job(self, name: str) -> PlannedJob | None:
        """Return the planned job of that id."""
        return next((one for one in self.jobs if one.id == name), None)

    @property
    def open_bypasses(self) -> tuple[PlannedJob, ...]:
        """Jobs that keep a control out of action."""
        return tuple(
            one
            for one in self.jobs
            if one.bypass is not None and one.bypass.open and one.stage is not Stage.DROPPED
        )

    def in_currency(self, currency: Currency) -> str:
        """Return what is wrong with the entries' currencies, or an empty text."""
        for entry in self.entries:
            if entry.currency is not None and entry.currency != currency:
                return (
                    f"entry {entry.id} of {entry.on} is in {entry.currency}, the car is kept in "
                    f"{currency}: enter the amount in {currency} and put the rate into its note"
                )
        return ""


def _known(names: Iterable[str], known: set[str], words: str) -> None:
    for name in names:
        if name not in known:
            raise ValueError(f"{words} {name!r}, which is not planned")
