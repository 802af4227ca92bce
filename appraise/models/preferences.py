"""What holds for every new car until its own case says otherwise."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, Literal, Self

from pydantic import Field, model_validator

from appraise.given import check_extent
from appraise.models.base import Currency, Label, Model, Percent
from appraise.models.deal import Deal, FeeSchedule

__all__ = ["Preferences", "Venue"]


class Venue(Model):
    """A place where cars are bought, with what it charges the buyer."""

    name: Label = Field(description="Venue")
    fees: tuple[FeeSchedule, ...] = Field(default=(), max_length=20, description="Fees")
    tax_percent: Percent = Field(default=Decimal(0), description="Sales tax, percent of the bid")
    tax_on_fees: bool = Field(default=False, description="Whether the tax is due on the fees too")


class Preferences(Model):
    """A person's own defaults: rates, venues, units."""

    schema_version: Literal[3] = Field(default=3, description="Version of this layout")
    currency: Currency = Field(default="USD", description="Currency (ISO 4217)")
    distance_unit: Literal["mi", "km"] = Field(default="mi", description="Distances in")
    deal: Deal = Field(default=Deal(), description="What a new car's deal starts from")
    venues: tuple[Venue, ...] = Field(default=(), max_length=50, description="Venues")
    history_days: int = Field(default=365, ge=30, le=36_500, description="Days of history kept")

    @model_validator(mode="before")
    @classmethod
    def _not_without_end(cls, given: Any) -> Any:  # noqa: ANN401 - whatever came
        check_extent(given)
        return given

    @model_validator(mode="after")
    def _venues_are_unique(self) -> Self:
        names = [venue.name for venue in self.venues]
        if len(names) != len(set(names)):
            raise ValueError("two venues share one name")
        return self
