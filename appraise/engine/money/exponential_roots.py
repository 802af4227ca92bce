"""Every zero of a sum of exponentials: what a value of dated payments is, seen by the growth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["TOUCH", "Terms", "zeros"]

Floats = NDArray[np.float64]

TOUCH = 1e-12
"""Share of all sizes below which a sum is nought: what rounding leaves over some decades."""
TOLERANCE = 1e-15
MOST_STEPS = 1000


@dataclass(frozen=True, slots=True)
class Terms:
    """A sum ``f(x) = Σ sign · exp(log size - x · time)``.

    Attributes
    ----------
    times : (terms,) ascending, no two alike.
    logs : (terms,) logarithms of the sizes.
    signs : (terms,) 1 or -1.
    """

    times: Floats
    logs: Floats
    signs: Floats

    def share(self, at: Floats | float) -> Floats:
        """Return ``f`` as a share of the sum of its sizes, in [-1, 1]: its zeros are those of f.

        Parameters
        ----------
        at : (points,) or one point.
        """
        powers = self.logs - np.multiply.outer(np.asarray(at, dtype=float), self.times)
        sizes = np.exp(powers - powers.max(axis=-1, keepdims=True))
        share: Floats = (sizes @ self.signs) / sizes.sum(axis=-1)
        return share

    def balance(self, at: Floats | float) -> Floats:
        """Return the share, with 0 for what is 0 within rounding.

        Parameters
        ----------
        at : (points,) or one point.
        """
        share = self.share(at)
        return np.where(np.abs(share) <= TOUCH, 0.0, share)

    def changes(self) -> NDArray[np.intp]:
        """Return after which terms the sign changes: (changes,)."""
        return np.flatnonzero(self.signs[1:] != self.signs[:-1])

    def reach(self) -> tuple[float, float]:
        """Return ends between which every zero lies: outside, one term outweighs all others.

        With n terms, the first does so where each other is at most an n-th of it; so the last.
        """
        room = np.log(len(self.times))
        after = (self.logs[1:] - self.logs[0] + room) / (self.times[1:] - self.times[0])
        before = (self.logs[-1] - self.logs[:-1] - room) / (self.times[-1] - self.times[:-1])
        return float(before.min()), float(after.max())

    def turned(self) -> Terms:
        """Return the slope of ``f · exp(x · m)``, up to its sign: one change of sign less.

        With m between the times of two terms of unlike sign: the slope takes the factor
        ``time - m``, which turns every sign before m and none after. The middle change is taken.
        """
        changes = self.changes()
        at = changes[len(changes) // 2]
        off = self.times - (self.times[at] + self.times[at + 1]) / 2
        return Terms(self.times, self.logs + np.log(np.abs(off)), self.signs * np.sign(off))


def zeros(terms: Terms) -> tuple[float, ...]:
    """Return every zero of a sum, ascending; one that is only touched counts once.

    Nothing is scanned, so nothing slips through a grid. ``f · exp(x · m)`` has the zeros of f, and
    a slope with one change of sign less; between two zeros of that slope it has at most one zero.
    The slope is solved in the same way, down to a sum without a change of sign, which has no zero
    (Rolle's theorem; so there are at most as many zeros as changes of sign, Descartes' rule).

    Zeros between which f is 0 within rounding (`TOUCH`) are told as one, in their middle.

    Parameters
    ----------
    terms : two or more.
    """
    from scipy.optimize import brentq  # noqa: PLC0415 (slow to import, and seldom needed)

    levels = [terms]
    while len(levels[-1].changes()) > 1:
        levels.append(levels[-1].turned())
    low, high = terms.reach()
    found: list[float] = []
    for level in reversed(levels):
        points = np.array([low, *found, high])
        signs = np.sign(level.balance(points))
        found = [float(one) for one in points[signs == 0]]
        for at in np.flatnonzero(signs[1:] * signs[:-1] < 0):
            ends = points[at], points[at + 1]
            found.append(float(brentq(level.share, *ends, xtol=TOLERANCE, maxiter=MOST_STEPS)))
        found.sort()
    return _merged(found, terms)


def _merged(found: list[float], terms: Terms) -> tuple[float, ...]:
    """Return zeros with those made one between which the sum is 0 as well."""
    if not found:
        return ()
    every = np.array(found)
    apart = np.flatnonzero(terms.balance((every[1:] + every[:-1]) / 2)) + 1
    return tuple(float(one.mean()) for one in np.split(every, apart))
