"""Beta-PERT and two-piece lognormal against published values and SciPy."""

from __future__ import annotations

from math import log

import numpy as np
import pytest
from scipy import integrate, special, stats

from appraise.engine.draws.ranges import (
    Z90,
    pert_moments,
    pert_parameters,
    pert_quantile,
    two_piece,
    two_piece_moments,
    two_piece_spreads,
)
from appraise.engine.draws.streams import Spread, Streams

TENTHS = [(50.0, 100.0, 300.0), (90.0, 100.0, 105.0), (100.0, 100.0, 250.0), (40.0, 100.0, 100.0)]


def test_beta_pert_is_the_modified_pert_of_vose() -> None:
    """Vose's form with weight 4 (R package prevalence, betaPERT(0, 10, 50, method = "vose")).

    Quantiles computed from alpha 1.8, beta 4.2.
    """
    assert pert_parameters(0, 10, 50) == pytest.approx((1.8, 4.2))
    assert pert_moments(0, 10, 50) == pytest.approx((15, 75))
    shares = np.array([0.1, 0.5, 0.8, 0.9, 0.95])
    expected = [4.4951, 13.8336, 22.5129, 27.2667, 31.0638]
    assert pert_quantile(0, 10, 50, shares) == pytest.approx(expected, abs=5e-5)


@pytest.mark.parametrize("triple", [(0, 10, 50), (16, 20, 35), (3, 9, 9), (4, 4, 10), (0, 1, 2)])
def test_beta_pert_moments_agree_with_scipy_and_with_the_form_of_mc2d(
    triple: tuple[float, float, float],
) -> None:
    """R package mc2d, pert: beta = alpha (max - mean)/(mean - min)."""
    low, mode, high = triple
    alpha, beta = pert_parameters(low, mode, high)
    second = stats.beta(alpha, beta, loc=low, scale=high - low)
    mean, variance = pert_moments(low, mode, high)
    assert (second.mean(), second.var()) == pytest.approx((mean, variance))
    assert beta == pytest.approx(alpha * (high - mean) / (mean - low))
    grid = np.linspace(0.01, 0.99, 99)
    assert pert_quantile(low, mode, high, grid) == pytest.approx(second.ppf(grid), rel=1e-9)


@pytest.mark.parametrize("tenths", TENTHS)
def test_two_piece_meets_its_three_quantiles_exactly(tenths: tuple[float, float, float]) -> None:
    at = two_piece(*tenths, special.ndtri(np.array([0.1, 0.5, 0.9])))
    assert at == pytest.approx(tenths, rel=1e-12)
    assert special.ndtri(0.9) == pytest.approx(Z90, abs=1e-15)


@pytest.mark.parametrize("tenths", TENTHS)
def test_two_piece_moments_agree_with_numeric_integration(
    tenths: tuple[float, float, float],
) -> None:
    def moment(power: int) -> float:
        def piece(z: float) -> float:
            return float(two_piece(*tenths, np.array([z]))[0]) ** power * stats.norm.pdf(z)

        below, _ = integrate.quad(piece, -12, 0, epsabs=0, epsrel=1e-10)
        above, _ = integrate.quad(piece, 0, 12, epsabs=0, epsrel=1e-10)
        return float(below + above)

    mean, variance = two_piece_moments(*tenths)
    assert mean == pytest.approx(moment(1), rel=1e-8)
    assert variance == pytest.approx(moment(2) - moment(1) ** 2, rel=1e-6)


def test_two_piece_with_one_spread_is_the_lognormal() -> None:
    """With ln(high/likely) = ln(likely/low) it has SciPy's lognormal moments and quantiles."""
    s = log(1.8) / Z90
    second = stats.lognorm(s, scale=100)
    assert two_piece_moments(100 / 1.8, 100, 180) == pytest.approx(
        (second.mean(), second.var()), rel=1e-12
    )
    grid = np.linspace(0.001, 0.999, 999)
    ours = two_piece(100 / 1.8, 100, 180, special.ndtri(grid))
    assert ours == pytest.approx(second.ppf(grid), rel=1e-12)


@pytest.mark.parametrize("tenths", TENTHS)
def test_two_piece_is_positive_continuous_and_rises(tenths: tuple[float, float, float]) -> None:
    z = np.linspace(-8, 8, 16_001)
    x = two_piece(*tenths, z)
    below, above = two_piece_spreads(*tenths)
    assert np.all(x > 0)
    assert np.all(np.diff(x) >= 0)
    # No jump: a step of dz moves log x by at most the larger spread times dz.
    assert np.max(np.diff(np.log(x))) <= max(below, above) * 0.001 * (1 + 1e-6)
    assert two_piece(*tenths, np.array([0.0]))[0] == tenths[1]


@pytest.mark.parametrize("tenths", TENTHS)
def test_drawn_two_piece_amounts_have_the_closed_form_moments(
    tenths: tuple[float, float, float],
) -> None:
    drawn = Streams(3, 20_000).amounts("one", Spread(*tenths))
    mean, variance = two_piece_moments(*tenths)
    # Stratified: the mean of 20,000 draws is far nearer than 1/sqrt(n).
    assert float(drawn.mean()) == pytest.approx(mean, rel=1e-3)
    assert float(drawn.var()) == pytest.approx(variance, rel=0.05)
    assert np.quantile(drawn, [0.1, 0.5, 0.9]) == pytest.approx(tenths, rel=2e-3)


def test_drawn_bounds_are_the_beta_pert_and_never_pass_them() -> None:
    drawn = Streams(3, 20_000).amounts("one", Spread(0, 10, 50, bounds=True))
    assert float(drawn.min()) >= 0
    assert float(drawn.max()) <= 50
    assert float(drawn.mean()) == pytest.approx(15, rel=1e-3)
    assert float(drawn.var()) == pytest.approx(75, rel=5e-3)
