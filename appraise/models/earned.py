"""The result of a car: what it earned, or would if it were sold today."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from pydantic import Field

from appraise.models.base import Model

__all__ = ["DatedFlow", "Earned"]


class DatedFlow(Model):
    """Money on a day: out below nothing, in above."""

    on: date
    label: str
    amount: Decimal


class Earned(Model):
    """Money and hours in, money out, and what that is as a return."""

    currency: str
    sold: bool = Field(description="Whether it is sold; else the price is supposed")
    on: date = Field(description="Day of the sale, or today")
    price: Decimal
    sale_costs: Decimal = Field(description="Commission and costs of the sale")
    landed: Decimal = Field(description="Cost to buy")
    repair: Decimal = Field(description="Paid since, less refunds and deposits back")
    margin: Decimal = Field(description="What is left, before your time")
    margin_paid: Decimal = Field(description="The same with your time paid at your hourly rate")
    hours: Decimal
    per_hour: Decimal | None = Field(description="Profit for each of your hours")
    days: int = Field(description="Days from the purchase")
    annualized: Decimal | None = Field(description="Return a year, compounded")
    simple_annual: Decimal | None = Field(description="Return a year, not compounded")
    rates: tuple[Decimal, ...] = Field(description="All rates a year at which the flows cancel")
    rates_words: str
    break_even: Decimal = Field(description="Price at which the money comes back")
    break_even_hours: Decimal = Field(description="Price at which your hours are paid too")
    flows: tuple[DatedFlow, ...]
