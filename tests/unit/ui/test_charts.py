"""The charts: the figures drawn are those of the appraisal, and the words say the same."""

from __future__ import annotations

from decimal import Decimal

import pytest

from appraise import services
from appraise.models.appraisal import Appraisal, Quantiles
from appraise.models.case import Case
from ui import charts
from ui.words import money

CASES = services.example_cases()
OKABE_ITO = {"#000000", "#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7"}
"""Okabe and Ito, Color Universal Design (2002, revised 2008), as hexadecimal sRGB."""


@pytest.fixture(scope="module", params=CASES, ids=lambda one: one.id)
def case(request: pytest.FixtureRequest) -> Case:
    found: Case = request.param
    return found


@pytest.fixture(scope="module")
def appraisal(case: Case) -> Appraisal:
    return services.appraise_case(case, services.reference_values())


def traces(chart: charts.Chart) -> dict[str, object]:
    return {one.name: one for one in chart.figure.data}


def test_the_price_chart_shows_every_comparable_that_was_used(
    case: Case, appraisal: Appraisal
) -> None:
    chart = charts.resale(case, appraisal.resale, case.currency)
    drawn = [
        (round(x), round(y))
        for one in chart.figure.data
        if one.name.startswith(("Asked", "Sold"))
        for x, y in zip(one.x, one.y, strict=True)
    ]
    scale = 1 if case.vehicle.odometer.unit == "mi" else 1.609344
    expected = [
        (round(float(one.miles) * scale), round(float(one.at_this_age)))
        for one in appraisal.resale.points
    ]

    assert sorted(drawn) == sorted(expected)


def test_asked_and_sold_differ_in_shape_not_in_colour_alone(
    case: Case, appraisal: Appraisal
) -> None:
    chart = charts.resale(case, appraisal.resale, case.currency)
    symbols = [
        one.marker.symbol for one in chart.figure.data if one.name.startswith(("Asked", "Sold"))
    ]

    assert len(symbols) == len(set(symbols)) > 0


def test_this_car_stands_at_its_own_odometer_between_its_tenths(
    case: Case, appraisal: Appraisal
) -> None:
    (here,) = [
        one
        for one in charts.resale(case, appraisal.resale, case.currency).figure.data
        if one.name.startswith("This car")
    ]
    mended = appraisal.resale.mended

    assert here.x[0] == float(case.vehicle.odometer.value)
    assert here.y[0] == float(mended.p50)
    assert here.y[0] + here.error_y.array[0] == pytest.approx(float(mended.p90), abs=0.01)
    assert here.y[0] - here.error_y.arrayminus[0] == pytest.approx(float(mended.p10), abs=0.01)


def test_the_words_of_the_price_chart_name_the_price_and_its_tenths(
    case: Case, appraisal: Appraisal
) -> None:
    words = charts.resale(case, appraisal.resale, case.currency).words

    mended = appraisal.resale.mended
    for figure in (mended.p10, mended.p50, mended.p90):
        assert money(figure) in words
    assert case.currency in words


def test_the_bid_curve_falls_and_rises_and_marks_the_walk_away_price(appraisal: Appraisal) -> None:
    chart = charts.bid_curve(appraisal, 1200.0, 0.8)
    loss, target = chart.figure.data

    assert list(loss.y) == sorted(loss.y)
    assert list(target.y) == sorted(target.y, reverse=True)
    assert loss.line.dash != target.line.dash
    marks = [one.text for one in chart.figure.layout.annotations]
    price = appraisal.walk_away_price
    assert any("walk away above" in one for one in marks) is (price is not None)
    if price is not None:
        assert f"{price:,}" in chart.words


def test_the_steps_from_sale_to_margin_add_up(appraisal: Appraisal) -> None:
    """Within a unit a step: each is shown rounded."""
    outcome = appraisal.outcome or appraisal.at_walk_away
    assert outcome is not None
    (bars,) = charts.waterfall(outcome, appraisal.currency).figure.data
    *steps, total = bars.x

    assert sum(steps) == pytest.approx(total, abs=len(steps))
    assert list(bars.measure) == ["absolute", *["relative"] * (len(steps) - 1), "total"]
    assert list(bars.y)[-1] == "Margin"


def test_a_loss_has_another_colour_than_a_margin_and_its_sign_in_the_words() -> None:
    case = next(one for one in CASES if one.id == "premium-overheats")
    outcome = services.appraise_case(case, services.reference_values()).outcome
    assert outcome is not None
    assert outcome.margin.mean < 0
    won = outcome.model_copy(
        update={"margin": Quantiles(**dict.fromkeys(Quantiles.model_fields, Decimal(500)))}
    )
    lost_bar, won_bar = (
        charts.waterfall(one, "USD").figure.data[0].totals.marker.color for one in (outcome, won)
    )

    assert lost_bar != won_bar
    assert f"margin {money(outcome.margin.mean)}" in charts.waterfall(outcome, "USD").words


def test_the_doubts_are_shown_the_largest_first_and_no_more_than_asked(
    appraisal: Appraisal,
) -> None:
    (bars,) = charts.drivers(appraisal, most=3).figure.data

    assert len(bars.x) == min(3, len(appraisal.drivers))
    assert list(bars.x) == sorted(bars.x, reverse=True)
    assert charts.drivers(appraisal, most=3).words.count("%") == len(bars.x)


def test_every_colour_is_one_that_the_colour_blind_tell_apart() -> None:
    named = {charts.BLUE, charts.ORANGE, charts.GREEN, charts.VERMILION, charts.SKY, charts.PURPLE}

    assert named <= OKABE_ITO
    assert len(named) == 6
