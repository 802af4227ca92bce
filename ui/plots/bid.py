"""Charts: numbers in, Plotly figure and its words out; no screen and no state.

Colors are those of Okabe and Ito, told apart by the color-blind, and never carry meaning alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import accumulate
from textwrap import wrap

import plotly.graph_objects as go

from appraise.engine.papers.odometer import Reading
from appraise.models.appraisal import Appraisal, Outcome, Resale
from appraise.models.case import Case
from ui.words import chance_words, money

__all__ = [
    "Chart",
    "bid_curve",
    "blank",
    "drawn",
    "drivers",
    "odometer",
    "resale",
    "waterfall",
]

BLUE, ORANGE, GREEN, VERMILION = "#0072B2", "#E69F00", "#009E73", "#D55E00"
SKY, PURPLE, GRAY = "#56B4E9", "#CC79A7", "#8A8A8A"
HEIGHT = 380
FEW_TICKS = 5
LONGEST_LINE = 22
MOST_LINES = 4
PHONE, LEAST_PLOT = 350.0, 130.0
"""Pixels: width of a chart on a phone, and of what its labels leave to the bars at least."""
LETTER, ROUND_TEXT, LINE, BESIDE = 7.0, 8.0, 16, 18
"""Pixels: what a letter takes, the room round a text, a line's height, the room between bars."""
MINUS = "\N{MINUS SIGN}"


@dataclass(frozen=True, slots=True)
class Chart:
    """A figure with the same thing said in words, for those who cannot see it."""

    figure: go.Figure
    words: str


def drawn(text: str, width: int = 10_000, most: int | None = None) -> str:
    """Return a person's text as a chart draws it letter for letter.

    Left as it is, `<b>` and `<a href=...>` would become what they say, and `%{x}` a figure.

    Parameters
    ----------
    width : letters of a line.
    most : lines; what is beyond them is left out.
    """
    lines = wrap(text, width, max_lines=most, placeholder=" …")
    return "<br>".join(escape(one, quote=False).replace("%{", "%\u2060{") for one in lines)


def blank(height: int = HEIGHT, top: int = 16) -> go.Figure:
    """Return a figure without anything on it, laid out as all of them are."""
    figure = go.Figure()
    figure.update_layout(
        height=height,
        margin={"l": 8, "r": 8, "t": top, "b": 8},
        legend={"orientation": "h", "yanchor": "top", "y": -0.2, "x": 0.0},
        hoverlabel={"namelength": -1},
        dragmode=False,
    )
    figure.update_xaxes(automargin=True, fixedrange=True)
    figure.update_yaxes(automargin=True, fixedrange=True)
    return figure


BARS = {
    "orientation": "h",
    "textposition": "outside",
    "textangle": 0,
    "constraintext": "none",
    "cliponaxis": False,
}
"""Bars lie, each with its figure beyond its end."""


def _lying(figure: go.Figure, form: str, span: list[float]) -> None:
    """Have bars lie from the top down on an axis of that range."""
    figure.update_yaxes(autorange="reversed", title=None)
    figure.update_xaxes(tickformat=form, nticks=FEW_TICKS, range=span)
    figure.update_layout(showlegend=False, margin={"t": 8})


def beside(ends: Sequence[float], texts: Sequence[str], labels: Sequence[str]) -> list[float]:
    """Return the range of an axis on which the text beyond each bar's end is whole on a phone.

    Parameters
    ----------
    ends : where each bar ends; a text that begins with a minus lies to the left of it.
    texts, labels : beyond each bar, and before all of them.
    """
    longest = max((len(line) for one in labels for line in one.split("<br>")), default=0)
    plot = max(LEAST_PLOT, PHONE - LETTER * longest - 2 * ROUND_TEXT)
    shares = [(LETTER * len(one) + ROUND_TEXT) / plot for one in texts]
    low, high = min([0.0, *ends]), max([0.0, *ends])
    full = (high - low or 1.0) / max(0.2, 1 - 2 * max(shares, default=0.0))
    bars = list(zip(ends, texts, shares, strict=True))
    return [
        min([low, *(end - share * full for end, text, share in bars if text.startswith(MINUS))]),
        max([high, *(end + share * full for end, text, share in bars if text[:1] != MINUS)]),
    ]


def _lines(labels: Sequence[str]) -> int:
    return max((one.count("<br>") + 1 for one in labels), default=1)


def resale(case: Case, result: Resale, currency: str) -> Chart:
    """Return the comparables with the fitted price, its band, and this car on it."""
    unit = case.vehicle.odometer.unit
    scale = 1.0 if unit == "mi" else 1.609344
    figure = blank()
    at = [float(point.miles) * scale for point in result.band]
    figure.add_scatter(
        x=at + at[::-1],
        y=[float(one.p90) for one in result.band] + [float(one.p10) for one in result.band][::-1],
        fill="toself",
        fillcolor="rgba(86,180,233,0.25)",
        line={"width": 0},
        name="8 in 10 sell within",
        hoverinfo="skip",
    )
    figure.add_scatter(
        x=at,
        y=[float(one.p50) for one in result.band],
        mode="lines",
        line={"color": BLUE, "width": 2},
        name="Middle",
        hovertemplate=f"%{{x:,.0f}} {unit}: %{{y:,.0f}} {currency}<extra></extra>",
    )
    for kind, symbol, name in (("asked", "circle-open", "Asked"), ("sold", "circle", "Sold")):
        points = [one for one in result.points if one.kind == kind]
        if points:
            figure.add_scatter(
                x=[float(one.miles) * scale for one in points],
                y=[float(one.at_this_age) for one in points],
                mode="markers",
                marker={
                    "symbol": symbol,
                    "color": GRAY,
                    "size": [8 + 8 * float(one.weight) for one in points],
                    "line": {"width": 2, "color": GRAY},
                },
                customdata=[
                    (f"{one.age_years:.1f}", f"{100 * one.weight:.0f} %", money(one.price))
                    for one in points
                ],
                hovertemplate=f"{name.lower()} at %{{customdata[2]}}, %{{customdata[0]}} years old,"
                f" %{{x:,.0f}} {unit}<br>like this car, sold: %{{y:,.0f}}; counts "
                "%{customdata[1]}<extra></extra>",
                name=f"{name} (larger counts more)",
            )
    here = float(case.vehicle.odometer.value)
    mended = result.mended
    figure.add_scatter(
        x=[here],
        y=[float(mended.p50)],
        error_y={
            "type": "data",
            "symmetric": False,
            "array": [float(mended.p90 - mended.p50)],
            "arrayminus": [float(mended.p50 - mended.p10)],
            "color": VERMILION,
            "thickness": 2,
        },
        mode="markers",
        marker={"symbol": "diamond", "size": 14, "color": VERMILION},
        name="This car, after repair",
        hovertemplate=f"repaired: %{{y:,.0f}} {currency}<extra></extra>",
    )
    figure.update_xaxes(title=f"Odometer, {unit}", tickformat=",.0f")
    figure.update_yaxes(
        title=f"Sold, at this car's age, {currency}", tickformat=",.0f", rangemode="tozero"
    )
    words = (
        f"{len(result.points)} comparable cars by price and distance. This car, after repair, "
        f"sells for about {money(mended.p50)} {currency}, {money(mended.p10)} to "
        f"{money(mended.p90)} (8 in 10)."
    )
    return Chart(figure, words)


def bid_curve(appraisal: Appraisal, target: float, confidence: float) -> Chart:
    """Return how the chances move with the bid, with the asking and walk-away prices marked."""
    currency = appraisal.currency
    bids = [float(one.bid) for one in appraisal.curve]
    figure = blank()
    lines = (
        ("chance_of_loss", "Chance of losing money", VERMILION, "solid"),
        ("chance_of_target", f"Chance of making {target:,.0f} or more", BLUE, "dash"),
    )
    for name, label, color, dash in lines:
        figure.add_scatter(
            x=bids,
            y=[float(getattr(one, name)) for one in appraisal.curve],
            mode="lines",
            name=label,
            line={"color": color, "width": 3, "dash": dash},
            hovertemplate=f"bid %{{x:,.0f}} {currency}: %{{y:.0%}}<extra>{label}</extra>",
        )
    figure.add_hline(
        y=confidence,
        line={"color": GRAY, "dash": "dot"},
        annotation={"text": f"{100 * confidence:.0f} % wanted", "xanchor": "right"},
    )
    marks = []
    if appraisal.walk_away_price is not None:
        marks.append((float(appraisal.walk_away_price), "walk away above", GREEN, 1.0))
    if appraisal.outcome is not None and appraisal.judged != "walk-away price":
        marks.append((float(appraisal.outcome.bid), appraisal.judged, ORANGE, 1.07))
    for bid, label, color, height in marks:
        figure.add_vline(x=bid, line={"color": color, "width": 2})
        figure.add_annotation(
            x=bid,
            y=height,
            yref="paper",
            yanchor="bottom",
            text=f"{label} {bid:,.0f}",
            showarrow=False,
            xanchor="left" if bid < max(bids) / 2 else "right",
            xshift=-4 if bid < max(bids) / 2 else 4,
        )
    figure.update_layout(margin={"t": 44})
    figure.update_xaxes(title=f"Bid, {currency}", tickformat=",.0f")
    figure.update_yaxes(tickformat=".0%", range=[0, 1.02])
    parts = ["Chances by bid."]
    if appraisal.walk_away_price is not None:
        parts.append(f"Walk away above {money(appraisal.walk_away_price)} {currency}.")
    if appraisal.outcome is not None:
        loss = chance_words(appraisal.outcome.chance_of_loss)
        parts.append(f"At {money(appraisal.outcome.bid)} the chance of losing money is {loss}.")
    return Chart(figure, " ".join(parts))


def waterfall(outcome: Outcome, currency: str) -> Chart:
    """Return how the sale price shrinks to the margin, on average, step by step."""
    steps = [(one.label, float(one.amount)) for one in outcome.steps]
    total = float(outcome.margin.mean)
    labels = [_short(label) for label, _ in steps] + ["Profit"]
    values = [amount for _, amount in steps] + [total]
    kinds = ["relative"] * len(steps) + ["total"]
    texts = [f"{amount:,.0f}".replace("-", MINUS) for amount in values]
    figure = blank(height=80 + (BESIDE + LINE * _lines(labels)) * len(labels))
    figure.add_waterfall(
        y=labels,
        x=values,
        measure=kinds,
        text=texts,
        decreasing={"marker": {"color": ORANGE}},
        increasing={"marker": {"color": SKY}},
        totals={"marker": {"color": GREEN if total >= 0 else VERMILION}},
        connector={"line": {"color": GRAY, "width": 1}},
        hovertemplate=f"%{{y}}: %{{text}} {currency}<extra></extra>",
        **BARS,
    )
    ends = [*accumulate(amount for _, amount in steps), total]
    _lying(figure, ",.0f", beside(ends, texts, labels))
    listed = "; ".join(f"{label} {amount:,.0f}" for label, amount in steps)
    return Chart(figure, f"On average: {listed}; profit {total:,.0f} {currency}.")


def _short(label: str) -> str:
    """Return a label on a few lines."""
    return drawn(label, LONGEST_LINE, most=MOST_LINES)


def odometer(readings: Sequence[Reading], unit: str) -> Chart:
    """Return the odometer's history, each reading with where it was read."""
    factor = {("mi", "km"): 1.609344, ("km", "mi"): 1 / 1.609344}
    values = [float(one.value) * factor.get((one.unit or unit, unit), 1.0) for one in readings]
    figure = blank(320)
    figure.add_scatter(
        x=[one.day for one in readings],
        y=values,
        mode="lines+markers",
        line={"color": BLUE, "width": 2},
        marker={"size": 10, "color": BLUE},
        customdata=[drawn(one.words) for one in readings],
        hovertemplate="%{customdata}<extra></extra>",
    )
    falls = [at for at in range(1, len(values)) if values[at] < values[at - 1]]
    if falls:
        figure.add_scatter(
            x=[readings[at].day for at in falls],
            y=[values[at] for at in falls],
            mode="markers",
            marker={"symbol": "x", "size": 14, "color": VERMILION},
            name="Falls",
            hoverinfo="skip",
        )
    figure.update_layout(showlegend=bool(falls))
    figure.update_yaxes(title=f"Odometer, {unit}", tickformat=",.0f", rangemode="tozero")
    listed = "; ".join(one.words for one in readings)
    return Chart(figure, f"Readings by day: {listed}.")


def drivers(appraisal: Appraisal, most: int = 7) -> Chart:
    """Return what makes the margin uncertain, the most first."""
    shown = [one for one in appraisal.drivers if one.share >= 0][:most]
    labels = [_short(one.label) for one in shown]
    values = [float(one.share) for one in shown]
    texts = [f"{100 * value:.0f} %" for value in values]
    figure = blank(height=90 + (BESIDE + LINE * _lines(labels)) * max(1, len(shown)))
    figure.add_bar(
        y=labels,
        x=values,
        text=texts,
        marker={"color": BLUE},
        hovertemplate="%{y}: %{x:.1%}<extra></extra>",
        **BARS,
    )
    _lying(figure, ".0%", beside([*values, 0.1], [*texts, ""], labels))
    listed = "; ".join(f"{one.label} {100 * one.share:.0f} %" for one in shown)
    return Chart(figure, f"What makes the profit uncertain: {listed}.")
