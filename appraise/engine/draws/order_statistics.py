"""Values at given ranks of draws, exactly, without putting all the draws in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = ["Ordered", "Ranked", "mean_error", "quantile_error", "quantile_of", "ranked"]

Floats = NDArray[np.float64]

BINS = 512
"""Of equal width, from the lowest draw to the highest."""

NO_WIDTH = 1e-300
"""Draws that lie no further apart than this are all the same."""


class Ordered(Protocol):
    """Draws in ascending order, of which at least those asked for are known."""

    def __len__(self) -> int:
        """Return how many draws there are."""

    def __getitem__(self, rank: int, /) -> float:
        """Return the draw of that rank, from 0."""


@dataclass(frozen=True, slots=True)
class Ranked:
    """Some of the draws in ascending order, by rank."""

    draws: int
    known: dict[int, float]

    def __len__(self) -> int:
        """Return how many draws there are in all."""
        return self.draws

    def __getitem__(self, rank: int, /) -> float:
        """Return the draw of that rank, from 0; KeyError if it was not asked for."""
        return self.known[rank]


def ranked(draws: Floats, ranks: Sequence[int]) -> Ranked:
    """Return the draws that would stand at `ranks` if all were in ascending order.

    The draws are counted into narrow bins, and only the bins that hold a rank are sorted: the
    same values as by sorting everything, several times sooner. Where one draw lies so far off
    that the bins hold nearly all the others together, it takes as long as sorting them.

    Parameters
    ----------
    draws : (draws,) at least one, all finite.
    ranks : from 0 to draws - 1, in any order.

    Examples
    --------
    >>> ranked(np.array([40.0, 10.0, 30.0, 20.0]), (0, 3))[3]
    40.0
    """
    low = float(draws.min())
    width = float(draws.max()) - low
    if width <= NO_WIDTH:
        return Ranked(len(draws), dict.fromkeys(ranks, low))
    scaled = draws - low
    scaled *= BINS / width
    bins = scaled.astype(np.int16)
    counts = np.bincount(bins, minlength=BINS + 1)
    holding = counts.cumsum().searchsorted(ranks, side="right")
    wanted = np.zeros(BINS + 1, dtype=bool)
    wanted[holding] = True
    sorted_few = np.sort(draws.compress(wanted.take(bins)))
    skipped = np.where(wanted, 0, counts).cumsum().take(holding)
    return Ranked(len(draws), dict(zip(ranks, sorted_few[ranks - skipped].tolist(), strict=True)))


def mean_error(draws: Floats, mean: float | None = None) -> float:
    """Return the Monte-Carlo standard error of the mean; on the safe side for stratified draws.

    Parameters
    ----------
    mean : of the draws, where it is known already.
    """
    if mean is None:
        mean = float(draws.mean())
    spread = max(0.0, float(np.einsum("i,i", draws, draws)) / len(draws) - mean**2)
    return float((spread / len(draws)) ** 0.5)


def quantile_error(ordered: Ordered, share: float) -> float:
    """Return the Monte-Carlo standard error of a quantile, from the order statistics about it.

    The rank of a quantile is binomial: half the distance between the draws one standard
    deviation of rank to either side.

    Parameters
    ----------
    ordered : (draws,) ascending.
    share : in (0, 1).
    """
    off = (share * (1 - share) / len(ordered)) ** 0.5
    high = quantile_of(ordered, min(1.0, share + off))
    return (high - quantile_of(ordered, max(0.0, share - off))) / 2


def quantile_of(ordered: Ordered, share: float) -> float:
    """Return a quantile of draws that are in ascending order, by straight lines between them.

    Examples
    --------
    >>> quantile_of(np.array([10.0, 20.0, 30.0]), 0.25)
    15.0
    """
    place = share * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    low, high = float(ordered[below]), float(ordered[above])
    return low + (place - below) * (high - low)
