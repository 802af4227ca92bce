"""What finished jobs teach, against figures worked by hand and against plain Gaussian algebra."""

from __future__ import annotations

from math import exp, log, sqrt

import numpy as np
import pytest
from scipy import special

from appraise.engine.draws.ranges import Z90, two_piece
from appraise.engine.work.learning import (
    BETWEEN_SD,
    LEAST_SD,
    PRIOR_SD,
    Done,
    Learned,
    adjusted,
    coverage,
    crps_of_draws,
    learn,
    shrunk_by_system,
)

JOBS = (
    Done(100.0, 50.0, 200.0, 150.0),
    Done(2.0, 1.5, 3.5, 2.0),
    Done(60.0, 55.0, 66.0, 58.0),
    Done(300.0, 200.0, 700.0, 900.0),
)


def gaussian(prior: np.ndarray, design: np.ndarray, noise: np.ndarray, seen: np.ndarray) -> tuple:
    """Return mean and covariance of unknowns given seen = design @ unknowns + noise.

    By the joint normal distribution of all of them, which shares nothing with weights.
    """
    joint = design @ prior @ design.T + np.diag(noise)
    gain = prior @ design.T @ np.linalg.inv(joint)
    return gain @ seen, prior - gain @ design @ prior


def test_one_job_by_hand() -> None:
    """50 / 100 / 200 came to 150: s = ln 4 / 2.5631 = 0.540865, y = ln 1.5 = 0.40547.

    1/0.09 + 1/0.292535 = 11.11111 + 3.41839 = 14.52950.
    """
    found = learn([JOBS[0]])

    assert found.mean == pytest.approx(3.41839 * 0.405465 / 14.52950, abs=1e-6)
    assert found.sd == pytest.approx(14.52950**-0.5, abs=1e-6)
    assert found.factor == pytest.approx(1.1001, abs=1e-4)
    assert found.factor_low == pytest.approx(1.1001 * exp(-1.28155 * 0.26235), abs=1e-4)
    assert found.factor_high == pytest.approx(1.1001 * exp(1.28155 * 0.26235), abs=1e-4)
    assert (found.count, found.left_out) == (1, 0)


def test_several_jobs_are_the_joint_normal_distribution_s() -> None:
    seen = np.array([one.surprise for one in JOBS])
    noise = np.array([one.sd**2 for one in JOBS])
    mean, cov = gaussian(np.array([[PRIOR_SD**2]]), np.ones((4, 1)), noise, seen)
    found = learn(JOBS)

    assert found.mean == pytest.approx(float(mean[0]), abs=1e-12)
    assert found.sd == pytest.approx(sqrt(cov[0, 0]), abs=1e-12)


def test_with_nothing_finished_nothing_is_learned() -> None:
    found = learn([])

    assert (found.mean, found.factor, found.sd, found.count) == (0.0, 1.0, PRIOR_SD, 0)


@pytest.mark.parametrize(
    "idle",
    [
        Done(100.0, 80.0, 130.0, 0.0),
        Done(0.0, 0.0, 0.0, 40.0),
        Done(0.0, 0.0, 0.0, 0.0),
        Done(100.0, 80.0, 130.0, -20.0),
        Done(5.0, 0.0, 9.0, 4.0),
    ],
)
def test_a_job_without_a_ratio_is_left_out_and_counted(idle: Done) -> None:
    alone, among = learn([idle]), learn([*JOBS, idle])

    assert alone == Learned(0.0, PRIOR_SD, 0, 1)
    assert (among.mean, among.sd) == (learn(JOBS).mean, learn(JOBS).sd)
    assert (among.count, among.left_out) == (4, 1)


def test_a_narrow_range_is_taken_for_no_surer_than_the_least() -> None:
    assert Done(100.0, 99.0, 101.0, 120.0).sd == LEAST_SD == 0.1
    assert Done(100.0, 100.0, 100.0, 120.0).sd == LEAST_SD
    # ln(1.3) / 1.2816 = 0.2047 is more than that, and stays
    assert Done(100.0, 100.0 / 1.3, 130.0, 120.0).sd == pytest.approx(log(1.3) / Z90)


def test_a_range_skewed_upwards_lets_expect_more_than_its_likely_figure() -> None:
    """100 / 150 / 300: spreads 0.31638 below and 0.54087 above, so 0.22449/2.50663 = 0.08956."""
    skewed = Done(150.0, 100.0, 300.0, 150.0)

    assert skewed.surprise == pytest.approx(-0.08956, abs=1e-5)
    assert Done(150.0, 75.0, 300.0, 150.0).surprise == pytest.approx(0.0, abs=1e-15)


def test_figures_that_were_right_all_along_teach_no_factor() -> None:
    """Jobs drawn from their own skewed ranges: without the correction the factor would be 1.09."""
    generator = np.random.default_rng(11)
    ranges = [(100.0, 150.0, 300.0), (1.5, 2.0, 3.5), (40.0, 60.0, 120.0)]
    done = [
        Done(likely, low, high, float(actual))
        for low, likely, high in ranges
        for actual in two_piece(low, likely, high, generator.standard_normal(4000))
    ]
    found = learn(done)

    # the standard error of the mean of 12,000 is about 0.4/110 = 0.004; four of them
    assert found.mean == pytest.approx(0.0, abs=0.016)
    assert np.mean([log(one.actual / one.likely) for one in done]) > 0.07


def test_of_80_percent_intervals_four_in_five_hold_the_factor() -> None:
    """Factors from the prior, ranges of all skews, one to eight jobs: 3,000 people."""
    generator = np.random.default_rng(5)
    hits, misses = 0, []
    for _ in range(3000):
        truth = PRIOR_SD * generator.standard_normal()
        done = []
        for _ in range(int(generator.integers(1, 9))):
            low = 100 * exp(-generator.uniform(0.15, 0.7))
            high = 100 * exp(generator.uniform(0.15, 1.1))
            actual = exp(truth) * two_piece(low, 100.0, high, generator.standard_normal(1))[0]
            done.append(Done(100.0, low, high, float(actual)))
        found = learn(done)
        hits += found.factor_low <= exp(truth) <= found.factor_high
        misses.append(found.mean - truth)

    # three standard errors of a share of 0.8 among 3,000 are 0.022
    assert hits / 3000 == pytest.approx(0.8, abs=0.022)
    # and the mean miss is within three of its own
    assert abs(np.mean(misses)) < 3 * np.std(misses) / sqrt(3000)


@pytest.mark.parametrize(
    ("low", "likely", "high", "actual"),
    [
        (3.0, 2.0, 4.0, 2.0),
        (1.0, 5.0, 4.0, 2.0),
        (1.0, 2.0, 3.0, float("nan")),
        (1.0, 2.0, float("inf"), 2.0),
    ],
)
def test_what_is_no_finished_job_is_refused(
    low: float, likely: float, high: float, actual: float
) -> None:
    with pytest.raises(ValueError, match=r"in order|needs numbers"):
        Done(likely, low, high, actual)


@pytest.mark.parametrize("spread", [0.0, -0.1, float("nan"), float("inf")])
def test_a_spread_has_to_be_above_0(spread: float) -> None:
    with pytest.raises(ValueError, match=r"prior_sd is .*: give a spread above 0"):
        learn(JOBS, spread)
    with pytest.raises(ValueError, match="prior_sd"):
        shrunk_by_system({}, spread)
    with pytest.raises(ValueError, match="between_sd"):
        shrunk_by_system({}, between_sd=spread)


def test_systems_are_the_joint_normal_distribution_s() -> None:
    """Unknowns: the overall factor, then what each of three systems adds; one has no job yet."""
    groups = {"brakes": JOBS[:1], "body": JOBS[1:], "engine": ()}
    seen = np.array([one.surprise for one in JOBS])
    noise = np.array([one.sd**2 for one in JOBS])
    prior = np.diag([PRIOR_SD**2] + [BETWEEN_SD**2] * 3)
    design = np.array([[1, 1, 0, 0], [1, 0, 1, 0], [1, 0, 1, 0], [1, 0, 1, 0]])
    mean, cov = gaussian(prior, design, noise, seen)
    found = shrunk_by_system(groups)

    assert found.overall.mean == pytest.approx(mean[0], abs=1e-12)
    assert found.overall.sd == pytest.approx(sqrt(cov[0, 0]), abs=1e-12)
    assert found.overall.count == 4
    for at, name in enumerate(groups, start=1):
        of = np.zeros(4)
        of[[0, at]] = 1
        assert found.systems[name].mean == pytest.approx(float(of @ mean), abs=1e-12)
        assert found.systems[name].sd == pytest.approx(sqrt(of @ cov @ of), abs=1e-12)
    assert [one.count for one in found.systems.values()] == [1, 3, 0]


def test_a_system_without_a_job_has_the_overall_factor_with_more_doubt() -> None:
    found = shrunk_by_system({"brakes": JOBS, "body": [Done(10.0, 8.0, 13.0, 0.0)]})
    empty = found.systems["body"]

    assert empty.mean == pytest.approx(found.overall.mean)
    assert empty.sd == pytest.approx(sqrt(found.overall.sd**2 + BETWEEN_SD**2))
    assert (empty.count, empty.left_out, found.overall.left_out) == (0, 1, 1)


def test_without_any_job_by_system_nothing_is_learned() -> None:
    found = shrunk_by_system({"brakes": ()})

    assert found.overall == Learned(0.0, PRIOR_SD, 0)
    assert found.systems["brakes"].factor == 1.0
    assert shrunk_by_system({}).systems == {}


def test_systems_that_hardly_differ_are_one_and_those_that_may_differ_at_will_stand_alone() -> None:
    groups = {"brakes": JOBS[:2], "body": JOBS[2:]}
    alike = shrunk_by_system(groups, between_sd=1e-6)
    apart = shrunk_by_system(groups, between_sd=1e3)

    assert alike.overall.mean == pytest.approx(learn(JOBS).mean, abs=1e-9)
    assert alike.systems["body"].mean == pytest.approx(learn(JOBS).mean, abs=1e-9)
    weights = np.array([one.sd**-2 for one in JOBS[2:]])
    own = float(weights @ [one.surprise for one in JOBS[2:]] / weights.sum())
    assert apart.systems["body"].mean == pytest.approx(own, abs=1e-6)


def test_with_nothing_learned_every_draw_stays_bit_for_bit() -> None:
    draws = np.random.default_rng(3).lognormal(5, 1, 2000)

    assert np.array_equal(adjusted(draws, learn([])), draws)
    assert np.array_equal(adjusted(draws, learn([Done(9.0, 8.0, 11.0, 0.0)])), draws)
    assert adjusted(draws, learn([])) is not draws


def test_what_was_learned_moves_every_quantile_by_the_factor() -> None:
    draws = two_piece(80.0, 100.0, 160.0, special.ndtri((np.arange(999) + 0.5) / 999))
    found = learn([Done(100.0, 80.0, 125.0, 140.0)] * 3)
    after = adjusted(draws, found)

    assert found.factor == pytest.approx(1.353, abs=5e-4)
    for share in (0.1, 0.5, 0.9):
        assert np.quantile(after, share) == pytest.approx(1.353 * np.quantile(draws, share), 4e-4)
    assert np.log(after).std() == pytest.approx(np.log(draws).std(), abs=1e-12)


def test_coverage_counts_what_came_in_at_or_under() -> None:
    forecasts = [(80.0, 100.0, 130.0)] * 5
    tenth, half, nine = coverage(forecasts, [80.0, 81.0, 100.0, 131.0, 130.0])

    assert [one.level for one in (tenth, half, nine)] == [0.1, 0.5, 0.9]
    assert [one.hits for one in (tenth, half, nine)] == [1, 3, 4]
    assert [one.share for one in (tenth, half, nine)] == [0.2, 0.6, 0.8]
    assert all(one.count == 5 and one.fits for one in (tenth, half, nine))


def test_the_interval_s_ends_are_where_the_tails_are_a_fortieth() -> None:
    """By the binomial distribution itself: P(X >= k | low) = P(X <= k | high) = 0.025."""
    forecasts = [(80.0, 100.0, 130.0)] * 30
    for one in coverage(forecasts, [70.0] * 7 + [90.0] * 11 + [120.0] * 8 + [200.0] * 4):
        assert 1 - special.bdtr(one.hits - 1, 30, one.low) == pytest.approx(0.025, abs=1e-9)
        assert special.bdtr(one.hits, 30, one.high) == pytest.approx(0.025, abs=1e-9)


def test_figures_always_too_low_do_not_fit() -> None:
    tenth, half, nine = coverage([(80.0, 100.0, 130.0)] * 12, [150.0] * 12)

    assert (half.fits, nine.fits) == (False, False)
    # none of 12 under P10 is nothing strange: 0.9^12 = 0.28
    assert tenth.fits


def test_of_fixed_amounts_and_of_nothing_there_is_no_share() -> None:
    for found in (coverage([], []), coverage([(50.0, 50.0, 50.0)], [50.0])):
        for one in found:
            assert (one.count, one.share, one.low, one.high) == (0, None, 0.0, 1.0)


def test_coverage_refuses_lists_of_two_lengths_and_no_confidence() -> None:
    with pytest.raises(ValueError, match="shorter"):
        coverage([(1.0, 2.0, 3.0)] * 2, [1.0])
    with pytest.raises(ValueError, match="not between 0 and 1"):
        coverage([], [], confidence=1.0)


def test_the_score_is_the_one_over_all_pairs() -> None:
    draws = np.random.default_rng(8).lognormal(3, 1, 400)
    for actual in (0.0, 18.0, 500.0):
        pairs = np.abs(draws[:, None] - draws[None, :]).mean() / 2
        plain = np.abs(draws - actual).mean() - pairs
        assert crps_of_draws(draws, actual) == pytest.approx(plain, rel=1e-12)


def test_the_score_keeps_its_digits_where_draws_lie_close_together() -> None:
    """Shifted by 2^40, which floats hold exactly beside these draws."""
    draws = np.array([0.0, 0.25, 0.5, 2.0])

    assert crps_of_draws(draws + 2.0**40, 1.0 + 2.0**40) == crps_of_draws(draws, 1.0)


def test_the_score_does_not_disturb_the_draws() -> None:
    draws = np.array([3.0, 1.0, 2.0])
    crps_of_draws(draws, 1.0)

    assert draws.tolist() == [3.0, 1.0, 2.0]


@pytest.mark.parametrize(
    ("draws", "actual"), [([], 1.0), ([1.0, float("nan")], 1.0), ([1.0], float("inf"))]
)
def test_a_score_of_nothing_is_refused(draws: list[float], actual: float) -> None:
    with pytest.raises(ValueError, match="at least one, and all numbers"):
        crps_of_draws(np.array(draws), actual)
