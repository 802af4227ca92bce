"""Day plans small enough to be worked out by hand."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import Any

import pytest

from appraise.engine.work.schedule import MOST_DAYS, Plan, Task, order_of, plan_days

MONDAY = date(2026, 6, 1)
ACCESS = {"belt_off": 0.5, "bumper_off": 1.0, "engine_out": 6.0, "lid_off": 0.2}
COVERS = {"engine_out": ("belt_off", "bumper_off")}


def plan(*tasks: Task, hours: float = 4.0, off: tuple[int, ...] = ()) -> Plan:
    return plan_days(tasks, MONDAY, hours, ACCESS, COVERS, off)


def steps(found: Plan) -> list[list[Any]]:
    """Return by day: name or name/access, and hours."""
    return [
        [(f"{one.task}/{one.access}" if one.access else one.task, one.hours) for one in day.steps]
        for day in found.days
    ]


def day(number: int) -> date:
    """Return the day of that number, Monday being 1."""
    return MONDAY + timedelta(days=number - 1)


def test_hours_run_over_from_one_day_to_the_next() -> None:
    found = plan(Task("hub", 2.0), Task("arm", 3.0))

    assert steps(found) == [[("arm", 3.0), ("hub", 1.0)], [("hub", 1.0)]]
    assert found.finish == day(2)
    assert found.hours == 5.0
    assert found.order == ("arm", "hub")
    assert [(one.begins, one.ends) for one in found.slots] == [(day(1), day(1)), (day(1), day(2))]
    assert [one.hours for one in found.days] == [4.0, 1.0]
    assert [one.waits for one in found.days] == [(), ()]


def test_days_spent_waiting_for_parts_are_named() -> None:
    found = plan(
        Task("hub", 1.0, ready_on=day(3)), Task("arm", 1.0), Task("seal", 1, after=("hub",))
    )

    assert steps(found) == [[("arm", 1.0)], [], [("hub", 1.0), ("seal", 1)]]
    assert [one.waits for one in found.days] == [
        ("waits for parts: hub",),
        ("waits for parts: hub",),
        (),
    ]
    assert found.finish == day(3)


def test_what_must_be_done_goes_first_with_what_it_waits_for() -> None:
    """The clean takes longest, but the brake line must be done and the wheel comes before it."""
    found = plan(
        Task("clean", 4.0), Task("wheel", 1.0), Task("brake line", 1.0, after=("wheel",), must=True)
    )

    assert found.order == ("wheel", "brake line", "clean")


def test_what_must_be_done_goes_before_what_is_open() -> None:
    found = plan(
        Task("belt", 1.0, access=("belt_off",), must=True),
        Task("pump", 1.0, access=("belt_off",)),
        Task("brakes", 0.5, must=True),
    )

    assert found.order == ("belt", "brakes", "pump")


def test_while_in_there() -> None:
    """The pump needs what the belt needed, so it comes before the longer wiring."""
    found = plan(
        Task("wiring", 3.0),
        Task("pump", 1.0, access=("belt_off",)),
        Task("belt", 1.0, access=("belt_off",), must=True),
    )

    assert steps(found) == [
        [("belt/belt_off", 0.5), ("belt", 1.0), ("pump", 1.0), ("wiring", 1.5)],
        [("wiring", 1.5)],
    ]
    assert found.hours == 5.5


def test_what_a_larger_access_covers_is_open_with_it() -> None:
    found = plan(
        Task("clutch", 4.0, access=("engine_out",), must=True),
        Task("belt", 1.0, access=("belt_off",)),
        Task("wiring", 3.0),
        hours=20.0,
    )

    assert steps(found) == [
        [("clutch/engine_out", 6.0), ("clutch", 4.0), ("belt", 1.0), ("wiring", 3.0)]
    ]


def test_a_larger_access_takes_only_what_is_left_of_it() -> None:
    """The belt is off already: of the 6 hours 5.5 remain, and the bumper comes with them."""
    found = plan(
        Task("belt", 1.0, access=("belt_off",), must=True),
        Task("clutch", 4.0, access=("bumper_off", "engine_out"), after=("belt",)),
        hours=20.0,
    )

    assert steps(found) == [
        [("belt/belt_off", 0.5), ("belt", 1.0), ("clutch/engine_out", 5.5), ("clutch", 4.0)]
    ]
    assert found.hours == 11.0


def test_an_access_that_costs_nothing_more_is_still_shown() -> None:
    """A larger group that takes no longer than what was off already."""
    found = plan_days(
        [Task("a", 1.0, access=("small",)), Task("b", 1.0, access=("large",), after=("a",))],
        MONDAY,
        8.0,
        {"small": 2.0, "large": 1.5},
        {"large": ("small",)},
    )

    assert steps(found) == [[("a/small", 2.0), ("a", 1.0), ("b/large", 0.0), ("b", 1.0)]]
    assert found.hours == 4.0


def test_what_two_larger_groups_cover_is_counted_once() -> None:
    """The head takes 1 alone, but 2.5 with manifold and belt; the engine covers the belt too.

    The belt is counted in the head, which covers less, and is off as soon as the engine is.
    """
    access = {"belt": 1.0, "engine": 6.0, "head": 1.0, "manifold": 1.5, "mounts": 0.5}
    covers = {"engine": ("belt", "manifold", "mounts"), "head": ("belt", "manifold")}
    tasks = [
        Task("a", 1.0, access=("engine",)),
        Task("b", 1.0, access=("belt",), after=("a",)),
        Task("c", 1.0, access=("manifold", "head"), after=("b",)),
    ]
    done = plan_days(tasks, MONDAY, 12.0, access, covers)
    assert steps(done) == [
        [("a/engine", 6.0), ("a", 1.0), ("b", 1.0), ("c/head", 2.5), ("c", 1.0)],
    ]
    assert done.hours == 11.5


def test_the_longest_chain_goes_before_a_longer_job() -> None:
    """On the head hang five days at a shop, 2 to 6; the other 20 hours take days 1 to 5."""
    found = plan(
        Task("head off", 1.0),
        Task("head skimmed", 0, shop_days=5, after=("head off",)),
        Task("sills", 19.0),
    )

    assert found.order == ("head off", "sills", "head skimmed")
    assert steps(found)[0] == [("head off", 1.0), ("sills", 3.0)]
    assert found.finish == day(6)


def test_of_equals_the_first_by_name_goes_first() -> None:
    found = plan(Task("c", 1.0), Task("a", 1.0), Task("b", 1.0))

    assert found.order == ("a", "b", "c")


def test_a_shop_s_job_takes_calendar_days_and_holds_up_only_its_followers() -> None:
    """The arm is done on Friday: the shop has the car on Saturday and Sunday, days off or not."""
    found = plan_days(
        [
            Task("arm", 3.0),
            Task("alignment", 0, shop_days=1.5, after=("arm",)),
            Task("road test", 1.0, after=("alignment",)),
            Task("seat", 5.0),
        ],
        day(5),
        4.0,
        {},
        {},
        days_off=(5, 6),
    )

    assert [(one.on.day, one.at_shop, one.waits) for one in found.days] == [
        (5, (), ()),
        (6, ("alignment",), ("day off",)),
        (7, ("alignment",), ("day off",)),
        (8, (), ()),
        (9, (), ()),
    ]
    assert steps(found) == [
        [("arm", 3.0), ("seat", 1.0)],
        [],
        [],
        [("seat", 4.0)],
        [("road test", 1.0)],
    ]


def test_a_day_with_nothing_but_a_shop_to_wait_for_says_so() -> None:
    found = plan(Task("paint", 0, shop_days=2), Task("wax", 1.0, after=("paint",)))

    assert [one.waits for one in found.days] == [
        ("waits for a shop: paint",),
        ("waits for a shop: paint",),
        (),
    ]
    assert found.finish == day(3)


def test_a_shop_s_job_waits_for_the_morning_and_for_its_parts() -> None:
    found = plan(
        Task("strip", 1.0),
        Task("paint", 0, shop_days=1, after=("strip",)),
        Task("tires", 0, shop_days=1, ready_on=day(4)),
    )

    assert [one.at_shop for one in found.days] == [(), ("paint",), (), ("tires",)]
    assert found.days[0].waits == ("waits for parts: tires", "waits for a shop: paint")
    assert found.days[2].waits == ("waits for parts: tires",)


def test_own_hours_of_a_shop_s_job_come_the_day_before() -> None:
    """Such as taking it there; what has to come off for it is then taken off by own hands."""
    found = plan(Task("box rebuilt", 1.0, shop_days=2, access=("bumper_off",)))

    assert steps(found) == [[("box rebuilt/bumper_off", 1.0), ("box rebuilt", 1.0)], [], []]
    assert [one.at_shop for one in found.days] == [(), ("box rebuilt",), ("box rebuilt",)]
    assert found.slots[0].ends == found.finish == day(3)


def test_a_shop_that_does_the_whole_job_sees_to_its_own_access() -> None:
    found = plan(Task("clutch", 0, shop_days=1, access=("engine_out",)))

    assert found.hours == 0
    assert steps(found) == [[]]


def test_what_is_begun_is_finished_before_what_must_be_done() -> None:
    found = plan(Task("sills", 6.0), Task("hub", 1.0, must=True, ready_on=day(2)))

    assert steps(found) == [[("sills", 4.0)], [("sills", 2.0), ("hub", 1.0)]]


def test_what_takes_no_time_is_done_at_once() -> None:
    found = plan(
        Task("arm", 4.0),
        Task("looked over", 0, after=("arm",)),
        Task("sold", 0, after=("looked over",)),
    )

    assert steps(found) == [[("arm", 4.0), ("looked over", 0), ("sold", 0)]]
    assert found.finish == day(1)


def test_with_no_hours_left_nothing_is_taken_up_that_needs_something_off() -> None:
    """The look takes none of its own, but the lid has to come off: the hub goes before it."""
    found = plan(
        Task("arm", 4.0, must=True),
        Task("look", 0, access=("lid_off",)),
        Task("hub", 1.0, must=True, ready_on=day(2)),
    )

    assert steps(found) == [[("arm", 4.0)], [("hub", 1.0), ("look/lid_off", 0.2), ("look", 0)]]


def test_nothing_to_do() -> None:
    assert plan() == Plan((), (), (), 0.0, None)


@pytest.mark.parametrize(
    ("pairs", "ring"),
    [
        ({"alignment": "arm", "arm": "alignment"}, "alignment -> arm -> alignment"),
        ({"b": "c", "c": "a", "a": "b", "x": "a"}, "a -> c -> b -> a"),
        ({"arm": "arm"}, "arm -> arm"),
    ],
)
def test_a_ring_is_refused_and_told_in_its_order(pairs: dict[str, str], ring: str) -> None:
    """Each before the next: b waits for c, c for a, a for b."""
    tasks = [Task(name, 1.0, after=(before,)) for name, before in pairs.items()]
    for work in (order_of, lambda tasks: plan(*tasks)):
        with pytest.raises(ValueError, match=f"in a ring: {ring}; let one of them not wait"):
            work(tasks)


@pytest.mark.parametrize(
    ("task", "more", "message"),
    [
        (Task("a", 1, after=("b",)), {}, "a has to wait for 'b', which is not there"),
        (Task("arm", 1), {}, "two tasks are named 'arm'"),
        (Task("a", -1.0), {}, "a: hours are -1.0: give 0 or more"),
        (Task("a", math.nan), {}, "a: hours are nan"),
        (Task("a", 0, shop_days=-2), {}, "a: shop days are -2"),
        (Task("a", 0, shop_days=math.inf), {}, "a: shop days are inf"),
        (Task("a", 1, access=("roof_off",)), {}, "access 'roof_off' is not known"),
        (Task("a", 1), {"hours_per_day": 0.0}, "hours a day are 0.0: give more than 0"),
        (Task("a", 1), {"hours_per_day": -1.0}, "hours a day are -1.0"),
        (Task("a", 1), {"hours_per_day": math.nan}, "hours a day are nan"),
        (Task("a", 1), {"days_off": (7,)}, "weekdays from 0, Monday, to 6"),
        (Task("a", 1), {"days_off": tuple(range(7))}, "every weekday is a day off"),
        (
            Task("a", 1, access=("lid_off",)),
            {"access_hours": {"lid_off": -1.0}},
            "access lid_off: hours are -1.0",
        ),
    ],
)
def test_what_cannot_be_planned_is_refused(task: Task, more: dict[str, Any], message: str) -> None:
    given = {"hours_per_day": 4.0, "access_hours": ACCESS, "covers": COVERS} | more
    with pytest.raises(ValueError, match=message):
        plan_days([Task("arm", 1.0), task], MONDAY, **given)


def test_with_every_day_off_a_shop_still_works() -> None:
    found = plan(Task("paint", 0, shop_days=2), off=tuple(range(7)))

    assert found.finish == day(2)


@pytest.mark.parametrize(
    "last",
    [
        Task("late", 4.0, ready_on=day(MOST_DAYS)),
        Task("late", 4.0 * MOST_DAYS),
        Task("late", 0, shop_days=MOST_DAYS),
    ],
)
def test_the_longest_plan_there_is(last: Task) -> None:
    found = plan(last)

    assert (found.problem, found.finish, len(found.days)) == ("", day(MOST_DAYS), MOST_DAYS)


@pytest.mark.parametrize(
    "last",
    [
        Task("late", 4.0, ready_on=day(MOST_DAYS + 1)),
        Task("late", 4.0, ready_on=date.max),
        Task("late", 4.0 * MOST_DAYS + 0.01),
        Task("late", 0, shop_days=MOST_DAYS + 0.01),
        Task("late", 1e12, shop_days=1e12),
    ],
)
def test_a_plan_without_end_is_refused_in_words(last: Task) -> None:
    found = plan(Task("arm", 1.0), last)

    assert found.problem.startswith("the plan runs past 3,000 days: give more hours a day")
    assert (found.days, found.slots, found.finish) == ((), (), None)
    assert found.order == ("arm", "late")
    assert found.hours == 1.0 + last.hours


def test_the_calendar_may_end() -> None:
    late = plan_days([Task("arm", 3.0)], date.max, 1.0, {}, {})

    assert late.problem


def test_one_more_job_may_end_a_plan_with_a_shop_earlier() -> None:
    """A rule of preference is no optimum: the test that must be done pulls the shop forward.

    Without it the sills, which must be done, take two days before the strip: paint on days 4 to 13.
    With it the strip must be done too, and has the longer chain: paint on days 2 to 11.
    """
    tasks = (
        Task("sills", 16.0, must=True),
        Task("strip", 1.0),
        Task("paint", 0, shop_days=10, after=("strip",)),
    )
    more = Task("inspection", 0.5, must=True, after=("paint",))

    assert plan(*tasks, hours=8.0).finish == day(13)
    assert plan(*tasks, more, hours=8.0).finish == day(12)


def test_one_more_job_may_end_a_plan_earlier_by_what_it_takes_off_while_parts_are_awaited() -> None:
    """The look behind the bumper takes it off on day 1, when the light is not here yet."""
    light = Task("light", 3.5, ready_on=day(2), access=("bumper_off",))
    look = Task("look", 0.5, access=("bumper_off",))

    assert plan(light).finish == day(3)
    assert plan(light, look).finish == day(2)
