"""What was seen on the car, area by area."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Self

from pydantic import Field, StringConstraints, model_validator

from appraise.models.base import Chance, Id, Label, Model, Note, Words
from appraise.models.files import Attachments
from appraise.models.jobs import DoneBy
from appraise.models.ranges import Range

__all__ = [
    "Area",
    "Cause",
    "CheckResult",
    "Finding",
    "JobChoice",
    "Look",
    "Severity",
    "State",
    "Truth",
]

TroubleCode = Annotated[str, StringConstraints(pattern=r"^[PBCU][0-3][0-9A-F]{3}$")]

SLACK = Decimal("1e-9")


class Area(StrEnum):
    """A part of the car that is looked at; the list follows the systems of 16 CFR 455."""

    FRAME_AND_BODY = "frame_and_body"
    ENGINE = "engine"
    TRANSMISSION = "transmission"
    DIFFERENTIAL = "differential"
    COOLING = "cooling"
    ELECTRICAL = "electrical"
    FUEL = "fuel"
    BRAKES = "brakes"
    STEERING = "steering"
    SUSPENSION = "suspension"
    TIRES = "tires"
    WHEELS = "wheels"
    EXHAUST = "exhaust"
    AIR_BAGS = "air_bags"
    ACCESSORIES = "accessories"
    INTERIOR = "interior"
    GLASS_AND_LIGHTS = "glass_and_lights"
    PAINT = "paint"
    UNDERSIDE = "underside"
    ROAD_TEST = "road_test"


class State(StrEnum):
    """How an area was found."""

    FINE = "fine"
    SUSPECT = "suspect"
    FAULTY = "faulty"
    NOT_LOOKED_AT = "not_looked_at"


class Severity(StrEnum):
    """The public categories of roadworthiness law (Directive 2014/45/EU), and cosmetic."""

    DANGEROUS = "dangerous"
    MAJOR = "major"
    MINOR = "minor"
    COSMETIC = "cosmetic"


class Look(StrEnum):
    """How an area was looked at, the least first."""

    GLANCE = "glance"
    CLOSE = "close"
    ENGINE_RUNNING = "engine_running"
    ROAD_TEST = "road_test"
    UNDERNEATH = "underneath"
    MEASURED = "measured"


class JobChoice(Model):
    """A job on this car: from the catalog or the case's own list, with what is known better."""

    job: Id = Field(description="Job")
    quantity: Annotated[int, Field(ge=1, le=20)] = Field(default=1, description="How many times")
    done_by: DoneBy | None = Field(default=None, description="Done by; empty as in the deal")
    parts: Range | None = Field(
        default=None, description="Own figure for all its parts together, instead of the catalog"
    )
    hours: Range | None = Field(
        default=None, description="Own figure for its hours, instead of the catalog"
    )


class Cause(Model):
    """One possible reason for a finding."""

    id: Id = Field(description="Stable name within the finding")
    label: Label = Field(description="Cause")
    chance: Chance = Field(description="Chance that this is it, in [0, 1]")
    jobs: tuple[JobChoice, ...] = Field(
        default=(), max_length=30, description="Jobs that repair it; none if nothing needs doing"
    )


class CheckResult(Model):
    """What a check on this finding showed."""

    check: Id = Field(description="Check")
    outcome: Label = Field(description="What it showed, as the check words it")
    done_on: date | None = Field(default=None, description="Day")
    note: Note = Field(default="", description="Note")


class Truth(Model):
    """What a finding turned out to be once the car was taken apart."""

    fault: bool = Field(description="Whether there was anything to repair")
    cause: Id | None = Field(default=None, description="Which of its causes it was")
    on: date | None = Field(default=None, description="Day")
    note: Note = Field(default="", description="Note")


class Finding(Model):
    """What was seen in an area.

    A faulty or suspect finding carries either its jobs, done for certain once there is a fault, or
    weighted causes of which at most one is true.
    """

    id: Id = Field(description="Stable name within the case")
    area: Area = Field(description="Area")
    state: State = Field(description="How it was found")
    label: Words = Field(default="", description="What was seen")
    look: Look | None = Field(default=None, description="How it was inspected")
    severity: Severity | None = Field(default=None, description="Severity")
    chance: Chance | None = Field(
        default=None, description="Chance that there is anything to repair, in [0, 1]"
    )
    jobs: tuple[JobChoice, ...] = Field(default=(), max_length=30, description="Jobs")
    causes: tuple[Cause, ...] = Field(default=(), max_length=30, description="Possible causes")
    symptom: Id | None = Field(default=None, description="Symptom of the catalog it started from")
    codes: tuple[TroubleCode, ...] = Field(
        default=(), max_length=40, description="Trouble codes that go with it"
    )
    visible: bool = Field(
        default=True, description="Whether the next buyer would see it too, as is"
    )
    truth: Truth | None = Field(default=None, description="What it turned out to be")
    seen_on: date | None = Field(default=None, description="Seen on")
    attachments: Attachments = Field(default=(), description="Photos and PDFs of it")
    note: Note = Field(default="", description="Note")

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        if self.state in (State.FINE, State.NOT_LOOKED_AT):
            carried = (self.jobs, self.causes, self.severity)
            if any(carried) or self.chance is not None or self.truth is not None:
                raise ValueError(
                    f"{self.state.value.replace('_', ' ')}: carries no jobs, causes, chance or "
                    "severity"
                )
            if self.state is State.NOT_LOOKED_AT and self.look is not None:
                raise ValueError("not inspected: says how it was inspected")
            return self
        if self.jobs and self.causes:
            raise ValueError("carries jobs and causes at once: put the jobs under their causes")
        if self.state is State.FAULTY and self.chance is not None and self.chance < 1:
            raise ValueError("faulty is certain: leave its chance empty, or call it suspect")
        ids = [cause.id for cause in self.causes]
        if len(ids) != len(set(ids)):
            raise ValueError("two causes share one id")
        total = sum((cause.chance for cause in self.causes), Decimal(0))
        if total > 1 + SLACK:
            raise ValueError(f"the chances of the causes sum to {total}, above 1")
        self._check_truth(ids)
        return self

    def _check_truth(self, ids: list[str]) -> None:
        truth = self.truth
        if truth is None:
            return
        if not truth.fault and truth.cause is not None:
            raise ValueError("turned out to be nothing, and names a cause: leave one of them out")
        if truth.fault and self.causes and truth.cause not in ids:
            raise ValueError(
                "turned out to be a fault: say which of its causes, or add the cause first"
            )

    @property
    def called(self) -> str:
        """What people call it: what was seen, or its area if nobody said."""
        return self.label or self.area.value.replace("_", " ").capitalize()

    @property
    def trouble(self) -> bool:
        """Whether it is suspect or faulty."""
        return self.state in (State.SUSPECT, State.FAULTY)

    @property
    def unpriced(self) -> bool:
        """Whether it is a fault, for all that is known, and names no job and no cause."""
        sound = self.truth is not None and not self.truth.fault
        return self.trouble and not (self.jobs or self.causes or sound)
