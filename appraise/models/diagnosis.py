"""The result of diagnosing: what is wrong with the car, why, and what to look at next."""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

from pydantic import Field

from appraise.errors import Problem
from appraise.models.base import Model
from appraise.models.findings import Area

__all__ = [
    "CareView",
    "CostRange",
    "Diagnosis",
    "Done",
    "FaultOdds",
    "NextLook",
    "OutcomeView",
    "SearchView",
    "SignView",
    "Trial",
]


class CostRange(Model):
    """What a repair costs, money and your hours at your hourly rate."""

    p10: Decimal
    p50: Decimal
    p90: Decimal


class FaultOdds(Model):
    """A fault that may be behind what was seen."""

    id: str
    label: str
    area: Area
    chance: Decimal = Field(description="Chance that it is behind what was seen")
    cost: CostRange = Field(description="Cost of repairing it, where it is there")
    speaks_for: tuple[str, ...] = Field(
        serialization_alias="for", description="What speaks for it, the strongest first"
    )
    speaks_against: tuple[str, ...] = Field(
        serialization_alias="against", description="What speaks against it, the strongest first"
    )
    settled_by: str = Field(default="", description="The check that would settle it")


class SignView(Model):
    """A sign that was seen, with the faults that show it."""

    id: str
    label: str
    findings: tuple[str, ...] = Field(description="Findings that name it")
    shown_by: tuple[tuple[str, Decimal], ...] = Field(
        description="Faults that show it, each with the chance that it does"
    )
    alone: tuple[tuple[str, Decimal], ...] = Field(
        description="By fault, its chance had only this been seen"
    )
    something_else: Decimal = Field(description="Chance that something else is behind it")


class CareView(Model):
    """How well the car was kept, as the number of its faults against that of cars of its age."""

    mean: Decimal
    p10: Decimal
    p90: Decimal
    words: str = Field(description="The same in words, with what it adds to or takes off the rest")


class OutcomeView(Model):
    """What an outcome would lead to."""

    label: str
    chance: Decimal = Field(description="Chance of this outcome")
    walk_away_price: int | None = Field(description="Walk-away price after it")
    mean_profit: Decimal = Field(description="Mean profit at the price judged, after it")


class NextLook(Model):
    """A check, a look at an area or a symptom to look for, with what it is worth."""

    check: str = Field(description="Id of the check, the area or the symptom")
    kind: Literal["check", "area", "symptom"]
    label: str
    how: str
    needs: str = Field(description="Where it can be done")
    tools: tuple[str, ...] = Field(description="Ids of the tools that it takes")
    minutes: Decimal
    cost: Decimal = Field(description="Money, tools not owned, and time at your hourly rate")
    worth: Decimal = Field(
        description="What it earns on average by moving the walk-away price, or saves in repairs"
    )
    net: Decimal = Field(description="Worth less cost")
    outcomes: tuple[OutcomeView, ...]
    cautions: tuple[str, ...]


class Done(Model):
    """The result of a check."""

    check: str
    label: str
    outcome: str


class Trial(Model):
    """A step in finding the fault: a check that settles it, or its repair tried."""

    fault: str
    label: str
    chance: Decimal
    by: Literal["check", "repair"]
    step: str = Field(description="The check, or what is tried")
    cost: Decimal = Field(description="Of the step, if it turns out in vain")


class SearchView(Model):
    """What finding the faults takes: minutes, money, parts bought in vain."""

    minutes: Decimal
    money: Decimal
    steps: tuple[Trial, ...] = Field(description="In the order of least expected cost")


class Diagnosis(Model):
    """What is wrong with the car, by everything that was seen."""

    decision: Literal["how high to bid", "which repair first"]
    price: Decimal | None = Field(description="Asking price, price paid or walk-away price")
    walk_away_price: int | None = Field(description="Walk-away price by what is known now")
    short_counts: Decimal | None = Field(
        description="How many units beyond the profit wanted one short of it outweighs, as the "
        "certainty wanted implies; none where bids are not weighed"
    )
    faults: tuple[FaultOdds, ...] = Field(description="Most likely first")
    something_else: Decimal = Field(description="Chance that something else is behind a sign")
    single_fault: Decimal = Field(description="Chance of exactly one fault behind the signs")
    error: Decimal = Field(description="Standard error of the chances; 0 where they are exact")
    signs: tuple[SignView, ...]
    explained: tuple[str, ...] = Field(description="What explains what, in words")
    care: CareView
    search: SearchView
    most: Decimal = Field(description="What knowing every fault for certain would be worth")
    next: tuple[NextLook, ...] = Field(description="What to look at next, in order")
    done: tuple[Done, ...]
    advice: str = Field(description="What to look at next, or to stop looking")
    problems: tuple[Problem, ...]
