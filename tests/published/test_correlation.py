"""What dependence does to a sum: published budget, published table, a published wrong answer."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import special, stats

from appraise.engine.draws.order_statistics import quantile_error
from appraise.engine.draws.streams import Streams

# PMBOK Guide, 5th edition, figures 11-13 and 11-17, in millions: design, build, test.
BUDGET = {"design": (4, 6, 10), "build": (16, 20, 35), "test": (11, 15, 23)}
SHARES = (0.1, 0.5, 0.75, 0.8, 0.9)
# Exact convolution of the three triangular distributions (computed).
INDEPENDENT = (40.464, 46.303, 50.030, 50.982, 53.442)
# Gaussian copula, 2,000,000 draws of another generator (computed, good to 0.02): sd, P(<= 41),
# quantiles at SHARES.
COPULA = {
    0.3: (5.944, 0.183, (39.23, 46.17, 50.73, 51.89, 54.89)),
    0.6: (6.80, 0.226, (38.23, 46.01, 51.38, 52.76, 56.27)),
}
# Book, "Why correlation matters in cost estimating": understatement of the standard deviation,
# percent, when n equal elements with correlation .1 to 1 are taken as independent (recomputed).
UNDERSTATED = {
    10: (27.5, 40.2, 48.0, 53.4, 57.4, 60.5, 63.0, 65.1, 66.9, 68.4),
    30: (49.4, 61.7, 67.9, 71.8, 74.6, 76.7, 78.3, 79.7, 80.8, 81.7),
    100: (69.7, 78.1, 82.0, 84.3, 85.9, 87.1, 88.1, 88.8, 89.5, 90.0),
    1000: (90.0, 92.9, 94.2, 95.0, 95.5, 95.9, 96.2, 96.5, 96.7, 96.8),
}
DRAWS = 200_000


def triangle(low: float, mode: float, high: float) -> Any:
    return stats.triang((mode - low) / (high - low), low, high - low)


def budget(rho: float | None) -> np.ndarray:
    """Return the drawn total, in ascending order."""
    streams = Streams(11, DRAWS)
    total = np.zeros(DRAWS)
    for name, triple in BUDGET.items():
        if rho is None:
            share = streams.uniforms(name)
        else:
            share = special.ndtr(streams.together(name, "common", rho))
        total += triangle(*triple).ppf(share)
    return np.sort(total)


def test_the_published_budget_has_its_exact_percentiles() -> None:
    total = budget(None)
    assert sum(triple[1] for triple in BUDGET.values()) == 41
    # Published: mean 46.67, 12 % chance of the 41 that the likely figures add up to, 75 % at 50.
    assert float(total.mean()) == pytest.approx(46.6667, abs=0.002)
    assert float(total.var()) == pytest.approx(24.5, rel=0.01)
    assert float((total <= 41).mean()) == pytest.approx(0.12624, abs=0.003)
    assert float((total <= 50).mean()) == pytest.approx(0.74835, abs=0.004)
    for share, expected in zip(SHARES, INDEPENDENT, strict=True):
        # Four Monte-Carlo standard errors.
        allowed = 4 * quantile_error(total, share)
        assert allowed < 0.1
        assert float(np.quantile(total, share)) == pytest.approx(expected, abs=allowed)


@pytest.mark.parametrize("rho", COPULA)
def test_the_budget_under_a_gaussian_copula(rho: float) -> None:
    total = budget(rho)
    sd, chance, quantiles = COPULA[rho]
    assert float(total.mean()) == pytest.approx(46.6667, abs=0.05)
    assert float(total.std()) == pytest.approx(sd, rel=0.01)
    assert float((total <= 41).mean()) == pytest.approx(chance, abs=0.004)
    for share, expected in zip(SHARES, quantiles, strict=True):
        # Four Monte-Carlo standard errors, and the 0.02 to which the figures are known.
        allowed = 4 * quantile_error(total, share) + 0.02
        assert float(np.quantile(total, share)) == pytest.approx(expected, abs=allowed)


@pytest.mark.parametrize(("count", "rho"), [(10, 0.2), (10, 0.5), (30, 0.2), (30, 0.3)])
def test_drawn_streams_widen_a_sum_by_books_table(count: int, rho: float) -> None:
    streams = Streams(5, 20_000)
    total = np.zeros(streams.draws)
    for at in range(count):
        total += streams.together(f"element/{at}", "common", rho)
    understated = 1 - count**0.5 / float(total.std())
    percent = UNDERSTATED[count][round(rho * 10) - 1]
    # The sd of 20,000 draws is known to 0.5 %: 0.2 points here, three of those at most.
    assert 100 * understated == pytest.approx(percent, abs=0.8)


@pytest.mark.parametrize("rho", [0.0, 0.2, 0.3, 0.9, 1.0])
def test_two_streams_correlate_by_rho_and_each_stays_standard_normal(rho: float) -> None:
    streams = Streams(2, 100_000)
    one, two = (streams.together(name, "common", rho) for name in ("one", "two"))
    assert float(np.corrcoef(one, two)[0, 1]) == pytest.approx(rho, abs=0.012)
    for scores in (one, two):
        assert float(scores.mean()) == pytest.approx(0, abs=0.01)
        assert float(scores.std()) == pytest.approx(1, abs=0.01)


def test_a_published_wrong_mean_is_not_ours() -> None:
    """R package PRA 0.3.0 prints a mean of 38.57388 for N(10,2) + Tri(5,10,15) + U(8,12).

    The right mean is 30 whatever the correlations (.5, .3, .4): multiplying samples that are not
    centerd by a Cholesky factor gives about 10 times its column sums, 38.64.
    """
    streams = Streams(1, DRAWS)
    # One common factor with squared loadings .375, 2/3, .24 gives exactly those correlations.
    normal = 10 + 2 * streams.together("normal", "common", 0.375)
    triangular = triangle(5, 10, 15).ppf(
        special.ndtr(streams.together("triangle", "common", 2 / 3))
    )
    uniform = 8 + 4 * special.ndtr(streams.together("uniform", "common", 0.24))
    total = normal + triangular + uniform
    correlations = np.corrcoef([normal, triangular, uniform])
    assert correlations[0, 1] == pytest.approx(0.5, abs=0.015)
    assert correlations[0, 2] == pytest.approx(0.3, abs=0.015)
    assert correlations[1, 2] == pytest.approx(0.4, abs=0.02)
    assert float(total.mean()) == pytest.approx(30, abs=0.03)
    # 4.10533 with those correlations between the amounts themselves; a little less here.
    assert float(total.std()) == pytest.approx(4.105, abs=0.06)
    mixed = np.linalg.cholesky(np.array([[1, 0.5, 0.3], [0.5, 1, 0.4], [0.3, 0.4, 1]]))
    assert 10 * mixed.sum() == pytest.approx(38.64, abs=0.01)
    assert abs(float(total.mean()) - 38.57388) > 8
