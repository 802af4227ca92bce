"""Weighted Bayesian regression with a Student-t predictive; without a prior it is least squares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from appraise.errors import CannotPrice

__all__ = ["Fit", "Prior", "fit_line"]

Floats = NDArray[np.float64]


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
    spread : (terms, terms) inverse of the precision, in units of scale².
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


def fit_line(y: Floats, x: Floats, weights: Floats, prior: Prior | None = None) -> Fit:
    r"""Fit ``y = x b + e`` with ``e ~ N(0, s²/w)`` and a normal-inverse-gamma prior.

    With ``P = diag((scale/sd)²)`` and ``W = diag(w)``: ``A = x'Wx + P``,
    ``b = A⁻¹(x'Wy + P m)``, freedom ``= f + n - (terms without a prior)`` and
    ``s² = (f scale² + y'Wy + m'Pm - b'Ab) / freedom``. A new observation is Student-t about the
    line with scale² ``s²(1 + p'A⁻¹p)``. With no prior, ordinary (weighted) least squares.

    Parameters
    ----------
    y : (observations,).
    x : (observations, terms), the first column usually ones.
    weights : (observations,) above 0; 1 for a full observation.
    prior : or None for none at all.

    Raises
    ------
    CannotPrice
        Too few observations for what is unknown.

    References
    ----------
    gelman-bda
    """
    observations, terms = x.shape
    if prior is None:
        mean = np.zeros(terms)
        precision = np.zeros(terms)
        freedom0, scale0 = 0.0, 0.0
    else:
        known = np.isfinite(prior.sd)
        precision = np.where(known, (prior.scale / np.where(known, prior.sd, 1.0)) ** 2, 0.0)
        mean = np.where(known, prior.mean, 0.0)
        freedom0, scale0 = prior.freedom, prior.scale
    freedom = freedom0 + observations - int(np.count_nonzero(precision == 0))
    if freedom <= 0:
        raise CannotPrice("too few prices for what is unknown", where="market.comparables")
    weighted = x * weights[:, None]
    information = weighted.T @ x + np.diag(precision)
    try:
        spread = np.linalg.inv(information).astype(np.float64)
    except np.linalg.LinAlgError as error:
        raise CannotPrice(
            "the prices do not tell age and distance apart", where="market.comparables"
        ) from error
    pull = spread @ weighted.T
    coefficients = pull @ y + spread @ (precision * mean)
    residual = y - x @ coefficients
    off = coefficients - mean
    total = (
        freedom0 * scale0**2
        + float(np.sum(weights * residual**2))
        + float(np.sum(precision * off**2))
    )
    return Fit(coefficients, spread, (total / freedom) ** 0.5, freedom, pull)
