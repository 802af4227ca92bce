"""Where it ends: the forecast's own figures, said at a glance."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from appraise.models.work import Stage
from appraise.reports.wording import chance_words
from appraise.services import changed
from appraise.services.ownership.bookkeeping import add_entry
from appraise.services.ownership.working import put_job
from ui.session import cached
from ui.words import money

CAR = "farm-truck-owned"
BYPASSED = "wagon-half-repaired"
DAY = date(2026, 11, 20)


def test_the_end_is_that_of_the_forecast(screens: Any, desk: Any, said: Any) -> None:
    forecast = cached.forecast(screens.kept(CAR))
    window = desk.section("Where it ends")

    shown = {one.label: one.value for one in window.metric}
    assert shown["At the end"] == money(forecast.at_end.p50)
    assert shown["Budget"] == money(forecast.budget.p50)
    assert shown["Paid so far"] == money(forecast.paid)
    assert shown["Ordered, not paid"] == money(forecast.committed)
    assert shown["Your hours worked"] == f"{forecast.worked:g}"
    assert f"{money(forecast.at_end.p10)} to {money(forecast.at_end.p90)}" in said(window)
    assert len(window.get("plotly_chart")) == 1
    assert "Your hours: going by the job done" in said(window)


@pytest.mark.parametrize("car", [CAR, BYPASSED])
def test_the_table_of_jobs_adds_up_to_what_is_paid_and_to_come(
    screens: Any, desk: Any, car: str
) -> None:
    """Within a unit a row: each is shown rounded."""
    forecast = cached.forecast(screens.kept(car))
    (shown,) = [one.value for one in desk.section("Where it ends", car).dataframe]
    table, sums = shown.iloc[:-1], shown.iloc[-1]
    many = len(table)

    assert table["Paid, USD"].sum() == pytest.approx(float(forecast.paid), abs=many)
    assert table["To come, USD"].sum() == pytest.approx(float(forecast.to_come.mean), abs=many)
    worked = table["Your hours worked"].sum()
    assert worked == pytest.approx(float(forecast.worked), abs=0.01)
    assert sums["Job"] == "Together"
    assert sums["Paid, USD"] == round(forecast.paid)
    assert sums["To come, USD"] == round(forecast.to_come.mean)


def test_what_was_spent_on_a_dropped_job_stays_in_the_table(screens: Any, desk: Any) -> None:
    screens.put(
        put_job(
            screens.kept(CAR),
            desk.job(screens.kept(CAR), "lines-to-rear").model_copy(
                update={"stage": Stage.DROPPED}
            ),
        )
    )
    forecast = cached.forecast(screens.kept(CAR))
    (shown,) = [one.value for one in desk.section("Where it ends").dataframe]
    table = shown.iloc[:-1]

    assert "Jobs dropped" in set(table["Job"])
    assert table["Paid, USD"].sum() == pytest.approx(float(forecast.paid), abs=len(table))


def test_money_spent_beyond_the_budget_is_said_at_a_glance(
    screens: Any, desk: Any, said: Any
) -> None:
    case = screens.kept(CAR)
    first = said(desk.section("Where it ends"))
    assert "Likely within budget" in first or "Likely over budget" in first
    one_number = chance_words(cached.forecast(case).chance_over_budget)
    assert f": {one_number} that it costs more" in first
    assert "between 1 in" not in first
    screens.put(add_entry(case, {"kind": "tool", "on": DAY, "amount": "5000.00"}))

    assert "Over budget, by about" in said(desk.section("Where it ends"))


def test_a_plan_not_begun_is_said_to_be_so(screens: Any, desk: Any, said: Any) -> None:
    case = desk.planned()
    screens.put(changed(case, ("purchase", "expected"), None))
    text = said(desk.section("Where it ends"))

    assert "Nothing is paid or worked yet" in text
    assert "of the plan as it is now" in text
    assert "Nothing yet: that takes a job that is done" in text
