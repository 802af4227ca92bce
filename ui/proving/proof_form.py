"""What proves a job: measurements against limits, the car's answers, a logged pull."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import streamlit as st
from pydantic import ValidationError

from appraise.errors import AppraiseError, BadCase
from appraise.models.case import Case
from appraise.models.work import JobProof, PlannedJob
from appraise.reference.load import Reference
from appraise.reference.schema import Limit
from appraise.services import changed, codes_in, today
from appraise.services.inspection.measuring import limits_of
from appraise.services.inspection.scanning import read_scan
from appraise.services.ownership.proving import Proved, measure_job, proof_of
from appraise.services.ownership.working import job_of
from ui.proving.proof_pull import keep_proof, pull_box
from ui.session import cached, state
from ui.widgets import show
from ui.widgets.refusals import refuse, refused, settled

__all__ = ["ICONS", "RESULTS", "proof_boxes", "proof_lines", "proved", "would_prove"]

ICONS = {
    "passes": ":material/check:",
    "fails": ":material/close:",
    "cannot tell": ":material/question_mark:",
    "said why not": ":material/edit_note:",
    "none": ":material/remove:",
}
RESULTS = {"said why not": "no test, and why", "none": "not tested yet"}
PASTE = (
    "Paste what the scan tool prints for modes 01, 03, 07 and 0A, one answer a line, such as "
    "41 01 00 07 E5 00 or 43 00."
)
MOST_NAMED = 3
DRIVEN = ("road_test",)
"""Cautions of a drive, for a logged pull or to run the monitors."""


def proved(job: PlannedJob, case: Case, reference: Reference) -> Proved:
    """Return what the proof of a job says; what cannot be read cannot tell."""
    try:
        return proof_of(job, case, reference)
    except AppraiseError as error:
        return Proved("cannot tell", (("cannot tell", f"the car's answers: {error}"),))


def _limits(job: PlannedJob, case: Case, reference: Reference) -> tuple[list[Limit], list[Limit]]:
    """Return the limits that speak to a job, the nearest first, and all others."""
    kin = f"{job.job.split('.', maxsplit=1)[0]}."
    areas = [one.area for one in case.findings if one.id in job.findings]
    areas += [
        one.area
        for one in reference.limits.values()
        if any(name.startswith(kin) for name in one.jobs)
    ]
    near = [one for one in reference.limits.values() if job.job in one.jobs]
    for area in dict.fromkeys(areas):
        near += [one for one in limits_of(area, reference) if one not in near]
    rest = [one for one in reference.limits.values() if one not in near]
    return near, sorted(rest, key=lambda one: (one.area.value, one.label))


def would_prove(job: PlannedJob, case: Case, reference: Reference) -> str:
    """Return in words what would prove a job."""
    if job.bypass is not None:
        return f"the control back in its place: {job.bypass.restore}"
    named = [one.label for one in reference.limits.values() if job.job in one.jobs]
    parts = named[:MOST_NAMED]
    codes = [code for one in case.findings if one.id in job.findings for code in one.codes]
    if codes:
        parts.append(f"{', '.join(dict.fromkeys(codes))} gone and its monitor complete")
    if parts:
        return " · ".join(parts)
    return "a measurement against a limit, or a logged pull; else say why there is none"


# --- what is there ----------------------------------------------------------------------------


def proof_lines(job: PlannedJob, found: Proved, reference: Reference, *, change: bool) -> None:
    """Show each proof with its verdict, the figures compared and their source.

    Parameters
    ----------
    change : whether to offer to remove each.
    """
    proof = job.proof
    count = len(proof.measurements)
    for at, (result, words) in enumerate(found.lines):
        st.markdown(f"{ICONS[result]} **{RESULTS.get(result, result)}**: {show.plain(words)}")
        if at < count:
            one = proof.measurements[at]
            limit = reference.limits.get(one.limit)
            on = f"Taken on {one.measured_on}. " if one.measured_on else ""
            if limit is not None:
                st.caption(show.plain(f"{on}{_source(limit, reference)}"))
            if change:
                _remover(job, f"measurement:{one.id}", _without_measurement(job, one.id))
    if change and proof.code is not None:
        _remover(job, "answers", {"code": None}, "Remove the codes and answers")
    if change and proof.pull is not None:
        _remover(job, "pull", {"pull": None}, "Remove the pull")


def _source(limit: Limit, reference: Reference) -> str:
    cited = [
        f"{reference.sources[one.id].title}{', ' if one.at else ''}{one.at}"
        for one in limit.sources
        if one.id in reference.sources
    ]
    where = limit.jurisdiction[:1].upper() + limit.jurisdiction[1:]
    return f"{where}. Source: {'; '.join(cited) or limit.note or limit.kind.value}"


def _without_measurement(job: PlannedJob, name: str) -> dict[str, Any]:
    kept = [one.model_dump() for one in job.proof.measurements if one.id != name]
    return {"measurements": kept}


def _remover(job: PlannedJob, name: str, update: dict[str, Any], label: str = "Remove") -> None:
    st.button(
        label,
        icon=":material/delete:",
        key=f"unprove:{job.id}:{name}",
        on_click=_remove,
        args=(job.id, update),
    )


def _remove(job_id: str, update: dict[str, Any]) -> None:
    case = state.case()
    try:
        job = job_of(case, job_id)
        new = changed(case, ("work", "jobs", job_id, "proof"), job.proof.model_dump() | update)
    except BadCase as error:
        state.notice(f"Not removed: {error.message}. Begin the job again first.", bad=True)
        return
    state.remember("Removed a test")
    state.save(new, fresh_widgets=True)


# --- what is added ----------------------------------------------------------------------------


def proof_boxes(case: Case, job: PlannedJob, reference: Reference) -> None:
    """Show the ways to prove a job, one at a time."""
    boxes: tuple[tuple[str, Callable[[Case, PlannedJob, Reference], None]], ...] = (
        ("Measure", _measure_box),
        ("Codes", _codes_box),
        ("Logged pull", _pull_box),
    )
    tabs = st.tabs([name for name, _ in boxes], on_change="rerun", key=f"proof-boxes:{job.id}")
    for tab, (_, box) in zip(tabs, boxes, strict=True):
        if tab.open:
            with tab:
                box(case, job, reference)


def _measure_box(case: Case, job: PlannedJob, reference: Reference) -> None:
    near, rest = _limits(job, case, reference)
    limits = {one.id: one for one in (*near, *rest)}
    key = state.key_for(("prove", job.id, "limit"))
    picked = st.selectbox(
        "What was measured",
        list(limits),
        None,
        format_func=lambda one: (
            f"{reference.areas[limits[one].area].label}: {limits[one].label} "
            f"({limits[one].jurisdiction})"
        ),
        placeholder="choose, or type to search all limits",
        key=key,
        persist_state="page",
    )
    if picked is None:
        return
    limit = limits[picked]
    if limit.how:
        st.caption(show.plain(limit.how))
    show.cautions(limit.cautions, case.vehicle, reference)
    key = f"{key}:{picked}:{st.session_state.get('proof-round', 0)}"
    with st.grid(4, min_column_width=130, vertical_alignment="bottom"):
        if limit.asks == "number":
            st.text_input(
                f"Reading, {show.plain(limit.unit)} unless you say",
                key=f"{key}:typed",
                persist_state="page",
            )
        else:
            st.segmented_control("Answer", ["yes", "no"], key=f"{key}:typed", persist_state="page")
        st.text_input(
            "Where",
            placeholder="left front",
            max_chars=100,
            key=f"{key}:place",
            persist_state="page",
        )
        st.date_input(
            "Measured on", today(), max_value=today(), key=f"{key}:on", persist_state="page"
        )
        if limit.by is not None:
            st.number_input(
                show.plain(f"{limit.by.label}, {limit.by.unit}"),
                value=None,
                key=f"{key}:by",
                persist_state="page",
            )
    st.button(
        "Compare with the limit",
        type="primary",
        key=f"{key}:go",
        on_click=_measure,
        args=(job.id, picked, key),
    )
    refused(key)


def _measure(job_id: str, limit_id: str, key: str) -> None:
    settled(key)
    typed = st.session_state
    by = typed.get(f"{key}:by")
    reference = cached.reference()
    try:
        new = measure_job(
            state.case(),
            job_id,
            limit_id,
            typed[f"{key}:typed"] or "",
            reference,
            by=None if by is None else Decimal(str(by)),
            place=typed[f"{key}:place"],
            on=typed[f"{key}:on"],
        )
    except AppraiseError as error:
        refuse(key, str(error))
    except ValidationError:
        refuse(key, "that reading cannot be kept: the number is too large")
    else:
        result, words = _last_measured(new, job_id, reference)
        keep_proof(new, f"{result.capitalize()}: {words}", bad=result == "fails")


def _last_measured(case: Case, job_id: str, reference: Reference) -> tuple[str, str]:
    """Return what the measurement taken last says."""
    job = job_of(case, job_id)
    alone = JobProof(measurements=job.proof.measurements[-1:])
    return proof_of(job.model_copy(update={"proof": alone}), case, reference).lines[0]


def _codes_box(case: Case, job: PlannedJob, reference: Reference) -> None:
    kept = job.proof.code
    noted = [code for one in case.findings if one.id in job.findings for code in one.codes]
    key = state.key_for(("prove", job.id, "codes"))
    st.caption(PASTE)
    show.cautions(DRIVEN, case.vehicle, reference)
    st.text_input(
        "Codes that the job was to end",
        ", ".join(kept.codes if kept else dict.fromkeys(noted)),
        placeholder="P0302, P0171",
        key=f"{key}:codes",
        persist_state="page",
    )
    st.text_area(
        "Answers right after the codes were cleared",
        kept.at_clear if kept else "",
        height=100,
        key=f"{key}:at-clear",
        persist_state="page",
    )
    st.text_area(
        "Answers after the drive; keep the first ones now and add these later",
        kept.answers if kept else "",
        height=100,
        key=f"{key}:answers",
        persist_state="page",
    )
    st.button(
        "Keep codes and answers",
        type="primary",
        key=f"{key}:go",
        on_click=_keep_codes,
        args=(job.id, key),
    )
    refused(key)


def _keep_codes(job_id: str, key: str) -> None:
    settled(key)
    case, reference = state.case(), cached.reference()
    at_clear, answers = (st.session_state[f"{key}:{one}"] for one in ("at-clear", "answers"))
    try:
        names = codes_in(st.session_state[f"{key}:codes"])
        for text in (at_clear, answers):
            if text.strip():
                read_scan(text, case.vehicle, reference)
        value = {"codes": names, "at_clear": at_clear, "answers": answers}
        new = changed(case, ("work", "jobs", job_id, "proof", "code"), value)
    except BadCase as error:
        refuse(key, error.message)
    except AppraiseError as error:
        refuse(key, str(error))
    else:
        if names:
            keep_proof(new, "Kept. What it shows stands beside the job.")
        else:
            refuse(key, "say which codes the job was to end.")


def _pull_box(case: Case, job: PlannedJob, reference: Reference) -> None:
    show.cautions(DRIVEN, case.vehicle, reference)
    pull_box(case, job)
