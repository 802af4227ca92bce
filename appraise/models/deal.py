"""The money around the car: what buying, owning, mending and selling it cost."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise
from typing import Annotated, Self

from pydantic import Field, model_validator

from appraise.models.base import (
    SANE,
    Certainty,
    Commission,
    Factor,
    Id,
    Label,
    Model,
    Money,
    Percent,
    Words,
)
from appraise.models.jobs import DoneBy
from appraise.models.ranges import Range

__all__ = ["Deal", "FeeSchedule", "FeeStep"]


class FeeStep(Model):
    """What is due from a bid of `starts_at` up to the next step."""

    starts_at: Money = Field(description="From a bid of")
    flat: Money = Field(default=Decimal(0), description="Flat amount")
    percent: Percent = Field(default=Decimal(0), description="Percent of the bid")
    cap: Money | None = Field(default=None, description="At most, flat and percent together")


class FeeSchedule(Model):
    """One of a venue's fees: the step in which the bid falls decides the whole fee."""

    name: Label = Field(description="Fee")
    steps: tuple[FeeStep, ...] = Field(min_length=1, max_length=60, description="Steps")

    @model_validator(mode="after")
    def _no_gap(self) -> Self:
        starts = [step.starts_at for step in self.steps]
        if starts[0] != 0:
            raise ValueError(f"a gap: no step covers bids below {starts[0]}; start the first at 0")
        for before, after in pairwise(starts):
            if after <= before:
                raise ValueError(
                    f"a backward step: {after} comes after {before}; steps go up and never repeat"
                )
        return self


class Deal(Model):
    """What is asked for the car, and what buying, owning, mending and selling it cost."""

    asking_price: Money | None = Field(default=None, description="Asking price")
    goes_for: Range | None = Field(
        default=None,
        description="Price it may go for; three equal amounts for a fixed price, empty for what "
        "adverts are sold at",
    )
    seller: Words = Field(default="", description="Seller's name")
    venue: Words = Field(default="", description="Bought from")
    fees: tuple[FeeSchedule, ...] = Field(
        default=(), max_length=20, description="The venue's fees to the buyer"
    )
    tax_percent: Percent = Field(default=Decimal(0), description="Sales tax, percent of the bid")
    tax_on_fees: bool = Field(default=False, description="Whether the tax is due on the fees too")
    title_and_registration: Money = Field(
        default=Decimal(0), description="Title, registration, inspection on purchase"
    )
    transport: Money = Field(default=Decimal(0), description="Getting it home")
    holding_per_day: Money = Field(
        default=Decimal(0), description="Each day of owning it: insurance, space, tax"
    )
    finance_percent: Percent = Field(
        default=Decimal(0), description="Interest on the cost to buy, percent a year (365 days)"
    )
    selling_percent: Commission = Field(
        default=Decimal(0), description="Commission on the sale, percent"
    )
    selling_flat: Money = Field(
        default=Decimal(0), description="Adverts, inspection and papers for the sale"
    )
    own_rate: Money = Field(default=Decimal(0), description="Your hourly rate")
    hours_per_day: Annotated[Decimal, Field(ge=Decimal("0.1"), le=24), SANE] = Field(
        default=Decimal(3), description="Your hours a day, averaged over the week"
    )
    shop_rate: Range | None = Field(
        default=None, description="A shop's price of an hour; empty for the default"
    )
    done_by: DoneBy = Field(
        default=DoneBy.OWN_HANDS, description="Done by, unless a job says otherwise"
    )
    parts_tax_percent: Percent = Field(default=Decimal(0), description="Tax on parts, percent")
    tools_owned: tuple[Id, ...] = Field(default=(), description="Special tools owned already")
    price_level: Factor = Field(
        default=Decimal(1), description="Factor on every amount of the catalog"
    )
    target_margin: Annotated[
        Decimal, Field(ge=-1_000_000, le=Decimal(100_000_000), decimal_places=2), SANE
    ] = Field(default=Decimal(1000), description="Profit wanted (your time paid)")
    confidence: Certainty = Field(default=Decimal("0.8"), description="Certainty wanted")
