"""Odds and the value of checks against published decision problems."""

from __future__ import annotations

import numpy as np
import pytest

from appraise.engine.faults.odds import sample_value, updated
from appraise.errors import Contradiction

# Goferbroke: Hillier & Lieberman, Introduction to Operations Research, decision analysis chapter.
# P(oil) .25; drill 700 / -100, sell 90 / 90 (thousand dollars); survey favorable .6 with oil, .2
# without.
GOFERBROKE = np.array([[0.25 * 700, 0.75 * -100], [0.25 * 90, 0.75 * 90]])
SURVEY = np.array([[0.6, 0.4], [0.2, 0.8]])

# The used car buyer: R. A. Howard 1962, in The Foundations of Decision Analysis. A peach (.8) has 1
# defect of 10, a lemon (.2) has 6. Buy 60 / -100; with guarantee 20 / 40; not buying 0.
PEACH, LEMON = 0.8, 0.2
CAR = np.array([[PEACH * 60, LEMON * -100], [PEACH * 20, LEMON * 40], [0.0, 0.0]])
# Test of two systems, fuel and electrical, 13 dollars: hypergeometric chances of 0, 1, 2 defects.
TWO_SYSTEMS = np.array([[0.8, 0.2, 0.0], [2 / 15, 8 / 15, 1 / 3]])
# Test of one system, steering 9 dollars or transmission 10: none found, one found.
ONE_SYSTEM = np.array([[0.9, 0.1], [0.4, 0.6]])


def test_goferbroke_values() -> None:
    assert GOFERBROKE.sum(axis=1).max() == pytest.approx(100)
    assert sample_value(GOFERBROKE, np.eye(2)) == pytest.approx(142.5)
    assert sample_value(GOFERBROKE, SURVEY) == pytest.approx(53)
    assert sample_value(GOFERBROKE, SURVEY) / sample_value(GOFERBROKE, np.eye(2)) == pytest.approx(
        0.3719,
        abs=5e-5,  # published as 37.19 %
    )


def test_goferbroke_odds() -> None:
    prior = np.array([0.25, 0.75])

    assert (prior @ SURVEY)[0] == pytest.approx(0.3)
    assert updated(prior, SURVEY[:, 0])[0] == pytest.approx(1 / 2)
    assert updated(prior, SURVEY[:, 1])[0] == pytest.approx(1 / 7)


def test_the_used_car_buyer_without_a_test() -> None:
    assert CAR.sum(axis=1).max() == pytest.approx(28)
    assert sample_value(CAR, np.eye(2)) == pytest.approx(28)


def test_the_used_car_buyer_tests_two_systems() -> None:
    """Published 32.89 carries rounded chances; exact is 688/15 - 13."""
    gross = 28 + sample_value(CAR, TWO_SYSTEMS)

    assert gross == pytest.approx(688 / 15)
    assert gross - 13 == pytest.approx(32.87, abs=0.03)
    assert sample_value(CAR, TWO_SYSTEMS) == pytest.approx(17.8667, abs=5e-5)  # four decimals given


def test_the_used_car_buyer_policy() -> None:
    """Buy plain when neither system has a defect, else with the guarantee."""
    best = (CAR @ TWO_SYSTEMS).argmax(axis=0)

    assert best.tolist() == [0, 1, 1]


def test_the_used_car_buyers_odds_of_a_lemon() -> None:
    prior = np.array([PEACH, LEMON])
    lemon = [updated(prior, TWO_SYSTEMS[:, one])[1] for one in range(3)]

    assert prior @ TWO_SYSTEMS == pytest.approx([2 / 3, 4 / 15, 1 / 15])
    assert lemon == pytest.approx([1 / 25, 2 / 5, 1])


def test_the_used_car_buyer_tests_one_system() -> None:
    assert 28 + sample_value(CAR, ONE_SYSTEM) == pytest.approx(41.6)
    assert 28 + sample_value(CAR, ONE_SYSTEM) - 9 == pytest.approx(32.6)


def test_the_used_car_buyer_knows_when_to_stop() -> None:
    """After one good system the second test is worth its 4 dollars; after one bad it is not."""
    prior = np.array([PEACH, LEMON])
    payoffs = np.array([[60, -100], [20, 40], [0, 0]])
    # The differential once the transmission is known: chance that it is bad.
    second = {0: np.array([[8 / 9, 1 / 9], [3 / 9, 6 / 9]]), 1: np.array([[1, 0], [4 / 9, 5 / 9]])}
    worth = {}
    for outcome, likelihood in second.items():
        odds = updated(prior, ONE_SYSTEM[:, outcome])
        worth[outcome] = sample_value(payoffs * odds, likelihood)

    assert worth[0] > 4
    assert worth[1] < 4


def test_a_test_that_cannot_change_the_decision_is_worth_exactly_nothing() -> None:
    """AIMA exercise 16.17, after Pearl: cost 1,500, worth 2,000, repairs 700 if bad, P(good) .7."""
    worth = np.array([[0.7 * 500, 0.3 * -200], [0.0, 0.0]])
    test = np.array([[0.8, 0.2], [0.35, 0.65]])

    assert worth.sum(axis=1).max() == pytest.approx(290)
    assert updated(np.array([0.7, 0.3]), test[:, 0])[0] == pytest.approx(0.8421, abs=5e-5)
    assert updated(np.array([0.7, 0.3]), test[:, 1])[0] == pytest.approx(0.4179, abs=5e-5)
    assert sample_value(worth, np.eye(2)) == pytest.approx(60)
    assert sample_value(worth, test) == 0.0


def test_two_independent_tests() -> None:
    """Eddy's mammography: prior .01, sensitivity .80, false alarms .096."""
    positive, negative = np.array([0.8, 0.096]), np.array([0.2, 0.904])
    once = updated(np.array([0.01, 0.99]), positive)
    twice = updated(once, positive)

    assert once[0] == pytest.approx(0.0776, abs=5e-5)  # published to four decimals
    assert twice[0] == pytest.approx(0.412269, abs=5e-7)
    assert updated(np.array([0.01, 0.99]), negative)[0] == pytest.approx(0.00223, abs=5e-6)


@pytest.mark.parametrize("blocks", [2, 5, 20])
def test_knowing_one_oil_block_is_worth_its_price(blocks: int) -> None:
    """AIMA exercise: n blocks at C/n each, one holds C: knowing about one is worth C/n."""
    prize = 1000.0
    price = prize / blocks
    holds = np.array([1 / blocks, 1 - 1 / blocks])
    other_if_empty = prize / (blocks - 1) - price
    worth = np.array(
        [
            holds * np.array([prize - price, -price]),
            holds * np.array([-price, other_if_empty]),
        ]
    )

    assert worth[0].sum() == pytest.approx(0)
    assert sample_value(worth, np.eye(2)) == pytest.approx(price)


def test_an_outcome_that_no_cause_can_give_contradicts() -> None:
    with pytest.raises(Contradiction, match="no cause can give"):
        updated(np.array([1.0, 0.0]), np.array([0.0, 1.0]))
