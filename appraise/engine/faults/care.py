"""How well a car was kept: one gamma factor on the number of all its faults, mean 1.

What was found raises it, what was inspected and is fine lowers it, and it carries over to what
nobody has inspected.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["GRID", "Care", "faults_of_share", "share_of_faults"]

Floats = NDArray[np.float64]

GRID = 7
"""States of care that are told apart; with 7 the chances of up to 13 faults are exact."""


def faults_of_share(share: float, shape: float) -> float:
    """Return the mean number of faults of cars of which a share has any: ``k ((1-p)^(-1/k) - 1)``.

    Parameters
    ----------
    share : p, of the cars that have at least one such fault, in [0, 1).
    shape : k, of the gamma factor; the larger, the more alike cars are.

    References
    ----------
    dvsa-mot-03

    Examples
    --------
    Failed for suspension, 9.7 %, with the shape that meets all ten categories at once:

    >>> round(faults_of_share(0.097, 0.384), 4)
    0.1169
    """
    return float(shape * ((1 - share) ** (-1 / shape) - 1))


def share_of_faults(faults: float, shape: float) -> float:
    """Return the share of cars with any of so many faults on average: ``1 - (1 + m/k)^(-k)``."""
    return float(1 - (1 + faults / shape) ** -shape)


@lru_cache(maxsize=16)
def _grid(shape: float) -> tuple[Floats, Floats]:
    """Return the states of care and their chances: Gauss' rule for the gamma factor.

    From the recurrence of the generalized Laguerre polynomials (Golub and Welsch), which gives
    chances that sum to 1 for every shape.
    """
    at = np.arange(GRID)
    beside = np.sqrt(at[1:] * (at[1:] + shape - 1))
    nodes, vectors = np.linalg.eigh(
        np.diag(2 * at + shape) + np.diag(beside, 1) + np.diag(beside, -1)
    )
    return nodes / shape, vectors[0] ** 2


@dataclass(slots=True)
class Care:
    """What is known of how well the car was kept.

    Attributes
    ----------
    factor : (care,) how many times the usual number of faults each state means, ascending.
    before : (care,) chance of each state before anything was seen; sums to 1.
    now : (care,) the same after all that was seen.
    """

    factor: Floats
    before: Floats
    now: Floats = field(init=False)

    @classmethod
    def of(cls, shape: float) -> Care:
        """Return what is known of a car that nobody has seen."""
        return cls(*_grid(shape))

    def __post_init__(self) -> None:
        """Start with nothing seen."""
        self.now = self.before

    def saw(self, evidence: Floats) -> None:
        """Take in the chance of something seen in each state: (care,), up to one factor."""
        seen = self.now * evidence
        total = float(seen.sum())
        if total > 0:
            self.now = seen / total

    def has(self, faults: float) -> Floats:
        """Return the chance that a car has any of so many faults on average: (care,)."""
        out: Floats = -np.expm1(-self.factor * faults)
        return out

    @property
    def mean(self) -> float:
        """How many times the usual number of faults is expected now."""
        return float(self.now @ self.factor)

    def quantile(self, share: float) -> float:
        """Return the factor that is not exceeded with this chance, by lines between states."""
        middles = np.cumsum(self.now) - self.now / 2
        return float(np.interp(share, middles, self.factor))
