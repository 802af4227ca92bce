"""What it is worth to know more before bidding, for a person who bids up to a limit.

The limit is the highest price that leaves the margin wanted with the certainty wanted, by what is
known. The car goes for some price about the one asked: where that is within the limit the person
has the car at that price, else nothing. A check moves the limit.

The certainty wanted says how much a shortfall matters: who stops at the limit counts a unit of
money short of the margin wanted as so many beyond it that buying at the limit is just worth
nothing. In that measure the limit now is the best there is, and it is brought to money that is paid
for certain, so that it compares with what a check costs. Where the limit is the mean, both count
the same and the measure is the mean.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray
from scipy import special

from appraise.engine.bid.limit import rounded_down
from appraise.engine.bid.simulation import Worked
from appraise.engine.catalog.values import spread_of
from appraise.engine.faults.needed_jobs import Needs
from appraise.engine.money.margin import extra_paid, highest_bid, paid_for

__all__ = ["Bidding", "Known"]

Floats = NDArray[np.float64]

SLICES = 64
"""Of equal chance, of the prices that the car may go for."""

CENT = 0.01
ENDS = 0.001
"""Prices stay between this quantile and its mirror."""

LEVELS = 64
"""Of landed cost at which the chances of every draw are kept; half as many again evenly spaced."""


@dataclass(frozen=True, slots=True)
class Known:
    """What each cause of a finding brings, with its chance: sums over its draws, a draw.

    Attributes
    ----------
    chance : (causes,).
    worth : (slices, causes) of buying at the prices of each slice.
    met : (levels, causes) the margin wanted is met, at each landed cost.
    """

    chance: Floats
    worth: Floats
    met: Floats


@dataclass(frozen=True, slots=True)
class Bidding:
    """The prices that the car may go for, and the limit that each state of knowledge sets.

    Attributes
    ----------
    short : how many units beyond the margin wanted one short of it outweighs.
    edges : (slices + 1,) landed costs between the slices of equal chance, ascending; for a fixed
        price twice the same; none where there is no price to go by.
    worth : (slices, draws) of buying at the middle of each, in money paid for certain.
    levels : (levels,) landed costs, ascending, between which every limit lies.
    met : (levels, draws) chance of the margin wanted at each.

    References
    ----------
    raiffa-schlaifer-1961
    howard-1966
    """

    worked: Worked
    short: float
    edges: Floats
    worth: Floats
    levels: Floats
    met: Floats

    @classmethod
    def of(cls, worked: Worked) -> Bidding:
        """Work out what hangs on no finding."""
        deal, reach = worked.case.deal, worked.reach
        target, confidence = float(deal.target_margin), float(deal.confidence)
        beyond = float(reach.beyond(worked.budget, target).mean())
        below = beyond - float((reach.net() - worked.budget * reach.growth).mean()) + target
        short = beyond / below if min(beyond, below) > CENT else 1.0
        edges = np.sort([float(paid_for(worked.case, one)) for one in prices_of(worked)])
        certain = confidence + short * (1 - confidence)
        worth = [
            (short * (reach.net() - one * reach.growth - target))
            - (short - 1) * reach.beyond(one, target)
            for one in (edges[1:] + edges[:-1]) / 2
        ]
        each = np.maximum(reach.limits(target, confidence), 0.0)
        levels = np.unique(
            np.concatenate(
                [
                    np.quantile(each, np.linspace(0, 1, LEVELS)),
                    np.linspace(each.min(), each.max(), LEVELS // 2),
                ]
            )
        )
        return cls(
            worked=worked,
            short=short,
            edges=edges,
            worth=np.array(worth).reshape(-1, len(reach.cost)) / certain,
            levels=levels,
            met=np.array([reach.chances(float(one), target) for one in levels]),
        )

    def known(self, needs: Needs) -> Known:
        """Return what each cause of a finding brings."""
        holds = np.array(needs.cause_rows, dtype=float)
        draws = holds.shape[1]
        return Known(
            chance=holds.mean(axis=1),
            worth=self.worth @ holds.T / draws,
            met=self.met @ holds.T / draws,
        )

    def limits(self, known: Known, likelihood: Floats) -> Floats:
        """Return the highest landed cost that each outcome leaves: (outcomes,).

        Parameters
        ----------
        known : the causes.
        likelihood : (causes, outcomes).
        """
        wanted = float(self.worked.case.deal.confidence)
        chance = known.chance @ likelihood
        reached = known.met @ likelihood / np.where(chance > 0, chance, 1.0)
        return np.array([np.interp(-wanted, -one, self.levels) for one in reached.T])

    def gains(self, known: Known, limits: Floats) -> Floats:
        """Return what limits bring beyond the limit now under each cause: (causes, limits).

        ``sum of P(price) P(c) E[u | c, price]`` over the prices between the two limits, with
        ``u = x`` for a margin x beyond the margin wanted and ``u = short * x`` below it, over the
        mean weight of a unit at the limit now.
        """
        slices = len(known.worth)
        if not slices:
            return np.zeros((len(known.chance), len(limits)))
        sums = np.concatenate([np.zeros((1, len(known.chance))), np.cumsum(known.worth, axis=0)])
        out = [
            np.interp(self._place(limits), np.arange(slices + 1), one)
            - np.interp(self._place(np.array([self.worked.budget])), np.arange(slices + 1), one)
            for one in sums.T
        ]
        return np.array(out) / slices

    def _place(self, limits: Floats) -> Floats:
        """Return how many slices of price lie within each limit."""
        if self.edges[0] == self.edges[-1]:
            return np.where(limits >= self.edges[0], len(self.edges) - 1.0, 0.0)
        return np.interp(limits, self.edges, np.arange(len(self.edges)))

    def worths(self, known: Known, checks: Sequence[Floats]) -> tuple[Floats, float]:
        r"""Return what each check is worth before it is paid for, and what certainty is worth.

        Expected value of sample information for bidding: ``sum_o max(0, sum_c L[c,o] g(c, b_o))``
        with ``g(c, b)`` what limit b brings more than the limit now under cause c (`gains`), and
        ``b_o`` the limit after outcome o. An outcome whose limit brings nothing more leaves the bid
        as it was, so no check is worth less than 0. Certainty takes for every cause the best of
        the limits that any outcome or cause sets, ``sum_c max(0, max_b g(c, b))``, so no check is
        worth more.

        Parameters
        ----------
        known : the causes.
        checks : each (causes, outcomes), the chance of every outcome under every cause.

        Returns
        -------
        ((checks,), certainty).
        """
        moved = [self.limits(known, one) for one in checks]
        worth = [
            float(np.maximum((one * self.gains(known, limits)).sum(axis=0), 0.0).sum())
            for one, limits in zip(checks, moved, strict=True)
        ]
        every = np.concatenate([self.limits(known, np.eye(len(known.chance))), *moved])
        certain = np.maximum(self.gains(known, every).max(axis=1), 0.0).sum()
        return np.array(worth), float(certain)

    def walk_away(self, weights: Floats) -> int | None:
        """Return the walk-away price had the draws these weights, down to a round step.

        Parameters
        ----------
        weights : (draws,) at least one above 0.
        """
        reach, deal = self.worked.reach, self.worked.case.deal
        target, wanted = float(deal.target_margin), float(deal.confidence)
        total = float(weights.sum())
        limit = float(np.interp(-wanted, -(self.met @ weights) / total, self.levels))
        error = reach.error(limit, target, self.worked.picks, weights)
        bid = highest_bid(deal, limit - float(extra_paid(self.worked.case)))
        return rounded_down(bid, error)


def prices_of(worked: Worked) -> list[Decimal]:
    """Return the edges of slices of equal chance of the price that the car may go for.

    As the case says; else the asking price times what adverts are sold at; else the same spread
    about the limit now. None if there is no limit either.
    """
    case = worked.case
    goes_for, asking = case.deal.goes_for, case.deal.asking_price
    if goes_for is not None:
        spread = spread_of(goes_for)
    else:
        own = case.market.asked_to_sold
        sold = spread_of(own) if own else worked.lookup.spread("resale.asked_to_sold")
        center = (worked.limit or 0) / sold.likely if asking is None else float(asking)
        if not center:
            return []
        spread = sold.times(center)
    if spread.is_fixed:
        return [Decimal(repr(spread.likely))] * 2
    shares = np.clip(np.linspace(0, 1, SLICES + 1), ENDS, 1 - ENDS)
    return [Decimal(f"{one:.2f}") for one in spread.at(special.ndtri(shares))]
