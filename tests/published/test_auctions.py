"""Being accepted and being the best of many are news: published games and figures."""

from __future__ import annotations

from itertools import count

import numpy as np
import pytest

from appraise.engine.draws.streams import Streams
from appraise.engine.money.margin import given_acceptance, shrink

# Expected maximum of n standard normals: 0.56419 for 2 ... (order statistics, e.g. Harter 1961;
# recomputed). Russell and Norvig, Artificial Intelligence, section 16.3: the best of 3 estimates
# with unit noise overstates by .85, of 30 by about 2.0.
BEST_OF = {2: 0.56419, 3: 0.84628, 5: 1.16296, 10: 1.53875, 30: 2.04276}


@pytest.mark.parametrize(
    ("bid", "accepted", "always"),
    [(20, -5, -1), (50, -12.5, -6.25), (60, -15, -9), (75, -18.75, -14.0625), (100, -25, -25)],
)
def test_the_takeover_game_loses_a_quarter_of_every_bid(
    bid: float, accepted: float, always: float
) -> None:
    """Samuelson and Bazerman 1985: worth V ~ U(0, 100) to a seller who knows it, 1.5 V to us."""
    value = 100 * Streams(1, 100_000).uniforms("value")
    margin = 1.5 * value - bid
    ours = given_acceptance(margin, value, bid)
    assert ours is not None
    assert ours.margin == pytest.approx(accepted, abs=0.01)
    assert ours.chance == pytest.approx(bid / 100, abs=1e-4)
    assert ours.margin * ours.chance == pytest.approx(always, abs=0.01)
    # The buyer gets a quarter less than it pays.
    assert (ours.margin + bid) / bid == pytest.approx(0.75, abs=1e-3)


def test_the_naive_test_of_the_takeover_game_says_buy_and_is_wrong() -> None:
    """The error to catch: the firm is worth 75 on average, so a bid of 60 looks like 15 gained."""
    value = 100 * Streams(1, 100_000).uniforms("value")
    margin = 1.5 * value - 60
    assert float(margin.mean()) == pytest.approx(15, abs=0.01)
    ours = given_acceptance(margin, value, 60)
    assert ours is not None
    assert ours.margin < -14.9


def test_a_bid_that_no_seller_takes_has_no_margin() -> None:
    value = 100 + 100 * Streams(1, 1000).uniforms("value")
    assert given_acceptance(1.5 * value - 50, value, 50) is None


@pytest.mark.parametrize("gain", [1.2, 1.9, 2.0, 2.5])
def test_only_a_buyer_to_whom_it_is_worth_twice_as_much_gains(gain: float) -> None:
    """General form: E[profit | accepted] = bid (k/2 - 1), above 0 only if k is above 2."""
    value = 1000 * Streams(4, 100_000).uniforms("value")
    ours = given_acceptance(gain * value - 500, value, 500)
    # Applet of the winner's curse, gametheory.net: bid 500 of 1000 wins what is worth 250 to
    # the seller.
    assert ours is not None
    assert ours.margin == pytest.approx(500 * (gain / 2 - 1), abs=0.1)


@pytest.mark.parametrize("lots", BEST_OF)
def test_the_best_looking_of_many_is_too_good_by_the_published_amount(lots: int) -> None:
    streams = Streams(9, 20_000)
    estimates = np.array([streams.normals(f"lot/{at}") for at in range(lots)])
    assert float(estimates.max(axis=0).mean()) == pytest.approx(BEST_OF[lots], abs=0.02)


def picked(lots: int, spread: float, noise: float, rounds: int) -> tuple[float, float]:
    """Return how much the best estimate, raw and shrunk, overstates the lot it picks, on average.

    The truths come from a generator of their own, not from the engine.
    """
    generator = np.random.default_rng(20_240_607)
    raw, shrunk = [], []
    for _ in range(rounds):
        truth = 10_000 + spread * generator.standard_normal(lots)
        seen = truth + noise * generator.standard_normal(lots)
        raw.append(seen.max() - truth[seen.argmax()])
        held = np.array(shrink(seen.tolist(), [noise] * lots))
        shrunk.append(held.max() - truth[held.argmax()])
    return float(np.mean(raw)), float(np.mean(shrunk))


def test_shrinking_takes_the_curse_from_lots_that_are_all_alike() -> None:
    raw, shrunk = picked(lots=30, spread=0, noise=1000, rounds=1500)
    assert raw == pytest.approx(1000 * BEST_OF[30], abs=60)
    # Half of all samples of pure noise seem to hold some spread: a little is left.
    assert shrunk < 0.15 * raw


def test_shrinking_takes_the_curse_from_lots_that_differ() -> None:
    raw, shrunk = picked(lots=30, spread=1000, noise=1000, rounds=3000)
    # Half the spread of what is seen is noise: the best is too good by 2.04 * 1000 / sqrt(2).
    assert raw == pytest.approx(1000 * BEST_OF[30] / 2**0.5, abs=60)
    assert abs(shrunk) < 0.1 * raw


def test_shrinking_keeps_sure_estimates_and_pulls_unsure_ones() -> None:
    estimates = [8000.0, 9000.0, 10_000.0, 15_000.0]
    sure = shrink(estimates, [1.0] * 4)
    assert sure == pytest.approx(estimates, abs=1)
    mixed = shrink(estimates, [1.0, 1.0, 1.0, 3000.0])
    assert mixed[:3] == pytest.approx(estimates[:3], abs=1)
    assert 10_500 < mixed[3] < 14_000
    assert shrink([], []) == ()
    assert shrink([5.0], [100.0]) == (5.0,)


def test_shrinking_is_the_normal_normal_formula() -> None:
    """Mean + t²/(t² + e²)(x - mean), here by hand: t² = 10,000/3 - 1000 with equal errors."""
    values = [100.0, 200.0, 300.0, 0.0]
    variance = float(np.var(values, ddof=1))
    between = variance - 1000.0
    weight = between / (between + 1000.0)
    expected = [150 + weight * (value - 150) for value in values]
    assert shrink(values, [1000.0**0.5] * 4) == pytest.approx(expected)


def test_uniform_signals_overstate_by_the_known_fraction() -> None:
    """Common value, n signals within eps of it: E[max] - V = eps (n - 1)/(n + 1)."""
    streams = Streams(6, 20_000)
    names = count()
    for bidders, part in {2: 0.333, 3: 0.5, 5: 0.667, 7: 0.75, 10: 0.818}.items():
        signals = [2 * streams.uniforms(f"bidder/{next(names)}") - 1 for _ in range(bidders)]
        assert float(np.max(signals, axis=0).mean()) == pytest.approx(part, abs=0.012)
