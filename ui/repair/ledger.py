"""Money and hours: entries that are added and taken back, and what the purchase really cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

import pandas as pd
import streamlit as st

from appraise.models.case import Case
from appraise.models.forecast import Forecast
from appraise.models.ledger import BACK, Entry, EntryKind
from appraise.models.trade import PaidLine
from appraise.reference.load import Reference
from appraise.reports.tables_bid import landed_table
from appraise.reports.tables_work import kinds_table
from appraise.reports.wording import ENTRY_KINDS
from appraise.services import changed, today
from appraise.services.ownership.bookkeeping import add_entry, attach_to_entry, take_back, totals
from ui.repair.common import (
    FIRST_DAY,
    LAST_DAY,
    attempt,
    decimal_of,
    drawn_anew,
    job_names,
    link,
    page_of,
    refusal,
    typed,
)
from ui.repair.files import files_button, opened_files
from ui.session import state
from ui.widgets import show
from ui.widgets.files_form import drafted, files_box, forget_drafts, small_pictures
from ui.widgets.sheets import table_button
from ui.widgets.tables import edit_table, kept_or_handed_over

__all__ = ["books", "paid_lines"]

NEW = "entry-new"
PAID = "paid-lines"
ENTRIES_A_PAGE = 10


def books(case: Case, forecast: Forecast | None, reference: Reference) -> None:
    """Show the form for a new entry, the entries, their totals, and the landed cost."""
    names = job_names(case, reference)
    st.subheader("New entry")
    _form(case, names)
    if case.work.entries:
        _totals(case)
        st.subheader("Entries, newest first")
        _entries(case, names)
    else:
        st.caption("No entries yet. Keep each receipt and each evening's hours as they come.")
    _landed(case, forecast)


def _form(case: Case, names: dict[str, str]) -> None:
    """Show the form; what is typed stays until it is kept."""
    key = state.key_for((NEW,))
    kind = st.selectbox(
        "For",
        list(ENTRY_KINDS),
        format_func=lambda one: ENTRY_KINDS[one],
        key=f"{case.id}:{NEW}:kind",
        persist_state="session",
    )
    photos = f"{NEW}:{case.id}"  # those taken stay when another window's change empties the form
    box = st.expander(
        "Photo of the receipt",
        on_change="rerun",
        key="entry-photos",
        icon=":material/photo_camera:",
    )
    if box.open:
        with box:
            files_box((), photos)
    else:
        small_pictures(drafted(photos))
    with st.form(key):
        with st.grid(3, min_column_width=150, vertical_alignment="bottom"):
            _fields(case, kind, names, key)
        st.form_submit_button(
            "Enter",
            type="primary",
            icon=":material/save:",
            on_click=_enter,
            args=(key, kind, photos),
        )
        refusal(NEW)


def _fields(case: Case, kind: EntryKind, names: dict[str, str], key: str) -> None:
    st.date_input("Day", today(), min_value=FIRST_DAY, max_value=LAST_DAY, key=f"{key}:on")
    if kind is EntryKind.HOURS:
        st.number_input("Your hours", value=None, min_value=0.0, step=0.5, key=f"{key}:hours")
    else:
        back = " back" if kind in BACK else ""
        st.number_input(
            f"Amount{back}, {case.currency}",
            value=None,
            min_value=0.0,
            format="%.2f",
            key=f"{key}:amount",
        )
    st.selectbox(
        "Job",
        list(names),
        None,
        format_func=lambda one: names[one],
        placeholder="the car as a whole",
        key=f"{key}:job",
    )
    if kind is not EntryKind.HOURS:
        whom = "Back from" if kind in BACK else "Paid to"
        st.text_input(whom, max_chars=200, key=f"{key}:supplier")
        st.text_input("Number of the receipt", max_chars=200, key=f"{key}:number")
    st.text_input("Note", max_chars=2000, key=f"{key}:note")


def _enter(key: str, kind: EntryKind, photos: str) -> None:
    files = [one.model_dump() for one in drafted(photos)]
    given = {"kind": kind, **typed(key), "attachments": files}
    for field in ("amount", "hours"):
        if field in given:
            given[field] = decimal_of(given[field]) or Decimal(0)
    currency = state.case().currency
    said = _said(given, currency)
    if attempt(NEW, lambda case: add_entry(case, given), said=said, names=(Entry,)):
        forget_drafts(photos)


def _said(given: Mapping[str, Any], currency: str) -> str:
    if given["kind"] is EntryKind.HOURS:
        return f"Entered: {given['hours']:g} hours of your own on {given['on']}."
    kind = ENTRY_KINDS[given["kind"]].lower()
    return f"Entered: {given['amount']:,.2f} {currency}, {kind}, on {given['on']}."


def _totals(case: Case) -> None:
    st.subheader("So far")
    show.table(kinds_table(totals(case), case), "Totals by kind", cents=True)
    table_button(case, "Entries", "Money by kind")


def _entries(case: Case, names: dict[str, str]) -> None:
    place = {one.id: at for at, one in enumerate(case.work.entries)}
    newest = sorted(case.work.entries, key=lambda one: (one.on, place[one.id]), reverse=True)
    gone = {one.corrects for one in newest if one.corrects is not None}
    by_id = {one.id: one for one in newest}
    for one in page_of(newest, "entries-page", ENTRIES_A_PAGE):
        with st.container(border=True):
            st.markdown(_entry(one, by_id, names, case.currency, taken=one.id in gone))
            with st.container(horizontal=True):
                if one.corrects is None and one.id not in gone:
                    st.button(
                        "Take back",
                        icon=":material/undo:",
                        key=f"entry-back:{one.id}",
                        on_click=_take_back,
                        args=(one.id,),
                        help="By a new entry; this one stays in the books.",
                    )
                files_button("entry", one.id, one.attachments)
            refusal(f"entry:{one.id}")
            opened_files("entry", one.id, one.attachments, attach_to_entry)


def _entry(
    one: Entry, by_id: dict[str, Entry], names: dict[str, str], currency: str, *, taken: bool
) -> str:
    """Return an entry in words, struck through where it was taken back."""
    sum_ = _signed(one.paid, currency)
    if one.kind is EntryKind.HOURS:
        sum_ = f"{one.worked:g} h".replace("-", "\N{MINUS SIGN}")
    first = show.plain(f"{one.on}: {ENTRY_KINDS[one.kind].lower()}, {sum_}")
    head = f"~~{first}~~ taken back" if taken else f"**{first}**"
    if one.corrects is not None:
        head += show.plain(f" takes back the entry of {by_id[one.corrects].on}")
    more = [
        names.get(one.job, one.job) if one.job else "The car as a whole",
        one.supplier,
        f"receipt {one.number}" if one.number else "",
        one.note,
    ]
    return f"{head}  \n" + show.plain("; ".join(part for part in more if part))


def _signed(amount: Decimal, currency: str) -> str:
    return f"{amount:,.2f} {currency}".replace("-", "\N{MINUS SIGN}")


def _take_back(name: str) -> None:
    attempt(
        f"entry:{name}",
        lambda case: take_back(case, name, today()),
        said="Taken back by a new entry.",
        names=(Entry,),
    )


def _landed(case: Case, forecast: Forecast | None) -> None:
    """Show what the purchase was planned to cost, what it did, and the form for that."""
    if case.purchase is None:
        return
    st.subheader("Cost to buy")
    if forecast is not None:
        found = landed_table(case.currency, None, forecast)
        show.table(found, "Cost to buy by line", cents=True)
        if forecast.landed_paid is None:
            st.caption("What was really paid is not entered yet.")
        table_button(case, "Cost to buy")
    box = st.expander("Enter what was really paid", on_change="rerun", key="work-paid")
    if box.open:
        with box:
            _paid_form(case, forecast)


def _paid_form(case: Case, forecast: Forecast | None) -> None:
    purchase = case.purchase
    assert purchase is not None  # noqa: S101 - shown only where there is one
    st.caption(
        f"The price itself, {purchase.bid:,.2f} {case.currency}, is changed on Inspect. "
        + ("" if purchase.paid else "The lines below are those planned: put in what was paid.")
    )
    link("inspect", "Bought, on sale, sold", ":material/visibility:")
    edited = edit_table(
        paid_frame(case, forecast),
        state.key_for((PAID,)),
        f"{case.id}:{PAID}",
        "What was paid besides the price",
        column_config={
            "line": st.column_config.TextColumn("Line", max_chars=200),
            "paid": st.column_config.NumberColumn(
                f"Paid, {case.currency}", min_value=0, format="%.2f"
            ),
        },
    )
    with st.container(horizontal=True):
        pressed = st.button(
            "Save what was paid", key="paid-save", type="primary", icon=":material/save:"
        )
        if purchase.paid:
            st.button("Go by the plan again", key="paid-forget", on_click=_forget_paid)
    if pressed:
        done = attempt(
            PAID,
            lambda case: _with_paid(case, paid_lines(case, edited)),
            undo="Changed: what was paid for the purchase",
            names=(PaidLine,),
        )
        kept_or_handed_over(f"{case.id}:{PAID}", saved=done)
        drawn_anew()
    refusal(PAID)


def paid_frame(case: Case, forecast: Forecast | None) -> pd.DataFrame:
    """Return the lines besides the price: as paid, or as planned while nothing is entered."""
    purchase = case.purchase
    rows: list[tuple[str, float | None]] = []
    if purchase is not None and purchase.paid:
        rows = [(one.label, float(one.amount)) for one in purchase.paid[1:]]
    elif forecast is not None:
        rows = [
            (one.label, None if one.planned is None else float(one.planned))
            for one in forecast.landed[1:]
        ]
    return pd.DataFrame(rows, columns=["line", "paid"]).astype({"paid": "float64"})


def paid_lines(case: Case, frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the lines paid, the price first, from the table of the others."""
    out: list[dict[str, Any]] = []
    if case.purchase is not None:
        out.append({"label": "Price", "amount": case.purchase.bid})
    for _, cells in frame.iterrows():
        if pd.isna(cells["paid"]) and pd.isna(cells["line"]):
            continue
        label = "" if pd.isna(cells["line"]) else str(cells["line"]).strip()
        amount = Decimal(0) if pd.isna(cells["paid"]) else Decimal(f"{cells['paid']:.2f}")
        out.append({"label": label, "amount": amount})
    return out


def _with_paid(case: Case, lines: Sequence[Mapping[str, Any]]) -> Case:
    return changed(case, ("purchase", "paid"), list(lines))


def _forget_paid() -> None:
    attempt(PAID, lambda case: _with_paid(case, ()), undo="Forgotten: what was paid")
