"""When federal rules for sellers begin to apply to somebody who mends and sells a few cars.

Counts over twelve months. Facts of United States law with their section, no advice; a State's
limits differ.
"""

from __future__ import annotations

import calendar
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from appraise.engine.papers.odometer import CHECK
from appraise.errors import Problem

__all__ = [
    "Count",
    "Deal",
    "SellerKind",
    "odometer_dealer",
    "salvage_reporter",
    "used_car_dealer",
    "year_before",
]

SellerKind = Literal["other", "bank", "to_own_employee", "lessor_to_lessee"]

LIMIT = 5
"""16 CFR 455.1(d)(3), 49 U.S.C. 32702(2) and 28 CFR 25.56(g): all five, of different things."""


@dataclass(frozen=True, slots=True)
class Deal:
    """One car that was offered or sold.

    Attributes
    ----------
    car : its name; a car counts once however often it is offered. Nameless ones count each.
    day : of the offer or the sale, or on which a salvage car was taken in.
    sold : whether it was sold.
    for_resale : whether its buyer bought it to sell again.
    salvage : whether it was salvage, junk or a total loss.
    """

    day: date
    car: str = ""
    sold: bool = True
    for_resale: bool = False
    salvage: bool = False


@dataclass(frozen=True, slots=True)
class Count:
    """How many cars count towards a limit on a day.

    Attributes
    ----------
    reached : whether the rule applies to the next one.
    left : how many more before it would; 0 once reached.
    words : what that says.
    problems : deals that could not be counted.
    """

    count: int
    limit: int
    reached: bool
    words: str
    section: str
    problems: tuple[Problem, ...] = ()

    @property
    def left(self) -> int:
        """How many more may count before the rule applies."""
        return max(0, self.limit - self.count)


def year_before(day: date) -> date:
    """Return the same day a year before; 28 February for the 29th."""
    last = calendar.monthrange(day.year - 1, day.month)[1]
    return day.replace(year=day.year - 1, day=min(day.day, last))


def _count(
    deals: Iterable[Deal], on: date, counts: Callable[[Deal], bool]
) -> tuple[int, tuple[Problem, ...]]:
    """Return how many cars count in the twelve months up to a day, and what was left out."""
    names: set[str] = set()
    nameless = 0
    problems = []
    for one in deals:
        if one.day > on:
            says = f"{one.car or 'a car'} on {one.day.isoformat()} lies after {on.isoformat()}"
            problems.append(Problem("deals", f"{says}; not counted", "warning", "Check the day."))
        elif one.day >= year_before(on) and counts(one):
            name = " ".join(one.car.casefold().split())
            names |= {name} - {""}
            nameless += not name
    return len(names) + nameless, tuple(problems)


def used_car_dealer(deals: Iterable[Deal], on: date, seller: SellerKind = "other") -> Count:
    """Return whether a used car offered on a day is a dealer's (16 CFR 455.1(d)(3)).

    A dealer sells or offers one after selling or offering five or more in the previous twelve
    months: the sixth. The same day a year before still counts, and so do others of the same day.

    Parameters
    ----------
    deals : used cars sold or offered before, this one left out.
    on : day of the offer.
    seller : those that the rule leaves out are no dealers.
    """
    count, problems = _count(deals, on, lambda _: True)
    section = "16 CFR 455.1(d)(3)"
    if seller != "other":
        says = f"{count} offered or sold in twelve months; this kind of seller is no dealer"
        return Count(count, LIMIT, reached=False, words=says, section=section, problems=problems)
    reached = count >= LIMIT
    says = (
        f"{count} used cars offered or sold in the twelve months before {on.isoformat()}: with "
        f"{LIMIT} or more the next one offered is a dealer's by the Used Car Rule. A State's limit "
        f"for a license may be lower. {CHECK}"
    )
    return Count(count, LIMIT, reached, says, section, problems)


def odometer_dealer(deals: Iterable[Deal], on: date) -> Count:
    """Return whether somebody is a dealer of the odometer law (49 U.S.C. 32702(2)).

    Counts cars sold in the prior twelve months to buyers not for resale; five are enough.
    """
    count, problems = _count(deals, on, lambda one: one.sold and not one.for_resale)
    reached = count >= LIMIT
    says = (
        f"{count} sold in twelve months to buyers not for resale; from {LIMIT} on a seller is a "
        f"dealer of the odometer law and keeps copies of statements for 5 years (49 CFR 580.8(a)). "
        f"{CHECK}"
    )
    return Count(count, LIMIT, reached, says, "49 U.S.C. 32702(2)", problems)


def salvage_reporter(deals: Iterable[Deal], on: date) -> Count:
    """Return whether salvage cars are too many to be excused from reporting (28 CFR 25.56(g)).

    Fewer than five a year are excused. The rule does not say which year; twelve months are taken.
    """
    count, problems = _count(deals, on, lambda one: one.salvage)
    says = (
        f"{count} salvage, junk or total loss cars in twelve months; a salvage yard with fewer "
        f"than {LIMIT} a year does not report to the federal title system. {CHECK}"
    )
    return Count(count, LIMIT, count >= LIMIT, says, "28 CFR 25.56(g)", problems)
