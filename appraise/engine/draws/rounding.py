"""Draws into the numbers of a result: rounded once, here."""

from __future__ import annotations

from decimal import Decimal
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from appraise.engine.draws.order_statistics import mean_error, quantile_error, quantile_of, ranked
from appraise.models.appraisal import Quantiles

__all__ = ["cents", "quantiles", "share"]

Floats = NDArray[np.float64]


@lru_cache(maxsize=8)
def _places(count: int) -> tuple[int, ...]:
    """Return the ranks that the quantiles and their errors read."""
    off = (0.25 / count) ** 0.5
    shares = (0.1, 0.5 - off, 0.5, 0.5 + off, 0.9)
    ranks = {int(share * (count - 1)) for share in shares}
    return tuple(sorted(ranks | {min(rank + 1, count - 1) for rank in ranks}))


def cents(amount: float) -> Decimal:
    """Return an amount rounded to the cent."""
    return Decimal(f"{amount:.2f}") + 0


def share(value: float) -> Decimal:
    """Return a chance or share rounded to four places."""
    return Decimal(f"{value:.4f}") + 0


def quantiles(draws: Floats, thin: int = 1, mean: float | None = None) -> Quantiles:
    """Return mean, P10, P50, P90 of draws, to the cent, with their Monte-Carlo errors.

    Parameters
    ----------
    draws : (draws,).
    thin : read the quantiles from every so many draws only, for what is shown beside the total;
        their error says so.
    mean : of all the draws, where it is known already.
    """
    few = draws[::thin]
    if mean is None:
        mean = float(draws.mean())
    ordered = ranked(few, _places(len(few)))
    p10, p50, p90 = (quantile_of(ordered, at) for at in (0.1, 0.5, 0.9))
    return Quantiles(
        mean=cents(mean),
        p10=cents(p10),
        p50=cents(p50),
        p90=cents(p90),
        mean_error=cents(mean_error(few, mean if thin == 1 else None) / thin**0.5),
        p50_error=cents(quantile_error(ordered, 0.5)),
    )
