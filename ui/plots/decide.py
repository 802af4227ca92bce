"""Charts of what to do from today on, and of a logged pull before and after a job.

Numbers in, Plotly figure and its words out; no screen and no state. Colors are those of Okabe and
Ito and never carry meaning alone: shape, dash and words say the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from appraise.engine.measure.full_load import Overlay
from appraise.models.choices import FrontierPoint, OptionView
from ui.plots.bid import (
    BLUE,
    FEW_TICKS,
    GRAY,
    GREEN,
    LEAST_PLOT,
    LETTER,
    MINUS,
    VERMILION,
    Chart,
    blank,
    drawn,
)
from ui.words import money, span

__all__ = ["beyond", "frontier", "nets", "pulls"]

LABEL_LINE = 17
NAME_LINE = 48
TOP = 28
NOW = "as is"
LEAST_APART = 0.06
"""Share of the width that a number over a point needs on a phone."""

TICKS = {"money": ",.0f", "hours": ",.1~f"}
UNITS = {"money": "money in", "hours": "your hours in"}


def nets(options: Sequence[OptionView], currency: str) -> Chart:
    """Return the net of each option as a dot with its range, in the order given.

    The net is the average, by which they are put in order; that of selling it as it stands is a
    line through all of them.
    """
    figure = blank(96 + 56 * len(options), TOP)
    now = next((one for one in options if one.kind == NOW), None)
    for one in options:
        here = one is now
        color = GRAY if here else VERMILION if one.net.mean < 0 else BLUE
        figure.add_scatter(
            x=[float(one.net.mean)],
            y=[drawn(one.label, LABEL_LINE)],
            error_x={
                "type": "data",
                "symmetric": False,
                "array": [max(0.0, float(one.net.p90 - one.net.mean))],
                "arrayminus": [max(0.0, float(one.net.mean - one.net.p10))],
                "color": color,
                "thickness": 3,
                "width": 6,
            },
            mode="markers+text",
            text=[money(one.net.mean).replace("-", MINUS)],
            textposition="top right",
            cliponaxis=False,
            marker={
                "symbol": "diamond" if here else "circle",
                "size": 13,
                "color": color,
            },
            name=drawn(one.label),
            hovertemplate=f"{drawn(one.label)}<br>on average {money(one.net.mean)} {currency}, "
            f"{span(one.net)} (8 in 10)<extra></extra>",
        )
    if now is not None:
        figure.add_vline(x=float(now.net.mean), line={"color": GRAY, "dash": "dot", "width": 2})
        figure.add_annotation(
            x=float(now.net.mean),
            y=1.0,
            yref="paper",
            yanchor="bottom",
            text="sold as is",
            showarrow=False,
        )
    figure.update_yaxes(autorange="reversed", title=None)
    edges = [0.0, *(float(edge) for one in options for edge in (one.net.p10, one.net.p90))]
    text = LETTER * max(len(f"{edge:,.0f}") for edge in edges) / LEAST_PLOT
    room = text * (max(edges) - min(edges))
    figure.update_xaxes(
        title=f"Net from today, {currency}",
        tickformat=",.0f",
        nticks=FEW_TICKS,
        zeroline=True,
        range=[min(edges) - room / 4, max(edges) + room],
    )
    figure.update_layout(showlegend=False)
    listed = "; ".join(f"{one.label} {money(one.net.mean)} ({span(one.net)})" for one in options)
    return Chart(
        figure,
        f"Net from today in {currency}, on average (8 in 10), the highest first: {listed}.",
    )


def beyond(points: Sequence[FrontierPoint], labels: Mapping[str, str]) -> tuple[str, ...]:
    """Return what each point does that the one before does not, and what it leaves out again.

    Parameters
    ----------
    points : in the order of what they cost.
    labels : name of each job or finding by its id.
    """
    out = []
    before: tuple[str, ...] = ()
    for point in points:
        more = [labels.get(one, one) for one in point.jobs if one not in before]
        less = [labels.get(one, one) for one in before if one not in point.jobs]
        words = "; ".join(more)
        if less:
            words = f"{words + '; ' if words else ''}without: {'; '.join(less)}"
        out.append(words or "nothing done")
        before = point.jobs
    return tuple(out)


def frontier(
    points: Sequence[FrontierPoint],
    now: OptionView | None,
    labels: Mapping[str, str],
    currency: str,
    by: Literal["money", "hours"],
) -> Chart:
    """Return the expected net of the best choice at each outlay, the points numbered from 1.

    Parameters
    ----------
    points : choices that no other beats, the least outlay first.
    now : selling it as it stands, a line across; or None.
    labels : name of each job or finding by its id.
    by : what is put in.
    """
    unit = currency if by == "money" else "h"
    names = beyond(points, labels)
    at = [float(getattr(one, by)) for one in points]
    figure = blank(360, TOP)
    figure.add_scatter(
        x=at,
        y=[float(one.net.mean) for one in points],
        mode="lines+markers+text",
        line={"color": BLUE, "width": 2, "shape": "hv", "dash": "dot"},
        marker={"size": 10, "color": BLUE},
        text=[str(place) if shown else "" for place, shown in enumerate(_apart(at), start=1)],
        textposition="top center",
        textfont={"size": 14},
        cliponaxis=False,
        customdata=[(place, drawn(name, NAME_LINE)) for place, name in enumerate(names, start=1)],
        hovertemplate=f"%{{customdata[0]}}: %{{x:{TICKS[by]}}} {unit} in, net %{{y:,.0f}} "
        f"{currency}<br>%{{customdata[1]}}<extra></extra>",
        name="best choice at each outlay",
    )
    if now is not None:
        line = {"color": GRAY, "dash": "dash", "width": 2}
        figure.add_hline(y=float(now.net.mean), line=line)
        figure.add_scatter(x=[None], y=[None], mode="lines", line=line, name="sold as is")
    figure.update_xaxes(title=f"{UNITS[by].capitalize()}, {unit}", tickformat=TICKS[by])
    figure.update_yaxes(title=f"Net from today, on average, {currency}", tickformat=",.0f")
    figure.update_layout(showlegend=True)
    if not points:
        return Chart(figure, "There is nothing to choose from.")
    first, last = points[0], points[-1]
    words = (
        f"Putting in {_outlay(first, by)} {unit} brings {money(first.net.mean)} {currency} net on "
        "average"
    )
    if last is not first:
        words += f"; {_outlay(last, by)} {unit} brings {money(last.net.mean)}"
    return Chart(figure, f"{words}. The numbers are those of the list below.")


def _apart(at: Sequence[float]) -> list[bool]:
    """Return which numbers can be written without one lying over another; the last always is."""
    room = LEAST_APART * (at[-1] - at[0]) if at else 0.0
    out: list[bool] = []
    last = None
    for place, one in enumerate(at):
        final = place == len(at) - 1
        out.append(final or last is None or (one - last >= room and at[-1] - one >= room))
        last = one if out[-1] else last
    return out


def _outlay(point: FrontierPoint, by: Literal["money", "hours"]) -> str:
    return money(point.money) if by == "money" else f"{point.hours:.1f}"


def pulls(
    laid: Overlay,
    label: str,
    unit: str,
    target: tuple[float, float] | None = None,
    factor: float = 1.0,
) -> Chart:
    """Return a logged pull after the job over the one before it, by engine speed.

    Parameters
    ----------
    laid : both on one grid of engine speeds; each as the log has it.
    label : what was logged.
    unit : in which it is shown.
    target : from and to, in that unit; drawn as a band.
    factor : from the log's unit into the one shown.
    """
    figure = blank(340, TOP)
    if target is not None:
        figure.add_hrect(
            y0=target[0],
            y1=target[1],
            fillcolor=GREEN,
            opacity=0.15,
            line={"width": 0},
            annotation={"text": "target", "xanchor": "left", "x": 0.01},
            annotation_position="top left",
        )
    for values, name, color, dash in (
        (laid.before, "Before", VERMILION, "dash"),
        (laid.after, "After", BLUE, "solid"),
    ):
        figure.add_scatter(
            x=laid.rpm.tolist(),
            y=(values * factor).tolist(),
            mode="lines",
            line={"color": color, "width": 3, "dash": dash},
            name=name,
            hovertemplate=f"%{{x:,.0f}} rpm: %{{y:,.1f}} {drawn(unit)}<extra>{name}</extra>",
        )
    figure.update_xaxes(title="Engine speed, rpm", tickformat=",.0f")
    heading = f"{label}, {unit}" if unit else label
    figure.update_yaxes(title=drawn(heading, NAME_LINE), tickformat=",.4~g")
    if laid.gain is None:
        return Chart(figure, "The two pulls cannot be laid over each other.")
    first, second = (float(one.mean()) * factor for one in (laid.before, laid.after))
    return Chart(
        figure,
        f"{label} from {laid.rpm[0]:,.0f} to {laid.rpm[-1]:,.0f} rpm: on average {first:.1f} "
        f"{unit} before and {second:.1f} after, {second - first:+.1f}.",
    )
