"""The charts: the figures drawn are those of the appraisal, and the words say the same."""

from __future__ import annotations

from decimal import Decimal
from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appraise import services
from appraise.models.appraisal import Appraisal, Outcome, Quantiles
from appraise.models.case import Case
from ui.plots import bid as charts
from ui.plots.diagnose import signs_and_faults
from ui.words import money

CASES = services.example_cases()
OKABE_ITO = {"#000000", "#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7"}
"""Okabe and Ito, Color Universal Design (2002, revised 2008), as hexadecimal sRGB."""


FIRST = services.appraise_case(CASES[0], services.reference_values())
assert FIRST.outcome is not None
OUTCOME: Outcome = FIRST.outcome


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


def test_asked_and_sold_differ_in_shape_not_in_color_alone(
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
    assert list(bars.measure) == [*["relative"] * len(steps), "total"]
    assert list(bars.y)[-1] == "Profit"


def test_a_loss_has_another_color_than_a_margin_and_its_sign_in_the_words() -> None:
    case = next(one for one in CASES if one.id == "premium-overheats")
    outcome = services.appraise_case(case, services.reference_values()).outcome
    assert outcome is not None
    assert outcome.margin.mean < 0
    won = outcome.model_copy(
        update={"margin": Quantiles(**dict.fromkeys(Quantiles.model_fields, Decimal(500)))}
    )
    (lost_bars,), (won_bars,) = (charts.waterfall(one, "USD").figure.data for one in (outcome, won))

    assert lost_bars.totals.marker.color == charts.VERMILION
    assert won_bars.totals.marker.color == charts.GREEN
    for bars in (lost_bars, won_bars):
        others = {bars.increasing.marker.color, bars.decreasing.marker.color}
        assert not others & {charts.VERMILION, charts.GREEN}
        assert "absolute" not in bars.measure, "it would take the color of the total"
    assert f"profit {money(outcome.margin.mean)}" in charts.waterfall(outcome, "USD").words


# --- on a phone: 390 pixels wide leave 358 to a chart ---------------------------------------------

CHART, MARGINS, DIGIT, SMALL = 358.0, 16.0, 6.0, 6.3
"""Pixels: a chart's width and margins, a digit of a text and a letter of a label, as measured in a
browser at 12 pixels' height."""


def outside(chart: charts.Chart) -> list[str]:
    """Return the texts that reach beyond the plot on a phone, into the labels or its end."""
    found = []
    low, high = chart.figure.layout.xaxis.range
    for bars in chart.figure.data:
        longest = max(len(line) for one in bars.y for line in one.split("<br>"))
        plot = CHART - MARGINS - SMALL * longest
        ends = list(bars.x)
        if bars.type == "waterfall":
            ends = [*accumulate(bars.x[:-1]), bars.x[-1]]
        for end, text in zip(ends, bars.text, strict=True):
            at = (end - low) / (high - low) * plot
            away = DIGIT * len(text) + 4
            inside = at - away >= 0 if text.startswith(charts.MINUS) else at + away <= plot
            found += [] if inside else [text]
    return found


def outcome_of(steps: list[int], base: Outcome) -> Outcome:
    """Return an outcome with these steps; what they come to is the margin."""
    made = [
        one.model_copy(update={"amount": Decimal(amount)})
        for one, amount in zip(base.steps, steps, strict=True)
    ]
    mean = base.margin.model_copy(update={"mean": Decimal(sum(steps))})
    return base.model_copy(update={"steps": tuple(made), "margin": mean})


def test_no_text_of_a_bar_is_cut_on_a_phone(appraisal: Appraisal) -> None:
    outcome = appraisal.outcome or appraisal.at_walk_away
    assert outcome is not None
    shown = [charts.waterfall(outcome, "USD"), charts.drivers(appraisal)]

    assert [text for one in shown for text in outside(one)] == []


@given(
    sale=st.integers(500, 90_000),
    costs=st.lists(st.integers(-60_000, 0), min_size=12, max_size=12),
)
def test_no_minus_is_lost_whatever_is_earned_or_lost(sale: int, costs: list[int]) -> None:
    base = OUTCOME
    chart = charts.waterfall(outcome_of([sale, *costs][: len(base.steps)], base), "USD")
    (bars,) = chart.figure.data

    assert outside(chart) == []
    for amount, text in zip(bars.x, bars.text, strict=True):
        assert text.startswith(charts.MINUS) == (float(f"{amount:.0f}") < 0)


def test_a_long_label_is_wrapped_and_has_the_height_for_it(appraisal: Appraisal) -> None:
    figure = charts.drivers(appraisal).figure
    (bars,) = figure.data
    tallest = max(one.count("<br>") + 1 for one in bars.y)

    assert all(len(line) <= 24 for one in bars.y for line in one.split("<br>"))
    assert figure.layout.height >= len(bars.y) * tallest * 16


def test_the_doubts_are_shown_the_largest_first_and_no_more_than_asked(
    appraisal: Appraisal,
) -> None:
    (bars,) = charts.drivers(appraisal, most=3).figure.data

    assert len(bars.x) == min(3, len(appraisal.drivers))
    assert list(bars.x) == sorted(bars.x, reverse=True)
    assert charts.drivers(appraisal, most=3).words.count("%") == len(bars.x)


def test_every_color_is_one_that_the_color_blind_tell_apart() -> None:
    named = {charts.BLUE, charts.ORANGE, charts.GREEN, charts.VERMILION, charts.SKY, charts.PURPLE}

    assert named <= OKABE_ITO
    assert len(named) == 6


def test_signs_stand_against_the_faults_that_show_them_by_number() -> None:
    reference = services.reference_values()
    case = CASES[0].model_copy(update={"findings": (), "papers": ()})
    for symptom in ("cooling.runs_hot", "engine.white_smoke_sweet"):
        case = services.finding_from_symptom(case, symptom, reference)
    found = services.diagnose_case(case, reference)
    chart = signs_and_faults(found)
    (cells,) = chart.figure.data

    assert len(cells.y) == len(found.signs) == 2
    assert list(cells.x) == [str(at) for at in range(1, len(cells.x) + 1)]
    for at, one in enumerate(found.faults[: len(cells.x)]):
        assert f"{at + 1} {one.label} (" in chart.words
        for row, sign in zip(cells.z, found.signs, strict=True):
            chance = dict(sign.shown_by).get(one.id)
            assert row[at] == (None if chance is None else float(chance))
