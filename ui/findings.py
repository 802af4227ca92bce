"""The form for one finding: what was seen, how, and what mends it or what may be behind it."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from typing import Any

import pandas as pd
import streamlit as st
from pydantic import ValidationError

from appraise.models.case import Case
from appraise.models.findings import Area, Finding, Look, Severity, State
from appraise.models.jobs import Job, System
from appraise.models.problems import problems_of
from appraise.reference.load import Reference
from appraise.services import put_finding, without_finding
from appraise.services.editing import free_id
from ui import show, state
from ui.words import LOOKS, SEVERITIES, STATES, name

__all__ = ["finding_form", "job_names", "remove_finding"]

SYSTEMS_FIRST: dict[Area, tuple[System, ...]] = {
    Area.FRAME_AND_BODY: (System.BODY_AND_PAINT,),
    Area.ENGINE: (
        System.IGNITION,
        System.ENGINE_MANAGEMENT,
        System.ENGINE_MECHANICAL,
        System.INDUCTION_AND_BOOST,
        System.FUEL,
        System.FLUIDS_AND_SERVICE,
    ),
    Area.TRANSMISSION: (System.TRANSMISSION, System.CLUTCH),
    Area.DIFFERENTIAL: (System.DIFFERENTIAL, System.DRIVELINE),
    Area.COOLING: (System.COOLING,),
    Area.ELECTRICAL: (System.ELECTRICAL, System.HYBRID_AND_ELECTRIC),
    Area.FUEL: (System.FUEL,),
    Area.BRAKES: (System.BRAKES,),
    Area.STEERING: (System.STEERING,),
    Area.SUSPENSION: (System.SUSPENSION,),
    Area.TYRES: (System.TYRES_AND_WHEELS,),
    Area.WHEELS: (System.TYRES_AND_WHEELS,),
    Area.EXHAUST: (System.EXHAUST,),
    Area.AIR_BAGS: (System.RESTRAINTS,),
    Area.ACCESSORIES: (System.CLIMATE, System.ELECTRICAL),
    Area.INTERIOR: (System.INTERIOR, System.PREPARATION),
    Area.GLASS_AND_LAMPS: (System.GLASS, System.LAMPS),
    Area.PAINT: (System.BODY_AND_PAINT,),
    Area.UNDERSIDE: (System.BODY_AND_PAINT, System.EXHAUST),
    Area.ROAD_TEST: (System.SUSPENSION, System.TYRES_AND_WHEELS, System.DRIVELINE),
}


def job_names(case: Case, reference: Reference, area: Area) -> dict[str, str]:
    """Return job ids with their names, those of the area's systems first."""
    jobs: list[Job] = [*case.own_jobs, *(one.job for one in reference.jobs.values())]
    first = SYSTEMS_FIRST[area]

    def order(job: Job) -> tuple[int, str, str]:
        place = first.index(job.system) if job.system in first else len(first)
        return place, job.system.value, job.label

    return {job.id: f"{job.label} ({name(job.system)})" for job in sorted(jobs, key=order)}


def finding_form(case: Case, area: Area, finding: Finding | None, reference: Reference) -> bool:
    """Show the form for a finding of an area, an old one or a new one; True once it is kept."""
    names = job_names(case, reference, area)
    key = state.key_for(("finding", area.value, finding.id if finding else "new"))
    with st.form(f"{key}:form", border=False):
        label = st.text_input(
            "What was seen, heard, felt or smelt",
            finding.label if finding else "",
            max_chars=200,
            key=f"{key}:label",
        )
        with st.grid(min_column_width=200):
            found = st.selectbox(
                "How sure",
                [State.FAULTY, State.SUSPECT],
                1 if finding and finding.state is State.SUSPECT else 0,
                format_func=lambda one: STATES[one],
                key=f"{key}:state",
            )
            severity = _optional(
                "Severity",
                list(Severity),
                finding.severity if finding else None,
                SEVERITIES,
                key=f"{key}:severity",
            )
            look = _optional(
                "How it was looked at",
                list(Look),
                finding.look if finding else None,
                LOOKS,
                key=f"{key}:look",
            )
            sure = st.number_input(
                "If suspect: chance that it is real, %",
                min_value=0,
                max_value=100,
                value=_percent(finding.chance) if finding else None,
                placeholder="default",
                key=f"{key}:chance",
            )
        jobs = st.multiselect(
            "Jobs that mend it",
            list(names),
            [one.job for one in finding.jobs if one.job in names] if finding else [],
            format_func=lambda one: names[one],
            key=f"{key}:jobs",
            help="Type to search. Leave empty if several causes are possible.",
        )
        st.caption("Or several possible causes, each with its chance and its jobs:")
        causes = st.data_editor(
            _cause_table(finding),
            num_rows="dynamic",
            hide_index=True,
            key=f"{key}:causes",
            alt="Possible causes with their chances and jobs",
            column_config={
                "id": None,
                "cause": st.column_config.TextColumn("Cause", max_chars=200),
                "chance": st.column_config.NumberColumn(
                    "Chance, %", min_value=0, max_value=100, width="small"
                ),
                "jobs": st.column_config.MultiselectColumn(
                    "Jobs", options=list(names), format_func=lambda one: names.get(one, one)
                ),
            },
        )
        visible = st.toggle(
            "The next buyer would see it too",
            finding.visible if finding else True,
            key=f"{key}:visible",
        )
        note = st.text_area(
            "Note", finding.note if finding else "", max_chars=20_000, key=f"{key}:note"
        )
        saved = st.form_submit_button(
            "Save" if finding else "Add this finding", type="primary", icon=":material/save:"
        )
    if not saved:
        return False
    raw: dict[str, Any] = {
        "id": finding.id
        if finding
        else free_id(label or area.value, [one.id for one in case.findings]),
        "area": area,
        "state": found,
        "label": label,
        "severity": severity,
        "look": look,
        "chance": Decimal(sure) / 100 if sure is not None and found is State.SUSPECT else None,
        "jobs": _kept_choices(jobs, finding),
        "causes": _causes(causes, finding),
        "visible": visible,
        "note": note,
    }
    return _save(case, raw)


def _optional(
    label: str,
    options: list[Any],
    value: StrEnum | None,
    words: dict[Any, str],
    key: str,
) -> Any:  # noqa: ANN401
    return st.selectbox(
        label,
        options,
        options.index(value) if value is not None else None,
        format_func=lambda one: words[one],
        placeholder="not said",
        key=key,
    )


def _percent(chance: Decimal | None) -> int | None:
    return None if chance is None else round(chance * 100)


def _cause_table(finding: Finding | None) -> pd.DataFrame:
    rows = [
        {
            "id": one.id,
            "cause": one.label,
            "chance": float(one.chance * 100),
            "jobs": [choice.job for choice in one.jobs],
        }
        for one in (finding.causes if finding else ())
    ]
    return pd.DataFrame(rows, columns=["id", "cause", "chance", "jobs"])


def _kept_choices(jobs: list[str], finding: Finding | None) -> list[dict[str, Any]]:
    """Return job choices, with the own figures that an old choice of the same job had."""
    old = {one.job: one.model_dump() for one in finding.jobs} if finding else {}
    return [old.get(job, {"job": job}) for job in jobs]


def _causes(table: pd.DataFrame, finding: Finding | None) -> list[dict[str, Any]]:
    old = {one.id: one for one in finding.causes} if finding else {}
    out: list[dict[str, Any]] = []
    for _, cells in table.iterrows():
        label = cells["cause"]
        if label is None or pd.isna(label) or not str(label).strip():
            continue
        before = old.get(str(cells["id"]))
        choices = {one.job: one.model_dump() for one in before.jobs} if before else {}
        jobs = cells["jobs"] if isinstance(cells["jobs"], (list, tuple)) else []
        percent = 0.0 if pd.isna(cells["chance"]) else float(cells["chance"])
        taken = [*old, *(one["id"] for one in out)]
        out.append(
            {
                "id": before.id if before else free_id(str(label), taken),
                "label": str(label),
                "chance": Decimal(f"{percent:.4f}") / 100,
                "jobs": [choices.get(job, {"job": job}) for job in jobs],
            }
        )
    return out


def _save(case: Case, raw: dict[str, Any]) -> bool:
    try:
        new = put_finding(case, Finding.model_validate(raw))
    except ValidationError as error:
        for problem in problems_of(error):
            st.error(show.plain(f"{problem.where} {problem.message}".strip()))
        return False
    return state.save(new, fresh_widgets=True)


def remove_finding(finding_id: str, label: str) -> None:
    """Remove a finding; it can be undone."""
    state.remember(f"Removed: {label}")
    state.save(without_finding(state.case(), finding_id), fresh_widgets=True)
