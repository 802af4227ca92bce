"""The three shapes that low / likely / high can stand for, with their moments and quantiles.

All functions are elementwise on floats or arrays and know no case.
"""

from __future__ import annotations

from math import exp

import numpy as np
from numpy.typing import NDArray
from scipy import special

__all__ = [
    "Z90",
    "pert_moments",
    "pert_parameters",
    "pert_quantile",
    "two_piece",
    "two_piece_moments",
    "two_piece_spreads",
]

Floats = NDArray[np.float64]

Z90 = 1.2815515655446004
"""The standard normal quantile at 0.9."""


def two_piece_spreads(low: float, likely: float, high: float) -> tuple[float, float]:
    """Return the log spreads below and above the median.

    ``s = ln(likely/low)/z90`` below and ``ln(high/likely)/z90`` above.

    Parameters
    ----------
    low, likely, high : P10, P50, P90, all above 0 and in order.

    Returns
    -------
    (below, above) : natural-log units.
    """
    return float(np.log(likely / low)) / Z90, float(np.log(high / likely)) / Z90


def two_piece(low: float, likely: float, high: float, z: Floats) -> Floats:
    """Return the two-piece lognormal at standard normal scores `z`.

    ``x = likely * exp(s * z)`` with one spread above the median and another below: P10, P50 and
    P90 are met exactly, x is positive and rises with z.

    Parameters
    ----------
    low, likely, high : P10, P50, P90, above 0 and in order; all three equal is a fixed amount.
    z : (draws,) standard normal scores.

    Returns
    -------
    (draws,) amounts in the unit of `likely`.

    Examples
    --------
    >>> two_piece(50.0, 100.0, 300.0, np.array([-Z90, 0.0, Z90])).round(6).tolist()
    [50.0, 100.0, 300.0]
    """
    if low == high:
        return np.full(z.shape, likely)
    below, above = two_piece_spreads(low, likely, high)
    if below == above:
        scaled = z * above
    else:
        scaled = np.maximum(z, 0.0)
        scaled *= above
        under = np.minimum(z, 0.0)
        under *= below
        scaled += under  # one of the two is 0: several times faster than choosing by a mask
    np.exp(scaled, out=scaled)
    scaled *= likely
    return scaled


def two_piece_moments(low: float, likely: float, high: float) -> tuple[float, float]:
    """Return mean and variance of the two-piece lognormal, in closed form.

    ``E[x^k] = likely^k (exp(k²a²/2) Φ(k a) + exp(k²b²/2) Φ(-k b))`` with a the spread above and
    b the spread below the median.

    Returns
    -------
    (mean, variance) : in the unit of `likely` and its square.
    """
    if low == high:
        return likely, 0.0
    below, above = two_piece_spreads(low, likely, high)

    def moment(k: int) -> float:
        up = exp((k * above) ** 2 / 2) * float(special.ndtr(k * above))
        down = exp((k * below) ** 2 / 2) * float(special.ndtr(-k * below))
        return float(likely**k * (up + down))

    mean = moment(1)
    return mean, moment(2) - mean**2


def pert_parameters(low: float, mode: float, high: float) -> tuple[float, float]:
    """Return alpha and beta of the beta-PERT with weight 4 on the mode.

    ``alpha = 1 + 4 (mode - low)/(high - low)``, ``beta = 1 + 4 (high - mode)/(high - low)``.
    """
    width = high - low
    return 1 + 4 * (mode - low) / width, 1 + 4 * (high - mode) / width


def pert_moments(low: float, mode: float, high: float) -> tuple[float, float]:
    """Return mean ``(low + 4 mode + high)/6`` and variance ``(mean - low)(high - mean)/7``.

    The variance is not ``((high - low)/6)²``, which belongs to the older PERT rule.

    References
    ----------
    vose-risk

    Examples
    --------
    >>> pert_moments(0.0, 10.0, 50.0)
    (15.0, 75.0)
    """
    mean = (low + 4 * mode + high) / 6
    return mean, (mean - low) * (high - mean) / 7


def pert_quantile(low: float, mode: float, high: float, share: Floats) -> Floats:
    """Return the beta-PERT's quantiles at `share` in [0, 1]."""
    if low == high:
        return np.full(np.shape(share), mode)
    alpha, beta = pert_parameters(low, mode, high)
    out: Floats = low + (high - low) * special.betaincinv(alpha, beta, share)
    return out
