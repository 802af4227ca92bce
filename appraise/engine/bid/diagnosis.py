"""Which check is worth its price, for the decision of the moment, on the draws of the case.

Before the purchase: how high to bid. After it: which repair to try first. The draws are shared:
an outcome reweighs them, nothing is simulated anew.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from appraise.engine.bid.simulation import Worked, work_out
from appraise.engine.bid.value_of_checks import Bidding
from appraise.engine.catalog.cautions import on_this_car
from appraise.engine.catalog.prices import PriceList
from appraise.engine.draws.rounding import cents, share
from appraise.engine.faults.needed_jobs import Needs
from appraise.engine.faults.odds import (
    NOTHING,
    Odds,
    best_order,
    chances_of,
    outcome_chances,
    speaks_to,
)
from appraise.engine.money.margin import paid_for
from appraise.models.case import Case
from appraise.models.diagnosis import (
    CauseOdds,
    CheckWorth,
    Diagnosis,
    FindingDiagnosis,
    OutcomeView,
    Trial,
)
from appraise.models.findings import Finding
from appraise.reference.load import Reference
from appraise.reference.schema import Check

__all__ = ["applies", "check_cost", "check_values", "diagnose"]

Floats = NDArray[np.float64]

MINUTES = 60.0
LEAST_NAMED = 0.2


def diagnose(case: Case, reference: Reference, only: str | None = None) -> Diagnosis:
    """Return the odds of causes and the worth of checks for a case's findings.

    Parameters
    ----------
    case : the car.
    reference : causes, checks and the rest.
    only : id of the one finding wanted, with the walk-away price after each outcome of every
        check; if None all of them, with those of the check that is advised alone.

    Raises
    ------
    BadCase, CannotPrice
        As for `appraise`.
    """
    worked = work_out(case, reference)
    findings = {one.id: one for one in case.findings}
    owned = worked.judged == "price paid"
    bidding = Bidding.of(worked)
    return Diagnosis(
        decision="which repair first" if owned else "how high to bid",
        price=worked.price,
        walk_away_price=worked.walk_away,
        short_counts=None if owned or not len(bidding.edges) else cents(bidding.short),
        findings=tuple(
            _diagnosed(bidding, needs, findings[needs.id], reference, every=only is not None)
            for needs in worked.repair.needs
            if only in (None, needs.id)
        ),
    )


def check_values(bidding: Bidding, needs: Needs, checks: Iterable[Check]) -> tuple[Floats, float]:
    """Return what each check on a finding is worth before it is paid for, and certainty.

    Before a purchase the action is the bid; after it, to try the repairs in the best order that
    the odds then give.

    Returns
    -------
    ((checks,), worth of knowing the cause for certain).
    """
    odds, worked = needs.odds, bidding.worked
    assert odds is not None  # noqa: S101 - findings have odds, only areas have none
    rows = [chances_of(check, odds.causes) for check in checks]
    if worked.judged != "price paid":
        return bidding.worths(bidding.known(needs), rows)
    costs = _trial_costs(worked, needs)
    now = odds.after[:-1]
    certain = max(0.0, best_order(now, costs).cost - float(now @ costs))
    return np.array([_saved(odds, costs, one) for one in rows]), certain


def _trial_costs(worked: Worked, needs: Needs) -> Floats:
    """Return the mean cost of each cause's repair, tried by itself: (causes without none,)."""
    tally = worked.repair.by_finding[needs.id]
    cost = tally.money + tally.hours * float(worked.case.deal.own_rate)
    means = [float(cost[rows].mean()) if rows.any() else 0.0 for rows in needs.cause_rows[:-1]]
    return np.array(means)


def _saved(odds: Odds, costs: Floats, likelihood: Floats) -> float:
    """Return what a check saves in trial repairs, on average."""
    now = odds.after[:-1]
    blind = best_order(now, costs).cost
    informed = 0.0
    for place, chance in enumerate(outcome_chances(odds.after, likelihood)):
        if chance <= 0:
            continue
        then = odds.after * likelihood[:, place] / chance
        informed += float(chance) * best_order(then[:-1], costs).cost
    return max(0.0, blind - informed)


def _diagnosed(
    bidding: Bidding, needs: Needs, finding: Finding, reference: Reference, *, every: bool
) -> FindingDiagnosis:
    odds, worked = needs.odds, bidding.worked
    assert odds is not None  # noqa: S101 - findings have odds, only areas have none
    checks = [one for one in reference.checks.values() if applies(one, odds)]
    values, certain = check_values(bidding, needs, checks)
    done = {one.check: one.outcome for one in finding.results}
    listed = [
        _check_worth(worked, check, float(value), done.get(check.id, ""))
        for check, value in zip(checks, values, strict=True)
    ]
    listed.sort(key=lambda one: (bool(one.done), -one.net, one.minutes, one.id))
    advised = listed[0] if listed and not listed[0].done and listed[0].net > 0 else None
    for place, one in enumerate(listed):
        if every or one is advised:
            views = _outcomes(bidding, needs, reference.checks[one.id])
            listed[place] = one.model_copy(update={"outcomes": views})
    costs = _trial_costs(worked, needs)
    order = best_order(odds.after[:-1], costs)
    for used in (one.id for one in checks):
        worked.lookup.used.add(f"check.{used}")
    return FindingDiagnosis(
        id=needs.id,
        label=needs.label,
        causes=tuple(
            CauseOdds(id=cause, label=label, before=share(float(b)), after=share(float(a)))
            for cause, label, b, a in zip(
                odds.causes, odds.labels, odds.before, odds.after, strict=True
            )
        ),
        problem=odds.problem,
        most=cents(certain),
        checks=tuple(listed),
        advice=_advice(listed, worked),
        trials=tuple(
            Trial(
                cause=odds.causes[place],
                label=odds.labels[place],
                chance=share(float(odds.after[place])),
                cost=cents(float(costs[place])),
            )
            for place in order.places
            if odds.causes[place] != NOTHING
        ),
        trials_cost=cents(order.cost),
        trials_method=order.method,
    )


def applies(check: Check, odds: Odds) -> bool:
    """Whether a check tells causes apart and speaks of enough of them.

    What it says under causes that it does not name is what a sound car would show; where it names
    little of what the finding may be, that misleads.
    """
    named = {cause for one in check.given for cause in one.causes}
    spoken = sum(
        float(chance)
        for cause, chance in zip(odds.causes, odds.before, strict=True)
        if cause in named
    )
    return spoken >= LEAST_NAMED and speaks_to(check, odds.causes)


def check_cost(check: Check, case: Case, prices: PriceList) -> float:
    """Return what a check costs: money, tools that are not owned, and time at the own rate."""
    deal = case.deal
    tools = sum(
        prices.tool_price(tool).likely for tool in check.tools if tool not in deal.tools_owned
    )
    time = float(check.minutes.likely) / MINUTES * float(deal.own_rate)
    return float(check.cost) * float(deal.price_level) + tools + time


def _check_worth(worked: Worked, check: Check, value: float, done: str) -> CheckWorth:
    cost = check_cost(check, worked.case, worked.prices)
    return CheckWorth(
        id=check.id,
        label=check.label,
        how=check.how,
        needs=check.needs,
        minutes=cents(float(check.minutes.likely)),
        cost=cents(cost),
        worth=cents(value),
        net=cents(value - cost),
        outcomes=(),
        cautions=on_this_car(check.cautions, worked.case.vehicle),
        done=done,
    )


def _outcomes(bidding: Bidding, needs: Needs, check: Check) -> tuple[OutcomeView, ...]:
    odds, worked = needs.odds, bidding.worked
    assert odds is not None  # noqa: S101 - findings have odds, only areas have none
    likelihood = chances_of(check, odds.causes)
    landed = 0.0 if worked.price is None else float(paid_for(worked.case, worked.price))
    margin = worked.reach.net() - landed * worked.reach.growth
    holds = np.array(needs.cause_rows, dtype=float)
    out = []
    for outcome, chances in zip(check.outcomes, likelihood.T, strict=True):
        weights = chances @ holds
        total = float(weights.sum())
        if total <= 0:
            continue
        out.append(
            OutcomeView(
                outcome=outcome,
                chance=share(total / len(margin)),
                mean_margin=cents(float(weights @ margin) / total),
                walk_away_price=bidding.walk_away(weights),
            )
        )
    return tuple(out)


def _advice(listed: list[CheckWorth], worked: Worked) -> str:
    """Say which check is worth its price next, or that none is."""
    open_checks = [one for one in listed if not one.done]
    if not open_checks:
        return "No check in the catalog tells these causes apart any further."
    best = open_checks[0]
    owned = worked.judged == "price paid"
    if best.net <= 0:
        if owned:
            return "Stop checking: no check saves more in trial repairs than it costs."
        return "Stop checking: no result would move the walk-away price by enough to pay."
    words = (
        f"{best.label}: worth {best.worth:,.0f} on average, costs {best.cost:,.0f} "
        f"({best.minutes:.0f} minutes)."
    )
    if owned:
        return words
    leads = ", ".join(
        f"{_bid(one.walk_away_price)} after {one.outcome!r} ({float(one.chance):.0%})"
        for one in best.outcomes
    )
    return f"{words} Walk-away price: {_bid(worked.walk_away)} now; {leads}."


def _bid(price: int | None) -> str:
    return "no bid" if price is None else f"{price:,}"
