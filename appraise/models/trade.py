"""The purchase and the sale: what was paid, what was expected then, what came back."""

from __future__ import annotations

from decimal import Decimal
from typing import Self

from pydantic import Field, model_validator

from appraise.models.appraisal import Quantiles
from appraise.models.base import Chance, Day, Id, Label, Model, Money, Note, WorkedOut

__all__ = ["Expectation", "ExpectedFinding", "PaidLine", "Purchase", "Sale"]


class PaidLine(Model):
    """One line of what the car really cost until it stood in the yard."""

    label: Label = Field(description="Line")
    amount: Money = Field(description="Paid")


class ExpectedFinding(Model):
    """What was thought of a finding on the day of the purchase."""

    id: Id = Field(description="Finding")
    label: Label = Field(description="What was seen")
    chance: Chance = Field(description="Chance that there was anything to repair, in [0, 1]")
    money: Quantiles = Field(description="Money it would take, as if repaired alone")
    own_hours: WorkedOut = Field(description="Your hours it would take, on average")


class Expectation(Model):
    """What was expected on the day of the purchase, kept as it was."""

    on: Day = Field(description="Day")
    findings: tuple[ExpectedFinding, ...] = Field(
        default=(), max_length=400, description="Findings"
    )
    found: Quantiles = Field(description="Money for what had been found")
    unseen: Quantiles = Field(description="Money for what had not been inspected")
    money: Quantiles = Field(description="Money for the whole repair")
    own_hours: Quantiles = Field(description="Your hours for the whole repair")
    resale: Quantiles = Field(description="Price after repair")
    margin: Quantiles | None = Field(default=None, description="Profit at the price paid")
    days: Quantiles | None = Field(default=None, description="Days until repaired")


class Purchase(Model):
    """What was paid for the car, once it is owned."""

    bid: Money = Field(description="Price paid, without fees and tax")
    bought_on: Day = Field(description="Bought on")
    paid: tuple[PaidLine, ...] = Field(
        default=(),
        max_length=40,
        description="What was really paid, line by line, the price first; empty for the plan",
    )
    expected: Expectation | None = Field(default=None, description="What was expected that day")

    @model_validator(mode="after")
    def _first_line_is_the_price(self) -> Self:
        if self.paid and self.paid[0].amount != self.bid:
            raise ValueError(
                f"the first line paid is {self.paid[0].amount}, the price paid {self.bid}: "
                "the first line is the price"
            )
        return self

    @property
    def landed(self) -> Decimal | None:
        """What it really cost until it stood in the yard, or None if only the plan is known."""
        return sum((one.amount for one in self.paid), Decimal(0)) if self.paid else None


class Sale(Model):
    """The car offered, and sold."""

    offered_on: Day | None = Field(default=None, description="Offered on")
    asked: Money | None = Field(default=None, description="Asking price")
    least: Money | None = Field(default=None, description="Least that is taken")
    price: Money | None = Field(default=None, description="Sold for")
    sold_on: Day | None = Field(default=None, description="Sold on")
    costs: Money = Field(default=Decimal(0), description="What the sale cost")
    for_resale: bool = Field(default=False, description="The buyer buys it to sell it again")
    disclosure: Note = Field(default="", description="What the buyer is told in writing")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if (self.price is None) != (self.sold_on is None):
            raise ValueError("sold needs the price and the day, both")
        if self.offered_on and self.sold_on and self.sold_on < self.offered_on:
            raise ValueError(f"sold on {self.sold_on}, before it was offered")
        if self.asked is not None and self.least is not None and self.least > self.asked:
            raise ValueError(f"the least that is taken, {self.least}, is above the asking price")
        return self
