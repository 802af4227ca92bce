"""The picture of the page Diagnose: which fault shows which sign."""

from __future__ import annotations

import plotly.graph_objects as go

from appraise.models.diagnosis import Diagnosis
from ui.plots.bid import Chart, blank, drawn
from ui.words import percent

__all__ = ["signs_and_faults"]

MOST_FAULTS = 6
LETTERS, LINES = 20, 3
PALE, FULL, DARK = "#E8F2F9", "#73B5DF", "#111111"
"""From seldom to always, light enough for dark words in it."""
ROW, FOOT = 56, 60
"""Pixels: height of a sign's row, and of what stands below the rows."""


def signs_and_faults(found: Diagnosis) -> Chart:
    """Return how often each of the likeliest faults shows each sign, faults by number."""
    shown = [
        one for one in found.faults if any(one.id in dict(sign.shown_by) for sign in found.signs)
    ][:MOST_FAULTS]
    chances = [[dict(sign.shown_by).get(one.id) for one in shown] for sign in found.signs]
    names = [f"{place} {one.label}" for place, one in enumerate(shown, 1)]
    figure = blank(height=FOOT + ROW * len(found.signs))
    figure.add_trace(
        go.Heatmap(
            z=[[None if one is None else float(one) for one in row] for row in chances],
            x=[str(place) for place in range(1, len(shown) + 1)],
            y=[drawn(sign.label, LETTERS, most=LINES) for sign in found.signs],
            text=[["" if one is None else f"{100 * one:.0f} %" for one in row] for row in chances],
            texttemplate="%{text}",
            customdata=[[drawn(one) for one in names] for _ in found.signs],
            hovertemplate="%{customdata} shows it in %{text}<extra></extra>",
            hoverongaps=False,
            colorscale=[(0, PALE), (1, FULL)],
            textfont={"color": DARK, "size": 13},
            zmin=0,
            zmax=1,
            xgap=2,
            ygap=2,
            showscale=False,
        )
    )
    figure.update_xaxes(side="top", type="category", showgrid=False)
    figure.update_yaxes(autorange="reversed", showgrid=False)
    listed = "; ".join(
        f"{name} ({percent(one.chance)})" for name, one in zip(names, shown, strict=True)
    )
    return Chart(figure, f"How often a car with the fault shows the sign. Faults: {listed}.")
