"""Round bids about the walk-away price, with what each comes to."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal
from typing import Literal

from appraise.engine.money.margin import landed_cost
from appraise.models.appraisal import Appraisal, BidPoint
from appraise.models.deal import Deal

__all__ = ["Rung", "ladder"]

STEPS = (50, 100, 200, 250, 500, 1000, 2000, 5000, 10_000)


@dataclass(frozen=True, slots=True)
class Rung:
    """A bid with its cost to buy, all fees in, its chances and its profit on average.

    Attributes
    ----------
    mark : whether it is the walk-away price or the asking price.
    """

    bid: Decimal
    landed: Decimal
    mean_margin: Decimal
    chance_of_loss: Decimal
    chance_of_target: Decimal
    mark: Literal["stop", "asked", ""]


def ladder(deal: Deal, appraisal: Appraisal, count: int) -> tuple[Rung, ...]:
    """Return about so many round bids, the walk-away price and the asking price among them.

    Parameters
    ----------
    count : of the round bids.
    """
    out = []
    for bid in _round_bids(appraisal, count):
        point = _nearest(appraisal.curve, bid)
        mark: Literal["stop", "asked", ""] = ""
        if bid == appraisal.walk_away_price:
            mark = "stop"
        elif bid == appraisal.asking_price:
            mark = "asked"
        chances = (point.chance_of_loss, point.chance_of_target)
        out.append(Rung(bid, landed_cost(deal, bid), point.mean_margin, *chances, mark))
    return tuple(out)


def _round_bids(appraisal: Appraisal, count: int) -> list[Decimal]:
    """Return round bids about the walk-away price, that price and the asking price among them."""
    marks = [
        Decimal(one)
        for one in (appraisal.walk_away_price, appraisal.asking_price)
        if one is not None
    ]
    middle = marks[0] if marks else max(one.bid for one in appraisal.curve) / 2
    span = max(Decimal(200), middle * Decimal("0.5"))
    step = Decimal(next((one for one in STEPS if one * (count - 1) >= span), STEPS[-1]))
    first = (middle / step).quantize(Decimal(1), ROUND_DOWN) * step - count // 2 * step
    round_bids = [first + step * at for at in range(count)]
    top = max(one.bid for one in appraisal.curve)
    return sorted({one for one in (*round_bids, *marks) if 0 < one <= top})


def _nearest(curve: Iterable[BidPoint], bid: Decimal) -> BidPoint:
    """Return the point of the curve at a bid, between its neighbors by a straight line."""
    points = sorted(curve, key=lambda one: one.bid)
    above = next((at for at, one in enumerate(points) if one.bid >= bid), len(points) - 1)
    high = points[above]
    low = points[max(0, above - 1)]
    if high.bid in (bid, low.bid):
        return high
    share = (bid - low.bid) / (high.bid - low.bid)

    def between(name: str) -> Decimal:
        one: Decimal = getattr(low, name)
        other: Decimal = getattr(high, name)
        return one + (other - one) * share

    return BidPoint(
        bid=bid,
        chance_of_loss=between("chance_of_loss"),
        chance_of_target=between("chance_of_target"),
        mean_margin=between("mean_margin"),
    )
