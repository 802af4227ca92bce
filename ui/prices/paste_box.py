"""Comparable cars pasted as text: what was understood is shown, row by row, before it is added."""

from __future__ import annotations

import streamlit as st

from appraise.errors import BadCase
from appraise.models.case import Case
from appraise.models.market import PriceKind, SoldBy
from appraise.reports.wording import CONDITIONS
from appraise.services import changed, today
from appraise.services.inspection.pasting import Order, Pasted, PastedRow, paste_comparables
from ui.session import cached, state
from ui.widgets import show
from ui.words import money, name

__all__ = ["paste_box"]

ORDERS: dict[Order | None, str] = {
    None: "ask me",
    "distance": "year, distance, price",
    "price": "year, price, distance",
}


def paste_box(case: Case) -> None:
    """Take a list of cars as text, show what each line was understood as, and add them."""
    key = f"{case.id}:paste"
    state.stays("a pasted list", state.shown_page(), [key])
    text = st.text_area(
        "One car a line, as in the advert or the spreadsheet",
        key=key,
        persist_state="session",
        placeholder="2010, $4,150, 121,000 mi\n2013\t126k mi\t6,690 USD\tsold\tdealer",
        help="A sign or a unit says which figure is which: $ or USD, mi or km. A year is four "
        "digits. The words sold, asked, dealer, private, auction, better and worse are read; "
        "anything else becomes the note.",
    )
    with st.grid(3, min_column_width=160):
        st.selectbox(
            "Offered by",
            list(SoldBy),
            index=None,
            format_func=name,
            placeholder="as each line says",
            key=f"{key}:by",
            persist_state="session",
        )
        st.selectbox(
            "Asked or sold",
            list(PriceKind),
            index=None,
            format_func=name,
            placeholder="as each line says, else asked",
            key=f"{key}:kind",
            persist_state="session",
        )
        st.selectbox(
            "Order of figures without sign or unit",
            list(ORDERS),
            format_func=lambda one: ORDERS[one],
            key=f"{key}:order",
            persist_state="session",
        )
    pasted = _read(case, key)
    if not pasted.rows:
        st.caption(
            "No line holds a figure."
            if text.strip()
            else "What was understood is shown here, row by row, before anything is added."
        )
        return
    show.frame([_row(one) for one in pasted.rows], "What was understood, row by row")
    for one in pasted.unread:
        st.error(show.plain(f"Line {one.line}: {one.problem}. It says: {one.text}"))
    for one in pasted.rows:
        if one.odd:
            st.warning(show.plain(f"Line {one.line}: {one.odd}. Right? Then add it."))
    for said in pasted.problems:
        st.error(show.plain(f"{said.where}: {said.message} ({said.hint})"))
    if pasted.comparables:
        many = len(pasted.comparables)
        left = f", leave {len(pasted.unread)} to correct" if pasted.unread else ""
        st.button(
            f"Add {many} {'car' if many == 1 else 'cars'}{left}",
            key=f"{key}:add",
            type="primary",
            icon=":material/add:",
            on_click=_add,
            args=(key, pasted),
        )


def _read(case: Case, key: str) -> Pasted:
    held = st.session_state
    return paste_comparables(
        held.get(key) or "",
        cached.reference(),
        unit=case.vehicle.odometer.unit,
        currency=case.currency,
        on=today(),
        taken=tuple(one.id for one in case.market.comparables),
        before=case.market.comparables,
        order=held.get(f"{key}:order"),
        kind=held.get(f"{key}:kind"),
        sold_by=held.get(f"{key}:by"),
    )


def _row(one: PastedRow) -> dict[str, object]:
    comp = one.comparable
    check = "; ".join(said for said in (one.problem, one.odd, one.remark) if said)
    if comp is None:
        return {"car": f"{one.line}: not clear", "to check": check, "note": one.text}
    return {
        "car": f"{one.line}: {comp.model_year}, {comp.odometer.value:,.0f} {comp.odometer.unit}",
        "price": money(comp.price),
        "to check": check,
        "asked or sold": comp.kind.value,
        "offered by": comp.sold_by.value if comp.sold_by else "not known",
        "condition": CONDITIONS[comp.condition],
        "note": comp.note,
    }


def _add(key: str, shown: Pasted) -> None:
    """Add what was shown; a list that was changed since is shown first."""
    case = state.case()
    pasted = _read(case, key)
    if pasted != shown:
        state.notice("The list was changed: check what it says now, then add.", bad=True)
        return
    rows = [one.model_dump() for one in (*case.market.comparables, *pasted.comparables)]
    try:
        new = changed(case, ("market", "comparables"), rows)
    except BadCase as error:
        state.notice(str(error), bad=True)
        return
    if not state.save(new, fresh_widgets=True):
        return
    st.session_state[key] = pasted.rest
    many = len(pasted.rest.splitlines())
    kept = f" Still in the box: {many} {'line' if many == 1 else 'lines'}." if many else ""
    state.notice(f"Added {len(pasted.comparables)}.{kept}", bad=bool(many))
