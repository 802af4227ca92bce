"""The form for one paper: what can be read off it, and what it is to prove."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pandas as pd
import streamlit as st
from pydantic import ValidationError

from appraise.errors import AppraiseError
from appraise.intake.dates import read_day
from appraise.models.case import Case
from appraise.models.papers import (
    Claimed,
    Lien,
    LineKind,
    Paid,
    Paper,
    PaperKind,
    Signed,
    TitleMark,
)
from appraise.models.problems import problems_of
from appraise.models.vehicle import TitleBrand
from appraise.services import changed, possible_causes, today
from appraise.services.cases.editing import free_id
from ui.session import cached, state
from ui.widgets import show
from ui.widgets.files_form import files_box
from ui.widgets.picking import pick_several
from ui.widgets.tables import edit_table, kept_or_handed_over
from ui.widgets.typed import number
from ui.words import name

__all__ = ["paper_form"]

FAULT = "fault"
UNITS = ("mi", "km")
WRONG = object()


def paper_form(case: Case, paper: Paper | None) -> bool:
    """Show the form; True once the paper is kept."""
    key = state.key_for(("paper", paper.id if paper else "new"))
    written = paper.odometer if paper else None
    with st.grid(4, min_column_width=150):
        kind = st.selectbox(
            "Kind of paper",
            list(PaperKind),
            list(PaperKind).index(paper.kind)
            if paper
            else list(PaperKind).index(PaperKind.INVOICE),
            format_func=name,
            key=f"{key}:kind",
        )
        dated = _day_field(case, paper, key)
        issuer = st.text_input("Issued by", paper.issuer if paper else "", key=f"{key}:issuer")
        reach = st.text_input("How to reach them", paper.reach if paper else "", key=f"{key}:reach")
        vin = st.text_input("Number of the car on it", paper.vin if paper else "", key=f"{key}:vin")
        plate = st.text_input("Plate on it", paper.plate if paper else "", key=f"{key}:plate")
        reading = st.number_input(
            "Odometer on it",
            value=float(written.value) if written else None,
            min_value=0.0,
            format="%.1f" if written and written.value % 1 else "%.0f",
            key=f"{key}:odometer",
        )
        unit = st.selectbox(
            "Its unit",
            UNITS,
            UNITS.index(written.unit if written else case.vehicle.odometer.unit),
            key=f"{key}:unit",
        )
        in_name = st.text_input("In whose name", paper.in_name if paper else "", key=f"{key}:name")
        paid = st.selectbox(
            "Paid",
            list(Paid),
            list(Paid).index(paper.paid) if paper else 0,
            format_func=name,
            key=f"{key}:paid",
        )
        signed = st.selectbox(
            "Signed",
            list(Signed),
            list(Signed).index(paper.signed) if paper else 0,
            format_func=name,
            key=f"{key}:signed",
        )
        brands = pick_several(
            "Title brands on it",
            {one: name(one) for one in TitleBrand},
            paper.brands if paper else (),
            placeholder="none",
            key=f"{key}:brands",
        )
        total = st.number_input(
            f"Total, {case.currency}",
            value=float(paper.total) if paper and paper.total is not None else None,
            min_value=0.0,
            format="%.2f",
            key=f"{key}:total",
        )
    title: dict[str, Any] = {}
    if kind is PaperKind.TITLE:
        title = _title_fields(paper, key)
    st.caption("Lines on it:")
    table = f"{case.id}:paper.{paper.id if paper else 'new'}.lines"
    lines = edit_table(
        _lines(paper),
        f"{key}:lines",
        table,
        "Lines of the paper",
        column_config={
            "text": st.column_config.TextColumn("Text", max_chars=200),
            "kind": st.column_config.SelectboxColumn(
                "What for", options=[one.value for one in LineKind]
            ),
            "amount": st.column_config.NumberColumn("Amount", min_value=0, format="%.2f"),
        },
    )
    claims = _claims(case, paper, key)
    attachments = files_box(paper.attachments if paper else (), key)
    note = st.text_area("Note", paper.note if paper else "", height=80, key=f"{key}:note")
    words = "Save" if paper else "Add this paper"
    if not st.button(words, key=f"{key}:save", type="primary") or dated is WRONG:
        return False
    raw: dict[str, Any] = {
        "id": paper.id if paper else free_id(str(kind), [one.id for one in case.papers]),
        "kind": kind,
        "dated": dated,
        "issuer": issuer,
        "reach": reach,
        "vin": vin,
        "plate": plate,
        "odometer": None
        if reading is None
        else {"value": number(reading, written.value if written else None, 1), "unit": unit},
        "lines": _read_lines(lines),
        "total": None if total is None else Decimal(f"{total:.2f}"),
        "paid": paid,
        "in_name": in_name,
        "brands": brands,
        "signed": signed,
        "claims": claims,
        "attachments": [one.model_dump() for one in attachments],
        "note": note,
        **title,
    }
    return kept_or_handed_over(table, saved=_keep(case, raw, paper))


def _day_field(case: Case, paper: Paper | None, key: str) -> date | object | None:
    """Show the day as written on the paper, in any of the usual orders; `WRONG` if it is none.

    Where day and month could stand the other way round, both readings are told beside it.
    """
    with st.container():
        text = st.text_input(
            "Date on it",
            paper.dated.isoformat() if paper and paper.dated else "",
            max_chars=40,
            placeholder="as written: 14/3/25, 14 Mar 2025 ...",
            key=f"{key}:dated",
        )
        if not text.strip():
            return None
        try:
            found = read_day(text, today=today(), month_first=case.currency == "USD")
        except AppraiseError as error:
            st.caption(f":red[:material/error: {show.plain(str(error))}]")
            return WRONG
        if found.words:
            st.caption(show.plain(found.words[:1].upper() + found.words[1:] + "."))
        elif text.strip() != found.day.isoformat():
            st.caption(f"{found.day:%d %B %Y}")
    return found.day


def _title_fields(paper: Paper | None, key: str) -> dict[str, Any]:
    """Show what only a title says: signed over to whom, a lender's claim, marks of its own."""
    with st.grid(3, min_column_width=150):
        signed_to = st.text_input(
            "Signed over to", paper.signed_to if paper else "", key=f"{key}:signed-to"
        )
        lien = st.selectbox(
            "Lender's claim",
            list(Lien),
            list(Lien).index(paper.lien) if paper else 0,
            format_func=name,
            key=f"{key}:lien",
        )
        marks = pick_several(
            "What else it says of itself",
            {one: name(one) for one in TitleMark},
            paper.title_marks if paper else (),
            placeholder="nothing",
            key=f"{key}:title-marks",
        )
    return {"signed_to": signed_to, "lien": lien, "title_marks": marks}


def _keep(case: Case, raw: dict[str, Any], old: Paper | None) -> bool:
    try:
        new = Paper.model_validate(raw)
    except ValidationError as error:
        for problem in problems_of(error):
            st.error(show.plain(f"{problem.where} {problem.message}".strip()))
        return False
    if old is not None:
        state.remember(f"Changed: {name(old.kind)}")
        rows = [new if one.id == old.id else one for one in case.papers]
    else:
        rows = [*case.papers, new]
    papers = [one.model_dump() for one in rows]
    return state.save(changed(case, ("papers",), papers), fresh_widgets=True)


def _lines(paper: Paper | None) -> pd.DataFrame:
    rows = [
        {
            "text": one.label,
            "kind": one.kind.value,
            "amount": None if one.amount is None else float(one.amount),
        }
        for one in (paper.lines if paper else ())
    ]
    return pd.DataFrame(rows, columns=["text", "kind", "amount"]).astype({"amount": "float64"})


def _read_lines(frame: pd.DataFrame) -> list[dict[str, Any]]:
    out: list[dict[str, Any]] = []
    for _, cells in frame.iterrows():
        if all(pd.isna(cell) for cell in cells):
            continue
        text = "" if pd.isna(cells["text"]) else str(cells["text"]).strip()
        amount = None if pd.isna(cells["amount"]) else Decimal(f"{cells['amount']:.2f}")
        kind = "part" if pd.isna(cells["kind"]) else cells["kind"]
        out.append({"label": text, "kind": kind, "amount": amount})
    return out


def _claims(case: Case, paper: Paper | None, key: str) -> list[dict[str, Any]]:
    """Show which finding the paper is to speak to, and which causes it would exclude.

    A claim on what is no trouble any more, or on a cause no longer listed, is kept as it is.
    """
    trouble = {one.id: one for one in case.findings if one.trouble}
    old = {one.finding: one for one in paper.claims} if paper else {}
    hidden = [one.model_dump() for one in old.values() if one.finding not in trouble]
    if not trouble:
        return hidden
    picked = pick_several(
        "Findings that it is to speak to",
        {one: found.label or one for one, found in trouble.items()},
        old,
        placeholder="none",
        key=f"{key}:claims",
    )
    out: list[dict[str, Any]] = hidden
    for finding_id in picked:
        finding = trouble[finding_id]
        before = old.get(finding_id)
        names = possible_causes(finding, case.vehicle, cached.reference())
        names = names or {FAULT: finding.label or "it"}
        causes = pick_several(
            f"Which causes of: {show.plain(finding.label or finding_id)}",
            names,
            before.causes if before else (),
            placeholder="choose the part that it names",
            key=f"{key}:causes:{finding_id}",
        )
        causes += [one for one in (before.causes if before else ()) if one not in names]
        claimed = st.selectbox(
            "What it claims",
            list(Claimed),
            list(Claimed).index(before.claimed) if before else 0,
            format_func=name,
            key=f"{key}:claimed:{finding_id}",
        )
        out.append({"finding": finding_id, "causes": causes, "claimed": claimed})
    return out
