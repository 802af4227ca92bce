"""The chart of the work: money against time, up to today and from here on."""

from __future__ import annotations

from appraise.models.forecast import Forecast
from ui.plots.bid import BLUE, GRAY, ORANGE, Chart, blank
from ui.words import money

__all__ = ["s_curve"]

TALL = 420
FEW_TICKS = 6


def s_curve(forecast: Forecast) -> Chart:
    """Return budget of the jobs done against what was paid, and the fan of where it is going."""
    currency = forecast.currency
    figure = blank(TALL, 32)
    figure.update_xaxes(nticks=FEW_TICKS)
    fan = [one for one in forecast.curve if one.likely is not None]
    if fan:
        days = [one.on for one in fan]
        lows = [float(one.low or 0) for one in fan]
        highs = [float(one.high or 0) for one in fan]
        figure.add_scatter(
            x=days + days[::-1],
            y=highs + lows[::-1],
            mode="lines",
            fill="toself",
            fillcolor="rgba(86,180,233,0.25)",
            line={"width": 0},
            name="8 in 10 within",
            hoverinfo="skip",
        )
        figure.add_scatter(
            x=days,
            y=[float(one.likely or 0) for one in fan],
            customdata=[(money(low), money(high)) for low, high in zip(lows, highs, strict=True)],
            mode="lines+markers",
            name="Where it is going, middle",
            line={"color": BLUE, "width": 2, "dash": "dot"},
            marker={"symbol": "circle-open", "size": 7},
            hovertemplate="%{x|%Y-%m-%d}: %{y:,.0f} " + currency + " (%{customdata[0]} to "
            "%{customdata[1]})<extra></extra>",
        )
    for field, label, color, dash in (
        ("planned", "Budget of the jobs done", ORANGE, "dash"),
        ("actual", "Paid", BLUE, "solid"),
    ):
        points = [one for one in forecast.curve if getattr(one, field) is not None]
        figure.add_scatter(
            x=[one.on for one in points],
            y=[float(getattr(one, field)) for one in points],
            mode="lines",
            name=label,
            line={"color": color, "width": 3, "dash": dash, "shape": "hv"},
            hovertemplate="%{x|%Y-%m-%d}: %{y:,.0f} " + currency + f"<extra>{label}</extra>",
        )
    figure.add_hline(y=float(forecast.budget.p50), line={"color": GRAY, "dash": "dash"})
    figure.add_annotation(
        x=0,
        xref="paper",
        xanchor="left",
        y=float(forecast.budget.p50),
        yanchor="bottom",
        text=f"budget {money(forecast.budget.p50)}",
        showarrow=False,
    )
    figure.add_vline(x=f"{forecast.on}", line={"color": GRAY, "width": 2})
    figure.add_annotation(
        x=f"{forecast.on}", y=1, yref="paper", yanchor="bottom", text="today", showarrow=False
    )
    figure.update_yaxes(title=f"Money, {currency}", tickformat=",.0f", rangemode="tozero")
    return Chart(figure, _words(forecast))


def _words(forecast: Forecast) -> str:
    currency, end = forecast.currency, forecast.at_end
    earned = [one.planned for one in forecast.curve if one.planned is not None]
    done = money(earned[-1]) if earned else "0"
    by = f" by {forecast.ends_on}" if forecast.ends_on else ""
    return (
        f"Up to today, {forecast.on}, {money(forecast.paid)} {currency} were paid; the budget of "
        f"the jobs done was {done}. It ends{by} at about {money(end.p50)}, "
        f"{money(end.p10)} to {money(end.p90)} (8 in 10); the budget was "
        f"{money(forecast.budget.p50)}. The last step takes in what has no "
        "job yet and what was not inspected."
    )
