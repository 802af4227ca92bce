"""How long faults behind signs take, as times of NumPy's own work in the same run."""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median

import numpy as np
import pytest
from fault_sets import random_group

from appraise.engine.draws.streams import Streams
from appraise.engine.faults.care import GRID, Care
from appraise.engine.faults.many_signs import sampled
from appraise.engine.faults.network import Group, explain

DRAWS = 20_000
ROUNDS = 7


def group_of(faults: int, signs: int, care: int) -> Group:
    """Return a group of faults that each show up to six of the signs."""
    generator = np.random.default_rng(faults)
    group = random_group(generator, faults, signs, care)
    links = tuple(one[: generator.integers(1, 7)] for one in group.links)
    return Group(group.names, group.chances, group.weights, links, group.leaks)


def seconds(work: Callable[[], object]) -> float:
    """Return the median processor time of a piece of work, warm."""
    work()
    taken = []
    for _ in range(ROUNDS):
        began = time.process_time()
        work()
        taken.append(time.process_time() - began)
    return median(taken)


def drawing() -> float:
    """Return how long NumPy draws and orders forty times 20,000 normals: about 9 ms."""
    generator = np.random.default_rng(1)
    return seconds(lambda: [np.sort(generator.standard_normal(DRAWS)) for _ in range(40)])


@pytest.mark.parametrize(
    ("signs", "care", "chances", "sets"),
    [(12, 1, 1.2, 5.0), (12, GRID, 8.0, 11.0), (6, GRID, 0.6, 3.5)],
    ids=["12 signs", "12 signs, with care", "6 signs, with care"],
)
def test_a_group_of_40_faults(signs: int, care: int, chances: float, sets: float) -> None:
    """Measured on a quiet machine: chances .5, 3.5 and .2 times, with 20,000 sets 2.1, 4.3, 1.4."""
    group = group_of(40, signs, care)
    streams = Streams(1, DRAWS)
    state = (np.arange(DRAWS) % care).astype(np.intp)

    explained = seconds(lambda: explain(group))
    drawn = seconds(lambda: explain(group).draw(state, streams.uniforms))
    yardstick = drawing()
    assert explained <= chances * yardstick
    assert drawn <= sets * yardstick


def test_forty_signs_in_one_group_are_sampled_with_their_error() -> None:
    """Measured on a quiet machine: 160 times, 1.5 s, at a stated error of .03."""
    care = Care.of(2)
    group = group_of(60, 40, 1)
    rates = np.random.default_rng(2).uniform(0.001, 0.03, len(group.names))
    chances = np.stack([care.has(rate) for rate in rates], axis=1)
    many = Group(group.names, chances, group.weights, group.links, group.leaks)

    began = time.process_time()
    found = sampled(many, care.before)
    taken = time.process_time() - began
    yardstick = drawing()
    assert 0 < found.error < 0.06
    assert taken <= 220 * yardstick
