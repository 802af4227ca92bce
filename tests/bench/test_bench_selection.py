"""How long choosing repairs takes: reported, not asserted."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
import pytest

from appraise.engine.decide.frontier import frontier
from appraise.engine.decide.selection import choose, net_of
from appraise.engine.decide.selection_items import Access, Clean, Frontier, Item, Selection

ITEMS = 30
GROUPS = 12
COVERS = {9: (0, 1), 10: (2, 3, 4), 11: (0, 5, 6)}
REQUIRES = 6
AT_MOST_ONE = 3
SEEDS = (4, 7, 8)
"""Of random cars; the search is slower for some than for others."""


def large(seed: int, *, limited: bool) -> Selection:
    """Return 30 repairs over 12 access groups, three of them larger, 6 requires, 3 at most one."""
    rng = np.random.default_rng(seed)

    def amount(low: float, high: float) -> float:
        return round(float(rng.uniform(low, high)), 2)

    names = [f"repair {at:02}" for at in range(ITEMS)]
    groups = [f"access {at:02}" for at in range(GROUPS)]
    requires: dict[str, tuple[str, ...]] = {}
    for _ in range(REQUIRES):
        one, other = rng.choice(names, 2, replace=False).tolist()
        requires[one] = (*requires.get(one, ()), other)
    items = tuple(
        Item(
            name,
            amount(0, 600),
            amount(10, 400),
            amount(0.2, 6),
            tuple(rng.choice(groups, int(rng.integers(0, 3)), replace=False).tolist()),
            requires.get(name, ()),
        )
        for name in names
    )
    access = tuple(
        Access(
            name, amount(0, 30), amount(0.3, 5), tuple(groups[one] for one in COVERS.get(at, ()))
        )
        for at, name in enumerate(groups)
    )
    return Selection(
        items,
        access,
        Clean(450.0, tuple(names[:GROUPS])),
        tuple(tuple(rng.choice(names, 3, replace=False).tolist()) for _ in range(AT_MOST_ONE)),
        hour_cost=22.0,
        money_limit=1500.0 if limited else None,
        hours_limit=30.0 if limited else None,
    )


@pytest.mark.parametrize("limited", [False, True], ids=["without limits", "with both limits"])
@pytest.mark.parametrize("seed", SEEDS)
def test_one_choice_of_thirty(benchmark: Any, seed: int, *, limited: bool) -> None:
    """Meant to take under 50 ms."""
    selection = large(seed, limited=limited)
    best = benchmark.pedantic(choose, args=(selection,), rounds=9, iterations=1, warmup_rounds=1)

    assert best.proven
    assert len(best.chosen) > 1
    assert best == net_of(selection, best.chosen)


@pytest.mark.parametrize("limited", [False, True], ids=["without limits", "with both limits"])
@pytest.mark.parametrize("by", ["money", "hours"])
def test_the_frontier_of_thirty(
    benchmark: Any, by: Literal["money", "hours"], *, limited: bool
) -> None:
    """Up to 24 points; meant to take under 600 ms."""
    selection = large(SEEDS[0], limited=limited)
    found: Frontier = benchmark.pedantic(
        frontier, args=(selection, by), rounds=3, iterations=1, warmup_rounds=1
    )

    assert 2 <= len(found.points) <= 24
    assert all(one.proven for one in found.points)
    assert found.points[-1].net == choose(selection).net
