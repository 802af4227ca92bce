from __future__ import annotations

from decimal import Decimal
from typing import Any

import pandas as pd
import streamlit as st

from appraise.errors import BadCase
from appraise.models.case import Case
from appraise.models.market import Condition, PriceKind, SoldBy
from appraise.models.vehicle import TitleBrand
from appraise.reports.wording import CONDITIONS
from appraise.services import changed
from appraise.services.cases.editing import free_id
from ui.plots import bid as charts
from ui.prices.paste_box import paste_box
from ui.session import cached, state
from ui.widgets import fields, show
from ui.widgets.sheets import table_button
from ui.widgets.tables import edit_table, kept_or_handed_over
from ui.words import money

COLUMNS = (
    "id",
    "year",
    "odometer",
    "price",
    "kind",
    "offered by",
    "condition",
    "title",
    "leave out",
    "note",
)


def table(case: Case, unit: str) -> pd.DataFrame:
    rows = [
        {
            "id": one.id,
            "year": one.model_year,
            "odometer": float(one.odometer.miles if unit == "mi" else one.odometer.km),
            "price": float(one.price),
            "kind": one.kind.value,
            "offered by": one.sold_by and one.sold_by.value,
            "condition": one.condition.value,
            "title": one.title_brand.value,
            "leave out": one.left_out,
            "note": one.note,
        }
        for one in case.market.comparables
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def read_table(case: Case, frame: pd.DataFrame, unit: str) -> list[dict[str, Any]]:
    known = {one.id: one.model_dump() for one in case.market.comparables}
    out: list[dict[str, Any]] = []
    for _, cells in frame.iterrows():
        values = {name: None if pd.isna(cell) else cell for name, cell in cells.items()}
        if all(values[name] is None for name in ("year", "odometer", "price")):
            continue
        old = known.get(str(values["id"]), {})
        new = {
            "id": old.get("id") or free_id("comp", [*known, *(one["id"] for one in out)]),
            "model_year": values["year"] and int(values["year"]),
            "price": values["price"] and Decimal(f"{values['price']:.2f}"),
            "kind": values["kind"] or "asked",
            "sold_by": values["offered by"],
            "condition": values["condition"] or "alike",
            "title_brand": values["title"] or "clear",
            "left_out": bool(values["leave out"]),
            "note": values["note"] or "",
        }
        typed = values["odometer"]
        reading = None if typed is None else Decimal(f"{typed:.0f}")
        odometer: dict[str, Any] = {"value": reading, "unit": unit}
        shown = old.get("odometer")
        if (
            shown is not None
            and reading is not None
            and same_reading(case, str(values["id"]), reading, unit)
        ):
            odometer = shown
        out.append({**old, **new, "odometer": odometer})
    return out


def same_reading(case: Case, label: str, value: Decimal, unit: str) -> bool:
    before = next(one for one in case.market.comparables if one.id == label).odometer
    return round(before.miles if unit == "mi" else before.km) == round(value)


def save_table(case: Case, frame: pd.DataFrame, unit: str) -> None:
    try:
        rows = read_table(case, frame, unit)
        new = changed(case, ("market", "comparables"), rows)
    except BadCase as error:
        st.error(show.plain(str(error)))
        return
    if len(rows) < len(case.market.comparables):
        state.remember(f"Comparable cars removed: {len(case.market.comparables) - len(rows)}")
    saved = new == case or state.save(new, fresh_widgets=True)
    if kept_or_handed_over(f"{case.id}:comparables", saved=saved):
        st.rerun()


case = show.need_car("Prices")
if case is not None:
    unit = case.vehicle.odometer.unit
    appraisal = show.worked_out(case)
    if appraisal is not None:
        resale = appraisal.resale
        with st.grid(3, min_column_width=160):
            show.number("Price after repair", resale.mended, case.currency)
            show.number(
                "Price as is",
                resale.as_it_stands,
                case.currency,
                "A buyer sees the symptom, not the cause: the price after repair less a "
                "high guess of a shop's bill and a share for the trouble, never below scrap.",
            )
            show.number("Sold in", resale.days_to_sell, "days")
        show.problems(one for one in appraisal.problems if one.where.startswith("market"))
        show.chart(charts.resale(case, resale, case.currency), "resale-chart")
        with st.expander("How this price comes about"):
            st.write(
                f"Each year of age takes {-100 * resale.per_year:.1f} % off, each 10,000 miles "
                f"{-100 * resale.per_10000_miles:.1f} %. Comparable cars spread by about "
                f"{100 * resale.spread:.0f} %."
            )
            if resale.leave_one_out is not None:
                st.write(
                    "Predicting each comparable from the others misses by "
                    f"{100 * resale.leave_one_out:.1f} % on average. About 7 % is as good as "
                    "it gets: asking prices of comparable cars differ by that much."
                )
            if resale.comparison is not None:
                st.write(
                    f"As is, the price is {100 * resale.comparison.discount:.0f} % below the "
                    "repaired one. Ads of cars of this age that admit unrepaired damage ask "
                    f"{100 * resale.comparison.adverts:.0f} % less (open listing data, Germany, "
                    "2016)."
                )
            st.write(
                f"{money(resale.mended.p50)} {case.currency} is the middle of what it sells for; "
                "adverts ask a little more."
            )
    st.subheader("Comparable cars")
    before = table(case, unit)
    edited = edit_table(
        before,
        state.key_for(("comparables",)),
        f"{case.id}:comparables",
        "Comparable cars",
        ("id",),
        column_config={
            "id": None,
            "year": st.column_config.NumberColumn("Model year", format="%d", width="small"),
            "odometer": st.column_config.NumberColumn(f"Odometer, {unit}", format="localized"),
            "price": st.column_config.NumberColumn(f"Price, {case.currency}", format="localized"),
            "kind": st.column_config.SelectboxColumn(
                "Asked or sold", options=[one.value for one in PriceKind], width="small"
            ),
            "offered by": st.column_config.SelectboxColumn(
                "Offered by", options=[one.value for one in SoldBy], width="small"
            ),
            "condition": st.column_config.SelectboxColumn(
                "Condition against this car",
                options=[one.value for one in Condition],
                format_func=lambda one: CONDITIONS[Condition(str(one))],
                width="small",
            ),
            "title": st.column_config.SelectboxColumn(
                "Title brand", options=[one.value for one in TitleBrand]
            ),
            "leave out": st.column_config.CheckboxColumn("Leave out", width="small"),
            "note": st.column_config.TextColumn("Note", max_chars=2000),
        },
    )
    if st.button("Save the table", key="cars-save", type="primary", icon=":material/save:"):
        save_table(case, edited, unit)
    st.caption("Add a row at the foot of the table; tick a row at its left edge to delete it.")
    if case.market.comparables:
        fitted = ("Price by distance",) if appraisal is not None else ()
        table_button(case, "Comparable cars", *fitted)
    waiting = bool(st.session_state.get(f"{case.id}:paste"))
    with st.expander("Paste from a spreadsheet or a list", expanded=before.empty or waiting):
        paste_box(case)
    with st.expander("From asked to sold, and days to sell"):
        usual = cached.reference().value("resale.asked_to_sold").range
        fields.optional_range("market", "asked_to_sold", default=usual)
        fields.optional_range("market", "days_to_sell", usual=", which hangs on the price")
