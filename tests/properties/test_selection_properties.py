"""Whatever there is to choose from, the choice keeps these."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Literal

import pytest
from every_choice import enumerate_all
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from appraise.engine.decide.frontier import frontier
from appraise.engine.decide.selection import choose, net_of
from appraise.engine.decide.selection_items import Access, Choice, Clean, Item, Selection

# Few and round amounts make many equals; many and odd ones make close calls.
ROUND = st.integers(0, 6).map(lambda at: 10.0 * at)
ODD = st.integers(0, 30_000).map(lambda at: at / 100)
HOURS = st.integers(0, 24).map(lambda at: at / 4)
HOUR_COST = st.integers(0, 10).map(lambda at: 4.0 * at)
"""Quarter hours at whole fours: what they come to is whole, in any money."""


@st.composite
def selections(draw: st.DrawFn, most: int = 10) -> Selection:
    amounts = draw(st.sampled_from([ROUND, ODD]))
    names = [f"i{at:02}" for at in range(draw(st.integers(1, most)))]
    groups = [f"g{at}" for at in range(draw(st.integers(0, 5)))]
    some_groups = st.lists(st.sampled_from(groups), max_size=3) if groups else st.just([])
    some_names = st.lists(st.sampled_from(names), max_size=4)
    rarely = st.integers(0, 9).map(lambda at: at == 0)
    items = tuple(
        Item(
            name,
            gain=2 * draw(amounts),
            money=draw(amounts),
            hours=draw(HOURS),
            access=tuple(draw(some_groups)),
            requires=tuple(
                draw(st.lists(st.sampled_from(names), max_size=draw(st.integers(0, 1))))
            ),
            must=draw(rarely),
        )
        for name in names
    )
    access = tuple(
        Access(name, round(draw(amounts) / 10, 2), draw(HOURS), tuple(draw(some_groups)))
        for name in groups
    )
    clean = draw(st.none() | st.builds(Clean, amounts, some_names.map(tuple)))
    return Selection(
        items,
        access,
        clean,
        tuple(tuple(draw(some_names)) for _ in range(draw(st.integers(0, 2)))),
        draw(HOUR_COST),
        draw(st.none() | st.integers(0, 60).map(lambda at: 10.0 * at)),
        draw(st.none() | st.integers(0, 100).map(lambda at: at / 4)),
    )


def keeps_the_rules(selection: Selection, choice: Choice) -> None:
    """Assert, from the selection alone, that a choice breaks nothing and is counted right."""
    items = {one.name: one for one in selection.items if one.name in choice.chosen}
    access = {one.name: one for one in selection.access if one.name in choice.access}
    assert items.keys() == choice.chosen
    assert all(one.name in items for one in selection.items if one.must)
    assert all(set(one.requires) <= choice.chosen for one in items.values())
    assert all(len(set(some) & choice.chosen) <= 1 for some in selection.at_most_one)
    served = set(choice.access).union(*(one.covers for one in access.values()))
    assert all(set(one.access) <= served for one in items.values())
    spent = [*items.values(), *access.values()]
    money, hours = sum(one.money for one in spent), sum(one.hours for one in spent)
    clean = selection.clean
    bonus = clean.bonus if clean and set(clean.items) <= choice.chosen else 0.0
    gain = sum(one.gain for one in items.values()) + bonus
    assert choice.money == pytest.approx(money, abs=1e-6)
    assert choice.hours == pytest.approx(hours, abs=1e-9)
    assert choice.gain == pytest.approx(gain, abs=1e-6)
    assert choice.net == pytest.approx(gain - money - hours * selection.hour_cost, abs=1e-6)
    if selection.money_limit is not None:
        assert money <= selection.money_limit + 1e-6
    if selection.hours_limit is not None:
        assert hours <= selection.hours_limit + 1e-6


@settings(max_examples=150)
@given(selections(most=11))
def test_the_choice_is_the_one_that_trying_all_finds(selection: Selection) -> None:
    best, tried = choose(selection), enumerate_all(selection)

    assert best.proven
    assert bool(best.problem) == bool(tried.problem)
    if not best.problem:
        assert best == tried
        keeps_the_rules(selection, best)
        assert net_of(selection, best.chosen) == best


@given(selections())
def test_the_best_is_no_worse_than_none_and_all(selection: Selection) -> None:
    best = choose(selection)
    for names in (frozenset(), frozenset(one.name for one in selection.items)):
        other = net_of(selection, names)
        if not other.problem:
            assert not best.problem
            assert best.net >= other.net


@given(selections(), st.data())
def test_any_choice_that_keeps_the_rules_is_no_better(
    selection: Selection, data: st.DataObject
) -> None:
    names = data.draw(st.sets(st.sampled_from([one.name for one in selection.items])))
    other = net_of(selection, frozenset(names))
    if not other.problem:
        keeps_the_rules(selection, other)
        assert choose(selection).net >= other.net


@given(selections(), st.randoms(use_true_random=False))
def test_the_order_changes_nothing(selection: Selection, random: st.DataObject) -> None:
    def mixed(some: tuple[object, ...]) -> tuple[object, ...]:
        return tuple(random.sample(some, len(some)))  # type: ignore[attr-defined]

    other = replace(
        selection,
        items=mixed(selection.items),  # type: ignore[arg-type]
        access=mixed(selection.access),  # type: ignore[arg-type]
        at_most_one=mixed(selection.at_most_one),  # type: ignore[arg-type]
    )
    assert choose(other) == choose(selection)


@given(selections(), st.sampled_from([3, 10, 150]))
def test_the_currency_changes_nothing_but_the_amounts(selection: Selection, factor: int) -> None:
    """A whole factor, so that what was whole cents is whole cents again."""
    clean, limit = selection.clean, selection.money_limit
    other = replace(
        selection,
        items=tuple(
            replace(one, gain=one.gain * factor, money=one.money * factor)
            for one in selection.items
        ),
        access=tuple(replace(one, money=one.money * factor) for one in selection.access),
        clean=clean and replace(clean, bonus=clean.bonus * factor),
        hour_cost=selection.hour_cost * factor,
        money_limit=None if limit is None else limit * factor,
    )
    here, there = choose(selection), choose(other)

    assert (here.chosen, here.access, here.hours) == (there.chosen, there.access, there.hours)
    assert there.net == pytest.approx(factor * here.net, abs=1e-6)
    assert bool(here.problem) == bool(there.problem)


@given(selections(), st.sampled_from(["money_limit", "hours_limit"]), st.integers(0, 200))
def test_a_higher_limit_never_lowers_the_net(selection: Selection, which: str, more: int) -> None:
    limit = getattr(selection, which)
    assume(limit is not None)
    here = choose(selection)
    for higher in (limit + more, None):
        there = choose(replace(selection, **{which: higher}))
        assert bool(here.problem) >= bool(there.problem)
        if not here.problem:
            assert there.net >= here.net


@given(selections(), selections(most=1))
def test_one_more_that_may_be_done_never_lowers_the_net(
    selection: Selection, another: Selection
) -> None:
    known = {one.name for one in selection.access}
    added = replace(
        another.items[0],
        name="another",
        access=tuple(one for one in another.items[0].access if one in known),
        requires=("i00",),
        must=False,
    )
    here = choose(selection)
    there = choose(replace(selection, items=(*selection.items, added)))

    assert bool(here.problem) == bool(there.problem)
    assert there.net >= here.net


@given(selections())
def test_one_thing_more_that_must_be_done_never_raises_the_net(selection: Selection) -> None:
    first = replace(selection.items[0], must=True)
    there = choose(replace(selection, items=(first, *selection.items[1:])))
    if not there.problem:
        assert there.net <= choose(selection).net


@settings(max_examples=40)
@given(selections(most=7), st.sampled_from(["money", "hours"]), st.integers(2, 40))
def test_a_frontier_holds_the_best_under_every_limit(
    selection: Selection, by: Literal["money", "hours"], points: int
) -> None:
    found = frontier(selection, by, points)
    best = choose(selection)
    assert found.problem == best.problem
    if best.problem:
        return
    assert 1 <= len(found.points) <= points
    assert found.points[-1].net == best.net
    step = 0.01 if by == "money" else 0.25
    for less, more in pairwise(found.points):
        assert getattr(less, by) < getattr(more, by)
        assert less.net < more.net
    for at, one in enumerate(found.points):
        keeps_the_rules(selection, one)
        limited = replace(selection, **{f"{by}_limit": getattr(one, by)})
        assert enumerate_all(limited).net == one.net
        if at and not found.capped:
            under = replace(selection, **{f"{by}_limit": getattr(one, by) - step})
            assert enumerate_all(under).net == found.points[at - 1].net
