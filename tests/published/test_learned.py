"""Updating, coverage and scores, against textbook and library examples."""

from __future__ import annotations

from math import exp, log, pi, sqrt

import numpy as np
import pytest
from scipy import special

from appraise.engine.draws.ranges import Z90
from appraise.engine.work.learning import Done, coverage, crps_of_draws, learn, shrunk_by_system


def job(surprise: float, sd: float) -> Done:
    """Return a job whose log ratio is `surprise`, with a range even in the log, of that spread."""
    return Done(1.0, exp(-Z90 * sd), exp(Z90 * sd), exp(surprise))


def test_the_textbook_s_normal_mean_with_known_spread() -> None:
    """Bolstad, Introduction to Bayesian Statistics: prior N(30, 4²), 12 with mean 32, spread 2.

    The posterior is N(31.96, 0.5714²). Counted from the prior's mean, so that it is 0 here.
    """
    found = learn([job(32 - 30, 2.0)] * 12, prior_sd=4.0)

    assert 30 + found.mean == pytest.approx(31.96, abs=0.005)
    assert found.sd == pytest.approx(0.5714, abs=5e-5)


def test_four_jobs_a_quarter_over() -> None:
    """Prior N(0, 0.3²), four with mean ln 1.25 and spread 0.25, by the same textbook's formula.

    1/0.09 + 4/0.0625 = 75.1111; 64/75.1111 ln 1.25 = 0.19013, a factor of 1.209.
    """
    surprises = [log(1.25) + off for off in (-0.2, -0.05, 0.1, 0.15)]
    found = learn([job(one, 0.25) for one in surprises])

    assert found.mean == pytest.approx(0.19013, abs=5e-6)
    assert found.sd == pytest.approx(0.11538, abs=5e-6)
    assert found.factor == pytest.approx(1.209, abs=5e-4)


# Rubin 1981, in Gelman et al., Bayesian Data Analysis, table 5.2: effects and standard errors.
SCHOOLS = {
    "A": (28, 15),
    "B": (8, 10),
    "C": (-3, 16),
    "D": (7, 11),
    "E": (-1, 9),
    "F": (1, 11),
    "G": (18, 10),
    "H": (12, 18),
}
SCALE = 10
"""Points to one unit of the log, so that the ratios stay within what a float holds."""
FLAT = 1e4
"""The book's mean has a flat prior; this one weighs 1e-8 against about 5."""


def schools(between: float) -> tuple[float, float, list[float]]:
    groups = {name: [job(y / SCALE, s / SCALE)] for name, (y, s) in SCHOOLS.items()}
    found = shrunk_by_system(groups, prior_sd=FLAT, between_sd=between / SCALE)
    means = [one.mean * SCALE for one in found.systems.values()]
    return found.overall.mean * SCALE, found.overall.sd * SCALE, means


def test_eight_schools_pooled() -> None:
    """The book's pooled estimate is 7.7 with a standard error of 4.1 (its section 5.5)."""
    mean, sd, means = schools(between=1e-3)

    assert mean == pytest.approx(7.7, abs=0.05)
    assert sd == pytest.approx(4.1, abs=0.05)
    assert means == pytest.approx([mean] * 8, abs=1e-4)


def test_eight_schools_shrunk() -> None:
    """With a spread of 10 between schools: figure 5.6 of the book, worked out to two places.

    By equations 5.17 and 5.20: mean 8.126; A 14.24 down to E 3.08.
    """
    mean, _, means = schools(between=10)

    assert mean == pytest.approx(8.12647, abs=1e-4)
    assert means == pytest.approx([14.24, 8.06, 5.00, 7.62, 3.08, 4.90, 13.06, 9.04], abs=0.005)


def bounds(hits: int, count: int, confidence: float) -> tuple[float, float]:
    """Return the interval of a share, as it is given for P50."""
    actuals = [1.0] * hits + [3.0] * (count - hits)
    half = coverage([(0.5, 2.0, 4.0)] * count, actuals, confidence)[1]
    assert (half.hits, half.count) == (hits, count)
    return half.low, half.high


@pytest.mark.parametrize(
    ("hits", "count", "confidence", "low", "high"),
    [
        # example of the function clopper.pearson.ci in the R package GenBinomApps
        (5, 100_000, 0.9, 1.97017e-05, 1.051275e-04),
        # example in the Python package sintervals, clopper_pearson.py
        (8, 10, 0.99, 0.35180, 0.98915),
        (8, 10, 0.95, 0.44390, 0.97479),
        (8, 10, 0.90, 0.49310, 0.96323),
        # Newcombe, Statistics in Medicine 17 (1998), table I, method 5 (from memory)
        (81, 263, 0.95, 0.2527, 0.3676),
        (15, 148, 0.95, 0.0578, 0.1617),
        (0, 20, 0.95, 0.0, 0.1684),
        (1, 29, 0.95, 0.0009, 0.1776),
    ],
)
def test_clopper_and_pearson_s_interval(
    hits: int, count: int, confidence: float, low: float, high: float
) -> None:
    digits = 5e-11 if count > 1000 else 5e-6 if count == 10 else 5e-5

    assert bounds(hits, count, confidence) == pytest.approx((low, high), abs=digits)


@pytest.mark.parametrize(
    ("actual", "draws", "score"),
    [
        # the table of tests of the Python package properscoring (crps_ensemble)
        (0, [0, 1], 1 / 4),
        (2, [0, 1], 5 / 4),
        (0, [-1, 1], 1 / 2),
        (0, [0, 0, 1], 1 / 9),
        (1, [0, 0, 1], 4 / 9),
        (0, [-1, 0, 0, 1], 1 / 8),
        (0, [1], 1),
    ],
)
def test_scores_of_small_ensembles(actual: float, draws: list[float], score: float) -> None:
    assert crps_of_draws(np.array(draws, dtype=float), actual) == pytest.approx(score, abs=1e-15)


MANY = 20_000
MIDDLES = (np.arange(MANY) + 0.5) / MANY


@pytest.mark.parametrize(("at", "score"), [(0, 0.2336950), (1, 0.6024414), (2, 1.4527918)])
def test_the_score_of_a_normal_forecast(at: float, score: float) -> None:
    """Gneiting et al. 2005, equation 5: s (z (2 Phi(z) - 1) + 2 phi(z) - 1/sqrt(pi))."""
    closed = at * (2 * special.ndtr(at) - 1) + 2 * exp(-(at**2) / 2) / sqrt(2 * pi) - 1 / sqrt(pi)
    assert closed == pytest.approx(score, abs=5e-8)
    mean, sd = 900.0, 120.0
    draws = mean + sd * np.random.default_rng(2).permutation(special.ndtri(MIDDLES))

    # the ladder of 20,000 quantiles leaves out some 1/n of the tails
    assert crps_of_draws(draws, mean + sd * at) == pytest.approx(sd * score, rel=1e-4)


@pytest.mark.parametrize("at", [0.0, 0.3, 0.5, 1.0])
def test_the_score_of_a_uniform_forecast(at: float) -> None:
    """The integral of (F(x) - [x >= y])² over 0 to 1 is y³/3 + (1 - y)³/3."""
    # the ladder's own error is 1/(12 n²)
    assert crps_of_draws(MIDDLES, at) == pytest.approx((at**3 + (1 - at) ** 3) / 3, abs=1e-9)
