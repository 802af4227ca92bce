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

from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray
from scipy import sparse, special

from appraise.engine.bid.limit import rounded_down
from appraise.engine.bid.simulation import Worked
from appraise.engine.catalog.values import spread_of
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
    """What each state of the car brings, with its chance: sums over its draws, a draw.

    A state is which of some faults are there.

    Attributes
    ----------
    chance : (states,).
    worth : (slices, states) of buying at the prices of each slice.
    met : (levels, states) the margin wanted is met, at each landed cost.
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
    by_draw : (draws, slices + levels) both, draw by draw.

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
    by_draw: Floats

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
        at_price = np.array(worth).reshape(-1, len(reach.cost)) / certain
        met = np.array([reach.chances(float(one), target) for one in levels])
        by_draw = np.ascontiguousarray(np.vstack([at_price, met]).T)
        return cls(worked, short, edges, at_price, levels, met, by_draw)

    def known(self, state: NDArray[np.intp], count: int) -> Known:
        """Return what each state of the car brings.

        Parameters
        ----------
        state : (draws,) which state each draw is in.
        count : number of states.
        """
        places = np.arange(len(state))
        holds = sparse.csr_array((np.ones(len(state)), (state, places)), (count, len(state)))
        sums = (holds @ self.by_draw).T / len(state)
        return Known(
            chance=np.bincount(state, minlength=count) / len(state),
            worth=sums[: len(self.worth)],
            met=sums[len(self.worth) :],
        )

    def limits(self, known: Known, likelihood: Floats) -> Floats:
        """Return the highest landed cost that each outcome leaves: (outcomes,).

        Parameters
        ----------
        known : the states.
        likelihood : (states, outcomes).
        """
        wanted = float(self.worked.case.deal.confidence)
        chance = known.chance @ likelihood
        reached = known.met @ likelihood / np.where(chance > 0, chance, 1.0)
        last = len(self.levels) - 1
        at = np.clip((reached >= wanted).sum(axis=0) - 1, 0, max(last - 1, 0))
        after = np.minimum(at + 1, last)
        above, below = (np.take_along_axis(reached, k[None, :], 0)[0] for k in (at, after))
        part = np.divide(
            above - wanted, above - below, out=np.zeros_like(above), where=above > below
        )
        part = np.clip(part, 0.0, 1.0)
        out: Floats = self.levels[at] * (1 - part) + self.levels[after] * part
        return out

    def gains(self, known: Known, limits: Floats) -> Floats:
        """Return what limits bring beyond the limit now in each state: (states, limits).

        ``sum of P(price) P(s) E[u | s, price]`` over the prices between the two limits, with
        ``u = x`` for a margin x beyond the margin wanted and ``u = short * x`` below it, over the
        mean weight of a unit at the limit now.
        """
        slices = len(known.worth)
        if not slices:
            return np.zeros((len(known.chance), len(limits)))
        sums = np.concatenate([np.zeros((1, len(known.chance))), np.cumsum(known.worth, axis=0)])
        place = self._place(np.append(limits, self.worked.budget))
        at = np.minimum(place.astype(np.intp), slices - 1)
        part = (place - at)[:, None]
        brought = sums[at] * (1 - part) + sums[at + 1] * part
        out: Floats = ((brought[:-1] - brought[-1]) / slices).T
        return out

    def _place(self, limits: Floats) -> Floats:
        """Return how many slices of price lie within each limit."""
        if self.edges[0] == self.edges[-1]:
            return np.where(limits >= self.edges[0], len(self.edges) - 1.0, 0.0)
        return np.interp(limits, self.edges, np.arange(len(self.edges)))

    def worth_of(self, known: Known, likelihood: Floats) -> float:
        """Return what a look is worth before it is paid for.

        Expected value of sample information for bidding: ``sum_o max(0, sum_s L[s,o] g(s, b_o))``
        with ``g(s, b)`` what limit b brings more than the limit now in state s (`gains`), and
        ``b_o`` the limit after outcome o. An outcome whose limit brings nothing more leaves the bid
        as it was, so no look is worth less than 0.

        Parameters
        ----------
        known : the states.
        likelihood : (states, outcomes) chance of each outcome in every state.
        """
        gains = self.gains(known, self.limits(known, likelihood))
        return float(np.maximum((likelihood * gains).sum(axis=0), 0.0).sum())

    def certainty(self, known: Known) -> float:
        """Return what it is worth to know the state: the best limit that any state sets, for each.

        ``sum_s max(0, max_b g(s, b))``.
        """
        every = self.limits(known, np.eye(len(known.chance)))
        return float(np.maximum(self.gains(known, every).max(axis=1), 0.0).sum())

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
