"""The parts to buy as a table that is edited in place, and old units to give back."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from functools import partial
from typing import Any

import pandas as pd
import streamlit as st

from appraise.errors import AppraiseError, BadCase, Problem
from appraise.intake.file_names import name_to_save
from appraise.models.case import Case
from appraise.models.parts import PartRow
from appraise.models.work import Grade, PlannedJob, PlannedPart
from appraise.reference.load import Reference
from appraise.reports.tables_parts import core_table
from appraise.services import today
from appraise.services.cases.editing import free_id
from appraise.services.output.printing import parts_paper, parts_sheet
from appraise.services.ownership.shopping import cores_to_return, part_rows, parts_of
from appraise.services.ownership.working import job_of, put_job
from ui.repair.common import attempt, drawn_anew, job_names, job_with, refusal
from ui.session import cached, state
from ui.widgets import show
from ui.widgets.sheets import sheet_button
from ui.widgets.tables import edit_table, kept_or_handed_over
from ui.words import money, name

__all__ = ["parts", "parts_frame", "with_parts"]

TABLE = "parts-table"
MARK = "parts-mark"
TALL = 40
MONEY = ("each", "shipping", "tax", "core")
WHOLE = ("quantity", "days", "warranty")
DATES = ("ordered", "arrived")
FIELDS = {
    "each": "price",
    "shipping": "shipping",
    "tax": "tax",
    "core": "core",
    "quantity": "quantity",
    "days": "delivery_days",
    "warranty": "warranty_months",
    "ordered": "ordered_on",
    "arrived": "arrived_on",
}
"""Columns that hold a field of a part as it is, by its name there."""
EMPTY = {"shipping": Decimal(0), "tax": Decimal(0), "core": Decimal(0), "quantity": 1}
"""What an emptied cell means where the field cannot be empty."""
COLUMNS = (
    "id", "from", "part", "state", "each", "expected", "quantity", "grade", "supplier", "ordered",
    "arrived", "days", "shipping", "tax", "core", "warranty", "job",
)  # fmt: skip


def parts(case: Case, reference: Reference) -> None:
    """Show the parts of the open jobs, what they come to, and the deposits to claim."""
    try:
        rows = part_rows(case, reference)
        cores = cores_to_return(case, reference)
    except AppraiseError as error:
        st.error(show.plain(str(error)))
        return
    names = job_names(case, reference)
    if not any(one.open for one in case.work.jobs):
        st.write("No open jobs, so there is nothing to buy. Plan jobs under Jobs.")
    else:
        _totals(rows, case.currency)
        _table(case, rows, names, reference)
        _marks(rows)
    if cores:
        st.subheader("Old units to give back")
        show.table(
            core_table(case.currency, cores), "Old units whose deposit is not back yet", cents=True
        )
        st.caption("Enter a deposit that comes back under Money and hours, as deposit back.")
    download_buttons(case, reference)


def _totals(rows: Sequence[PartRow], currency: str) -> None:
    def total(*states: str) -> Decimal:
        mine = [one.total for one in rows if one.state in states and one.total is not None]
        return sum(mine, Decimal(0))

    late = [one for one in rows if one.state == "late"]
    if late:
        listed_late = "; ".join(f"{one.label}, due {one.due}" for one in late)
        st.warning(show.plain(f"Late: {listed_late}."), icon=":material/warning:")
    with st.grid(4, min_column_width=130):
        for label, states in (
            ("To order", ("to order",)),
            ("On the way", ("ordered", "late")),
            ("Here", ("here",)),
        ):
            count = sum(one.state in states for one in rows)
            st.metric(f"{label} ({count}), {currency}", money(total(*states)), border=True)
        deposits = sum((one.core * one.quantity for one in rows), Decimal(0))
        if deposits:
            st.metric(f"Deposits on top, {currency}", money(deposits), border=True)
    guessed = sum(one.expected for one in rows)
    bare = [one.label for one in rows if one.total is None]
    said = f"{len(rows)} parts."
    if guessed:
        said += f" {guessed} without a price of their own count at what the catalog expects."
    if bare:
        said += f" Without any price, so counted as nothing: {', '.join(bare)}."
    st.caption(show.plain(said))


def parts_frame(rows: Sequence[PartRow], case: Case, reference: Reference) -> pd.DataFrame:
    """Return the parts of the open jobs as the table shows them."""
    own = {
        (job.id, part.id): part
        for job in case.work.jobs
        if job.open
        for part in parts_of(case, job, reference)
    }
    out = []
    for row in rows:
        part = own[row.job, row.part]
        fields = {column: getattr(part, field) for column, field in FIELDS.items()}
        amounts = {one: _float(fields[one]) for one in MONEY}
        out.append(
            {
                **fields,
                **amounts,
                "id": row.part,
                "from": row.job,
                "part": part.label,
                "state": row.state,
                "expected": float(row.each) if row.expected and row.each is not None else None,
                "grade": part.grade.value,
                "supplier": part.supplier,
                "job": row.job,
            }
        )
    frame = pd.DataFrame(out, columns=list(COLUMNS))
    types: dict[str, Any] = dict.fromkeys((*MONEY, "expected"), "float64")
    frame = frame.astype({**types, **dict.fromkeys(WHOLE, "Int64")})
    for column in DATES:
        frame[column] = pd.to_datetime(frame[column])
    return frame


def _float(amount: Decimal | None) -> float | None:
    return None if amount is None else float(amount)


def _table(
    case: Case, rows: Sequence[PartRow], names: dict[str, str], reference: Reference
) -> None:
    open_jobs = [one.id for one in case.work.jobs if one.open]
    column = st.column_config
    amount: dict[str, Any] = {"min_value": 0, "format": "%.2f"}
    edited = edit_table(
        parts_frame(rows, case, reference),
        state.key_for((TABLE,)),
        f"{case.id}:{TABLE}",
        "Parts to buy",
        ("from", "id"),
        height="content" if len(rows) <= TALL else "auto",
        placeholder="",
        disabled=["state", "expected"],
        column_config={
            "id": None,
            "from": None,
            "part": column.TextColumn("Part", max_chars=200, pinned=True, width=150),
            "state": column.TextColumn("How far", width=75),
            "each": column.NumberColumn(f"Price each, {case.currency}", **amount),
            "expected": column.NumberColumn("Expected each", format="%.2f"),
            "quantity": column.NumberColumn("Quantity", min_value=1, max_value=100, format="%d"),
            "grade": column.SelectboxColumn(
                "Comes from",
                options=[one.value for one in Grade],
                format_func=lambda one: name(str(one)),
            ),
            "supplier": column.TextColumn("Supplier", max_chars=200),
            "ordered": column.DateColumn("Ordered on", format="YYYY-MM-DD"),
            "arrived": column.DateColumn("Arrived on", format="YYYY-MM-DD"),
            "days": column.NumberColumn("Delivery, days", min_value=0, max_value=365, format="%d"),
            "shipping": column.NumberColumn("Shipping, all", **amount),
            "tax": column.NumberColumn("Tax, all", **amount),
            "core": column.NumberColumn("Deposit each", **amount),
            "warranty": column.NumberColumn(
                "Warranty, months", min_value=0, max_value=240, format="%d"
            ),
            "job": column.SelectboxColumn(
                "Job",
                options=open_jobs,
                format_func=lambda one: names[str(one)],
                width="large",
            ),
        },
    )
    if st.button("Save the table", key="parts-save", type="primary", icon=":material/save:"):
        done = attempt(
            TABLE,
            lambda case: with_parts(case, edited, reference),
            undo="Changed: the table of parts",
            names=(PlannedPart,),
        )
        kept_or_handed_over(f"{case.id}:{TABLE}", saved=done)
        drawn_anew()
    refusal(TABLE)
    st.caption(
        "Add a part at the foot of the table; tick a row at its left edge to delete it. An empty "
        "price counts at what the catalog expects, tax and shipping are for all pieces together."
    )


def with_parts(case: Case, frame: pd.DataFrame, reference: Reference) -> Case:
    """Return the case with its open jobs' parts as the table has them.

    What is bought in and stands on no list of parts stays as it is.

    Raises
    ------
    BadCase
        A part cannot be so, or names no job.
    """
    rows: defaultdict[str, list[dict[str, Any]]] = defaultdict(list)
    for _, cells in frame.iterrows():
        values = {str(at): None if pd.isna(cell) else cell for at, cell in cells.items()}
        if all(cell is None for cell in values.values()):
            continue
        if values["part"] is None or not str(values["part"]).strip():
            raise BadCase((Problem("", "a row has no part: name it, or delete the row", "stop"),))
        if values["job"] is None:
            message = f"{values['part']}: choose the job that it is for"
            raise BadCase((Problem("", message, "stop"),))
        rows[str(values["job"])].append(values)
    shown = defaultdict(set)
    for row in part_rows(case, reference):
        shown[row.job].add(row.part)
    new = case
    for job in case.work.jobs:
        if not job.open:
            continue
        before = parts_of(case, job, reference)
        hidden = [one.model_dump() for one in before if one.id not in shown[job.id]]
        known = {one.id: one for one in before}
        after = _read(rows[job.id], job, known, hidden)
        changed = job_with(job, {"parts": after})
        if changed.parts != before:
            new = put_job(new, changed)
    return new


def _read(
    rows: list[dict[str, Any]],
    job: PlannedJob,
    known: dict[str, PlannedPart],
    hidden: list[dict[str, Any]],
) -> list[dict[str, Any]]:
    """Return a job's rows as parts, those that the table does not show behind them."""
    out: list[dict[str, Any]] = []
    for values in rows:
        mine = values["from"] == job.id and values["id"] in known
        old = known[values["id"]].model_dump() if mine else {}
        label = str(values["part"]).strip()
        taken = [*known, *(one["id"] for one in out)]
        new: dict[str, Any] = {
            "id": old.get("id") or free_id(label, taken),
            "label": label,
            "grade": values["grade"] or Grade.AFTERMARKET.value,
            "supplier": values["supplier"] or "",
        }
        for column, field in FIELDS.items():
            cell = _cell(column, values[column])
            new[field] = EMPTY.get(column) if cell is None else cell
        out.append({**old, **new})
    order = list(known)
    both = [*out, *hidden]
    return sorted(
        both, key=lambda one: order.index(one["id"]) if one["id"] in order else len(order)
    )


def _cell(column: str, value: Any) -> Any:  # noqa: ANN401 - a cell of a table
    if value is None:
        return None
    if column in MONEY:
        return Decimal(f"{value:.2f}")
    if column in WHOLE:
        return int(value)
    return pd.Timestamp(value).date()


def _marks(rows: Sequence[PartRow]) -> None:
    """Offer to mark parts as ordered or here, without the table: with one hand at the counter."""
    left = {f"{one.job}/{one.part}": one for one in rows if one.state != "here"}
    if not left:
        return
    key = state.key_for((MARK,))
    with st.container(horizontal=True, vertical_alignment="bottom"):
        st.multiselect(
            "Parts ordered or come today",
            list(left),
            format_func=lambda one: f"{left[one].label} ({left[one].state})",
            placeholder="choose parts",
            key=key,
            width=420,
        )
        for words, field in (("Ordered today", "ordered_on"), ("Here today", "arrived_on")):
            st.button(words, key=f"{MARK}:{field}", on_click=_mark, args=(field, key))
    refusal(MARK)


def _mark(field: str, key: str) -> None:
    picked: list[str] = st.session_state.get(key) or []

    def change(case: Case) -> Case:
        if not picked:
            raise BadCase((Problem("", "choose the parts first", "stop"),))
        new = case
        for one in picked:
            job_id, _, part_id = one.partition("/")
            new = _with_day(new, job_id, part_id, field, today())
        return new

    words = "ordered" if field == "ordered_on" else "here"
    attempt(MARK, change, undo=f"Marked as {words}: {len(picked)} parts", names=(PlannedPart,))


def _with_day(case: Case, job_id: str, part_id: str, field: str, day: date) -> Case:
    job = job_of(case, job_id)
    rows = [one.model_dump() for one in parts_of(case, job, cached.reference())]
    for row in rows:
        if row["id"] == part_id:
            row[field] = day
    return put_job(case, job_with(job, {"parts": rows}))


def download_buttons(case: Case, reference: Reference) -> None:
    """Offer the parts and the old units on paper and as a spreadsheet, made when asked for."""
    with st.container(horizontal=True):
        st.download_button(
            "On paper (PDF)",
            partial(parts_paper, case, reference),
            file_name=name_to_save(f"{case.id}-parts", ".pdf"),
            mime="application/pdf",
            on_click="ignore",
            icon=":material/download:",
            key="parts-pdf",
        )
        sheet_button(partial(parts_sheet, case, reference), f"{case.id}-parts", "parts-xlsx")
