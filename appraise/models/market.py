"""Like cars and what they were asked or sold for."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Self

from pydantic import Field, model_validator

from appraise.models.base import SANE, Currency, Id, Model, Note
from appraise.models.ranges import Range
from appraise.models.vehicle import Distance, TitleBrand

__all__ = ["Comparable", "Condition", "Market", "PriceKind", "SoldBy"]


LEAST_RATIO, MOST_RATIO = Decimal("0.1"), Decimal(2)


class PriceKind(StrEnum):
    """Whether a price was asked or paid."""

    ASKED = "asked"
    SOLD = "sold"


class SoldBy(StrEnum):
    """Who offered or sold a comparable car."""

    DEALER = "dealer"
    PRIVATE = "private"
    AUCTION = "auction"


class Condition(StrEnum):
    """How another car compares with this one once mended."""

    TIDIER = "tidier"
    ALIKE = "alike"
    ROUGHER = "rougher"


class Comparable(Model):
    """Another car used to price this one."""

    id: Id = Field(description="Stable name within the case")
    price: Annotated[Decimal, Field(gt=0, le=Decimal(100_000_000), decimal_places=2), SANE] = Field(
        description="Price"
    )
    kind: PriceKind = Field(default=PriceKind.ASKED, description="Asked or sold")
    sold_by: SoldBy | None = Field(default=None, description="Offered by; empty if not known")
    currency: Currency | None = Field(default=None, description="Currency, if not the case's")
    model_year: Annotated[int, Field(ge=1886, le=2100)] = Field(description="Model year")
    odometer: Distance = Field(description="Odometer")
    title_brand: TitleBrand = Field(default=TitleBrand.CLEAR, description="Title brand")
    condition: Condition = Field(
        default=Condition.ALIKE, description="Compared with this car once repaired"
    )
    seen_on: date | None = Field(default=None, description="When it was seen")
    left_out: bool = Field(default=False, description="Kept, but not used")
    note: Note = Field(default="", description="Where it was seen, and what sets it apart")


class Market(Model):
    """What is known about prices."""

    comparables: tuple[Comparable, ...] = Field(
        default=(), max_length=500, description="Comparable cars"
    )
    asked_to_sold: Range | None = Field(
        default=None, description="Sold price as a share of the asked one; empty for the default"
    )
    days_to_sell: Range | None = Field(
        default=None, description="Days from advert to sale; empty for the default"
    )

    @model_validator(mode="after")
    def _sold_for_something(self) -> Self:
        ratio = self.asked_to_sold
        if ratio is not None and not (ratio.low >= LEAST_RATIO and ratio.high <= MOST_RATIO):
            raise ValueError(
                f"asked_to_sold is a factor between {LEAST_RATIO} and {MOST_RATIO}, such as 0.93"
            )
        return self
