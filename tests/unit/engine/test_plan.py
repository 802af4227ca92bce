"""Planned jobs on their draws: what the bid allowed for them, or what is known better by now."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest

from appraise.engine.work.day_plan import PUT_BACK, day_plan, parts_here
from appraise.engine.work.plan import Bench, bench_of, openings
from appraise.models.case import Case
from appraise.reference.load import Reference

ON = date(2026, 7, 1)
PARTS = ((30, 45, 80), (4, 6, 9))


@pytest.fixture
def bench(
    case_of: Callable[..., Case], job: Callable[..., dict[str, Any]], reference: Reference
) -> Callable[..., Bench]:
    def make(*jobs: dict[str, Any], deal: Any = None, own: Any = None) -> Bench:
        own_jobs = own or [
            job("a", (1, 2, 4), PARTS, access=["wheels_off_front"]),
            job("b", (1, 1.5, 3), access=["wheels_off_front"]),
        ]
        case = case_of(own_jobs=own_jobs, deal=deal, work={"jobs": list(jobs)})
        return bench_of(case, reference)

    return make


def planned(name: str, job: str = "a", **more: Any) -> dict[str, Any]:
    return {"id": name, "job": job} | more


def test_a_plan_that_knows_nothing_new_costs_what_the_bid_allowed(
    bench: Callable[..., Bench],
    finding: Callable[..., dict[str, Any]],
    case_of: Callable[..., Case],
    mend: Callable[..., Any],
) -> None:
    """Draw for draw: money as it is, own hours with the access that a job alone opens."""
    found = bench(planned("one"))
    case = found.case.model_copy(update={"findings": case_of([finding("f", "a")]).findings})
    estimate = mend(case).by_finding["f"]
    (one,) = found.jobs

    assert np.array_equal(one.money, estimate.money)
    together = one.hours + found.access("wheels_off_front")
    np.testing.assert_allclose(together, estimate.hours, rtol=1e-12)


def test_known_prices_take_the_doubt_away(bench: Callable[..., Bench]) -> None:
    parts = [
        {"id": "p", "label": "part 0", "price": "52.50", "shipping": "4", "tax": "2.50"},
        {"id": "q", "label": "part 1", "price": "7.00", "quantity": 2},
    ]
    (one,) = bench(planned("one", parts=parts)).jobs

    assert np.all(one.money == 52.5 + 4 + 2.5 + 14)
    assert one.known == 73
    assert np.ptp(one.budget) > 30, "what was expected before is kept beside it"


def test_a_part_without_a_price_keeps_the_catalogs_and_one_nobody_knows_is_told(
    bench: Callable[..., Bench],
) -> None:
    lines = [{"id": "p", "label": "PART 0"}, {"id": "q", "label": "a gasket"}]
    found = bench(planned("one", parts=lines))
    (one,) = found.jobs

    assert np.quantile(one.money, 0.5) == pytest.approx(45, rel=0.01)
    (told,) = found.problems
    assert "a gasket has no price" in told.message
    assert told.where == "work.jobs.one.parts.q"


def test_a_quantity_does_the_job_so_often_but_a_list_of_parts_is_for_all_of_it(
    bench: Callable[..., Bench],
) -> None:
    (once,) = bench(planned("one")).jobs
    (twice,) = bench(planned("one", quantity=2)).jobs
    listed = [{"id": "p", "label": "part 0", "price": 50}]
    (with_list,) = bench(planned("one", quantity=2, parts=listed)).jobs

    assert np.array_equal(twice.money, 2 * once.money)
    assert np.array_equal(twice.hours, 2 * once.hours)
    np.testing.assert_allclose(with_list.money, 50, rtol=1e-12)


def test_own_figures_for_one_job_leave_the_other_of_the_same_kind_alone(
    bench: Callable[..., Bench],
) -> None:
    own = {"low": 9, "likely": 9, "high": 9}
    first, second = bench(planned("one", hours=own, money=own), planned("two")).jobs

    assert np.all(first.hours == 9)
    assert np.all(first.money == 9)
    assert np.quantile(second.hours, 0.5) == pytest.approx(2, rel=0.01)


def test_a_shop_takes_money_instead_of_own_hours(bench: Callable[..., Bench]) -> None:
    rate = {"low": 100, "likely": 100, "high": 100}
    (mine,) = bench(planned("one"), deal={"shop_rate": rate}).jobs
    (theirs,) = bench(planned("one", done_by="shop"), deal={"shop_rate": rate}).jobs

    assert np.all(theirs.hours == 0)
    assert np.array_equal(theirs.money, theirs.bill)
    assert np.all(theirs.money > mine.money + 100 * mine.hours - 1e-9), "a shop marks parts up"


def test_dropped_jobs_are_not_reckoned_with(bench: Callable[..., Bench]) -> None:
    found = bench(planned("one", stage="dropped"), planned("two", after=["one"]))

    assert [one.planned.id for one in found.jobs] == ["two"]


def test_jobs_come_after_what_they_wait_for(bench: Callable[..., Bench]) -> None:
    found = bench(planned("one", after=["two"]), planned("two", "b"))

    assert [one.planned.id for one in found.jobs] == ["two", "one"]


def test_access_is_opened_by_the_first_that_needs_it_and_covered_access_by_nobody(
    bench: Callable[..., Bench], job: Callable[..., dict[str, Any]]
) -> None:
    groups = {"small": (), "large": ("small",), "other": ()}
    needed = {"x": ("small",), "y": ("large",), "z": ("large", "other")}
    plain = bench(
        planned("x", "a"),
        planned("y", "b"),
        planned("z", "c"),
        own=[job("a"), job("b"), job("c")],
    )
    jobs = [replace(one, access=needed[one.planned.id]) for one in plain.jobs]

    assert openings(jobs, groups) == {"x": (), "y": ("large",), "z": ("other",)}


# --- the day plan ---------------------------------------------------------------------------------


def test_the_plan_waits_for_parts_and_takes_shared_access_off_once(
    bench: Callable[..., Bench], reference: Reference
) -> None:
    found = bench(
        planned("one", parts=[{"id": "p", "label": "part 0", "price": 5, "delivery_days": 3}]),
        planned("two", "b"),
        deal={"hours_per_day": 3},
    )
    plan = day_plan(found, ON, {"one": 2.0, "two": 1.5})
    off = [step.hours for day in plan.days for step in day.steps if step.access]
    wheels = float(reference.access["wheels_off_front"].hours.likely)

    assert plan.order == ("two", "one"), "what has its parts goes first"
    assert sum(off) == pytest.approx(wheels)
    assert plan.hours == pytest.approx(3.5 + wheels)
    assert plan.slots[1].begins == date(2026, 7, 4)


def test_access_that_is_off_already_only_has_to_be_put_back(
    bench: Callable[..., Bench], reference: Reference
) -> None:
    found = bench(planned("one", stage="started"), planned("two", "b"))
    plan = day_plan(found, ON, {"one": 1.0, "two": 1.5})
    wheels = float(reference.access["wheels_off_front"].hours.likely)

    assert plan.hours == pytest.approx(2.5 + PUT_BACK * wheels, abs=0.051), "in whole tenths"


@pytest.mark.parametrize(
    ("part", "due"),
    [
        ({"arrived_on": "2026-06-30"}, None),
        ({"ordered_on": "2026-06-29", "delivery_days": 4}, date(2026, 7, 3)),
        ({"ordered_on": "2026-06-01", "delivery_days": 4}, ON),
        ({"delivery_days": 10}, date(2026, 7, 11)),
    ],
)
def test_when_parts_are_here(bench: Callable[..., Bench], part: Any, due: date | None) -> None:
    """A late part is not in the past: it is due today at the earliest."""
    found = bench(planned("one", parts=[{"id": "p", "label": "part 0"} | part]))

    assert parts_here(found.jobs[0], ON, found.workshop.lookup) == due
