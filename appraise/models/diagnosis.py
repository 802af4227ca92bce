"""The result of weighing causes: odds, which check is worth its price, what to try first."""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

from pydantic import Field

from appraise.models.base import Model

__all__ = ["CauseOdds", "CheckWorth", "Diagnosis", "FindingDiagnosis", "OutcomeView", "Trial"]


class CauseOdds(Model):
    """A cause with its chance before and after the checks."""

    id: str
    label: str
    before: Decimal
    after: Decimal


class OutcomeView(Model):
    """What an outcome of a check would lead to."""

    outcome: str
    chance: Decimal = Field(description="Chance of this outcome")
    mean_margin: Decimal = Field(description="Mean profit at the price judged, after it")
    walk_away_price: int | None = Field(description="Walk-away price after it")


class CheckWorth(Model):
    """A check, what it is worth before it is paid for, and what it costs."""

    id: str
    label: str
    how: str
    needs: str
    minutes: Decimal
    cost: Decimal = Field(description="Money, tools not owned, and time at your hourly rate")
    worth: Decimal = Field(
        description="What it earns on average by moving the walk-away price, or saves in repairs"
    )
    net: Decimal = Field(description="Worth less cost")
    outcomes: tuple[OutcomeView, ...]
    cautions: tuple[str, ...]
    done: str = Field(description="Its result so far, empty if none")


class Trial(Model):
    """A repair to try, in order."""

    cause: str
    label: str
    chance: Decimal
    cost: Decimal = Field(description="Mean money and your hours of its jobs")


class FindingDiagnosis(Model):
    """What is known about one finding's causes."""

    id: str
    label: str
    causes: tuple[CauseOdds, ...]
    problem: str
    most: Decimal = Field(description="What knowing the cause for certain would be worth")
    checks: tuple[CheckWorth, ...]
    advice: str = Field(description="Which check next, or to stop checking")
    trials: tuple[Trial, ...]
    trials_cost: Decimal = Field(description="Expected cost of trying in that order")
    trials_method: Literal["ratio", "enumeration"]


class Diagnosis(Model):
    """All findings with causes, with the decision that checks are weighed against."""

    decision: Literal["how high to bid", "which repair first"]
    price: Decimal | None = Field(description="Asking price, price paid or walk-away price")
    walk_away_price: int | None = Field(description="Walk-away price by what is known now")
    short_counts: Decimal | None = Field(
        description="How many units beyond the profit wanted one short of it outweighs, as the "
        "certainty wanted implies; none where bids are not weighed"
    )
    findings: tuple[FindingDiagnosis, ...]
