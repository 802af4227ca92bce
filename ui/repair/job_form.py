"""The form for one planned job: who does it, what it takes, what it waits for."""

from __future__ import annotations

from typing import Any

import streamlit as st

from appraise.models.case import Case
from appraise.models.files import Attachments
from appraise.models.jobs import DoneBy
from appraise.models.work import PlannedJob, PlannedPart, Purpose
from appraise.reports.wording import DONE_BY
from appraise.services.ownership.working import attach_to_job, job_of, put_job
from ui.repair.common import (
    FORM,
    as_range,
    attempt,
    finding_names,
    job_with,
    open_form,
    range_fields,
    refusal,
    typed,
)
from ui.session import state
from ui.widgets import show
from ui.widgets.files_form import files_box
from ui.widgets.picking import pick_several

__all__ = ["job_form"]

MOST_PIECES = 100
ADDING = (Purpose.PREVENTIVE, Purpose.UPGRADE)


def job_form(case: Case, job: PlannedJob, names: dict[str, str]) -> None:
    """Show the form for a planned job; it closes once its changes are kept."""
    key = state.key_for(("job", job.id))
    with st.container(border=True):
        st.markdown(f"**Change: {show.plain(names[job.id])}**")
        _fields(case, job, names, key)
        # Its own key: photos stay when another window's change lets the fields begin anew.
        files = files_box(job.attachments, f"{FORM}:{case.id}:{job.id}")
        st.button(
            "Save",
            type="primary",
            icon=":material/save:",
            key=f"{key}:save",
            on_click=_save,
            args=(job.id, names[job.id], key, files),
        )
        refusal(key)
    st.button(
        "Close without saving",
        on_click=open_form,
        args=(None,),
        type="tertiary",
        key=f"{key}:close",
    )


def _fields(case: Case, job: PlannedJob, names: dict[str, str], key: str) -> None:
    with st.grid(3, min_column_width=150, vertical_alignment="bottom"):
        st.selectbox(
            "Done by",
            list(DoneBy),
            list(DoneBy).index(job.done_by) if job.done_by else None,
            format_func=DONE_BY.__getitem__,
            placeholder="as in the deal",
            key=f"{key}:done_by",
        )
        st.number_input("How many times", 1, 20, job.quantity, key=f"{key}:quantity")
        st.toggle(
            "Must be done",
            job.must,
            key=f"{key}:must",
            help="Before a private buyer drives it away.",
        )
    pick_several(
        "Waits for",
        {one: words for one, words in names.items() if one != job.id},
        job.after,
        placeholder="no other job",
        key=f"{key}:after",
    )
    pick_several(
        "Findings that it repairs",
        finding_names(case),
        job.findings,
        placeholder="none",
        key=f"{key}:findings",
    )
    range_fields("Own figure for its hours", job.hours, f"{key}:hours")
    range_fields(f"Own figure for all its parts, {case.currency}", job.money, f"{key}:money")
    if job.purpose in ADDING:
        words = f"What it adds to the price, {case.currency}"
        range_fields(words, job.adds, f"{key}:adds", "estimate")
    st.text_area("Note", job.note, max_chars=20_000, height=80, key=f"{key}:note")


def _save(job_id: str, label: str, key: str, files: Attachments) -> None:
    given = typed(key)

    def change(case: Case) -> Case:
        new = put_job(case, _changed(case, job_of(case, job_id), given))
        return attach_to_job(new, job_id, files)

    if attempt(key, change, undo=f"Changed: {label}", names=(PlannedJob,)):
        open_form(None)


def _changed(case: Case, job: PlannedJob, given: dict[str, Any]) -> PlannedJob:
    """Return the job as the form has it; findings that the form cannot show are kept.

    Raises
    ------
    BadCase
        It cannot be so.
    """
    changes = {field: given[field] for field in ("done_by", "quantity", "must", "after", "note")}
    hidden = [one for one in job.findings if one not in finding_names(case)]
    changes["findings"] = [*given["findings"], *hidden]
    ranges = ("hours", "money", "adds") if job.purpose in ADDING else ("hours", "money")
    for field in ranges:
        changes[field] = as_range(given, field, getattr(job, field))
    if given["quantity"] != job.quantity:
        changes["parts"] = [_for_times(one, job.quantity, given["quantity"]) for one in job.parts]
    return job_with(job, changes)


def _for_times(part: PlannedPart, before: int, now: int) -> dict[str, Any]:
    """Return a part of a job's list with its quantity for another number of times.

    What is ordered already, or was not a multiple, stays as it is.
    """
    raw = part.model_dump()
    if part.ordered_on is None and part.quantity % before == 0:
        raw["quantity"] = min(MOST_PIECES, part.quantity // before * now)
    return raw
