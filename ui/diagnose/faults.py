"""The car's faults, most likely first, with what speaks for and against each."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import streamlit as st

from appraise.models.case import Case
from appraise.models.diagnosis import Diagnosis, FaultOdds
from appraise.reports.wording import search_words
from ui.plots.diagnose import signs_and_faults
from ui.widgets import show
from ui.widgets.sheets import table_button
from ui.words import money, percent

__all__ = ["explanation", "faults"]

AT_FIRST = 4
LIKELY = Decimal("0.05")
"""Chance under which a fault stands in the table below, unless it is the first."""


def faults(found: Diagnosis, currency: str) -> None:
    """Show the likeliest faults, a bar each that opens to what speaks for and against it."""
    if not found.faults:
        st.write("Nothing that was noted names a symptom, a code or a possible cause.")
        return
    for one in _first(found):
        with st.container(gap=None):
            st.progress(float(one.chance))
            box = st.expander(_line(one, currency), on_change="rerun", key=f"fault:{one.id}")
            if box.open:
                with box:
                    _speaks(one, currency)
    if found.something_else >= LIKELY:
        st.markdown(f"**{percent(found.something_else)}** Something else")


def _first(found: Diagnosis) -> list[FaultOdds]:
    likely = [one for one in found.faults if one.chance >= LIKELY]
    return (likely or list(found.faults))[:AT_FIRST]


def _line(one: FaultOdds, currency: str) -> str:
    return f"**{percent(one.chance)}** {show.plain(one.label)}, {money(one.cost.p50)} {currency}"


def _speaks(one: FaultOdds, currency: str) -> None:
    lines = [
        f"**{words}:** {show.plain('; '.join(said))}"
        for words, said in (("For", one.speaks_for), ("Against", one.speaks_against))
        if said
    ]
    if one.settled_by:
        lines.append(f"**Would settle it:** {show.plain(one.settled_by)}")
    lines.append(
        f"**Repair:** {money(one.cost.p10)} to {money(one.cost.p90)} {currency} (8 in 10), your "
        "hours at your hourly rate"
    )
    st.markdown("  \n".join(lines))


def explanation(found: Diagnosis, case: Case) -> None:
    """Show what explains what, how well the car was kept, and what finding the faults takes."""
    lines = [*found.explained, found.care.words]
    if found.signs:
        lines.append(f"One fault alone behind all signs: {percent(found.single_fault)}.")
    if found.error:
        lines.append(f"Chances give or take {percent(found.error)}.")
    for words in lines:
        st.markdown(show.plain(words))
    if found.search.steps:
        search = found.search
        st.markdown(f"{search_words(search.minutes, search.money, case.currency)}.")
    folds: tuple[tuple[str, bool, Callable[[], None]], ...] = (
        ("Signs against faults", bool(found.signs), lambda: _picture(found)),
        ("All faults", len(found.faults) > len(_first(found)), lambda: _table(found, case)),
        ("Steps to find it", bool(found.search.steps), lambda: _steps(found, case)),
    )
    for words, there, draw in folds:
        if there:
            box = st.expander(words, on_change="rerun", key=f"fold:{words}")
            if box.open:
                with box:
                    draw()


def _picture(found: Diagnosis) -> None:
    built = signs_and_faults(found)
    st.plotly_chart(
        built.figure, key="signs", config={"displayModeBar": False}, alt=show.plain(built.words)
    )
    st.caption(show.plain(built.words))


def _table(found: Diagnosis, case: Case) -> None:
    rows: list[dict[str, object]] = [
        {
            "fault": one.label,
            "chance": percent(one.chance),
            f"repair, {case.currency}": float(one.cost.p50),
            "for": "; ".join(one.speaks_for),
            "against": "; ".join(one.speaks_against),
        }
        for one in found.faults
    ]
    show.frame(rows, "Faults, most likely first")
    table_button(case, "Faults")


def _steps(found: Diagnosis, case: Case) -> None:
    rows: list[dict[str, object]] = [
        {
            "step": one.step if one.by == "check" else f"Repair tried: {one.step}",
            "for": one.label,
            "chance": percent(one.chance),
            f"costs in vain, {case.currency}": float(one.cost),
        }
        for one in found.search.steps
    ]
    show.frame(rows, "Steps to find the faults, in the order of least cost")
    table_button(case, "Steps to find it")
