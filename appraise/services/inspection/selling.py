"""What federal law says of the next car offered, by how many were offered before it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from pydantic import ValidationError

from appraise.engine.papers.seller_rules import (
    Count,
    Deal,
    odometer_dealer,
    salvage_reporter,
    used_car_dealer,
)
from appraise.errors import Problem
from appraise.models.trade import Sale
from appraise.models.vehicle import TitleBrand

if TYPE_CHECKING:
    from appraise.store.cases import SaleRecord

__all__ = ["SellerCounts", "deals_of", "seller_counts"]

SALVAGE = (TitleBrand.SALVAGE.value, TitleBrand.PARTS_ONLY.value)


@dataclass(frozen=True, slots=True)
class SellerCounts:
    """How many cars count towards each limit of federal law, and what to be told of it.

    Attributes
    ----------
    counts : one each rule: Used Car Rule, odometer law, salvage reports.
    problems : a rule that applies to the next car, or is one car away, the nearest first; then
        cars that could not be counted.
    """

    counts: tuple[Count, ...]
    problems: tuple[Problem, ...]


def deals_of(records: Iterable[SaleRecord], on: date, leaving_out: str = "") -> tuple[Deal, ...]:
    """Return the cars offered or sold as deals; one without a day counts as offered on `on`.

    Parameters
    ----------
    leaving_out : id of the car that the question is asked for.
    """
    out = []
    for one in records:
        if one.id == leaving_out:
            continue
        try:
            sale = Sale.model_validate(one.sale or {})
        except ValidationError:  # saved by a newer program: the day is unknown, the car is there
            sale = Sale()
        sold = one.standing == "sold"
        day = (sale.sold_on if sold else sale.offered_on) or sale.offered_on or on
        out.append(
            Deal(
                day=day,
                car=one.id,
                sold=sold,
                for_resale=sale.for_resale,
                salvage=one.mark in SALVAGE,
            )
        )
    return tuple(out)


def seller_counts(records: Iterable[SaleRecord], on: date, leaving_out: str = "") -> SellerCounts:
    """Return the counts of federal law over the twelve months up to a day.

    Parameters
    ----------
    records : cars offered or sold, from the store.
    on : the day on which the next one is offered.
    leaving_out : id of that next one, if it stands among them already.
    """
    deals = deals_of(records, on, leaving_out)
    counts = (
        used_car_dealer(deals, on),
        odometer_dealer(deals, on),
        salvage_reporter(deals, on),
    )
    told = [one for one in counts if one.left <= 1 and one.count]
    problems = [
        Problem(
            "sale",
            f"{one.words} ({one.section})",
            "warning" if one.reached else "note",
            law=one.section,
        )
        for one in sorted(told, key=lambda one: one.left)
    ]
    odd = dict.fromkeys(problem for one in counts for problem in one.problems)
    return SellerCounts(counts, (*problems, *odd))
