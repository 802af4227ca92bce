"""How well a car was kept: one gamma factor on all its faults."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from appraise.engine.faults.care import GRID, Care, faults_of_share, share_of_faults

SHAPES = (0.384, 1.0, 2.0, 2.5, 30.0, 1000.0)
"""Of cars of all ages, of several guesses for one age, and of cars that are all alike."""


@pytest.mark.parametrize("shape", SHAPES)
def test_states_have_the_moments_of_the_gamma_factor(shape: float) -> None:
    """Gauss' rule of n nodes is exact up to the moment 2n - 1; moments by SciPy."""
    care = Care.of(shape)
    gamma = stats.gamma(shape, scale=1 / shape)

    assert care.before.sum() == pytest.approx(1, abs=1e-12)
    for order in range(1, 2 * GRID):
        moment = float(care.before @ care.factor**order)
        assert moment == pytest.approx(gamma.moment(order), rel=1e-8)


@pytest.mark.parametrize("shape", [0.384, 1.0, 2.0, 30.0])
@pytest.mark.parametrize("faults", [0.01, 0.1, 0.5, 1.0])
def test_states_give_the_share_of_cars_with_any_of_an_areas_faults(
    shape: float, faults: float
) -> None:
    """No area has more than one fault on average; seven states leave an error under .005."""
    care = Care.of(shape)

    assert care.before @ care.has(faults) == pytest.approx(
        share_of_faults(faults, shape), abs=0.03 if shape < 1 else 0.005
    )


@pytest.mark.parametrize("share", [0.0, 0.01, 0.3, 0.9])
def test_shares_and_numbers_of_faults_are_each_others_way_back(share: float) -> None:
    assert share_of_faults(faults_of_share(share, 0.7), 0.7) == pytest.approx(share)


def test_what_was_found_raises_the_factor_and_what_is_fine_lowers_it() -> None:
    """Gamma is conjugate to the Poisson: shape and rate k become k + found, k + looked at."""
    found, fine = Care.of(2), Care.of(2)
    found.saw(found.factor * 0.3 * np.exp(-found.factor * 0.3))
    fine.saw(np.exp(-fine.factor * 0.3))

    assert found.mean == pytest.approx((2 + 1) / (2 + 0.3), rel=1e-3)
    assert fine.mean == pytest.approx(2 / (2 + 0.3), rel=1e-3)


def test_what_cannot_be_leaves_it_as_it_was() -> None:
    care = Care.of(2)
    care.saw(np.zeros(GRID))

    assert care.now.tolist() == care.before.tolist()


def test_quantiles_ascend_and_hold_the_mean_between() -> None:
    care = Care.of(2)

    assert care.quantile(0.1) < care.mean < care.quantile(0.9)
