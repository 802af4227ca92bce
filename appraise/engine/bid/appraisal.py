"""The order of the steps, from a case to its appraisal."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from appraise.engine.bid.drivers import Alone, alone_of, doubt_of, drivers
from appraise.engine.bid.limit import Reach
from appraise.engine.bid.simulation import Worked, work_out
from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.rounding import cents, quantiles, share
from appraise.engine.money.margin import (
    HIGHEST_BID,
    Accepted,
    budget_for,
    expected_shortfall,
    given_acceptance,
    highest_bid,
    lines_paid,
    paid_for,
)
from appraise.engine.money.returns import annualized
from appraise.models.appraisal import (
    NOT_PRICED,
    Appraisal,
    AreaCost,
    BandPoint,
    BidPoint,
    Comparison,
    FaultBehind,
    FindingCost,
    Line,
    MarketPoint,
    Outcome,
    Repair,
    Resale,
    SellerView,
    Verdict,
)
from appraise.models.case import Case
from appraise.reference.load import Reference
from appraise.reference.schema import Kind

__all__ = ["appraise"]

Floats = NDArray[np.float64]

MOST_BEHIND, LEAST_BEHIND = 3, 0.005
"""Faults that are named behind a finding, and the chance from which they are."""
CURVE_POINTS = 41
BAND_POINTS = 25
POINTS_A_CHANCE = 3
"""Of so many points of the curve one chance is worked out, and those of all marked bids."""


def appraise(case: Case, reference: Reference) -> Appraisal:
    """Return what the estimate says of a case.

    Parameters
    ----------
    case : the car, what was seen, like cars' prices, the deal.
    reference : the catalog and the other reference values.

    Raises
    ------
    BadCase
        The case names a job, access, tool or check that does not exist.
    CannotPrice
        There is no comparable to price the car from.
    """
    worked = work_out(case, reference)
    resale = _resale(worked)
    doubt = doubt_of(worked)
    alone = {needs.id: alone_of(worked, needs.id, doubt) for needs in worked.repair.needs}
    at = worked.price
    walk_away = worked.walk_away
    return Appraisal(
        case_id=case.id,
        currency=case.currency,
        seed=case.seed,
        draws=case.draws,
        walk_away_price=walk_away,
        walk_away_error=None if walk_away is None else cents(worked.walk_away_error),
        walk_away_words=_walk_away_words(case, walk_away, worked.budget),
        asking_price=case.deal.asking_price,
        judged=worked.judged,
        outcome=None if at is None else _outcome(worked, at),
        at_walk_away=None if walk_away is None else _outcome(worked, Decimal(walk_away)),
        curve=_curve(worked),
        repair=_repair(worked, alone),
        resale=resale,
        drivers=drivers(worked, alone, doubt),
        seller=_seller(worked, resale),
        problems=worked.problems,
        values_used=tuple(sorted(worked.lookup.used)),
        unsourced_share=_unsourced(worked.lookup),
    )


def _walk_away_words(case: Case, walk_away: int | None, budget: float) -> str:
    deal = case.deal
    aim = f"a profit of {deal.target_margin:,.0f} in {100 * float(deal.confidence):.0f} % of cases"
    if walk_away is not None:
        return f"The highest bid that leaves {aim}, all fees in."
    if budget <= 0:
        return (
            f"No bid leaves {aim}: repaired, the car brings too little for what the repair, the "
            "time and the sale take."
        )
    return (
        f"No bid leaves {aim}: what is left for the car, {budget:,.0f}, does not cover the fees "
        "and fixed costs of buying it."
    )


def _outcome(money: Worked, bid: Decimal) -> Outcome:
    deal = money.case.deal
    lines = lines_paid(money.case, bid)
    landed = float(paid_for(money.case, bid))
    margin = money.rest.margin(landed)
    unpaid = money.unpaid.margin(landed)
    repair_money = float(money.repair.total.money.mean())
    hours = float(money.repair.total.hours.mean())
    days = float((money.repair_days + money.sell_days).mean())
    at_risk = landed + repair_money
    interest = float((landed * (money.rest.growth - 1)).mean())
    mean = float(margin.mean())
    kept = 1 - float(deal.selling_percent) / 100
    known = _if_seller_knows(money, landed, float(bid))
    steps = [
        ("Sale after repair", float(money.mended.mean())),
        ("Selling costs", -float(money.selling.mean())),
        ("Parts and tools", money.repair.total.labor - repair_money),
        ("Shop labor", -money.repair.total.labor),
        ("Your hours", -float(money.own_hours_paid.mean())),
        ("Holding", -float(money.holding.mean())),
        ("Interest", -interest),
        ("Fees, tax, transport", -(landed - float(bid))),
        ("Bid", -float(bid)),
    ]
    return Outcome(
        bid=bid,
        landed_cost=cents(landed),
        landed_lines=tuple(Line(label=label, amount=amount) for label, amount in lines),
        margin=quantiles(margin),
        margin_unpaid=quantiles(unpaid),
        chance_of_loss=share(1 - money.reach.chance(landed, 0.0)),
        chance_of_target=share(money.reach.chance(landed, float(deal.target_margin))),
        shortfall=cents(expected_shortfall(margin)),
        per_own_hour=cents(float(unpaid.mean()) / hours) if hours > 0 else None,
        annualized=_annualized(mean, at_risk, days),
        money_at_risk=cents(at_risk),
        break_even_resale=cents(float(money.mended.mean()) - mean / kept),
        if_seller_knows=None if known is None else cents(known.margin),
        seller_accepts=share(0.0 if known is None else known.chance),
        steps=tuple(Line(label=label, amount=cents(amount)) for label, amount in steps if amount),
    )


def _if_seller_knows(money: Worked, landed: float, bid: float) -> Accepted | None:
    """Return what is left if a seller accepts who knows the faults, but not how the sale will go.

    To such a seller the car is worth what it brings on average less a shop's bill for the faults of
    that draw; the margin is averaged over the sale as well.
    """
    worth = np.maximum(float(money.mended.mean()) - money.repair.total.bill, 0)
    margin = money.reach.net() - landed * money.reach.growth
    return given_acceptance(margin, worth, bid)


def _annualized(margin: float, at_risk: float, days: float) -> Decimal | None:
    """Return the yearly return, rounded; None where it means nothing."""
    found = annualized(margin, at_risk, days)
    return None if found is None else share(found)


def _curve(money: Worked) -> tuple[BidPoint, ...]:
    case, walk_away = money.case, money.walk_away
    deal = case.deal
    marks = [
        float(price)
        for price in (walk_away, deal.asking_price, case.purchase.bid if case.purchase else None)
        if price is not None
    ]
    even = highest_bid(deal, budget_for(money.rest, 0.0, 0.05))
    top = max([*marks, float(even or 0), 100.0]) * 1.15
    bids = {Decimal(round(at)) for at in np.linspace(max(1.0, top / 50), top, CURVE_POINTS)}
    bids |= {Decimal(str(mark)) for mark in marks}
    rest, reach = money.rest, money.reach
    target = float(deal.target_margin)
    net, growth = float(rest.net.mean()), float(rest.growth.mean())
    shown = sorted(one for one in bids if one <= HIGHEST_BID)
    landed = [float(paid_for(case, bid)) for bid in shown]
    known = {
        *landed[::POINTS_A_CHANCE],
        landed[-1],
        *(float(paid_for(case, Decimal(str(one)))) for one in marks),
    }
    kept, met = (_chances_at(landed, sorted(known), reach, goal) for goal in (0.0, target))
    return tuple(
        BidPoint(
            bid=bid,
            chance_of_loss=share(1 - kept[at]),
            chance_of_target=share(met[at]),
            mean_margin=cents(net - landed[at] * growth),
        )
        for at, bid in enumerate(shown)
    )


def _chances_at(landed: list[float], known: list[float], reach: Reach, goal: float) -> Floats:
    """Return the chance of a margin at landed costs, by straight lines between those known."""
    return np.interp(landed, known, [reach.chance(one, goal) for one in known])


def _repair(money: Worked, each: Mapping[str, Alone]) -> Repair:
    work = money.repair
    total = work.total.money
    found = work.found.money
    alone = sum(one.mean for one in each.values())
    return Repair(
        money=quantiles(total),
        own_hours=quantiles(work.total.hours),
        priced=quantiles(total + money.own_hours_paid),
        found=quantiles(found),
        unseen=quantiles(total - found),
        search_money=cents(float(work.search.money.mean())),
        search_minutes=cents(float(work.search.hours.mean()) * 60),
        shared=cents(alone + float(work.search.money.mean()) - float(found.mean())),
        shop_bill=quantiles(work.bill),
        days=quantiles(money.repair_days),
        by_finding=tuple(
            FindingCost(
                id=needs.id,
                label=needs.label,
                chance=share(needs.chance),
                money=each[needs.id].money,
                own_hours=cents(each[needs.id].hours),
                note=NOT_PRICED if needs.typical else "",
                behind=_behind(money, needs.id),
            )
            for needs in work.needs
        ),
        by_area=tuple(
            AreaCost(
                id=doubt.area.value,
                label=doubt.label,
                look=doubt.look.value if doubt.look else "",
                chance=share(doubt.chance),
                chance_before=share(doubt.before),
                expected_money=cents(work.by_area[doubt.area.value].money),
                expected_hours=cents(work.by_area[doubt.area.value].hours),
            )
            for doubt in money.car.doubts
        ),
    )


def _behind(money: Worked, finding: str) -> tuple[FaultBehind, ...]:
    """Return the likeliest faults behind a finding, by everything that was seen."""
    car = money.car
    names = {one for sign in car.seen.signs if finding in sign.findings for one in sign.links}
    chances = [(car.behind.get(one, 0.0), one) for one in names]
    likely = sorted((-chance, one) for chance, one in chances if chance >= LEAST_BEHIND)
    return tuple(
        FaultBehind(label=car.faults[one].label, chance=share(-chance))
        for chance, one in likely[:MOST_BEHIND]
    )


def _resale(money: Worked) -> Resale:
    market, lookup = money.market, money.lookup
    fit = market.fit
    miles = [one.miles for one in market.used] + [market.miles]
    low, high = min(miles), max(miles)
    pad = max(5_000.0, (high - low) * 0.1)
    comparison = None
    mended, standing = float(money.mended.mean()), float(money.standing.mean())
    if standing < mended:
        comparison = Comparison(
            discount=share(1 - standing / mended),
            adverts=share(lookup.curve("as_it_stands.advert_discount", market.age)),
        )
    return Resale(
        mended=quantiles(money.mended),
        as_it_stands=quantiles(money.standing),
        per_year=share(float(np.expm1(fit.coefficients[1]))),
        per_10000_miles=share(float(np.expm1(fit.coefficients[2]))),
        spread=share(fit.scale),
        freedom=share(fit.freedom),
        leave_one_out=None if market.leave_one_out is None else share(market.leave_one_out),
        days_to_sell=quantiles(money.sell_days),
        points=tuple(
            MarketPoint(
                id=one.id,
                age_years=cents(one.age),
                miles=cents(one.miles),
                price=cents(one.price),
                like_price=cents(one.like_price),
                at_this_age=cents(
                    one.like_price
                    * float(np.exp(fit.coefficients[1] * (market.age - one.age) + market.car_shift))
                ),
                weight=share(one.weight),
                kind=one.kind.value,
            )
            for one in market.used
        ),
        band=tuple(
            BandPoint(
                miles=cents(at),
                p10=cents(p10),
                p50=cents(p50),
                p90=cents(p90),
            )
            for at in np.linspace(max(0.0, low - pad), high + pad, BAND_POINTS).tolist()
            for p10, p50, p90 in [market.quantiles((0.1, 0.5, 0.9), at)]
        ),
        comparison=comparison,
    )


def _seller(money: Worked, resale: Resale) -> SellerView | None:
    """Return how much trouble the asking price admits, and how that compares with what was found.

    Sellers of sound cars ask less than the middle too: what buyers want off for ordinary hassle,
    and how far one like car in ten is priced below the middle, are taken off before a price is
    said to admit more trouble than was found.
    """
    case, market, work = money.case, money.market, money.repair
    asking = case.deal.asking_price
    if asking is None:
        return None
    admitted = market.middle - float(asking)
    hassle = market.middle * money.lookup.spread("as_it_stands.hassle").likely
    ordinary = hassle + float(resale.mended.p50 - resale.mended.p10)
    beyond = admitted - ordinary
    verdict: Verdict
    if admitted <= 0:
        verdict, words = "less", "The seller asks the price of a sound car and admits no trouble."
    elif float((work.bill <= admitted).mean()) < 0.2:  # noqa: PLR2004
        verdict = "less"
        words = "The seller's price admits less trouble than was found."
    elif beyond <= 0 or float((work.bill <= beyond).mean()) <= 0.9:  # noqa: PLR2004
        verdict = "within"
        words = "The seller's price admits about the trouble that was found."
        if not work.bill.any():
            words = (
                "The seller's price is within what comparable cars without a fault are offered at."
            )
    else:
        verdict = "more"
        words = (
            "The seller's price admits far more trouble than was found: either it is a bargain, "
            "or something was not found."
        )
    return SellerView(
        asking=asking,
        admitted=cents(admitted),
        ordinary=cents(ordinary),
        percentile=share(float((work.bill <= admitted).mean())),
        verdict=verdict,
        words=words,
    )


def _unsourced(lookup: Lookup) -> Decimal:
    """Share of the values used that rest on common practice or a person's own word alone."""
    reference = lookup.reference
    kinds = {value.id: value.kind for value in reference.values.values()}
    kinds |= {f"area.{area.id.value}": area.kind for area in reference.areas.values()}
    weak = (Kind.COMMON_PRACTICE, Kind.OWN, Kind.DERIVED)
    published = sum(kinds.get(used, Kind.COMMON_PRACTICE) not in weak for used in lookup.used)
    return share(1 - published / len(lookup.used)) if lookup.used else Decimal(0)
