"""The day plan, and the two figures that it hangs on."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise
from typing import Any

from appraise.services import today
from appraise.services.ownership.deciding import day_plan_of
from ui.session import cached

CAR = "farm-truck-owned"


def test_the_days_name_the_jobs_their_access_and_the_day_all_is_done(desk: Any, said: Any) -> None:
    case = desk.planned()
    found = day_plan_of(case, cached.reference())
    text = said(desk.section("Days"))

    assert f"All done on {found.plan.finish}" in text
    label = found.jobs["lines-to-rear"]
    assert f"{label}, first rear raised, rear wheels off" in text
    ids = [one.id for one in case.work.jobs]
    assert not [one for one in ids if f" {one}," in text or f" {one}." in text]
    assert "Waits for parts: " in text


def test_fewer_hours_a_day_and_a_later_start_end_later(screens: Any, desk: Any, key: Any) -> None:
    desk.planned()
    window = desk.section("Days")

    def finish() -> date | None:
        return day_plan_of(screens.kept(CAR), cached.reference()).plan.finish

    ends = [finish()]
    window.number_input(key=key(window, "deal", "hours_per_day")).set_value(0.5).run()
    ends.append(finish())
    later = today() + timedelta(days=90)
    window.date_input(key=key(window, "work", "start_on")).set_value(later).run()
    ends.append(finish())

    assert screens.kept(CAR).work.start_on == later
    assert all(a is not None and b is not None and a < b for a, b in pairwise(ends))
    assert f"All done on {ends[-1]}" in " ".join(
        one.value.replace("\\", "") for one in window.markdown
    )


def test_no_hours_a_day_are_refused_beside_the_field(
    screens: Any, desk: Any, key: Any, said: Any
) -> None:
    before = screens.kept(CAR).deal.hours_per_day
    window = desk.section("Days")
    window.number_input(key=key(window, "deal", "hours_per_day")).set_value(0.0).run()

    assert "must be 0.1 or more" in said(window)
    assert screens.kept(CAR).deal.hours_per_day == before
