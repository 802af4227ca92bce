"""Faults behind a group of signs: chances and draws against every set of faults."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from fault_sets import every_set, random_group

from appraise.engine.draws.streams import Streams
from appraise.engine.faults.network import Group, explain

EXACT = 1e-12
"""Relative; sums of a few hundred positive terms."""
DRAWS = 100_000
ERRORS = 4.5
"""Standard errors allowed; exceeded by chance alone 7 times in a million."""


@pytest.mark.parametrize("seed", range(12))
def test_chances_are_those_of_going_through_every_set_of_faults(seed: int) -> None:
    generator = np.random.default_rng(seed)
    group = random_group(generator, int(generator.integers(1, 9)), seed % 6 + 1, care=3)
    found = explain(group)
    evidence, has, silent = every_set(group)

    assert found.evidence == pytest.approx(evidence, rel=EXACT)
    assert found.chances == pytest.approx(has, rel=EXACT)
    assert found.silent == pytest.approx(silent, rel=1e-9)
    assert found.error == 0


def test_without_signs_a_fault_has_its_chance_weighed() -> None:
    """By hand: .2 x 3 against .8 is .6 of 1.4."""
    group = Group(("a",), np.array([[0.2]]), np.array([3.0]), ((),), np.zeros(0))
    found = explain(group)

    assert found.chances[0, 0] == pytest.approx(0.6 / 1.4)
    assert found.silent[0, 0] == found.chances[0, 0]
    assert found.evidence[0] == pytest.approx(1.4)


def test_the_order_of_faults_and_signs_does_not_matter() -> None:
    group = random_group(np.random.default_rng(5), 7, 5)
    faults, signs = [3, 1, 6, 0, 2, 5, 4], [4, 2, 0, 1, 3]
    mixed = Group(
        names=tuple(group.names[at] for at in faults),
        chances=group.chances[:, faults],
        weights=group.weights[faults],
        links=tuple(tuple((signs.index(s), q) for s, q in group.links[at]) for at in faults),
        leaks=group.leaks[signs],
    )

    assert explain(mixed).evidence == pytest.approx(explain(group).evidence, rel=EXACT)
    assert explain(mixed).chances == pytest.approx(explain(group).chances[:, faults], rel=EXACT)


def test_signs_that_nothing_can_show_have_no_chance() -> None:
    group = Group(("a",), np.array([[0.2]]), np.ones(1), (((0, 0.5),),), np.array([0.1, 0.0]))

    assert explain(group).evidence.tolist() == [0.0]


@pytest.mark.parametrize("seed", range(4))
def test_drawn_sets_have_the_chances_worked_out(seed: int) -> None:
    """Of single faults, of pairs, of faults that show nothing, and of something else."""
    generator = np.random.default_rng(100 + seed)
    group = random_group(generator, 6, 4, care=2)
    behind = explain(group)
    care = (np.arange(DRAWS) % 2).astype(np.intp)
    drawn = behind.draw(care, Streams(seed, DRAWS).uniforms)

    for state in (0, 1):
        there, shows = drawn.there[:, care == state], drawn.shows[:, care == state]
        error = ERRORS * 0.5 / np.sqrt(DRAWS / 2)
        assert there.mean(axis=1) == pytest.approx(behind.chances[state], abs=error)
        assert (there & ~shows).mean(axis=1) == pytest.approx(behind.silent[state], abs=error)
        for one in range(3):
            forced = group.chances.copy()
            forced[:, one] = 1.0
            known = explain(replace(group, chances=forced))
            both = behind.chances[state, one] * known.chances[state]
            assert (there[one] & there).mean(axis=1) == pytest.approx(both, abs=error)
    assert not (drawn.shows & ~drawn.there).any()
    explained = drawn.otherwise.copy()
    for at, links in enumerate(group.links):
        for sign, _ in links:
            explained[sign] |= drawn.shows[at]
    assert explained.all(), "a sign that neither a fault nor something else shows"


def test_something_else_is_behind_a_sign_as_often_as_its_leak_says() -> None:
    """By hand, one sign: the leak in leak / (1 - (1 - leak)(1 - p q)) of the cars."""
    group = Group(("a",), np.array([[0.3]]), np.ones(1), (((0, 0.5),),), np.array([0.1]))
    drawn = explain(group).draw(np.zeros(DRAWS, dtype=np.intp), Streams(1, DRAWS).uniforms)

    chance = 0.1 / (1 - 0.9 * (1 - 0.15))
    assert drawn.otherwise.mean() == pytest.approx(
        chance, abs=ERRORS * np.sqrt(chance * (1 - chance) / DRAWS)
    )
