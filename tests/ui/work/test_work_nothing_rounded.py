"""Figures of a job that nobody touches in its form stay to the last digit."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from appraise.models.ranges import Range
from appraise.services.ownership.working import put_job

JOB = "liftgate-used-and-painted"
HOURS = Range(
    low=Decimal("1.2345"), likely=Decimal("2.3456"), high=Decimal("3.4567"), reads_as="bounds"
)


def test_own_hours_of_a_job(screens: Any, desk: Any) -> None:
    case = desk.planned()
    screens.put(put_job(case, desk.job(case, JOB).model_copy(update={"hours": HOURS})))
    window = desk.click(desk.section("Jobs"), f"job-change:{JOB}")
    next(one for one in window.text_area if str(one.key).endswith(":note")).set_value("seen")
    desk.press(window, "Save")

    kept = desk.job(screens.kept(case.id), JOB)
    assert (kept.note, kept.hours) == ("seen", HOURS)
