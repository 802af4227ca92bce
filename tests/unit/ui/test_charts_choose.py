"""The charts of choosing and of a logged pull: drawn is what was given, and the words say it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from appraise.engine.measure.full_load import Overlay
from appraise.models.appraisal import Quantiles
from appraise.models.choices import ChoiceKind, FrontierPoint, OptionView
from ui.plots import decide as charts_choose

OKABE_ITO = {"#000000", "#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7"}
"""Okabe and Ito, Color Universal Design (2002, revised 2008), as hexadecimal sRGB."""
GRAY = "#8A8A8A"
KINDS: tuple[ChoiceKind, ...] = ("best", "as is", "keep")


def quantiles(low: int, middle: int, high: int, mean: int) -> Quantiles:
    return Quantiles(
        mean=Decimal(mean),
        p10=Decimal(low),
        p50=Decimal(middle),
        p90=Decimal(high),
        mean_error=Decimal(0),
        p50_error=Decimal(0),
    )


def option(kind: ChoiceKind, label: str, net: Quantiles) -> OptionView:
    nothing = quantiles(0, 0, 0, 0)
    return OptionView(
        kind=kind,
        label=label,
        jobs=(),
        net=net,
        price=net,
        money=nothing,
        hours=nothing,
        days=None,
        worse_than_selling_now=Decimal(0),
    )


def point(money: int, hours: str, net: int, *jobs: str) -> FrontierPoint:
    return FrontierPoint(
        money=Decimal(money),
        hours=Decimal(hours),
        net=quantiles(net - 500, net - 50, net + 900, net),
        jobs=jobs,
    )


OPTIONS = (
    option("best", "Repair what pays best", quantiles(2000, 5000, 9000, 5400)),
    option("as is", "Sell it as is", quantiles(400, 1400, 4800, 2100)),
    option("keep", "Put it right & keep it <b>", quantiles(2600, 5400, 9200, 5700)),
)
POINTS = (
    point(800, "15.4", 3400, "pipes", "pads"),
    point(820, "16.0", 3450, "pipes", "pads", "filter"),
    point(1700, "19.9", 4170, "pipes", "pads", "tailgate"),
    point(1900, "24.1", 5540, "pipes", "pads", "tailgate", "filter"),
)
LABELS = {
    "pipes": "Brake pipes",
    "pads": "Rear pads",
    "filter": "Cabin filter",
    "tailgate": "Tailgate <script>",
}


def markers(chart: Any) -> list[Any]:
    return [one for one in chart.figure.data if one.mode and "markers" in one.mode]


# --- net of each option -----------------------------------------------------------------------


def test_each_option_is_a_dot_at_its_average_between_its_tenths_in_the_order_given() -> None:
    dots = markers(charts_choose.nets(OPTIONS, "USD"))

    assert [one.x[0] for one in dots] == [float(one.net.mean) for one in OPTIONS]
    for dot, given in zip(dots, OPTIONS, strict=True):
        assert dot.x[0] + dot.error_x.array[0] == float(given.net.p90)
        assert dot.x[0] - dot.error_x.arrayminus[0] == float(given.net.p10)
    assert charts_choose.nets(OPTIONS, "USD").figure.layout.yaxis.autorange == "reversed"


def test_selling_as_it_stands_is_a_line_and_has_another_shape_not_color_alone() -> None:
    chart = charts_choose.nets(OPTIONS, "USD")
    best, now, keep = markers(chart)

    assert now.marker.symbol not in (best.marker.symbol, keep.marker.symbol)
    (line,) = chart.figure.layout.shapes
    assert line.x0 == line.x1 == float(OPTIONS[1].net.mean)
    assert [one.text for one in chart.figure.layout.annotations] == ["sold as is"]


def test_a_loss_takes_the_color_of_a_loss_and_keeps_its_sign() -> None:
    net = quantiles(-1200, -400, 300, -380)
    lost = OPTIONS[0].model_copy(update={"net": net})
    bar, _ = charts_choose.nets([lost, OPTIONS[1]], "USD").figure.data
    won, _ = charts_choose.nets([OPTIONS[0], OPTIONS[1]], "USD").figure.data

    assert bar.marker.color == bar.error_x.color == charts_choose.VERMILION
    assert won.marker.color != charts_choose.VERMILION
    assert bar.text == ("\N{MINUS SIGN}380",)


def test_a_net_at_the_right_edge_has_room_for_its_figure_on_a_phone() -> None:
    wide = OPTIONS[0].model_copy(update={"net": quantiles(21_800, 21_900, 22_000, 21_900)})
    axis = charts_choose.nets([wide], "USD").figure.layout.xaxis
    plot = 358 - 20 - 17 * 6.3  # the width of a chart less margins and labels, in pixels

    assert (axis.range[1] - 21_900) / (axis.range[1] - axis.range[0]) * plot >= 6 * 6


def test_without_selling_as_it_stands_there_is_no_line() -> None:
    chart = charts_choose.nets((OPTIONS[0], OPTIONS[2]), "USD")

    assert not chart.figure.layout.shapes
    assert len(markers(chart)) == 2


def test_the_words_of_the_options_name_each_average_with_its_tenths() -> None:
    words = charts_choose.nets(OPTIONS, "EUR").words

    assert "EUR" in words
    for one in OPTIONS:
        net = one.net
        assert f"{one.label} {net.mean:,} ({net.p10:,} to {net.p90:,})" in words


def test_text_that_looks_like_markup_is_drawn_as_text() -> None:
    """Plotly draws <b> and <a> in its own text."""
    chart = charts_choose.nets(OPTIONS, "USD")
    tailgate = charts_choose.frontier(POINTS, None, LABELS, "USD", "money")

    labels = [one.y[0] for one in markers(chart)]
    assert "&lt;b&gt;" in labels[2].replace("<br>", " ")
    assert all("<b>" not in one for one in labels)
    assert "&lt;script&gt;" in markers(tailgate)[0].customdata[2][1]


# --- what each point adds ---------------------------------------------------------------------


def test_each_point_is_named_by_what_it_does_beyond_the_one_before() -> None:
    assert charts_choose.beyond(POINTS, LABELS) == (
        "Brake pipes; Rear pads",
        "Cabin filter",
        "Tailgate <script>; without: Cabin filter",
        "Cabin filter",
    )


def test_a_point_that_does_nothing_or_only_leaves_out_says_so() -> None:
    steps = (point(0, "0", 100), point(10, "1", 200, "pads"), point(20, "2", 300))

    assert charts_choose.beyond(steps, LABELS) == (
        "nothing done",
        "Rear pads",
        "without: Rear pads",
    )


def test_a_job_without_a_label_keeps_its_id() -> None:
    assert charts_choose.beyond((point(1, "1", 1, "odd"),), {}) == ("odd",)


# --- the frontier -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("by", "at"), [("money", [800, 820, 1700, 1900]), ("hours", [15.4, 16.0, 19.9, 24.1])]
)
def test_the_frontier_is_drawn_at_its_outlay_and_its_average_net(by: Any, at: list[float]) -> None:
    (line,) = markers(charts_choose.frontier(POINTS, OPTIONS[1], LABELS, "USD", by))

    assert list(line.x) == pytest.approx(at)
    assert list(line.y) == [3400.0, 3450.0, 4170.0, 5540.0]
    assert [one[0] for one in line.customdata] == [1, 2, 3, 4]
    assert line.line.shape == "hv"


def test_a_number_is_left_out_where_it_would_lie_over_another_but_never_the_last() -> None:
    (line,) = markers(charts_choose.frontier(POINTS, None, LABELS, "USD", "money"))

    assert list(line.text) == ["1", "", "3", "4"]


def test_selling_as_it_stands_crosses_the_frontier_at_its_average() -> None:
    chart = charts_choose.frontier(POINTS, OPTIONS[1], LABELS, "USD", "money")

    (line,) = chart.figure.layout.shapes
    assert (line.y0, line.y1) == (2100.0, 2100.0)
    assert line.line.dash == "dash"
    assert [one.name for one in chart.figure.data][1] == "sold as is"


def test_the_words_of_the_frontier_name_its_ends() -> None:
    by_money = charts_choose.frontier(POINTS, None, LABELS, "USD", "money").words
    by_hours = charts_choose.frontier(POINTS, None, LABELS, "USD", "hours").words

    assert by_money.startswith("Putting in 800 USD brings 3,400 USD net on average; 1,900 USD")
    assert by_hours.startswith("Putting in 15.4 h brings 3,400 USD net on average; 24.1 h")


def test_one_point_and_none_are_drawn_too() -> None:
    (line,) = markers(charts_choose.frontier(POINTS[:1], None, LABELS, "USD", "money"))
    nothing = charts_choose.frontier((), None, {}, "USD", "money")

    assert list(line.text) == ["1"]
    assert nothing.words == "There is nothing to choose from."


# --- a logged pull ----------------------------------------------------------------------------

LAID = Overlay(
    rpm=np.array([2000.0, 2100.0, 2200.0]),
    before=np.array([30.0, 40.0, 50.0]),
    after=np.array([60.0, 80.0, 100.0]),
)


def test_the_pull_after_lies_over_the_one_before_in_the_unit_shown() -> None:
    chart = charts_choose.pulls(LAID, "Boost", "bar", factor=0.01)
    before, after = chart.figure.data

    assert list(before.y) == pytest.approx([0.3, 0.4, 0.5])
    assert list(after.y) == pytest.approx([0.6, 0.8, 1.0])
    assert list(before.x) == list(after.x) == [2000.0, 2100.0, 2200.0]
    assert before.line.dash != after.line.dash
    assert "on average 0.4 bar before and 0.8 after, +0.4" in chart.words
    assert "2,000 to 2,200 rpm" in chart.words


def test_the_target_is_a_band_that_is_named() -> None:
    chart = charts_choose.pulls(LAID, "Boost", "kPa", (70.0, 110.0))

    (band,) = chart.figure.layout.shapes
    assert (band.y0, band.y1) == (70.0, 110.0)
    assert [one.text for one in chart.figure.layout.annotations] == ["target"]


def test_pulls_that_share_nothing_are_said_to() -> None:
    empty = np.empty(0)
    chart = charts_choose.pulls(Overlay(empty, empty, empty, ("apart",)), "Boost", "kPa")

    assert chart.words == "The two pulls cannot be laid over each other."


def test_every_color_is_gray_or_one_that_the_color_blind_tell_apart() -> None:
    shown = [
        charts_choose.nets(OPTIONS, "USD"),
        charts_choose.frontier(POINTS, OPTIONS[1], LABELS, "USD", "money"),
        charts_choose.pulls(LAID, "Boost", "kPa", (70.0, 110.0)),
    ]
    used = {
        color
        for chart in shown
        for trace in chart.figure.data
        for color in (trace.line.color, trace.marker.color)
        if color is not None
    }

    assert used
    assert used <= OKABE_ITO | {GRAY}
