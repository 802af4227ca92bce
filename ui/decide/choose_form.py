"""What a person says before choosing: limits, worth, breaking for parts; and the sale itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

import pandas as pd
import streamlit as st

from appraise.errors import BadCase
from appraise.models.case import Case, Standing
from appraise.models.trade import Sale
from appraise.models.work import Breaking, BreakingLine
from appraise.services import changed, today
from appraise.services.inspection.selling import seller_counts
from appraise.services.output.printing import buyers_sheet
from ui.session import cached, state
from ui.widgets import fields, show
from ui.widgets.print_button import print_button
from ui.widgets.refusals import refuse, refused, settled
from ui.widgets.sheets import table_button
from ui.widgets.tables import edit_table, forget_tables, kept_or_handed_over
from ui.widgets.typed import number
from ui.words import money

__all__ = ["breaking_box", "limits_box", "sale_box"]

FORM = "sale-form"
SEEN = "breaking-seen"
LINES = ("what is sold", "low", "likely", "high", "chance", "hours")
USUAL_CHANCE, USUAL_HOURS, USUAL_DAYS = 70, 1.0, 60
OFFER, SELL = "offer", "sell"
MOST_DAYS = 1000


def limits_box() -> None:
    """Ask for the most money and hours still to put in, and what keeping the car is worth."""
    with st.grid(2, min_column_width=160):
        fields.amount("work", "money_limit", step=100.0)
        fields.amount("work", "hours_limit", step=5.0)
    fields.optional_range("work", "worth_to_keep", usual=": the price of a comparable car in order")


# --- breaking for parts -----------------------------------------------------------------------


def breaking_box(case: Case) -> None:
    """Take what can be sold off the car, what the rest brings, and how long it takes."""
    old = case.work.breaking
    key = f"{case.id}:breaking:{st.session_state.get('breaking-round', 0)}"
    st.caption("One line each; leave the table empty if only the scrap counts.")
    edited = edit_table(
        _lines(old),
        f"{key}:lines",
        f"{case.id}:breaking.lines",
        "What can be sold off the car",
        column_config={
            "what is sold": st.column_config.TextColumn("What is sold", max_chars=200),
            "low": st.column_config.NumberColumn("Low", min_value=0, format="localized"),
            "likely": st.column_config.NumberColumn("Likely", min_value=0, format="localized"),
            "high": st.column_config.NumberColumn("High", min_value=0, format="localized"),
            "chance": st.column_config.NumberColumn(
                "Chance to sell, %", min_value=0, max_value=100, format="%.0f"
            ),
            "hours": st.column_config.NumberColumn("Hours", min_value=0, format="%.1f"),
        },
    )
    with st.grid(2, min_column_width=150):
        scrap = _amount(
            "Scrap value of the rest", old.scrap if old else None, f"{key}:scrap", case.currency
        )
        days = st.number_input(
            "Days until it is gone",
            0,
            MOST_DAYS,
            old.days if old else USUAL_DAYS,
            key=f"{key}:days",
            persist_state="session",
        )
    with st.container(horizontal=True):
        pressed = st.button(
            "Weigh parting it out", key=f"{key}:save", on_click=_look_again, icon=":material/save:"
        )
        if old is not None:
            st.button(
                "Leave parting out aside", icon=":material/delete:", on_click=_leave_breaking_out
            )
    if old is not None and old.lines:
        table_button(case, "Parting out")
    if pressed and st.session_state.pop(SEEN) != old:
        st.warning("Another window changed what parting it out brings: look again, then press.")
    elif pressed:
        _keep_breaking(case, edited, scrap, days)


def _look_again() -> None:
    """Remember what was on the page when the button was pressed."""
    st.session_state[SEEN] = state.case().work.breaking


def _lines(old: Breaking | None) -> pd.DataFrame:
    rows = [
        {
            "what is sold": one.label,
            "low": float(one.price.low),
            "likely": float(one.price.likely),
            "high": float(one.price.high),
            "chance": float(one.chance * 100),
            "hours": float(one.hours),
        }
        for one in (old.lines if old else ())
    ]
    kinds = dict.fromkeys(LINES[1:], "float64")
    return pd.DataFrame(rows, columns=list(LINES)).astype({"what is sold": "object", **kinds})


def _read_lines(frame: pd.DataFrame, shown: Sequence[BreakingLine]) -> list[dict[str, Any]]:
    """Return the lines of the table; a price given once is sure, an empty row is none.

    Parameters
    ----------
    shown : those that the table began with, by the index of their row.
    """
    out: list[dict[str, Any]] = []
    for place, cells in frame.iterrows():
        label = "" if pd.isna(cells["what is sold"]) else str(cells["what is sold"]).strip()
        prices = {one: cells[one] for one in ("low", "likely", "high")}
        given = [one for one in prices.values() if not pd.isna(one)]
        if all(pd.isna(cell) for cell in cells):
            continue
        old = shown[place] if isinstance(place, int) and place < len(shown) else None
        chance = USUAL_CHANCE if pd.isna(cells["chance"]) else cells["chance"]
        hours = USUAL_HOURS if pd.isna(cells["hours"]) else cells["hours"]
        filled: dict[str, Any] = {
            name: None
            if not given
            else number(given[0] if pd.isna(one) else one, getattr(old and old.price, name, None))
            for name, one in prices.items()
        }
        if old is not None:
            filled["reads_as"] = old.price.reads_as
        same_chance = old is not None and chance == float(old.chance * 100)
        out.append(
            {
                "label": label,
                "price": filled,
                "chance": old.chance if old and same_chance else number(chance) / 100,
                "hours": number(hours, old.hours if old else None),
            }
        )
    return out


def _amount(label: str, value: Decimal | None, key: str, currency: str = "") -> float | None:
    if key not in st.session_state:
        st.session_state[key] = None if value is None else float(value)
    behind = f", {currency}" if currency else ""
    found: float | None = st.number_input(
        f"{label}{behind}",
        value=None,
        min_value=0.0,
        step=50.0,
        format="%.0f",
        key=key,
        persist_state="session",
    )
    return found


def _keep_breaking(case: Case, frame: pd.DataFrame, scrap: float | None, days: int) -> None:
    old = case.work.breaking
    lines = _read_lines(frame, old.lines if old else ())
    value = {"lines": lines, "scrap": _decimal(scrap), "days": int(days)}
    try:
        new = changed(case, ("work", "breaking"), value)
    except BadCase as error:
        for one in error.problems:
            place = one.where.removeprefix("work.breaking.").replace("lines[", "line [")
            st.error(show.plain(f"{place}: {one.message}"))
        return
    if kept_or_handed_over(f"{case.id}:breaking.lines", saved=state.save(new)):
        _next_breaking()
    st.rerun()


def _leave_breaking_out() -> None:
    state.remember("Parting out is left aside")
    if state.save(changed(state.case(), ("work", "breaking"), None)):
        forget_tables(f"{state.case().id}:breaking.")
        _next_breaking()


def _next_breaking() -> None:
    st.session_state["breaking-round"] = st.session_state.get("breaking-round", 0) + 1


def _decimal(amount: float | None) -> Decimal | None:
    return None if amount is None else Decimal(f"{amount:.2f}")


# --- the sale ---------------------------------------------------------------------------------


def sale_box(case: Case) -> None:
    """Offer the car and sell it; what federal law counts stands beside it."""
    st.subheader("Sale")
    sales = cached.workspace().cases.sales()
    show.problems(seller_counts(sales, today(), leaving_out=case.id).problems)
    _facts(case)
    opened = st.session_state.get(FORM)
    print_button("Handover sheet", buyers_sheet, case)
    with st.container(horizontal=True):
        offered, sold = case.standing is Standing.ON_SALE, case.standing is Standing.SOLD
        if not sold:
            label = "Change the offer" if offered else "Offer it for sale"
            _opener(label, ":material/sell:", f"{case.id}:{OFFER}")
        _opener("Change the sale" if sold else "Sold", ":material/handshake:", f"{case.id}:{SELL}")
        if offered:
            st.button("Take it off sale", icon=":material/undo:", on_click=_take_off)
        if sold:
            st.button("It was not sold after all", icon=":material/undo:", on_click=_not_sold)
    if opened == f"{case.id}:{OFFER}" and case.standing is not Standing.SOLD:
        _offer_form(case)
    elif opened == f"{case.id}:{SELL}":
        _sold_form(case)


def _opener(label: str, icon: str, form: str) -> None:
    st.button(label, icon=icon, on_click=_open, args=(form,))


def _open(form: str | None) -> None:
    st.session_state[FORM] = form


def _facts(case: Case) -> None:
    sale = case.sale
    if sale is None or case.standing not in (Standing.ON_SALE, Standing.SOLD):
        st.caption("Not offered yet.")
        return
    parts = []
    if sale.offered_on is not None:
        asked = "" if sale.asked is None else f" at {money(sale.asked)} {case.currency}"
        least = "" if sale.least is None else f", not below {money(sale.least)}"
        parts.append(f"Offered on {sale.offered_on}{asked}{least}.")
    if case.standing is Standing.SOLD and sale.price is not None:
        costs = f", {money(sale.costs)} of selling costs" if sale.costs else ""
        parts.append(f"Sold on {sale.sold_on} for {money(sale.price)} {case.currency}{costs}.")
    st.markdown(show.plain(" ".join(parts)))
    named = [
        one.bypass.what
        for one in case.work.jobs
        if one.bypass is not None and one.bypass.open and one.id in case.work.disclosed
    ]
    if named:
        st.caption(show.plain(f"Named to the buyer in writing: bypassed {', '.join(named)}."))


def _offer_form(case: Case) -> None:
    old = case.sale or Sale()
    key = state.key_for((OFFER,))
    with st.container(border=True):
        with st.grid(3, min_column_width=150, vertical_alignment="bottom"):
            st.date_input("Offered on", old.offered_on or today(), key=f"{key}:on")
            _amount("Asking price", old.asked, f"{key}:asked", case.currency)
            _amount("Least that is taken", old.least, f"{key}:least", case.currency)
        _written(case, old, key)
        st.button(
            "Keep the offer", type="primary", key=f"{key}:go", on_click=_keep_offer, args=(key,)
        )
        refused(key)
        st.button("Close without saving", on_click=_open, args=(None,), type="tertiary")


def _keep_offer(key: str) -> None:
    typed = st.session_state
    offered = {
        "offered_on": typed[f"{key}:on"],
        "asked": _decimal(typed[f"{key}:asked"]),
        "least": _decimal(typed[f"{key}:least"]),
    }
    _keep_sale(key, offered, Standing.ON_SALE, "It is on sale.")


def _sold_form(case: Case) -> None:
    old = case.sale or Sale()
    key = state.key_for((SELL,))
    with st.container(border=True):
        with st.grid(3, min_column_width=150, vertical_alignment="bottom"):
            _amount("Sold for", old.price, f"{key}:price", case.currency)
            st.date_input(
                "Sold on",
                min(old.sold_on or today(), today()),
                min_value=_first_day(case),
                max_value=today(),
                key=f"{key}:on",
            )
            _amount("What the sale cost", old.costs, f"{key}:costs", case.currency)
        st.toggle("The buyer buys it to sell it again", old.for_resale, key=f"{key}:for-resale")
        _written(case, old, key)
        st.button("It is sold", type="primary", key=f"{key}:go", on_click=_keep_sold, args=(key,))
        refused(key)
        st.button("Close without saving", on_click=_open, args=(None,), type="tertiary")


def _keep_sold(key: str) -> None:
    typed = st.session_state
    if typed[f"{key}:price"] is None:
        refuse(key, "sold for: enter the price.")
        return
    sold = {
        "price": _decimal(typed[f"{key}:price"]),
        "sold_on": typed[f"{key}:on"],
        "costs": _decimal(typed[f"{key}:costs"] or 0.0),
        "for_resale": typed[f"{key}:for-resale"],
    }
    _keep_sale(key, sold, Standing.SOLD, "It is sold.")


def _first_day(case: Case) -> date:
    bought = case.purchase.bought_on if case.purchase else today()
    return min(bought, today())


def _written(case: Case, old: Sale, key: str) -> None:
    """Ask what the buyer is told in writing, and which bypasses are named in it."""
    st.text_area("What the buyer is told in writing", old.disclosure, height=100, key=f"{key}:told")
    for one in case.work.open_bypasses:
        if one.bypass is not None:
            st.checkbox(
                f"{show.plain(one.bypass.what)} bypassed: named to the buyer in writing",
                one.id in case.work.disclosed,
                key=f"{key}:named:{one.id}",
            )


def _keep_sale(key: str, given: Mapping[str, Any], standing: Standing, words: str) -> None:
    """Keep the sale as it was typed, or say beside the button why not."""
    settled(key)
    case = state.case()
    shown = {one.id for one in case.work.open_bypasses}
    named = [one for one in shown if st.session_state.get(f"{key}:named:{one}")]
    disclosed = [*(one for one in case.work.disclosed if one not in shown), *sorted(named)]
    old = (case.sale or Sale()).model_dump()
    sale = old | dict(given) | {"disclosure": st.session_state[f"{key}:told"]}
    try:
        new = changed(case, ("work", "disclosed"), disclosed)
        new = changed(changed(new, ("sale",), sale), ("standing",), standing)
    except BadCase as error:
        refuse(key, error.message)
        return
    if state.save(new):
        _open(None)
        state.notice(words)


def _take_off() -> None:
    state.remember("Taken off sale")
    state.save(changed(state.case(), ("standing",), Standing.OWNED))


def _not_sold() -> None:
    case = state.case()
    sale = (case.sale or Sale()).model_dump() | {"price": None, "sold_on": None}
    standing = Standing.ON_SALE if sale["offered_on"] else Standing.OWNED
    state.remember("The sale was taken back")
    state.save(changed(changed(case, ("standing",), standing), ("sale",), sale))
