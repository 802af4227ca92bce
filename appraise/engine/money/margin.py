"""From money in to money out: landed cost, margin, and the highest bid that still pays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from math import ceil

import numpy as np
from numpy.typing import NDArray

from appraise.engine.draws.order_statistics import ranked
from appraise.models.case import Case
from appraise.models.deal import Deal, FeeSchedule

__all__ = [
    "HIGHEST_BID",
    "Accepted",
    "Rest",
    "budget_for",
    "expected_shortfall",
    "extra_paid",
    "fee_due",
    "given_acceptance",
    "highest_bid",
    "landed_cost",
    "landed_lines",
    "lines_paid",
    "paid_for",
    "shrink",
]

Floats = NDArray[np.float64]

HIGHEST_BID = 100_000_000
CENT = Decimal("0.01")
TENTH = 0.1


def fee_due(schedule: FeeSchedule, bid: Decimal) -> Decimal:
    """Return one fee at a bid: the step in which the bid falls decides the whole fee.

    ``min(cap, flat + percent of the bid)``, to the cent.
    """
    step = next(one for one in reversed(schedule.steps) if bid >= one.starts_at)
    due = step.flat + bid * step.percent / 100
    if step.cap is not None:
        due = min(due, step.cap)
    return due.quantize(CENT)


def landed_lines(deal: Deal, bid: Decimal) -> tuple[tuple[str, Decimal], ...]:
    """Return what the car costs until it stands in the yard, line by line, to the cent."""
    fees = [(schedule.name, fee_due(schedule, bid)) for schedule in deal.fees]
    taxed = bid + (sum((due for _, due in fees), Decimal(0)) if deal.tax_on_fees else Decimal(0))
    lines = [("Bid", bid), *fees]
    if deal.tax_percent:
        lines.append(("Sales tax", (taxed * deal.tax_percent / 100).quantize(CENT)))
    if deal.title_and_registration:
        lines.append(("Title and registration", deal.title_and_registration))
    if deal.transport:
        lines.append(("Transport", deal.transport))
    return tuple(lines)


def landed_cost(deal: Deal, bid: Decimal) -> Decimal:
    """Return bid, fees, tax, title and transport together, to the cent."""
    return sum((amount for _, amount in landed_lines(deal, bid)), Decimal(0))


def lines_paid(case: Case, bid: Decimal) -> tuple[tuple[str, Decimal], ...]:
    """Return the landed cost line by line: as really paid if that is known, else as planned.

    Parameters
    ----------
    bid : any; the lines paid are those of the price paid alone.
    """
    purchase = case.purchase
    if purchase is not None and purchase.paid and purchase.bid == bid:
        return tuple((one.label, one.amount) for one in purchase.paid)
    return landed_lines(case.deal, bid)


def extra_paid(case: Case) -> Decimal:
    """Return what the purchase really cost beyond the plan, nothing if it is not known."""
    purchase = case.purchase
    if purchase is None or purchase.landed is None:
        return Decimal(0)
    return purchase.landed - landed_cost(case.deal, purchase.bid)


def paid_for(case: Case, bid: Decimal) -> Decimal:
    """Return the landed cost at a bid, with what was really paid beyond the plan."""
    return landed_cost(case.deal, bid) + extra_paid(case)


def highest_bid(deal: Deal, budget: float) -> int | None:
    """Return the largest whole bid from 1 on whose landed cost is within `budget`, or None.

    Exact across fee steps: between two steps the landed cost rises with the bid, so each stretch
    is searched by halves, the highest stretch first; a fee that falls at a step is no trouble.

    Parameters
    ----------
    deal : with its fees, tax and fixed costs.
    budget : most that the landed cost may come to.
    """
    if not np.isfinite(budget) or budget <= 0:
        return None
    most = Decimal(repr(float(budget)))
    starts = {1, HIGHEST_BID + 1}
    for schedule in deal.fees:
        starts |= {max(1, ceil(step.starts_at)) for step in schedule.steps}
    edges = sorted(start for start in starts if start <= HIGHEST_BID + 1)
    for low, after in reversed(list(pairwise(edges))):
        if landed_cost(deal, Decimal(low)) > most:
            continue
        good, bad = low, after
        while bad - good > 1:
            middle = (good + bad) // 2
            if landed_cost(deal, Decimal(middle)) <= most:
                good = middle
            else:
                bad = middle
        return good
    return None


@dataclass(frozen=True, slots=True)
class Rest:
    """Everything in the margin but the landed cost, which is all that hangs on the bid.

    Attributes
    ----------
    net : (draws,) net proceeds - repair - own hours - holding - selling costs.
    growth : (draws,) what one unit of landed cost comes to with interest, at least 1.
    """

    net: Floats
    growth: Floats

    def margin(self, landed: float) -> Floats:
        """Return the margin at a landed cost: (draws,)."""
        return self.net - landed * self.growth


def budget_for(rest: Rest, target: float, confidence: float) -> float:
    """Return the most that the car may cost landed for P(margin ≥ target) ≥ confidence.

    ``margin ≥ target`` is ``landed ≤ (net - target)/growth`` in each draw, so the budget is one
    order statistic of the right-hand side: exact on these draws, financing or not.

    Parameters
    ----------
    rest : (draws,) arrays.
    target : margin wanted.
    confidence : in (0, 1).

    Examples
    --------
    >>> rest = Rest(np.array([100.0, 200.0, 300.0, 400.0]), np.ones(4))
    >>> budget_for(rest, 50.0, 0.75)
    150.0
    """
    room = (rest.net - target) / rest.growth
    needed = ceil(confidence * len(room) - 1e-9)
    rank = len(room) - needed
    return ranked(room, (rank,))[rank]


def expected_shortfall(margin: Floats, share: float = TENTH) -> float:
    """Return the mean margin of the worst `share` of the draws."""
    count = max(1, round(share * len(margin)))
    edge = ranked(margin, (count - 1,))[count - 1]
    below = margin.compress(margin < edge)
    return (float(below.sum()) + edge * (count - len(below))) / count


@dataclass(frozen=True, slots=True)
class Accepted:
    """What a seller's acceptance means: how likely it is, and the mean margin if it comes."""

    chance: float
    margin: float


def given_acceptance(margin: Floats, seller_value: Floats, bid: float) -> Accepted | None:
    """Return the chance that a seller who knows the car's worth accepts, and the margin then.

    A seller who knows what is wrong takes a bid only when the car is worth less to them: being
    accepted is news, and bad news (winner's curse).

    Parameters
    ----------
    margin : (draws,) the buyer's margin at `bid`.
    seller_value : (draws,) what the car is worth to the seller, by what the seller knows.
    bid : what the seller is offered.

    Returns
    -------
    None if the seller never accepts.

    References
    ----------
    samuelson-bazerman-1985
    """
    accepted = seller_value <= bid
    if not accepted.any():
        return None
    return Accepted(float(accepted.mean()), float(margin[accepted].mean()))


def shrink(estimates: Sequence[float], errors: Sequence[float]) -> tuple[float, ...]:
    """Return estimates drawn towards their common mean by how unsure each is.

    The best-looking of many is too good by construction (optimizer's curse). Normal-normal:
    ``mean + t²/(t² + e²) (estimate - mean)``, with t² the spread between the estimates that their
    errors do not explain (method of moments).

    Parameters
    ----------
    estimates, errors : one each a lot; errors are standard deviations.

    References
    ----------
    smith-winkler-2006
    """
    values = np.asarray(estimates, dtype=float)
    noise = np.asarray(errors, dtype=float) ** 2
    if len(values) < 2:  # noqa: PLR2004
        return tuple(values.tolist())
    between = max(0.0, float(values.var(ddof=1) - noise.mean()))
    weight = between / (between + noise) if between else np.zeros(len(values))
    if between:
        pooled = float(np.sum(values / (between + noise)) / np.sum(1 / (between + noise)))
    else:
        pooled = float(values.mean())
    return tuple((pooled + weight * (values - pooled)).tolist())
