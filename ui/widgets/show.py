"""One look for money, ranges, problems, sources and charts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import streamlit as st

from appraise.engine.catalog.cautions import on_this_car
from appraise.errors import AppraiseError, CannotPrice, Problem
from appraise.models.appraisal import Appraisal, Quantiles
from appraise.models.case import Case
from appraise.models.vehicle import Vehicle
from appraise.reference.load import Reference
from appraise.reports.cautions import cautions_of
from appraise.reports.table import Kind, Table, Value
from appraise.reports.tables_lists import values_table
from appraise.services.cases.editing import differences
from ui.session import cached, state
from ui.words import money, name, plain, span

if TYPE_CHECKING:
    from ui.plots.bid import Chart

__all__ = [
    "box",
    "cautions",
    "chart",
    "clash",
    "frame",
    "need_car",
    "notices",
    "number",
    "plain",
    "problems",
    "sources",
    "table",
    "worked_out",
]

TALL = 15
"""Rows that are shown at once; a longer table scrolls."""
FIRST, WRAPPED = 190, 66
"""Pixels: width of the first column, and height of a row whose first cell takes several lines."""
LONG = 24
"""Letters that fit on one line of the first column."""

LOOK = {
    "stop": (st.error, ":material/block:"),
    "warning": (st.warning, ":material/warning:"),
    "note": (st.info, ":material/info:"),
}


def need_car(title: str) -> Case | None:
    """Return the open car and name it on the page, or say how to open one."""
    st.title(title)
    stored = st.session_state.get("stored")
    if state.load_open_case() is None or stored is None:
        st.write("No car is open.")
        st.page_link("app_pages/cars.py", label="Choose or add a car", icon=":material/list:")
        return None
    case = state.case()
    car = case.vehicle
    titled = "" if case.title == car.name else f"**{plain(case.title)}**  \n"
    st.markdown(
        f"{titled}{plain(car.name)}, {car.odometer.value:,.0f} {car.odometer.unit}, "
        f"{name(case.standing).lower()}"
    )
    if clash():
        return None
    if state.newer():
        st.info(
            "This car was saved in another window meanwhile. What you have typed here stays; when "
            "you save it, you choose what to keep of both.",
            icon=":material/call_split:",
        )
        st.button("Show it as it is now, without what I typed", on_click=state.show_newer)
    notices()
    return case


def notices() -> None:
    """Show what is to be said once, and offer to undo the last deletion."""
    words, bad = state.take_notice()
    if words:
        (st.error if bad else st.success)(plain(words))
    undoable = state.undoable()
    if undoable:
        with st.container(horizontal=True, vertical_alignment="center"):
            st.caption(plain(undoable))
            st.button("Undo", icon=":material/undo:", on_click=state.undo, key="undo-button")


def clash() -> bool:
    """Show both versions when another window saved this car meanwhile, and let one choose."""
    found = state.clash()
    if found is None:
        return False
    state.clash_untold()
    st.warning(
        "This car was saved in another window after you opened it here. Your change is not saved "
        "yet. Choose which version to keep.",
        icon=":material/call_split:",
    )
    rows = differences(found.mine, found.theirs.case)
    st.dataframe(
        [dict(zip(("field", "here", "saved elsewhere"), row, strict=True)) for row in rows],
        hide_index=True,
        alt="Fields in which the two versions differ",
    )
    with st.container(horizontal=True):
        if found.both is not None:
            st.button("Keep both changes", on_click=state.keep_both, type="primary")
        st.button("Keep the one saved elsewhere", on_click=state.keep_theirs)
        st.button("Keep mine instead", on_click=state.keep_mine)
    return True


def worked_out(case: Case, *, quiet: bool = False) -> Appraisal | None:
    """Return the appraisal of a case, or say what it still needs unless that is said elsewhere."""
    try:
        return cached.appraisal(case)
    except CannotPrice as error:
        if not quiet:
            st.info(f"No price yet: {plain(error.message)}. {plain(error.hint)}")
    except AppraiseError as error:
        st.error(f"No price yet: {plain(str(error))}")
    return None


def problems(found: Iterable[Problem]) -> None:
    """Show problems, the gravest first; several of one weight in one box."""
    by_weight: dict[str, list[Problem]] = {}
    for one in found:
        by_weight.setdefault(one.weight, []).append(one)
    for weight, (box, icon) in LOOK.items():
        lines = [plain(one.words[:1].upper() + one.words[1:]) for one in by_weight.get(weight, [])]
        if lines:
            box("\n\n".join(lines), icon=icon)


def number(label: str, given: Quantiles, unit: str, help_: str | None = None) -> None:
    """Show a number with doubt: the middle large, low to high small."""
    box(label, money(given.p50), f"{unit}, {span(given)} (8 in 10)", help_)


def box(label: str, value: str, said: str, help_: str | None = None) -> None:
    """Show a figure in a box: itself large, what belongs to it small."""
    with st.container(border=True):
        st.metric(label, value, help=help_)
        st.caption(said)


def cautions(names: Iterable[str], car: Vehicle, reference: Reference) -> None:
    """Show what can hurt in some work on this car, each caution once."""
    found = cautions_of(on_this_car(names, car), reference)
    if found:
        st.caption(
            "  \n".join(
                f":material/warning: **{plain(one.work)}**: {plain(one.text)}" for one in found
            )
        )


def chart(built: Chart, key: str) -> None:
    """Show a chart with its words."""
    st.plotly_chart(built.figure, key=key, config={"displayModeBar": False}, alt=built.words)
    st.caption(plain(built.words))


def frame(rows: Sequence[Mapping[str, object]], alt: str, *, cents: bool = False) -> None:
    """Show rows to be compared, headings capitalised; the first column leaves a phone room.

    Whole numbers for money unless `cents`; a column whose heading speaks of hours has one place.
    Without rows nothing is shown.
    """
    if not rows:
        return
    import pandas as pd  # noqa: PLC0415 - a quarter of a second that the list of cars does not need

    found = pd.DataFrame(rows).rename(columns=lambda one: one[:1].upper() + one[1:])
    numbers = found.select_dtypes("number").columns
    whole = [one for one in numbers if "hours" not in one.lower()]
    amount = "%.2f" if cents else "localized"
    config: dict[str, Any] = {
        one: st.column_config.NumberColumn(format=amount if one in whole else "%.1f")
        for one in numbers
    }
    config[str(found.columns[0])] = st.column_config.TextColumn(width=FIRST, pinned=True)
    st.dataframe(
        found.round(dict.fromkeys(whole, 2 if cents else 0)),
        hide_index=True,
        alt=alt,
        column_config=config,
        height="content" if len(found) <= TALL else "auto",
        placeholder="",
        row_height=WRAPPED if any(len(str(one)) > LONG for one in found.iloc[:, 0]) else None,
    )


def table(found: Table, alt: str, *labels: str, cents: bool = False) -> None:
    """Show a table, or those of its columns, with its sums; whole amounts unless `cents`."""
    chosen = found.only(*labels) if labels else found
    heads = [one.head for one in chosen.columns]
    kinds = [one.kind for one in chosen.columns]
    lines = [*chosen.rows, *([chosen.foot] if chosen.foot else [])]
    frame(
        [dict(zip(heads, map(_cell, kinds, line), strict=True)) for line in lines], alt, cents=cents
    )


def _cell(kind: Kind, value: Value) -> object:
    if value is None or isinstance(value, str):
        return value
    if kind == "share" and isinstance(value, Decimal):
        return f"{100 * value:.0f} %"
    if kind == "number" and not isinstance(value, date):
        return f"{value:,}"  # of any size, so never rounded
    if isinstance(value, date):
        return str(value)
    return float(value) if isinstance(value, Decimal) else value


def sources(appraisal: Appraisal, reference: Reference) -> None:
    """Show every reference value that a result used, with what stands behind it."""
    used = appraisal.values_used
    st.caption(
        f"{len(used)} values used, {sum(one.startswith('job.') for one in used)} of them jobs of "
        f"the catalog; {100 * appraisal.unsourced_share:.0f} % have no published source "
        "(common practice or our estimate)."
    )
    table(values_table(reference, used), "Reference values used, with their sources")
