"""The deal's fields, for one car or as the defaults of every new one, and a venue's fees."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from functools import partial
from typing import Any

import pandas as pd
import streamlit as st

from appraise.errors import AppraiseError, BadCase, Problem
from appraise.models.case import Case
from appraise.models.deal import FeeSchedule, FeeStep
from appraise.models.preferences import Venue
from appraise.models.ranges import Range
from appraise.reports.tables_bid import fees_table
from appraise.services import changed
from appraise.services.output.table_lists import sheet_of
from ui.session import cached, state
from ui.widgets import fields, show
from ui.widgets.sheets import sheet_button
from ui.widgets.tables import edit_table, kept_or_handed_over
from ui.widgets.typed import number

__all__ = ["deal_fields", "fee_table", "venue_chooser"]

Step = str | int


def deal_fields(owner: str, *root: Step) -> None:
    """Show everything about the money but the asking price, the margin and the confidence."""

    def path(name: str) -> tuple[Step, ...]:
        return (*root, name)

    with st.grid(4, min_column_width=160, vertical_alignment="bottom"):
        fields.percent(*path("tax_percent"), owner=owner)
        fields.amount(*path("title_and_registration"), owner=owner)
        fields.amount(*path("transport"), owner=owner)
        fields.amount(*path("holding_per_day"), owner=owner, step=0.5, digits=2)
        fields.percent(*path("finance_percent"), owner=owner)
        fields.percent(*path("selling_percent"), owner=owner)
        fields.amount(*path("selling_flat"), owner=owner)
        fields.amount(*path("own_rate"), owner=owner, step=5.0)
        fields.amount(*path("hours_per_day"), owner=owner, step=0.5, digits=1)
        fields.percent(*path("parts_tax_percent"), owner=owner)
        fields.amount(*path("price_level"), owner=owner, step=0.05, digits=2)
        fields.flag(*path("tax_on_fees"), owner=owner, label="Tax on fees too")
    fields.optional_range(
        *path("shop_rate"), owner=owner, usual=" of an independent shop", default=_usual_rate()
    )


def _usual_rate() -> Range | None:
    """Return the catalog's price of a shop's hour; None if own values cannot be read."""
    try:
        return cached.reference().value("shop.rate").range
    except AppraiseError:
        return None


def venue_chooser(case: Case) -> None:
    """Show the venue's fees on this car, and take those of a known venue over."""
    venues = state.preferences().venues
    with st.container(horizontal=True, vertical_alignment="bottom"):
        fields.text("deal", "venue")
        if venues:
            chosen = st.selectbox(
                "Take fees and tax from",
                venues,
                index=None,
                format_func=lambda one: one.name,
                placeholder="a known venue",
                key=state.key_for(("venue-pick",)),
            )
            if chosen is not None:
                st.button("Take them", on_click=_take, args=(chosen,))

    def keep(rows: list[dict[str, Any]]) -> bool:
        return state.save(changed(case, ("deal", "fees"), rows), fresh_widgets=True)

    fee_table(
        case.deal.fees,
        state.key_for(("fees",)),
        f"{case.id}:fees",
        keep,
        venue=case.deal.venue,
        currency=case.currency,
    )


def _take(venue: Venue) -> None:
    """Let the open car have a venue's fees and tax."""
    case = state.case()
    deal = case.deal.model_copy(
        update={
            "venue": venue.name,
            "fees": venue.fees,
            "tax_percent": venue.tax_percent,
            "tax_on_fees": venue.tax_on_fees,
        }
    )
    state.save(case.model_copy(update={"deal": deal}), fresh_widgets=True)


def fee_table(
    fees: tuple[FeeSchedule, ...],
    key: str,
    name: str,
    keep: Callable[[list[dict[str, Any]]], bool],
    *,
    venue: str,
    currency: str,
) -> None:
    """Show fee schedules as one table, a row a step, and save them when asked."""
    rows = [
        {
            "fee": schedule.name,
            "from": float(step.starts_at),
            "flat": float(step.flat),
            "percent": float(step.percent),
            "cap": None if step.cap is None else float(step.cap),
        }
        for schedule in fees
        for step in schedule.steps
    ]
    frame = pd.DataFrame(rows, columns=["fee", "from", "flat", "percent", "cap"])
    st.caption("The venue's fees: one row for each step; the step that a bid falls in holds.")
    edited = edit_table(
        frame.astype({"cap": "float64"}),
        key,
        name,
        "Fees of the venue, step by step",
        column_config={
            "fee": st.column_config.TextColumn("Fee", max_chars=200),
            "from": st.column_config.NumberColumn("From a bid of", min_value=0),
            "flat": st.column_config.NumberColumn("Flat", min_value=0),
            "percent": st.column_config.NumberColumn("Percent", min_value=0, max_value=100),
            "cap": st.column_config.NumberColumn("At most", min_value=0),
        },
    )
    with st.container(horizontal=True):
        pressed = st.button("Save the fees", key=f"{key}:save")
        if fees:
            make = partial(sheet_of, fees_table(fees, currency), venue, currency)
            sheet_button(make, "fees", f"{key}:sheet", told="As saved, xlsx")
    if not pressed:
        return
    try:
        rows = read_fees(edited, [step for fee in fees for step in fee.steps])
        if kept_or_handed_over(name, saved=keep(rows)):
            st.rerun()
    except BadCase as error:
        st.error(show.plain(str(error)))


def read_fees(frame: pd.DataFrame, shown: Sequence[FeeStep] = ()) -> list[dict[str, Any]]:
    """Return fee schedules from the rows of the table, by name, in the table's order.

    Parameters
    ----------
    shown : the steps that the table began with, by the index of their row.
    """
    out: dict[str, list[dict[str, Any]]] = {}
    for place, cells in frame.iterrows():
        if all(pd.isna(cell) for cell in cells):
            continue
        if pd.isna(cells["fee"]) or not str(cells["fee"]).strip():
            raise BadCase((Problem("", "a row of fees has no name: give it one", "stop"),))
        old = shown[place] if isinstance(place, int) and place < len(shown) else None
        step = {
            field: number(cells[column], getattr(old, field, None), 4 if column == "percent" else 2)
            for field, column in (
                ("starts_at", "from"),
                ("flat", "flat"),
                ("percent", "percent"),
                ("cap", "cap"),
            )
            if not pd.isna(cells[column])
        }
        out.setdefault(str(cells["fee"]).strip(), []).append({"starts_at": Decimal(0), **step})
    return [{"name": name, "steps": steps} for name, steps in out.items()]
