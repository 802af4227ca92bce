"""Zeros of sums of exponentials, against functions whose zeros are known."""

from __future__ import annotations

from math import acosh, log

import numpy as np
import pytest

from appraise.engine.money.exponential_roots import TOUCH, Terms, zeros


def terms(times: list[float], amounts: list[float]) -> Terms:
    given = np.array(amounts, dtype=float)
    return Terms(np.array(times, dtype=float), np.log(np.abs(given)), np.sign(given))


@pytest.mark.parametrize(
    ("times", "amounts", "expected"),
    [
        ([0, 1], [-1, 2], [log(2)]),
        ([0, 1, 2], [1, -3, 1], [-acosh(1.5), acosh(1.5)]),  # e^x + e^-x = 3
        ([-2, 0, 2], [1, -2, 1], [0]),  # (e^x - e^-x)^2 only touches nought
        ([0, 1, 2, 3], [1, -3, 3, -1], [0]),  # (1 - e^-x)^3: crosses lying flat
        ([0, 1, 2], [1, 0.5, 1], []),
        ([0, 1, 2], [1, -1.9, 1], []),  # less than touches
    ],
)
def test_zeros_of_known_sums(
    times: list[float], amounts: list[float], expected: list[float]
) -> None:
    assert zeros(terms(times, amounts)) == pytest.approx(expected, abs=1e-12)


def test_zeros_reach_as_far_as_the_times_and_sizes_want() -> None:
    far = zeros(terms([0, 1 / 365, 2 / 365], [-1, 1e6, -1]))
    assert far == pytest.approx([-365 * log(1e6), 365 * log(1e6)], rel=1e-12)


@pytest.mark.parametrize("apart", [1e-1, 1e-2, 1e-3, 1e-4])
def test_two_zeros_close_together_stay_two(apart: float) -> None:
    """(1 - e^-x)(1 - g e^-x): zeros at 0 and ln g."""
    growth = 1 + apart
    found = zeros(terms([0, 1, 2], [1, -1 - growth, growth]))
    assert found == pytest.approx([0, log(growth)], abs=1e-11)


def test_two_zeros_within_rounding_are_told_as_one_in_their_middle() -> None:
    growth = 1 + 1e-7
    found = zeros(terms([0, 1, 2], [1, -1 - growth, growth]))
    assert found == pytest.approx([log(growth) / 2], abs=1e-7)


def test_each_turn_takes_one_change_of_sign_away_and_is_the_slope() -> None:
    at = terms([0, 1, 2.5, 4, 4.5, 7], [3, -2, 5, -1, -4, 2])
    while len(at.changes()):
        turned = at.turned()
        assert len(turned.changes()) == len(at.changes()) - 1
        change = at.changes()[len(at.changes()) // 2]
        middle = (at.times[change] + at.times[change + 1]) / 2

        def lifted(x: float, at: Terms = at, middle: float = middle) -> float:
            return float(np.sum(at.signs * np.exp(at.logs - x * (at.times - middle))))

        for x in (-0.3, 0.0, 0.4):
            slope = (lifted(x + 1e-5) - lifted(x - 1e-5)) / 2e-5
            told = np.sum(turned.signs * np.exp(turned.logs - x * (turned.times - middle)))
            assert -float(told) == pytest.approx(slope, rel=1e-7)
        at = turned


def test_the_reach_holds_every_zero_and_outside_it_one_term_rules() -> None:
    at = terms([0, 1, 2.5, 4], [3, -20, 15, -1])
    low, high = at.reach()
    assert all(low < one < high for one in zeros(at))
    assert np.all(np.sign(at.balance(np.linspace(high, high + 50, 500))) == at.signs[0])
    assert np.all(np.sign(at.balance(np.linspace(low - 50, low, 500))) == at.signs[-1])


def test_the_share_stays_a_number_where_the_sum_would_not() -> None:
    at = terms([0, 30], [-1, 1])
    assert at.share(np.array([-1e5, 0.0, 1e5])) == pytest.approx([1, 0, -1])
    assert at.balance(TOUCH / 100) == 0
