"""Order statistics by counting into bins, against NumPy's full sort: the same bits."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from appraise.engine.draws.order_statistics import BINS, ranked

Maker = Callable[[np.random.Generator, int], np.ndarray]


def half_nought(generator: np.random.Generator, count: int) -> np.ndarray:
    """Return costs that do not arise half the time."""
    return generator.lognormal(5, 1, count) * (generator.random(count) < 0.5)


def one_far_off(generator: np.random.Generator, count: int) -> np.ndarray:
    """Return draws of which all but one fall into the lowest bin."""
    out = generator.random(count)
    out[-1] = 1e12
    return out


SHAPES: dict[str, Maker] = {
    "normal": lambda generator, count: generator.normal(-200, 900, count),
    "long tail": lambda generator, count: generator.lognormal(3, 2.5, count),
    "half nought": half_nought,
    "one far off": one_far_off,
    "few values": lambda generator, count: generator.integers(0, 4, count).astype(float),
    "on the edges of the bins": lambda generator, count: generator.integers(
        0, BINS + 1, count
    ).astype(float),
    "all the same": lambda _, count: np.full(count, 7.25),
    "all nought": lambda _, count: np.zeros(count),
    "large and close": lambda generator, count: 1e15 + generator.integers(0, 9, count),
    "tiny": lambda generator, count: 1e-290 * generator.random(count),
}


@pytest.mark.parametrize("count", [1, 2, 3, 10, 1001, 20_000])
@pytest.mark.parametrize("shape", SHAPES)
def test_every_rank_asked_for_is_what_a_full_sort_gives(shape: str, count: int) -> None:
    generator = np.random.default_rng(count)
    draws = SHAPES[shape](generator, count)
    before = draws.copy()
    ordered = np.sort(draws)
    for size in (1, 7, count):
        asked = generator.choice(count, min(size, count), replace=False).tolist()
        found = ranked(draws, asked)
        assert len(found) == count
        assert [found[rank] for rank in asked] == ordered[asked].tolist()
    assert np.array_equal(draws, before)


def test_draws_that_do_not_lie_side_by_side_are_read_the_same() -> None:
    draws = np.random.default_rng(3).normal(size=4000)[::4]
    assert ranked(draws, (17, 900))[900] == float(np.sort(draws)[900])


def test_a_rank_that_was_not_asked_for_is_not_made_up() -> None:
    with pytest.raises(KeyError):
        ranked(np.array([3.0, 1.0, 2.0]), (0,))[1]
