"""The chance of a margin with the luck of the sale integrated out, and the limit that it sets.

Conditional Monte Carlo: every draw holds all that the margin hangs on but how well the sale goes;
for that the exact chance is taken, draw by draw. At the same number of draws the limit is about
three times as precise as one read from the margins themselves.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, inf

import numpy as np
from numpy.typing import NDArray
from scipy import special

from appraise.engine.draws.subset import Rows
from appraise.engine.resale.resale import EDGE

__all__ = ["Reach", "most_left", "rounded_down"]

Floats = NDArray[np.float64]

STEPS = 1024
"""Of the table of the Student-t: straight lines between them are good to 0.000,01."""

CENT = 0.005
SOME = 1e-300
FOUR = 4.0
"""Standard errors that a step of the printed price is at least."""


@lru_cache(maxsize=16)
def _survival(freedom: float) -> tuple[float, float, Floats]:
    """Return the least score, the steps in one score, and P(score >= x) at even steps.

    A step before the least score the chance is 1, a step after the greatest it is 0.
    """
    least, greatest = (float(special.stdtrit(freedom, share)) for share in (EDGE, 1 - EDGE))
    table = special.stdtr(freedom, -np.linspace(least, greatest, STEPS + 1))
    return least, STEPS / (greatest - least), np.concatenate([[1.0], table, [0.0, 0.0]])


@lru_cache(maxsize=16)
def _excess(freedom: float, scale: float) -> Floats:
    """Return E[max(0, exp(scale t) - exp(scale x))] at the steps of `_survival`.

    ``E[max(0, Y - a)]`` is the integral of P(Y >= y) from a on.
    """
    least, steps, chance = _survival(freedom)
    price = np.exp(scale * (least + (np.arange(STEPS + 3) - 1) / steps))
    slices = (chance[:-2] + chance[1:-1]) / 2 * np.diff(price)
    return np.concatenate([np.cumsum(slices[::-1])[::-1], [0.0, 0.0]])


@dataclass(frozen=True, slots=True)
class Reach:
    """All that the margin hangs on but the landed cost and the luck of the sale.

    ``margin = exp(level + scale * t) - cost - landed * growth`` with t a Student-t score that is
    held between its 1-in-1,000 quantiles and is independent of the rest.

    Attributes
    ----------
    level : (draws,) log of what commission leaves of the price after repair at a score of 0.
    scale : log price of one score.
    freedom : of the Student-t.
    lift : mean of the price over how the sale goes, in units of the price at a score of 0.
    cost : (draws,) repair, own hours, holding and what the sale costs besides commission.
    growth : (draws,) what one unit of landed cost comes to with interest, at least 1.

    References
    ----------
    asmussen-glynn-2007
    stein-1987
    """

    level: Floats
    scale: float
    freedom: float
    lift: float
    cost: Floats
    growth: Floats

    def net(self) -> Floats:
        """Return the mean of all but the landed cost in each draw, over how the sale goes."""
        out: Floats = np.exp(self.level)
        out *= self.lift
        out -= self.cost
        return out

    def chances(self, landed: float, target: float) -> Floats:
        """Return P(margin >= target) in each draw, given all but the sale: (draws,).

        ``P(t >= z)`` with ``z = (log(target + cost + landed * growth) - level) / scale``.
        """
        return self._read(_survival(self.freedom)[2], self._needed(landed, target))

    def beyond(self, landed: float, target: float) -> Floats:
        """Return E[max(0, margin - target)] in each draw, given all but the sale: (draws,)."""
        needed = self._needed(landed, target)
        least, _, _ = _survival(self.freedom)
        surely = np.exp(self.level + self.scale * least) >= needed
        out = self._read(_excess(self.freedom, self.scale), needed)
        out *= np.exp(self.level)
        return np.where(surely, np.exp(self.level) * self.lift - needed, out)

    def _needed(self, landed: float, target: float) -> Floats:
        """Return what the sale has to leave after commission: (draws,)."""
        out = self.growth * landed
        out += self.cost
        out += target
        return out

    def _read(self, table: Floats, needed: Floats) -> Floats:
        """Return a table of the score, read at what the sale has to leave: (draws,)."""
        least, steps, _ = _survival(self.freedom)
        place = np.maximum(needed, SOME)
        np.log(place, out=place)
        place -= self.level
        place *= steps / self.scale
        place += 1 - least * steps
        np.clip(place, 0.0, STEPS + 2.0, out=place)
        below = place.astype(np.intp)
        place -= below
        out: Floats = table.take(below)
        below += 1
        place *= table.take(below, mode="clip") - out
        out += place
        return out

    def chance(self, landed: float, target: float) -> float:
        """Return P(margin >= target) at a landed cost."""
        return float(self.chances(landed, target).mean())

    def limits(self, target: float, confidence: float) -> Floats:
        """Return the highest landed cost with P(margin >= target) >= confidence, draw by draw."""
        score = float(special.stdtrit(self.freedom, np.clip(1 - confidence, EDGE, 1 - EDGE)))
        room = np.exp(self.level + self.scale * score) - self.cost - target
        return np.asarray(room / self.growth)

    def limit(self, target: float, confidence: float) -> float:
        """Return the highest landed cost, to half a cent, with P(margin >= target) >= confidence.

        The chance falls with the landed cost; the root lies between the least and the greatest of
        the draws' own limits. That bracket is cut by turns where a straight line between its ends
        meets the confidence, and in halves.

        Parameters
        ----------
        target : margin wanted.
        confidence : in (0, 1).
        """
        each = self.limits(target, confidence)
        low, high = float(each.min()), float(each.max())
        over, under = self.chance(low, target) - confidence, self.chance(high, target) - confidence
        if under >= 0:
            return high
        halve = False
        while high - low > CENT:
            share = 0.5 if halve or over <= 0 else over / (over - under)
            middle = low + (high - low) * min(max(share, 0.02), 0.98)
            found = self.chance(middle, target) - confidence
            halve = not halve
            if found >= 0:
                low, over = middle, found
            else:
                high, under = middle, found
        return low

    def error(
        self,
        landed: float,
        target: float,
        picks: Iterable[Iterable[Rows]] = (),
        weights: Floats | None = None,
    ) -> float:
        """Return the Monte-Carlo standard error of a limit: that of its chance over the slope.

        Stratified draws have no error from what one input does by itself: of the variance of the
        draws' chances, what lies between the values of each pick is taken off.

        Parameters
        ----------
        landed : the limit.
        target : margin wanted.
        picks : inputs that pick one of a few values: where each value holds. Values that are not
            named are one more.
        weights : (draws,) of the draws, or None if they weigh the same.
        """
        weighed = np.ones(len(self.cost)) if weights is None else weights
        total = float(weighed.sum())
        off = max(1.0, 0.01 * abs(landed))
        fall = self.chances(landed - off, target) - self.chances(landed + off, target)
        slope = float(np.einsum("i,i", weighed, fall)) / total / (2 * off)
        if slope <= 0:
            return 0.0
        each = self.chances(landed, target)
        each -= float(np.einsum("i,i", weighed, each)) / total
        each *= weighed
        left = float(np.einsum("i,i", each, each)) - sum(_between(each, rows) for rows in picks)
        return float(max(0.0, left) ** 0.5 / total / slope)


def most_left(ways: Iterable[Reach], target: float, confidence: float) -> int:
    """Return the place of the way with the highest limit, the first of them.

    Parameters
    ----------
    ways : one at least; read one by one, so that not all of them have to be held.
    """
    place, limit = 0, -inf
    for at, one in enumerate(ways):
        if limit == -inf or one.chance(limit, target) > confidence:
            place, limit = at, max(limit, one.limit(target, confidence))
    return place


def _between(centerd: Floats, values: Iterable[Rows]) -> float:
    """Return the sum of squares between the values of an input: of draws whose mean is 0."""
    out = rest = 0.0
    others = len(centerd)
    for rows in values:
        places = rows.places()
        if places is None:
            count = int(np.count_nonzero(rows.mask))
            total = float(centerd.compress(rows.mask).sum())
        else:
            count, total = len(places), float(centerd.take(places).sum())
        if count:
            out += total**2 / count
        rest += total
        others -= count
    return out + rest**2 / others if others > 0 else out


def rounded_down(limit: int | None, error: float) -> int | None:
    """Return a limit down to a round step of at least four standard errors: never overstated.

    The steps are 1, 5, 10, 20, 30 and so on; a limit below one step stays as it is.

    Examples
    --------
    >>> rounded_down(1747, 3.8), rounded_down(1747, 1.2), rounded_down(12, 3.8)
    (1740, 1745, 12)
    """
    if limit is None:
        return None
    step = step_of(error)
    return limit // step * step or limit


def step_of(error: float) -> int:
    """Return the step in which a limit with that standard error is printed."""
    least = FOUR * error
    return next((step for step in (1, 5) if least <= step), ceil(least / 10) * 10)
