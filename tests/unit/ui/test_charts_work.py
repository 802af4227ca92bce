"""The chart of the work: what is drawn is the forecast, and the words say the same."""

from __future__ import annotations

from datetime import date

import pytest

from appraise import services
from appraise.models.case import Case
from appraise.models.forecast import Forecast
from appraise.services.ownership.deciding import forecast_case
from ui.plots.bid import BLUE, ORANGE, Chart
from ui.plots.repair import s_curve
from ui.words import money

ON = date(2026, 11, 25)
OWNED = [one for one in services.example_cases() if one.purchase is not None]


@pytest.fixture(scope="module", params=OWNED, ids=lambda one: one.id)
def forecast(request: pytest.FixtureRequest) -> Forecast:
    case: Case = request.param
    return forecast_case(case, services.reference_values(), ON)


@pytest.fixture
def drawn(forecast: Forecast) -> Chart:
    return s_curve(forecast)


def trace(chart: Chart, name: str) -> object:
    (found,) = [one for one in chart.figure.data if one.name == name]
    return found


@pytest.mark.parametrize(
    ("name", "field"),
    [
        ("Budget of the jobs done", "planned"),
        ("Paid", "actual"),
        ("Where it is going, middle", "likely"),
    ],
)
def test_each_line_runs_through_the_points_of_the_forecast(
    forecast: Forecast, drawn: Chart, name: str, field: str
) -> None:
    line = trace(drawn, name)
    points = [one for one in forecast.curve if getattr(one, field) is not None]

    assert len(points) > 1
    assert list(line.x) == [one.on for one in points]
    assert list(line.y) == [float(getattr(one, field)) for one in points]


def test_the_fan_goes_out_along_the_high_edge_and_back_along_the_low(
    forecast: Forecast, drawn: Chart
) -> None:
    fan = trace(drawn, "8 in 10 within")
    points = [one for one in forecast.curve if one.likely is not None]
    count = len(points)

    assert list(fan.y[:count]) == [float(one.high) for one in points]
    assert list(fan.y[count:])[::-1] == [float(one.low) for one in points]
    assert list(fan.x[:count]) == list(fan.x[count:])[::-1] == [one.on for one in points]


def test_the_fan_begins_today_at_what_is_paid(forecast: Forecast, drawn: Chart) -> None:
    fan = trace(drawn, "8 in 10 within")

    assert fan.x[0] == ON
    assert fan.y[0] == fan.y[-1] == float(forecast.paid)


def test_today_and_the_budget_are_marked_and_named(forecast: Forecast, drawn: Chart) -> None:
    up, across = (
        [one for one in drawn.figure.layout.shapes if one[f"{axis}0"] == one[f"{axis}1"]]
        for axis in ("x", "y")
    )

    assert [one.x0 for one in up] == [f"{ON}"]
    assert [one.y0 for one in across] == [float(forecast.budget.p50)]
    texts = {one.text for one in drawn.figure.layout.annotations}
    assert texts == {"today", f"budget {money(forecast.budget.p50)}"}


def test_lines_differ_in_more_than_color(drawn: Chart) -> None:
    lines = [one for one in drawn.figure.data if one.line.width]

    assert len({one.line.dash for one in lines}) == len(lines) == 3
    assert {one.line.color for one in lines} <= {BLUE, ORANGE}


def test_the_words_name_what_is_paid_the_end_its_range_and_the_budget(
    forecast: Forecast, drawn: Chart
) -> None:
    end = forecast.at_end
    for figure in (forecast.paid, end.p10, end.p50, end.p90, forecast.budget.p50):
        assert money(figure) in drawn.words
    assert f"{forecast.ends_on}" in drawn.words
    assert forecast.currency in drawn.words


def test_without_a_day_plan_what_was_paid_is_still_drawn(forecast: Forecast) -> None:
    curve = tuple(one for one in forecast.curve if one.likely is None)
    chart = s_curve(forecast.model_copy(update={"curve": curve, "ends_on": None}))

    assert [one.name for one in chart.figure.data] == ["Budget of the jobs done", "Paid"]
    assert "None" not in chart.words
