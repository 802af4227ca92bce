"""What holds of every day plan, read from its days alone."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appraise.engine.work.schedule import Day, Plan, Task, order_of, plan_days
from appraise.engine.work.tasks import teardown

START = date(2026, 6, 1)
ACCESS = {"a_off": 0.5, "b_off": 1.25, "c_out": 3.0, "d_out": 1.0, "e_out": 4.5}
COVERS = {"c_out": ("a_off",), "d_out": ("a_off", "b_off"), "e_out": ("c_out", "a_off")}
ROUNDING = 1e-6
NAMES = "pqrstuvw"
quarters = st.integers(0, 48).map(lambda at: at / 4)


@st.composite
def task(draw: st.DrawFn, name: str, before: str, *, shops: bool) -> Task:
    shop = draw(st.integers(0, 3)) == 0 if shops else False
    return Task(
        name,
        draw(st.just(0.0) | quarters) if shop else draw(quarters),
        draw(st.integers(1, 16)) / 2 if shop else 0.0,
        tuple(draw(st.lists(st.sampled_from(before), max_size=3, unique=True)) if before else ()),
        draw(st.none() | st.integers(-3, 25).map(lambda at: START + timedelta(days=at))),
        draw(st.booleans()),
        tuple(draw(st.lists(st.sampled_from(sorted(ACCESS)), max_size=2, unique=True))),
    )


@st.composite
def task_lists(draw: st.DrawFn, *, shops: bool = True, least: int = 1) -> list[Task]:
    count = draw(st.integers(least, len(NAMES)))
    given_order = [draw(task(NAMES[at], NAMES[:at], shops=shops)) for at in range(count)]
    return draw(st.permutations(given_order))


hours = st.sampled_from([0.75, 2.0, 4.0, 7.5])
days_off = st.sampled_from([(), (6,), (5, 6), (0, 1, 2, 3, 4)])


def planned(tasks: list[Task], a_day: float, off: tuple[int, ...] = ()) -> Plan:
    plan = plan_days(tasks, START, a_day, ACCESS, COVERS, off)
    assert plan.problem == ""
    return plan


def need(tasks: list[Task]) -> set[str]:
    return {group for one in tasks if one.hours or not one.shop_days for group in one.access}


def spans(plan: Plan) -> dict[str, tuple[tuple[int, int], tuple[int, int]]]:
    """Return by task its first and last moment: day, and place within it.

    A shop has a task from before the first step of a day to after the last one.
    """
    seen: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for at, day in enumerate(plan.days):
        for place, step in enumerate(day.steps):
            seen[step.task].append((at, place))
        for name in day.at_shop:
            seen[name] += [(at, -1), (at, len(day.steps))]
    return {name: (min(moments), max(moments)) for name, moments in seen.items()}


def days_of(plan: Plan, name: str) -> list[date]:
    return [day.on for day in plan.days if name in day.at_shop]


@given(tasks=task_lists(), a_day=hours, off=days_off)
def test_all_is_done_once_and_no_day_is_too_long(
    tasks: list[Task], a_day: float, off: tuple[int, ...]
) -> None:
    plan = planned(tasks, a_day, off)
    own: dict[str, float] = defaultdict(float)
    for day in plan.days:
        assert day.hours <= a_day + ROUNDING
        assert not day.steps or day.on.weekday() not in off
        for step in day.steps:
            assert step.hours >= 0
            own[step.access or f"task {step.task}"] += step.hours
    for one in tasks:
        assert own.pop(f"task {one.name}", 0.0) == pytest.approx(one.hours, abs=ROUNDING)
        assert len(days_of(plan, one.name)) == ceil(one.shop_days)
    assert set(own) <= need(tasks)
    access = teardown(need(tasks), ACCESS, COVERS).total
    assert sum(own.values()) == pytest.approx(access, abs=ROUNDING)
    assert plan.hours == pytest.approx(sum(one.hours for one in tasks) + access, abs=ROUNDING)
    assert sum(day.hours for day in plan.days) == pytest.approx(plan.hours, abs=ROUNDING)


@given(tasks=task_lists(), a_day=hours, off=days_off)
def test_nothing_begins_before_what_it_waits_for(
    tasks: list[Task], a_day: float, off: tuple[int, ...]
) -> None:
    plan = planned(tasks, a_day, off)
    moments = spans(plan)
    named = {one.name: one for one in tasks}
    for one in tasks:
        first, last = moments[one.name]
        assert one.ready_on is None or plan.days[first[0]].on >= one.ready_on
        for before in one.after:
            end = moments[before][1]
            assert end < first
            if named[before].shop_days or not (one.hours or not one.shop_days):
                assert end[0] < first[0]
        slot = next(slot for slot in plan.slots if slot.name == one.name)
        assert (slot.begins, slot.ends) == (plan.days[first[0]].on, plan.days[last[0]].on)


@given(tasks=task_lists(), a_day=hours, off=days_off)
def test_a_shop_s_days_follow_each_other_and_its_own_hours(
    tasks: list[Task], a_day: float, off: tuple[int, ...]
) -> None:
    plan = planned(tasks, a_day, off)
    for one in tasks:
        at_shop = days_of(plan, one.name)
        assert all(b - a == timedelta(days=1) for a, b in pairwise(at_shop))
        worked = [day.on for day in plan.days for step in day.steps if step.task == one.name]
        assert not at_shop or not worked or max(worked) < at_shop[0]


@given(tasks=task_lists(), a_day=hours, off=days_off)
def test_days_are_without_a_gap_and_hands_rest_only_for_a_reason(
    tasks: list[Task], a_day: float, off: tuple[int, ...]
) -> None:
    """With hours left over, no task that own hands could go on with was left lying."""
    plan = planned(tasks, a_day, off)
    assert [day.on for day in plan.days] == [
        START + timedelta(days=at) for at in range(len(plan.days))
    ]
    assert plan.finish == plan.days[-1].on
    own_end = {
        name: max((at for at, day in enumerate(plan.days) for s in day.steps if s.task == name))
        for name in {step.task for day in plan.days for step in day.steps}
    }
    moments = spans(plan)
    for at, day in enumerate(plan.days[:-1]):
        if day.on.weekday() in off:
            assert day.waits == ("day off",)
            continue
        idle = day.hours < a_day - ROUNDING
        assert bool(day.waits) == idle
        for one in tasks:
            if idle and one.name in own_end and own_end[one.name] > at:
                assert not_yet(one, day, at, moments, plan)


def not_yet(
    one: Task,
    day: Day,
    at: int,
    moments: dict[str, tuple[tuple[int, int], tuple[int, int]]],
    plan: Plan,
) -> bool:
    """Whether a task could not be worked on after the last step of a day."""
    if one.ready_on is not None and one.ready_on > day.on:
        return True
    end_of_day = (at, len(plan.days[at].steps))
    return any(moments[before][1] >= end_of_day for before in one.after)


@given(tasks=task_lists(), a_day=hours, off=days_off)
def test_what_has_to_come_off_is_off_before_the_work(
    tasks: list[Task], a_day: float, off: tuple[int, ...]
) -> None:
    """A group that a task needs was taken off by then, or came off with a larger one."""
    plan = planned(tasks, a_day, off)
    wider = {
        group: {group, *(one for one, inner in COVERS.items() if group in inner)}
        for group in ACCESS
    }
    named = {one.name: one for one in tasks}
    opened: set[str] = set()
    for day in plan.days:
        for step in day.steps:
            if step.access:
                opened.add(step.access)
            else:
                assert all(wider[group] & opened for group in named[step.task].access)


@given(data=st.data(), tasks=task_lists(), a_day=hours)
def test_the_order_in_which_tasks_are_given_changes_nothing(
    data: st.DataObject, tasks: list[Task], a_day: float
) -> None:
    assert planned(data.draw(st.permutations(tasks)), a_day) == planned(tasks, a_day)


@given(tasks=task_lists(), a_day=hours)
def test_no_plan_is_shorter_than_its_longest_chain_or_its_hours(
    tasks: list[Task], a_day: float
) -> None:
    plan = planned(tasks, a_day)
    named = {one.name: one for one in tasks}
    chain: dict[str, float] = {}
    for name in order_of(tasks):
        one = named[name]
        before = max((chain[other] for other in one.after), default=0.0)
        chain[name] = before + one.hours / a_day + one.shop_days

    assert len(plan.days) >= max(chain.values()) - ROUNDING
    assert len(plan.days) * a_day >= plan.hours - ROUNDING
    late = [one.ready_on for one in tasks if one.ready_on is not None]
    assert plan.finish is not None
    assert plan.finish >= max(late, default=START)


@given(tasks=task_lists())
def test_every_order_is_possible(tasks: list[Task]) -> None:
    for order in (order_of(tasks), planned(tasks, 4.0).order):
        assert sorted(order) == sorted(one.name for one in tasks)
        place = {name: at for at, name in enumerate(order)}
        assert all(place[before] < place[one.name] for one in tasks for before in one.after)


@given(tasks=task_lists(shops=False, least=2), a_day=hours, off=days_off)
def test_without_shop_and_access_one_more_task_never_ends_the_plan_earlier(
    tasks: list[Task], a_day: float, off: tuple[int, ...]
) -> None:
    """Hands that rest only for parts have done, at any moment, all that was there to do.

    With a shop or with shared access it does not hold: the unit tests have examples.
    """
    tasks = [replace(one, access=()) for one in tasks]
    last = order_of(tasks)[-1]
    fewer = [one for one in tasks if one.name != last]
    more, less = planned(tasks, a_day, off), planned(fewer, a_day, off)

    assert more.finish is not None
    assert less.finish is not None
    assert more.finish >= less.finish


@given(tasks=task_lists(shops=False), a_day=hours)
def test_without_shop_and_access_the_rules_of_preference_move_no_finish(
    tasks: list[Task], a_day: float
) -> None:
    tasks = [replace(one, access=()) for one in tasks]
    other = [replace(one, must=not one.must) for one in tasks]

    assert planned(other, a_day).finish == planned(tasks, a_day).finish


groups = st.sets(st.sampled_from(sorted(ACCESS)))


@given(needed=groups)
def test_access_together_takes_no_more_than_the_sum_and_no_less_than_what_nothing_covers(
    needed: set[str],
) -> None:
    total = teardown(needed, ACCESS, COVERS).total
    inner = {one for group in needed for one in COVERS.get(group, ())}

    assert total <= sum(ACCESS[group] for group in needed) + ROUNDING
    assert total >= sum(ACCESS[group] for group in needed - inner) - ROUNDING


@given(needed=groups, more=st.sampled_from(sorted(ACCESS)))
def test_one_more_access_never_makes_it_shorter_where_no_two_cover_the_same(
    needed: set[str], more: str
) -> None:
    covers = {"c_out": ("a_off",), "e_out": ("c_out", "a_off", "d_out")}
    before = teardown(needed, ACCESS, covers).total
    after = teardown({*needed, more}, ACCESS, covers).total

    assert before - ROUNDING <= after <= before + ACCESS[more] + ROUNDING
