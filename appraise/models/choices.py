"""The result of choosing: sell as it stands, mend some, mend all, break for parts, keep."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Literal

from pydantic import Field

from appraise.errors import Problem
from appraise.models.appraisal import Quantiles
from appraise.models.base import Model
from appraise.models.work import Purpose

__all__ = [
    "CheckBefore",
    "ChoiceKind",
    "Choices",
    "FrontierPoint",
    "ItemView",
    "OptionView",
    "Spent",
]

ChoiceKind = Literal["as is", "what must be done", "best", "all repairs", "part out", "keep"]


class ItemView(Model):
    """A repair, upgrade or preventive job that may be chosen: means."""

    id: str
    label: str
    purpose: Purpose
    must: bool
    sure: bool = Field(description="Whether the cause is known")
    money: Decimal = Field(description="Money still to put in, shared access apart")
    hours: Decimal = Field(description="Your hours still to put in, shared access apart")
    adds: Decimal = Field(description="What it adds to the price")
    net: Decimal = Field(description="What it adds less what it costs, shared access apart")


class OptionView(Model):
    """One way to go on from today."""

    kind: ChoiceKind
    label: str
    jobs: tuple[str, ...] = Field(description="Ids of what is done")
    net: Quantiles = Field(description="Net from today on")
    price: Quantiles = Field(description="What is sold for, or what it is worth to keep")
    money: Quantiles = Field(description="Money from today on, without the sale's own costs")
    hours: Quantiles = Field(description="Your hours from today on")
    days: Quantiles | None = Field(description="Days until the money is in hand; none if kept")
    worse_than_selling_now: Decimal = Field(description="Chance of that, in [0, 1]")
    words: str = Field(default="", description="What is special about it")
    ranked: bool = Field(
        default=True,
        description="Whether it can be advised: it keeps the limits, and its worth is said",
    )


class FrontierPoint(Model):
    """A choice that no other beats: less spent, or more earned."""

    money: Decimal
    hours: Decimal
    net: Quantiles
    jobs: tuple[str, ...]


class CheckBefore(Model):
    """A check that may pay before choosing."""

    check: str
    label: str
    worth: Decimal
    cost: Decimal


class Spent(Model):
    """What is spent already: shown, and left out of every option."""

    landed: Decimal
    repair: Decimal
    deposits_out: Decimal
    hours: Decimal


class Choices(Model):
    """All ways to go on from today, each as net from today on."""

    currency: str
    on: date
    spent: Spent
    items: tuple[ItemView, ...]
    options: tuple[OptionView, ...] = Field(
        description="The highest mean net first; those that are not ranked last"
    )
    by_money: tuple[FrontierPoint, ...]
    by_hours: tuple[FrontierPoint, ...]
    capped: bool = Field(description="Whether the frontier has more points than are shown")
    checks: tuple[CheckBefore, ...] = Field(description="Worth more than they cost, best first")
    break_even_price: Decimal = Field(
        description="Price today at which all that was spent comes back, as is"
    )
    advice: str
    problems: tuple[Problem, ...]
