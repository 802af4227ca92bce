"""The search: ties, the frontier, and what the solver gets wrong."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any, Literal, get_args

import numpy as np
import pytest
from every_choice import enumerate_all

from appraise.engine.decide import selection as selection_program
from appraise.engine.decide.frontier import frontier
from appraise.engine.decide.selection import choose, net_of
from appraise.engine.decide.selection_items import Access, Item, Selection

By = Literal["money", "hours"]


def item(name: str, gain: float, money: float = 0.0, hours: float = 0.0, **more: Any) -> Item:
    return Item(name, gain, money, hours, **more)


def test_among_as_few_the_first_by_name_are_chosen() -> None:
    """Twenty alike with hours for seven: 77,520 choices are as good; the names span two blocks."""
    alike = tuple(item(f"i{at:02}", 10, hours=1) for at in range(20))
    best = choose(Selection(alike, hours_limit=7))

    assert len(alike) > selection_program.BLOCK
    assert sorted(best.chosen) == [f"i{at:02}" for at in range(7)]
    assert choose(Selection(alike[::-1], hours_limit=7)) == best
    excluded = Selection(alike, at_most_one=(("i00", "i01", "i02"), ("i03", "i19")), hours_limit=7)
    assert sorted(choose(excluded).chosen) == ["i00", *(f"i{at:02}" for at in (3, 4, 5, 6, 7, 8))]


LADDER = (
    item("small", 100, 10, 4),
    item("middle", 150, 50, 2),
    item("large", 200, 120, 1),
    item("bad", 10, 20, 1),
)
# Money: small 10 (90), middle 50 (100), both 60 (190), all three 180 (270); large 120 (80),
# small + large 130 (170) and middle + large 170 (180) bring less than both for more.
BY_MONEY = [(0, 0), (10, 90), (50, 100), (60, 190), (180, 270)]
# Hours: large 1 (80), middle 2 (100), middle + large 3 (180), small + middle 6 (190), all 7 (270);
# small 4 (90) and small + large 5 (170) bring less than middle + large for more.
BY_HOURS = [(0, 0), (1, 80), (2, 100), (3, 180), (6, 190), (7, 270)]


def test_a_frontier_worked_by_hand() -> None:
    money = frontier(Selection(LADDER))
    hours = frontier(Selection(LADDER), "hours")

    assert [(one.money, one.net) for one in money.points] == BY_MONEY
    assert [(one.hours, one.net) for one in hours.points] == BY_HOURS
    assert (money.by, hours.by, money.capped, hours.capped) == ("money", "hours", False, False)
    assert all(one.proven and not one.problem for one in money.points)


def test_a_frontier_within_the_limits() -> None:
    limited = Selection(LADDER, money_limit=100, hours_limit=5)

    assert [(one.money, one.net) for one in frontier(limited).points] == [
        (0, 0),
        (10, 90),
        (50, 100),
    ]
    assert [one.hours for one in frontier(limited, "hours").points] == [0, 2]


def test_a_frontier_begins_with_what_must_be_done_and_what_comes_free() -> None:
    items = (*LADDER, item("must", 0, 30, must=True), item("free", 5))
    first = frontier(Selection(items)).points[0]

    assert first.chosen == {"must", "free"}
    assert [(one.money, one.net) for one in frontier(Selection(items)).points] == [
        (money + 30, net - 25) for money, net in BY_MONEY
    ]


def test_a_frontier_of_one_point() -> None:
    assert [one.net for one in frontier(Selection((item("bad", 1, 2),))).points] == [0]
    assert [one.net for one in frontier(Selection((item("free", 1),))).points] == [1]


def test_of_equal_nets_a_frontier_has_the_one_that_takes_less() -> None:
    """Ten money or one hour at 10 an hour: the same net, and each the less of something."""
    items = (item("a", 100, access=("way",)),)
    groups = (Access("way", 10, 0), Access("slow way", 0, 1, ("way",)))
    selection = Selection(items, groups, hour_cost=10)

    assert [one.access for one in frontier(selection).points] == [{"slow way"}]
    assert [(one.hours, one.net) for one in frontier(selection, "hours").points] == [(0, 90)]


def test_a_frontier_with_too_many_points_is_thinned_and_says_so() -> None:
    """Powers of two that each bring twice their cost: every sum from 0 to 1,023 is a point."""
    doubling = tuple(item(f"i{at}", 2.0**at * 2, 2.0**at) for at in range(10))
    thin = frontier(Selection(doubling), points=12)

    assert thin.capped
    assert [one.money for one in thin.points] == [93 * at for at in range(12)]
    assert all(one.net == one.money for one in thin.points)
    few = frontier(Selection(doubling[:3]), points=8)
    assert not few.capped
    assert [one.money for one in few.points] == list(range(8))
    assert frontier(Selection(doubling[:3]), points=7).capped
    assert [one.money for one in frontier(Selection(doubling), points=2).points] == [0, 1023]


def test_points_that_lie_close_together_are_all_found() -> None:
    """Two heaps of eight, a thousand apart: an even walk steps over most of the upper one."""
    money = (1.0, 2.0, 4.0, 1000.0)
    heaps = tuple(item(f"i{at}", 2 * one, one) for at, one in enumerate(money))
    found = frontier(Selection(heaps), points=16)

    assert not found.capped
    assert [one.money for one in found.points] == [*range(8), *range(1000, 1008)]
    assert frontier(Selection(heaps), points=15).capped


def test_the_ends_of_a_thinned_frontier_take_the_less_of_what_is_as_good() -> None:
    items = (
        *(item(f"i{at}", 100, 0, 2.0**at) for at in range(4)),
        item("a", 100, access=("way",)),
    )
    groups = (Access("way", 10, 0), Access("slow way", 0, 1, ("way",)))
    thin = frontier(Selection(items, groups, hour_cost=10), "hours", points=2)

    assert thin.capped
    assert [one.hours for one in thin.points] == [0, 15]
    assert all("way" in one.access for one in thin.points)


def test_of_repairs_that_bring_the_same_net_the_frontier_takes_the_less_dear() -> None:
    """Eight times a dear and a cheap way with the same net, in either order of names."""
    names = [(f"{at}a", f"{at}b")[:: 1 if at % 2 else -1] for at in range(8)]
    dear = tuple(item(one, 100.0 + 50 + at, 50) for at, (one, _) in enumerate(names))
    cheap = tuple(item(one, 100.0 + 10 + at, 10) for at, (_, one) in enumerate(names))
    thin = frontier(Selection((*dear, *cheap), at_most_one=tuple(names)), points=2)

    assert thin.capped
    assert thin.points[-1].chosen == {one.name for one in cheap}


def test_every_point_of_a_thinned_frontier_is_the_best_of_its_money() -> None:
    rng = np.random.default_rng(11)
    items = tuple(
        item(f"i{at:02}", *(float(one) for one in rng.integers((50, 20, 0), (400, 200, 5))))
        for at in range(12)
    )
    selection = Selection(items, hour_cost=5, hours_limit=20)
    for by in get_args(By):
        thin = frontier(selection, by, points=9)
        assert thin.capped
        assert len(thin.points) >= 7
        for one in thin.points:
            limit = {f"{by}_limit": getattr(one, by)}
            assert enumerate_all(replace(selection, **limit)).net == one.net
        assert thin.points[-1].net == choose(selection).net
        for less, more in pairwise(thin.points):
            assert getattr(less, by) < getattr(more, by)
            assert less.net < more.net


def test_a_frontier_has_two_points_at_least() -> None:
    with pytest.raises(ValueError, match="at least 2 points"):
        frontier(Selection(LADDER), points=1)


def test_a_solver_that_finds_nothing_where_there_is_something_proves_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(selection_program, "_solve", lambda *_: (None, True))
    best = choose(Selection((*LADDER, item("must", 0, must=True))))

    assert best.chosen == {"must"}
    assert not best.proven


def test_a_search_cut_short_says_that_nothing_is_proven(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(selection_program, "MOST_NODES", 0)
    rng = np.random.default_rng(5)
    items = tuple(
        item(f"i{at:02}", float(weight) + 50, 0, float(weight))
        for at, weight in enumerate(rng.integers(100, 400, 30))
    )
    selection = Selection(items, hours_limit=3001)
    best = choose(selection)

    assert not best.proven
    assert not net_of(selection, best.chosen).problem
    monkeypatch.undo()
    assert choose(selection).proven
    assert choose(selection).net >= best.net


def test_the_cheapest_access_is_that_of_every_set_of_groups() -> None:
    rng = np.random.default_rng(3)
    for _ in range(30):
        names = [f"g{at}" for at in range(7)]
        groups = tuple(
            Access(
                name,
                float(rng.integers(1, 40)),
                float(rng.integers(0, 5)),
                tuple(names[at] for at in range(7) if rng.random() < 0.3),
            )
            for name in names
        )
        needs = tuple(name for name in names if rng.random() < 0.7)
        one = Selection(
            (item("a", 10, access=needs, must=True),),
            groups,
            hour_cost=7,
            hours_limit=float(rng.integers(6, 14)),
        )
        found, tried = net_of(one, frozenset("a")), enumerate_all(one)

        assert bool(found.problem) == bool(tried.problem)
        if not found.problem:
            assert (found.net, len(found.access)) == (tried.net, len(tried.access))
