"""What stands on several pages of an owned car is one figure, in one order, by one plan."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest

from appraise.engine.decide.options import prospects_of
from appraise.engine.decide.selection import net_of
from appraise.models.choices import Choices
from appraise.models.work import Stage
from appraise.reports.choose_page import choose_page
from appraise.reports.forecast_page import forecast_page
from appraise.services import changed, today
from appraise.services.output.tables import car_tables
from appraise.services.ownership.deciding import choose_case, day_plan_of, forecast_case
from appraise.services.ownership.shopping import cores_to_return, part_rows
from ui.session import cached
from ui.words import money

CARS = ("farm-truck-owned", "wagon-half-repaired")
SALES = ("best", "what must be done", "all repairs")
LEAST = 0.05


def chosen(screens: Any, car: str) -> Choices:
    return choose_case(screens.kept(car), cached.reference())


@pytest.mark.parametrize("car", CARS)
def test_the_same_jobs_take_and_bring_the_same_wherever_they_stand(
    screens: Any, said: Any, car: str
) -> None:
    found = chosen(screens, car)
    window = screens.window("decide", car)
    told, text = said(window), choose_page(screens.kept(car), found)
    points = {one.jobs: one for one in (*found.by_money, *found.by_hours)}
    both = [(one, points[one.jobs]) for one in found.options if one.kind in SALES]

    assert both
    for option, point in both:
        assert (option.money.mean, option.hours.mean) == (point.money, point.hours)
        assert option.net == point.net
        net, spent, hours = money(option.net.mean), money(option.money.mean), option.hours.mean
        assert f"Money in: **{spent}**" in told
        assert f"Your hours: **{hours:.1f}**" in told
        row = rf"{net} .*{spent} +{hours:.1f}|{spent} +{hours:.1f} .*{net}"
        assert len(re.findall(row, text)) >= 2, "an option and a point of the frontier"
    for one in found.by_money:
        assert f"**{money(one.money)} USD, {one.hours:.1f} h: net {money(one.net.mean)}**" in told


@pytest.mark.parametrize("car", CARS)
def test_the_highest_stands_first_wherever_options_are_in_order(
    screens: Any, said: Any, car: str
) -> None:
    found = chosen(screens, car)
    window = screens.window("decide", car)
    nets = [one.net.mean for one in found.options if one.ranked]
    shown = [one.value for one in window.metric if one.label == "Net from today"]
    words = re.search(r"the highest first: (.*?)\.\n", said(window))

    assert nets == sorted(nets, reverse=True)
    in_order = [int(one.replace(",", "")) for one in shown][: len(set(nets))]
    assert in_order == sorted(in_order, reverse=True)
    assert words is not None
    drawn = [int(one.replace(",", "")) for one in re.findall(r" (-?[\d,]+) \(", words[1])]
    assert drawn == sorted(drawn, reverse=True)
    assert set(drawn) <= {round(one) for one in nets}
    last = found.options[-1]
    assert last.ranked or last.words.startswith("Not ranked")


@pytest.mark.parametrize("car", CARS)
def test_what_is_to_come_is_the_money_in_of_all_that_is_open(
    screens: Any, said: Any, desk: Any, car: str
) -> None:
    case, reference = screens.kept(car), cached.reference()
    forecast = forecast_case(case, reference)
    found = prospects_of(case, reference)
    selection = found.selection()
    every = net_of(selection, frozenset(one.name for one in selection.items))
    drawn = found.sold(every.chosen, every.access)

    assert float(forecast.to_come.mean) == pytest.approx(drawn.money.mean(), abs=0.01)
    assert float(forecast.hours_to_come.mean) == pytest.approx(drawn.hours.mean(), abs=0.01)
    ends = said(desk.section("Where it ends", car))
    assert f"{money(forecast.to_come.mean)} to come make" in ends
    assert f"On average {money(forecast.to_come.mean)} to come" in forecast_page(case, forecast)
    jobs = said(desk.section("Jobs", car))
    begun = [one for one in forecast.jobs if one.worked and one.stage is not Stage.DONE]
    assert begun
    for one in begun:
        left = f"{money(one.to_come.mean)} USD and {one.hours_to_come.mean:.1f} h on average"
        assert f"to come {left}" in jobs


@pytest.mark.parametrize("car", CARS)
def test_what_is_spent_is_one_figure(screens: Any, said: Any, desk: Any, car: str) -> None:
    case, reference = screens.kept(car), cached.reference()
    found, forecast = chosen(screens, car), forecast_case(case, reference)
    told = said(screens.window("decide", car))
    ends = {one.label: one.value for one in desk.section("Where it ends", car).metric}
    rows = part_rows(case, reference, today())
    cores = sum((one.left for one in cores_to_return(case, reference)), Decimal(0))

    assert found.spent.repair == forecast.paid
    assert found.spent.hours == forecast.worked
    assert found.spent.landed == forecast.landed_paid
    assert found.spent.deposits_out == forecast.deposits_out == cores
    assert f"repair {money(forecast.paid)}" in told
    assert ends["Paid so far"] == money(found.spent.repair)
    assert ends["Deposits out"] == money(found.spent.deposits_out)
    ordered = sum(
        (one.total or Decimal(0) for one in rows if one.state in ("ordered", "late")), Decimal(0)
    )
    assert forecast.committed == ordered
    assert ends["Ordered, not paid"] == money(ordered)


@pytest.mark.parametrize("car", CARS)
@pytest.mark.parametrize("a_day", [None, 1, "1.5", 4])
def test_there_is_one_plan_and_each_job_is_worked_on_the_days_it_begins_and_ends(
    screens: Any, car: str, a_day: Any
) -> None:
    case, reference = screens.kept(car), cached.reference()
    if a_day is not None:
        case = changed(case, ("deal", "hours_per_day"), a_day)
    plan = day_plan_of(case, reference).plan
    days = {day.on: day for day in plan.days}

    assert forecast_case(case, reference).ends_on == plan.finish == max(days)
    assert plan.hours == pytest.approx(sum(day.hours for day in plan.days))
    for slot in plan.slots:
        for on in (slot.begins, slot.ends):
            mine = sum(step.hours for step in days[on].steps if step.task == slot.name)
            assert mine >= LEAST or slot.name in days[on].at_shop, (slot, on)


@pytest.mark.parametrize("car", CARS)
def test_the_pages_and_tables_show_that_plan(screens: Any, said: Any, desk: Any, car: str) -> None:
    case, reference = screens.kept(car), cached.reference()
    plan = day_plan_of(case, reference).plan
    told = said(desk.section("Days", car))
    tables = {one.name: one for one in car_tables(case, reference).tables}

    assert f"All done on {plan.finish}: {plan.hours:.1f} hours of your own" in told
    assert [tuple(row[1:3]) for row in tables["Days of each job"].rows] == [
        (one.begins, one.ends) for one in plan.slots
    ]
