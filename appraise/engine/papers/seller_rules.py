"""When federal rules for sellers begin to apply to somebody who mends and sells a few cars.

Counts over twelve months, what a job may not do to a car, and what the statutes say it costs.
Facts of United States law with their section, no advice; a State's limits differ.
"""

from __future__ import annotations

import calendar
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from appraise.engine.papers.odometer import CHECK
from appraise.engine.papers.odometer_law import PENALTIES as ODOMETER_PENALTIES
from appraise.engine.papers.odometer_law import Fact
from appraise.errors import Problem

__all__ = [
    "GUIDE",
    "PENALTIES",
    "Count",
    "Deal",
    "JobFacts",
    "SellerKind",
    "Who",
    "covered_vehicle",
    "job_rules",
    "odometer_dealer",
    "salvage_reporter",
    "used_car_dealer",
    "year_before",
]

SellerKind = Literal["other", "bank", "to_own_employee", "lessor_to_lessee"]
Who = Literal["owner", "dealer", "repair_business", "maker", "distributor", "rental_company"]

LIMIT = 5
"""16 CFR 455.1(d)(3), 49 U.S.C. 32702(2) and 28 CFR 25.56(g): all five, of different things."""
GVWR_LB, CURB_LB, FRONTAL_SQ_FT = 8_500, 6_000, 46
"""16 CFR 455.1(d)(1); all strict."""


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


@dataclass(frozen=True, slots=True)
class JobFacts:
    """What a job does to a car.

    Attributes
    ----------
    emission_control, safety_system : whether it touches one.
    disables : whether it takes out of action one that worked; one that was gone before is not.
    works_after : whether it works properly once the job is done; None if not known.
    fits_bypass : whether a part is fitted of which a principal effect is to bypass one.
    off_road_meanwhile : whether the car is not driven, save for tests, until it is whole again.
    regrooved_tires : whether the car is sold on regrooved tires.
    """

    emission_control: bool = False
    safety_system: bool = False
    disables: bool = False
    works_after: bool | None = None
    fits_bypass: bool = False
    off_road_meanwhile: bool = False
    regrooved_tires: bool = False


PENALTIES = (
    Fact(
        "42 U.S.C. 7524",
        "Tampering with an emission control: civil penalty up to $25,000 a vehicle for a maker or "
        "dealer, up to $2,500 for others or for each part, before inflation",
    ),
    *ODOMETER_PENALTIES,
)
GUIDE = (
    Fact("16 CFR 455.2(a)", "A dealer shows the window form before offering a car to a consumer"),
    Fact(
        "16 CFR 455.2(a)(2)",
        "The form is black on white, at least 11 in high and 7 in wide or more",
    ),
    Fact(
        "16 CFR 455.1(d)(2)",
        "A car sold only for scrap or parts, its title surrendered and a salvage certificate "
        "issued, is not a used vehicle",
    ),
)


# --- counts ---------------------------------------------------------------------------------------


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


def covered_vehicle(
    gvwr_lb: float | None,
    curb_lb: float | None,
    frontal_sq_ft: float | None,
    *,
    motorcycle: bool = False,
) -> bool | None:
    """Return whether the Used Car Rule covers a kind of vehicle (16 CFR 455.1(d)(1)).

    Covered is below 8,500 lb rated, 6,000 lb at the curb and 46 sq ft in front, all three; None if
    what is known does not settle it, or a figure is not above 0.
    """
    if motorcycle:
        return False
    limits = ((gvwr_lb, GVWR_LB), (curb_lb, CURB_LB), (frontal_sq_ft, FRONTAL_SQ_FT))
    known = [(value, limit) for value, limit in limits if value is not None]
    if not all(value > 0 for value, _ in known):
        return None
    if any(value >= limit for value, limit in known):
        return False
    return True if len(known) == len(limits) else None


# --- jobs -----------------------------------------------------------------------------------------


def _law(says: str, section: str, weight: Literal["stop", "warning", "note"]) -> Problem:
    return Problem("job", f"{says} ({section})", weight, CHECK)


def job_rules(job: JobFacts, who: Who) -> tuple[Problem, ...]:
    """Return what federal law says of a job that touches an emission control or a safety system.

    A repair or replacement after which it works properly is none of it. 49 U.S.C. 30122(b) names a
    manufacturer, distributor, dealer, rental company and motor vehicle repair business, and forbids
    them to make a device or element of design inoperative; a private owner is not among them, and
    nobody is asked to replace one that is gone. State law may say more.

    Parameters
    ----------
    job : what is done.
    who : who does it, or sells the car after it.
    """
    return (*_emission(job), *_safety(job, who), *_tires(job))


def _emission(job: JobFacts) -> tuple[Problem, ...]:
    if not (job.emission_control or job.fits_bypass):
        return ()
    out = []
    if (job.disables or job.fits_bypass) and not job.works_after:
        says = "no one knowingly removes or disables an emission control, unless it works after"
        out.append(_law(says, "42 U.S.C. 7522(a)(3)(A)", "stop"))
    elif job.works_after is False:
        says = "the emission control does not work after this: a repair ends with it working"
        out.append(_law(says, "42 U.S.C. 7522(a), end", "warning"))
    if job.fits_bypass:
        says = (
            "no one makes, sells, offers or installs a part of which a principal effect is to "
            "bypass one, if they know it or should"
        )
        out.append(_law(says, "42 U.S.C. 7522(a)(3)(B)", "stop"))
    return tuple(out)


def _safety(job: JobFacts, who: Who) -> tuple[Problem, ...]:
    if not job.safety_system or not job.disables or job.works_after:
        return ()
    if job.off_road_meanwhile:
        says = (
            "a safety device may be inoperative while it is reasonably believed that the car is "
            "not used, save for testing or the like during maintenance or repair"
        )
        return (_law(says, "49 U.S.C. 30122(b)", "note"),)
    if who == "owner":
        says = (
            "the rule on making a safety device inoperative names a manufacturer, distributor, "
            "dealer, rental company and whoever offers the public to repair for pay, and no "
            "private owner; State law may"
        )
        return (_law(says, "49 U.S.C. 30122(a), (b)", "warning"),)
    words = who.replace("_", " ")
    says = (
        f"a {words} may not knowingly make inoperative a device or element of design installed "
        "under a safety standard"
    )
    return (_law(says, "49 U.S.C. 30122(b)", "stop"),)


def _tires(job: JobFacts) -> tuple[Problem, ...]:
    if not job.regrooved_tires:
        return ()
    says = "no one sells regrooved tires, or a car on them, unless they are authorized"
    return (_law(says, "49 U.S.C. 30123(a)", "stop"),)
