"""A case worked out on its draws: what every result is read from."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from math import log

import numpy as np
from numpy.typing import NDArray

from appraise.engine.bid.check import check_case
from appraise.engine.bid.limit import Reach, rounded_down
from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Streams
from appraise.engine.draws.subset import Rows
from appraise.engine.faults.needed_jobs import needs_of_areas
from appraise.engine.faults.unseen import AreaDoubt, area_doubts
from appraise.engine.money.margin import Rest, extra_paid, highest_bid
from appraise.engine.money.returns import simple_interest
from appraise.engine.repair.repair import RepairDraws, repair, unseen_bill
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
    picks : for each finding and area, the draws in which each of its jobs is needed.
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
    doubts: tuple[AreaDoubt, ...]
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
    doubts = area_doubts(case, prices, lookup)
    work = repair(case, doubts, streams, prices, lookup)
    problems += [*market.problems, *work.problems, *_money_problems(case, reference)]

    deal = case.deal
    mended = mended_draws(market, streams)
    scrap = lookup.entry("scrap.value", case.vehicle.price_class.value) * float(deal.price_level)
    selling = mended * float(deal.selling_percent) / 100 + float(deal.selling_flat)
    paid_hours = work.total.hours * float(deal.own_rate)
    repair_days = work.total.hours / float(deal.hours_per_day) + work.lead_days
    if work.total.labor:
        repair_days += work.total.shop_hours / lookup.number("shop.hours_a_day")
    sell_days = days_to_sell(case, market.middle, streams, lookup)
    days = repair_days + sell_days
    holding = days * float(deal.holding_per_day)
    growth = 1 + simple_interest(1, float(deal.finance_percent) / 100, days)
    unpaid = mended - selling - work.total.money - holding
    rest = Rest(unpaid - paid_hours, growth)
    unseen = unseen_bill(case, work.by_area.values(), lookup)
    scores, scale = sale_scores(market, streams)
    reach = Reach(
        level=np.log(mended) - scale * scores + log(1 - float(deal.selling_percent) / 100),
        scale=scale,
        freedom=market.fit.freedom,
        lift=float(np.exp(scale * scores).mean()),
        cost=work.total.money + paid_hours + holding + float(deal.selling_flat),
        growth=growth,
    )
    target = float(deal.target_margin)
    budget = reach.limit(target, float(deal.confidence))
    limit = highest_bid(deal, budget - float(extra_paid(case)))
    picks = tuple(
        tuple(dict.fromkeys(need.at for need in needs.needs))
        for needs in (*work.needs, *needs_of_areas(doubts, streams))
    )
    error = reach.error(budget, target, picks)
    walk_away = rounded_down(limit, error)
    judged, price = _price_judged(case, walk_away)
    return Worked(
        case=case,
        lookup=lookup,
        prices=prices,
        market=market,
        doubts=work.doubts,
        repair=work,
        mended=mended,
        standing=as_it_stands(mended, work.bill, scrap, streams, lookup, unseen=unseen),
        selling=selling,
        own_hours_paid=paid_hours,
        repair_days=repair_days,
        sell_days=sell_days,
        holding=holding,
        rest=rest,
        unpaid=Rest(unpaid, growth),
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
