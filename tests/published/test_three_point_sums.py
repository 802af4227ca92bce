"""Published sums of three-point estimates, with the engine's own shapes and draws."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from scipy import special

from appraise.engine.draws.ranges import pert_moments, pert_quantile
from appraise.engine.draws.streams import Streams

Triple = tuple[float, float, float]

# Hillier and Lieberman, Introduction to Operations Research, chapter 22 (Reliable Construction):
# optimistic, most likely, pessimistic of the activities A to N.
RELIABLE: dict[str, Triple] = {
    "A": (1, 2, 3),
    "B": (2, 3.5, 8),
    "C": (6, 9, 18),
    "D": (4, 5.5, 10),
    "E": (1, 4.5, 5),
    "F": (4, 4, 10),
    "G": (5, 6.5, 11),
    "H": (5, 8, 17),
    "I": (3, 7.5, 9),
    "J": (3, 9, 9),
    "K": (4, 4, 4),
    "L": (1, 5.5, 7),
    "M": (1, 2, 3),
    "N": (5, 5.5, 9),
}
RELIABLE_MEANS = dict(
    zip("ABCDEFGHIJKLMN", (2, 4, 10, 6, 4, 5, 7, 9, 7, 8, 4, 5, 2, 6), strict=True)
)
# Taylor, Introduction to Management Science, chapter 8: critical activities 1, 3, 5, 7.
TAYLOR: list[Triple] = [(5, 8, 17), (3, 5, 7), (4, 6, 8), (3, 4, 5)]
# Southwestern University stadium (Hill Construction), Heizer and Render, Operations Management:
# critical activities A, C, D, E, H, I, L.
HILL: list[Triple] = [
    (20, 30, 40),
    (50, 60, 100),
    (30, 50, 100),
    (25, 30, 35),
    (10, 20, 30),
    (20, 25, 60),
    (20, 25, 60),
]
BOOKS = {
    "reliable": ([RELIABLE[name] for name in "ABCEFJLN"], 44.0, 9.0, 47.0, 0.8413),
    "taylor": (TAYLOR, 24.0, 5.0, 28.0, 0.9632),
    "hill": (HILL, 260.0, 319.444, 270.0, 0.7121),
}


def old_rule_variance(items: list[Triple]) -> float:
    """Return the variance by the older PERT rule, which the three books use."""
    return sum(((high - low) / 6) ** 2 for low, _, high in items)


@pytest.mark.parametrize("name", RELIABLE)
def test_reliable_construction_means_are_the_published_ones(name: str) -> None:
    low, mode, high = RELIABLE[name]
    assert pert_moments(low, mode, high)[0] == pytest.approx(RELIABLE_MEANS[name], abs=1e-12)


@pytest.mark.parametrize("book", BOOKS)
def test_sums_of_means_are_the_published_totals(book: str) -> None:
    items, mean, variance, point, chance = BOOKS[book]
    ours = sum(pert_moments(*item)[0] for item in items)
    assert ours == pytest.approx(mean, abs=1e-9)
    assert old_rule_variance(items) == pytest.approx(variance, abs=0.001)
    # The printed chances come from tables of z with two decimals: 0.8413, 0.9633, 0.71226.
    normal = float(special.ndtr((point - ours) / sqrt(variance)))
    assert normal == pytest.approx(chance, abs=1e-4)


@pytest.mark.parametrize("book", BOOKS)
def test_drawn_sums_have_the_closed_form_mean_and_the_beta_pert_variance(book: str) -> None:
    """Plain sums, so no merge bias: a budget has no critical path."""
    items, mean, _, point, chance = BOOKS[book]
    streams = Streams(7, 100_000)
    total = sum(
        (pert_quantile(*item, streams.uniforms(f"{book}/{at}")) for at, item in enumerate(items)),
        start=np.zeros(streams.draws),
    )
    variance = sum(pert_moments(*item)[1] for item in items)
    assert float(total.mean()) == pytest.approx(mean, rel=2e-4)
    # sd of a sample variance is about sqrt(2/n) = 0.45 %; three of those.
    assert float(total.var()) == pytest.approx(variance, rel=0.0135)
    # The books' normal sum with the older rule is only near: shapes are skewed and wider.
    assert float((total <= point).mean()) == pytest.approx(chance, abs=0.035)


def test_the_older_pert_rule_is_not_the_beta_pert_variance() -> None:
    """A trap: ((b - a)/6)² is neither exact for the symmetric case nor an upper bound."""
    symmetric = pert_moments(0, 10, 20)[1]
    assert symmetric == pytest.approx(20**2 / 28)
    assert symmetric / (20 / 6) ** 2 == pytest.approx(36 / 28)
    # The two agree only at relative mode 0.14645 or 0.85355 (computed).
    for mode in (0.14645, 0.85355):
        assert pert_moments(0, mode, 1)[1] == pytest.approx(1 / 36, rel=1e-4)
    # One triple, three models (16, 20, 35): 10.972 against 10.028.
    assert pert_moments(16, 20, 35) == pytest.approx((21.8333, 10.972), abs=5e-4)
    assert old_rule_variance([(16, 20, 35)]) == pytest.approx(10.028, abs=5e-4)
