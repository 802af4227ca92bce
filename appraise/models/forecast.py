"""The result of tracking the work: what was expected, what it came to, where it will end."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Literal

from pydantic import Field

from appraise.errors import Problem
from appraise.models.appraisal import Quantiles
from appraise.models.base import Model
from appraise.models.work import Stage

__all__ = [
    "CurvePoint",
    "Forecast",
    "Itemized",
    "ItemizedFinding",
    "JobForecast",
    "LandedLine",
    "LearnedFactor",
    "TurnedOut",
]

TurnedOut = Literal["came true", "came to nothing", "still open", "new", "not listed any more"]


class JobForecast(Model):
    """One planned job: budget, spent, still to come."""

    id: str
    label: str
    stage: Stage
    money: Quantiles = Field(description="Money expected, with access and tools it opens first")
    hours: Quantiles = Field(description="Your hours expected, with access it opens first")
    committed: Decimal = Field(description="Ordered and not paid yet")
    paid: Decimal = Field(description="Paid less refunds, deposits left out")
    worked: Decimal = Field(description="Your hours worked")
    to_come: Quantiles = Field(description="Money still to come")
    hours_to_come: Quantiles = Field(description="Your hours still to come")


class LearnedFactor(Model):
    """What the jobs done teach about those still to do."""

    of: Literal["money", "hours"]
    factor: Decimal = Field(description="Middle of actual over likely")
    low: Decimal = Field(description="One time in ten below")
    high: Decimal = Field(description="One time in ten above")
    jobs: int = Field(description="Jobs that it rests on")


class LandedLine(Model):
    """A line of the purchase: planned against paid."""

    label: str
    planned: Decimal | None
    paid: Decimal | None


class CurvePoint(Model):
    """Money in the repair up to a day, all together."""

    on: date
    planned: Decimal | None = None
    actual: Decimal | None = None
    low: Decimal | None = None
    likely: Decimal | None = None
    high: Decimal | None = None


class Forecast(Model):
    """Where the budget stands and where it will end."""

    currency: str
    on: date
    jobs: tuple[JobForecast, ...]
    without_jobs: Quantiles = Field(description="Findings that have no planned job yet")
    unseen: Quantiles = Field(description="Areas that were not inspected")
    budget: Quantiles = Field(description="Money for the repair as expected when it was bought")
    budget_from: Literal["the purchase", "the plan"]
    paid: Decimal = Field(description="Paid less refunds, deposits left out")
    general: Decimal = Field(description="Of that, for no job: tools, holding, sundries")
    committed: Decimal = Field(description="Ordered and not paid yet")
    deposits_out: Decimal = Field(description="Deposits on old units, not back yet")
    worked: Decimal = Field(description="Your hours worked")
    to_come: Quantiles = Field(description="Money still to come")
    hours_to_come: Quantiles = Field(description="Your hours still to come")
    at_end: Quantiles = Field(description="Money at completion")
    chance_over_budget: Decimal = Field(description="Chance that it ends above the budget's middle")
    hours_at_end: Quantiles = Field(description="Your hours at completion")
    learned: tuple[LearnedFactor, ...]
    landed: tuple[LandedLine, ...]
    landed_planned: Decimal | None
    landed_paid: Decimal | None
    curve: tuple[CurvePoint, ...]
    ends_on: date | None = Field(description="Day on which the last job ends, as planned")
    problems: tuple[Problem, ...]


class ItemizedFinding(Model):
    """A finding as expected at the purchase and as it turned out."""

    id: str
    label: str
    turned_out: TurnedOut
    chance: Decimal | None = Field(description="Chance that was given to it; none if it is new")
    expected: Decimal | None = Field(description="Mean money expected then, as if repaired alone")
    now: Decimal | None = Field(description="Mean money now, as if repaired alone")
    cause: str = Field(default="", description="What it turned out to be")


class Itemized(Model):
    """What became of the faults expected at the purchase, and what that does to the total."""

    findings: tuple[ItemizedFinding, ...]
    expected_faults: Decimal = Field(description="Sum of the chances of those settled since")
    came_true: int
    came_to_nothing: int
    new: int
    expected: Quantiles | None = Field(description="Money for the whole repair, as expected then")
    now: Quantiles = Field(description="The same as it looks now")
    words: str
