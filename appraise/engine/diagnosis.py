"""Which check is worth its price, for the decision of the moment, on the draws of the case.

Before the purchase: buy at this price, or do not and earn the margin wanted elsewhere. After it:
which repair to try first. The draws are shared: an outcome reweighs them, nothing is simulated
anew.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from appraise.engine.causes import (
    NOTHING,
    Odds,
    best_order,
    chances_of,
    outcome_chances,
    perfect_value,
    sample_value,
    speaks_to,
)
from appraise.engine.cautions import on_this_car
from appraise.engine.margin import highest_bid, paid_for
from appraise.engine.needs import Needs
from appraise.engine.pricing import PriceList
from appraise.engine.summary import cents, share
from appraise.engine.worked import Worked, work_out
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


@dataclass(frozen=True, slots=True)
class Sorted:
    """Room for the landed cost in each draw, in falling order: what the budget is read from."""

    room: Floats
    order: NDArray[np.intp]

    @classmethod
    def of(cls, worked: Worked) -> Sorted:
        """Sort the draws of a case once."""
        room = (worked.rest.net - float(worked.case.deal.target_margin)) / worked.rest.growth
        order = np.argsort(-room, kind="stable")
        return cls(room[order], order)

    def budget(self, weights: Floats, confidence: float) -> float:
        """Return the budget had the draws these weights: (draws,) in the case's order.

        The largest landed cost that at least `confidence` of the weight leaves room for.
        """
        reached = np.cumsum(weights[self.order])
        place = int(np.searchsorted(reached, confidence * reached[-1] * (1 - 1e-12)))
        return float(self.room[min(place, len(self.room) - 1)])


def diagnose(case: Case, reference: Reference, only: str | None = None) -> Diagnosis:
    """Return the odds of causes and the worth of checks for a case's findings.

    Parameters
    ----------
    case : the car.
    reference : causes, checks and the rest.
    only : id of the one finding wanted, with the walk-away price after each outcome; all of them
        without those prices if None.

    Raises
    ------
    BadCase, CannotPrice
        As for `appraise`.
    """
    worked = work_out(case, reference)
    findings = {one.id: one for one in case.findings}
    falling = Sorted.of(worked) if only is not None else None
    return Diagnosis(
        decision="which repair first" if worked.judged == "price paid" else "buy or not",
        price=worked.price,
        findings=tuple(
            _diagnosed(worked, needs, findings[needs.id], reference, falling)
            for needs in worked.repair.needs
            if only in (None, needs.id)
        ),
    )


def check_values(worked: Worked, needs: Needs, checks: Iterable[Check]) -> Floats:
    """Return what each check on a finding is worth before it is paid for: (checks,).

    Before a purchase the actions are to buy at the price judged and not to buy; after it, to try
    the repairs in the best order that the odds then give.
    """
    odds = needs.odds
    assert odds is not None  # noqa: S101 - findings have odds, only areas have none
    rows = [chances_of(check, odds.causes) for check in checks]
    if worked.judged == "price paid":
        costs = _trial_costs(worked, needs)
        return np.array([_saved(odds, costs, one) for one in rows])
    worth = _worth_of_buying(worked, needs)
    return np.array([sample_value(worth, one) for one in rows])


def _worth_of_buying(worked: Worked, needs: Needs) -> Floats:
    """Return (actions, causes): what buying brings beyond the margin wanted, and nought.

    The margin wanted is what money and hours can earn elsewhere: not buying is worth that.
    """
    beyond = _margin(worked) - float(worked.case.deal.target_margin)
    bought = [float(beyond[rows].sum()) / len(beyond) for rows in needs.cause_rows]
    return np.array([bought, [0.0] * len(bought)])


def _margin(worked: Worked) -> Floats:
    landed = 0.0 if worked.price is None else float(paid_for(worked.case, worked.price))
    return worked.rest.margin(landed)


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
    worked: Worked,
    needs: Needs,
    finding: Finding,
    reference: Reference,
    falling: Sorted | None,
) -> FindingDiagnosis:
    odds = needs.odds
    assert odds is not None  # noqa: S101 - findings have odds, only areas have none
    checks = [one for one in reference.checks.values() if applies(one, odds)]
    values = check_values(worked, needs, checks)
    done = {one.check: one.outcome for one in finding.results}
    listed = [
        _check_worth(worked, needs, check, float(value), done.get(check.id, ""), falling)
        for check, value in zip(checks, values, strict=True)
    ]
    listed.sort(key=lambda one: (bool(one.done), -one.net, one.minutes, one.id))
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
        most=cents(_most(worked, needs, odds, costs)),
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


def _most(worked: Worked, needs: Needs, odds: Odds, costs: Floats) -> float:
    """Return the worth of knowing the cause for certain, for the decision of the moment."""
    if worked.judged != "price paid":
        return perfect_value(_worth_of_buying(worked, needs))
    known = float(odds.after[:-1] @ costs)
    return max(0.0, best_order(odds.after[:-1], costs).cost - known)


def check_cost(check: Check, case: Case, prices: PriceList) -> float:
    """Return what a check costs: money, tools that are not owned, and time at the own rate."""
    deal = case.deal
    tools = sum(
        prices.tool_price(tool).likely for tool in check.tools if tool not in deal.tools_owned
    )
    time = float(check.minutes.likely) / MINUTES * float(deal.own_rate)
    return float(check.cost) * float(deal.price_level) + tools + time


def _check_worth(
    worked: Worked,
    needs: Needs,
    check: Check,
    value: float,
    done: str,
    falling: Sorted | None,
) -> CheckWorth:
    minutes = float(check.minutes.likely)
    cost = check_cost(check, worked.case, worked.prices)
    return CheckWorth(
        id=check.id,
        label=check.label,
        how=check.how,
        needs=check.needs,
        minutes=cents(minutes),
        cost=cents(cost),
        worth=cents(value),
        net=cents(value - cost),
        outcomes=_outcomes(worked, needs, check, falling) if falling is not None else (),
        cautions=on_this_car(check.cautions, worked.case.vehicle),
        done=done,
    )


def _outcomes(
    worked: Worked, needs: Needs, check: Check, falling: Sorted
) -> tuple[OutcomeView, ...]:
    odds = needs.odds
    assert odds is not None  # noqa: S101 - findings have odds, only areas have none
    likelihood = chances_of(check, odds.causes)
    margin = _margin(worked)
    weights = np.zeros((len(check.outcomes), len(margin)))
    for place, rows in enumerate(needs.cause_rows):
        weights[:, rows] = likelihood[place][:, None]
    out = []
    for place, outcome in enumerate(check.outcomes):
        weight = weights[place]
        total = float(weight.sum())
        if total <= 0:
            continue
        budget = falling.budget(weight, float(worked.case.deal.confidence))
        out.append(
            OutcomeView(
                outcome=outcome,
                chance=share(total / len(margin)),
                mean_margin=cents(float(np.einsum("i,i", weight, margin)) / total),
                walk_away_price=highest_bid(worked.case.deal, budget),
            )
        )
    return tuple(out)


def _advice(listed: list[CheckWorth], worked: Worked) -> str:
    """Say which check is worth its price next, or that none is."""
    open_checks = [one for one in listed if not one.done]
    if not open_checks:
        return "No check in the catalogue tells these causes apart any further."
    best = open_checks[0]
    if best.net > 0:
        return (
            f"{best.label}: worth {best.worth:,.0f} on average, costs {best.cost:,.0f} "
            f"({best.minutes:.0f} minutes)."
        )
    if worked.judged == "price paid":
        return "Stop checking: no check saves more in trial repairs than it costs."
    return "Stop checking: no result would change whether to buy at this price by enough to pay."
