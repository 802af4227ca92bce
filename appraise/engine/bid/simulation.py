"""A case worked out on its draws: what every result is read from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from math import log

import numpy as np
from numpy.typing import NDArray

from appraise.engine.bid.check import check_case
from appraise.engine.bid.limit import Reach, most_left, rounded_down
from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Streams
from appraise.engine.draws.subset import Rows
from appraise.engine.faults.car import CarFaults, car_faults
from appraise.engine.money.margin import Rest, extra_paid, highest_bid
from appraise.engine.money.returns import simple_interest
from appraise.engine.repair.repair import RepairDraws, repair, unseen_bill
from appraise.engine.repair.totals import Tally
from appraise.engine.resale.resale import (
    MarketFit,
    as_it_stands,
    days_to_sell,
    fit_market,
    mended_draws,
    sale_scores,
)
from appraise.errors import Problem
from appraise.models.appraisal import Judged
from appraise.models.case import Case, Standing
from appraise.models.deal import Deal
from appraise.reference.load import Reference

__all__ = ["Worked", "work_out"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Worked:
    """Everything in draws: each array (draws,).

    Attributes
    ----------
    mended, standing : sold price mended, and as it stands.
    selling : what the sale costs.
    own_hours_paid : own hours at the own rate.
    rest, unpaid : all but the landed cost, with own hours paid and not.
    reach : the chance of a margin at a landed cost, the luck of the sale integrated out.
    picks : for each finding that states its causes, the draws in which each of its jobs is needed.
    budget : the most that the car may cost landed.
    limit : the highest whole bid within it.
    walk_away : the same, down to a round step.
    walk_away_error : Monte-Carlo standard error of the limit.
    judged, price : the price whose outcome is shown, and which one that is.
    """

    case: Case
    lookup: Lookup
    prices: PriceList
    market: MarketFit
    car: CarFaults
    repair: RepairDraws
    mended: Floats
    standing: Floats
    selling: Floats
    own_hours_paid: Floats
    repair_days: Floats
    sell_days: Floats
    holding: Floats
    rest: Rest
    unpaid: Rest
    reach: Reach
    picks: tuple[tuple[Rows, ...], ...]
    budget: float
    limit: int | None
    walk_away: int | None
    walk_away_error: float
    judged: Judged
    price: Decimal | None
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class _Repaired:
    """A repair with its days and hours paid: each array (draws,)."""

    hours_paid: Floats
    repair_days: Floats
    holding: Floats
    reach: Reach


@dataclass(frozen=True, slots=True)
class _Sale:
    """The sale of the car after repair: each array (draws,); level to lift as in `Reach`."""

    deal: Deal
    lookup: Lookup
    mended: Floats
    days: Floats
    level: Floats
    scale: float
    freedom: float
    lift: float

    @classmethod
    def of(cls, case: Case, market: MarketFit, streams: Streams, lookup: Lookup) -> _Sale:
        """Return the sale of a case's car."""
        scores, scale = sale_scores(market, streams)
        mended = mended_draws(market, streams)
        kept = 1 - float(case.deal.selling_percent) / 100
        return cls(
            deal=case.deal,
            lookup=lookup,
            mended=mended,
            days=days_to_sell(case, market.middle, streams, lookup),
            level=np.log(mended) - scale * scores + log(kept),
            scale=scale,
            freedom=market.fit.freedom,
            lift=float(np.exp(scale * scores).mean()),
        )

    def after(self, total: Tally, lead_days: Floats) -> _Repaired:
        """Return what a repair leaves for the car when it is sold."""
        deal = self.deal
        hours_paid = total.hours * float(deal.own_rate)
        repair_days = total.hours / float(deal.hours_per_day) + lead_days
        if total.labor:
            repair_days += total.shop_hours / self.lookup.number("shop.hours_a_day")
        days = repair_days + self.days
        holding = days * float(deal.holding_per_day)
        reach = Reach(
            level=self.level,
            scale=self.scale,
            freedom=self.freedom,
            lift=self.lift,
            cost=total.money + hours_paid + holding + float(deal.selling_flat),
            growth=1 + simple_interest(1, float(deal.finance_percent) / 100, days),
        )
        return _Repaired(hours_paid, repair_days, holding, reach)


def work_out(case: Case, reference: Reference) -> Worked:
    """Work a case out on its draws.

    Raises
    ------
    BadCase
        The case names a job, access, tool or check that does not exist.
    CannotPrice
        There is no comparable to price the car from.
    """
    problems = list(check_case(case, reference))
    lookup = Lookup(reference)
    streams = Streams(case.seed, case.draws)
    prices = PriceList.of(case, lookup)
    market = fit_market(case, lookup)
    car = car_faults(case, streams, lookup)
    deal = case.deal
    target, confidence = float(deal.target_margin), float(deal.confidence)
    sale = _Sale.of(case, market, streams, lookup)

    def best(ways: Iterable[Tally], lead_days: Floats) -> int:
        reaches = (sale.after(way, lead_days).reach for way in ways)
        return most_left(reaches, target, confidence)

    work = repair(case, car, streams, prices, lookup, best)
    problems += [*market.problems, *work.problems, *_money_problems(case, reference)]
    mended = sale.mended
    scrap = lookup.entry("scrap.value", case.vehicle.price_class.value) * float(deal.price_level)
    selling = mended * float(deal.selling_percent) / 100 + float(deal.selling_flat)
    done = sale.after(work.total, work.lead_days)
    reach = done.reach
    unpaid = mended - selling - work.total.money - done.holding
    rest = Rest(unpaid - done.hours_paid, reach.growth)
    unseen = unseen_bill(case, work.by_area.values(), lookup)
    budget = reach.limit(target, confidence)
    limit = highest_bid(deal, budget - float(extra_paid(case)))
    picks = tuple(
        tuple(dict.fromkeys(need.at for need in needs.needs))
        for needs in work.needs
        if needs.odds is not None
    )
    error = reach.error(budget, target, picks)
    walk_away = rounded_down(limit, error)
    judged, price = _price_judged(case, walk_away)
    return Worked(
        case=case,
        lookup=lookup,
        prices=prices,
        market=market,
        car=car,
        repair=work,
        mended=mended,
        standing=as_it_stands(mended, work.bill, scrap, streams, lookup, unseen=unseen),
        selling=selling,
        own_hours_paid=done.hours_paid,
        repair_days=done.repair_days,
        sell_days=sale.days,
        holding=done.holding,
        rest=rest,
        unpaid=Rest(unpaid, reach.growth),
        reach=reach,
        picks=picks,
        budget=budget,
        limit=limit,
        walk_away=walk_away,
        walk_away_error=error,
        judged=judged,
        price=price,
        problems=tuple(problems),
    )


def _money_problems(case: Case, reference: Reference) -> tuple[Problem, ...]:
    if case.currency == reference.currency or case.deal.price_level != 1:
        return ()
    message = (
        f"the catalog is in {reference.currency}, the case in {case.currency}, and the price "
        "level is 1"
    )
    hint = "Set the price level to what a unit of the catalog's money costs here."
    return (Problem("deal.price_level", message, hint=hint),)


def _price_judged(case: Case, walk_away: int | None) -> tuple[Judged, Decimal | None]:
    if case.standing not in (Standing.PROSPECT, Standing.LET_GO) and case.purchase is not None:
        return "price paid", case.purchase.bid
    if case.deal.asking_price is not None:
        return "asking price", case.deal.asking_price
    if walk_away is not None:
        return "walk-away price", Decimal(walk_away)
    return "nothing", None
