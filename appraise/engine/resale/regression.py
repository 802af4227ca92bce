"""Weighted Bayesian regression with a Student-t predictive; without a prior it is least squares.

Nothing here knows of cars. A row far from what the others say can be given a low weight first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from appraise.errors import CannotPrice

__all__ = ["Fit", "Prior", "fit_line", "outlier_weights"]

Floats = NDArray[np.float64]

TO_SD = 1.4826
"""From the median absolute deviation to the standard deviation of a normal distribution."""
OUTLYING = 3.5
"""Scales from the others at which an observation begins to count less."""
STEEPNESS = 12
"""How fast it does: at 4 scales a fifth, at 5 a seventieth."""


@dataclass(frozen=True, slots=True)
class Prior:
    """What is believed before the data.

    Attributes
    ----------
    mean : (terms,) of each coefficient; ignored where the spread is infinite.
    sd : (terms,) spread of each coefficient; infinite for one that is quite unknown.
    scale : expected spread of one observation about the line.
    freedom : how many observations that scale is worth.
    """

    mean: Floats
    sd: Floats
    scale: float
    freedom: float


@dataclass(frozen=True, slots=True)
class Fit:
    """A fitted line.

    Attributes
    ----------
    coefficients : (terms,).
    spread : (terms, terms) covariance of the coefficients, in units of scale².
    scale : spread of one observation of weight 1 about the line.
    freedom : degrees of freedom of every Student-t statement.
    pull : (terms, observations) how far each observation's value moves each coefficient.
    """

    coefficients: Floats
    spread: Floats
    scale: float
    freedom: float
    pull: Floats

    def at(self, point: Floats) -> tuple[float, float, float]:
        """Return the line at a point, and the t scales of the line and of one new observation.

        Parameters
        ----------
        point : (terms,).

        Returns
        -------
        (middle, scale of the line, scale of one observation of weight 1).
        """
        middle = float(point @ self.coefficients)
        doubt = float(point @ self.spread @ point)
        return middle, self.scale * doubt**0.5, self.scale * (1 + doubt) ** 0.5


def outlier_weights(y: Floats, x: Floats, prior: Prior) -> Floats:
    r"""Return how much each observation counts by how well it agrees with the others: (n,).

    Residuals ``r`` are taken from the median of the line with the prior's slopes, which one wild
    observation cannot move. With ``s = max(prior scale, 1.4826 median|r|)`` and ``z = |r|/s`` the
    weight is ``min(1, (3.5/z)^12)``. With one or two observations nothing outlies.

    Parameters
    ----------
    y : (observations,).
    x : (observations, terms), the first column ones.
    prior : its mean gives the slopes, its scale the least spread that is believed.

    Returns
    -------
    (observations,) above 0, at most 1.

    References
    ----------
    rousseeuw-croux-1993
    """
    residual = y - x[:, 1:] @ prior.mean[1:]
    residual = np.abs(residual - np.median(residual))
    scale = max(prior.scale, TO_SD * float(np.median(residual)))
    weights: Floats = (OUTLYING / np.maximum(residual / scale, OUTLYING)) ** STEEPNESS
    return weights


def fit_line(
    y: Floats,
    x: Floats,
    weights: Floats,
    prior: Prior | None = None,
    noise: Floats | None = None,
) -> Fit:
    r"""Fit ``y = x b + e`` with ``e ~ N(0, s² v)`` and a normal-inverse-gamma prior.

    With ``P = diag((scale/sd)²)``, ``W = diag(w)`` and ``V = diag(v)``: ``A = x'Wx + P``,
    ``b = A⁻¹(x'Wy + P m)``, covariance ``C = A⁻¹(x'WVWx + P)A⁻¹`` in units of s², freedom
    ``= f + sum(w v) - (terms without a prior)`` and
    ``s² = (f scale² + y'Wy + m'Pm - b'Ab) / freedom``. A new observation is Student-t about the
    line with scale² ``s²(1 + p'Cp)``. By default ``v = 1/w``: then ``C = A⁻¹`` and every
    observation counts as one. With no prior that is ordinary (weighted) least squares.

    Parameters
    ----------
    y : (observations,).
    x : (observations, terms), the first column usually ones.
    weights : (observations,) w, above 0; 1 for a full observation.
    prior : or None for none at all.
    noise : (observations,) v, the variance of each observation in units of s²; None for ``1/w``.

    Raises
    ------
    CannotPrice
        Too few observations for what is unknown.

    References
    ----------
    gelman-bda
    """
    terms = x.shape[1]
    if prior is None:
        mean = np.zeros(terms)
        precision = np.zeros(terms)
        freedom0, scale0 = 0.0, 0.0
    else:
        known = np.isfinite(prior.sd)
        precision = np.where(known, (prior.scale / np.where(known, prior.sd, 1.0)) ** 2, 0.0)
        mean = np.where(known, prior.mean, 0.0)
        freedom0, scale0 = prior.freedom, prior.scale
    counted = np.ones(len(y)) if noise is None else weights * noise
    freedom = freedom0 + float(counted.sum()) - int(np.count_nonzero(precision == 0))
    if freedom <= 0:
        raise CannotPrice("too few prices for what is unknown", where="market.comparables")
    weighted = x * weights[:, None]
    information = weighted.T @ x + np.diag(precision)
    try:
        inverse = np.linalg.inv(information).astype(np.float64)
    except np.linalg.LinAlgError as error:
        raise CannotPrice(
            "the prices do not tell age and distance apart", where="market.comparables"
        ) from error
    pull = inverse @ weighted.T
    coefficients = pull @ y + inverse @ (precision * mean)
    spread = inverse
    if noise is not None:
        spread = pull * noise @ pull.T + inverse * precision @ inverse
    residual = y - x @ coefficients
    off = coefficients - mean
    total = (
        freedom0 * scale0**2
        + float(np.sum(weights * residual**2))
        + float(np.sum(precision * off**2))
    )
    return Fit(coefficients, spread, (total / freedom) ** 0.5, freedom, pull)
