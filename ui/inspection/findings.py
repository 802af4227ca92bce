"""The form for one finding: what was seen, how, and what mends it or what may be behind it."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from typing import Any

import streamlit as st
from pydantic import ValidationError

from appraise.models.case import Case
from appraise.models.findings import Area, Finding, Look, Severity, State
from appraise.models.jobs import Job, System
from appraise.models.problems import problems_of
from appraise.reference.load import Reference
from appraise.services import put_finding, without_finding
from appraise.services.cases.editing import free_id
from ui.session import state
from ui.widgets import show
from ui.widgets.files_form import files_box
from ui.widgets.picking import pick_several
from ui.widgets.typed import choices_of, listed_choices, number
from ui.words import LOOKS, SEVERITIES, STATES, name

__all__ = ["files_key", "finding_form", "job_names", "remove_finding"]

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
    Area.TIRES: (System.TIRES_AND_WHEELS,),
    Area.WHEELS: (System.TIRES_AND_WHEELS,),
    Area.EXHAUST: (System.EXHAUST,),
    Area.AIR_BAGS: (System.RESTRAINTS,),
    Area.ACCESSORIES: (System.CLIMATE, System.ELECTRICAL),
    Area.INTERIOR: (System.INTERIOR, System.PREPARATION),
    Area.GLASS_AND_LIGHTS: (System.GLASS, System.LIGHTS),
    Area.PAINT: (System.BODY_AND_PAINT,),
    Area.UNDERSIDE: (System.BODY_AND_PAINT, System.EXHAUST),
    Area.ROAD_TEST: (System.SUSPENSION, System.TIRES_AND_WHEELS, System.DRIVELINE),
}


def job_names(case: Case, reference: Reference, area: Area) -> dict[str, str]:
    """Return job ids with their names, those of the area's systems first."""
    jobs: list[Job] = [*case.own_jobs, *(one.job for one in reference.jobs.values())]
    first = SYSTEMS_FIRST[area]

    def order(job: Job) -> tuple[int, str, str]:
        place = first.index(job.system) if job.system in first else len(first)
        return place, job.system.value, job.label

    return {job.id: f"{job.label} ({name(job.system)})" for job in sorted(jobs, key=order)}


def files_key(case: Case, area: Area, finding: Finding | None) -> str:
    """Return what the photos of a form are kept under, also when its fields begin anew."""
    return f"{case.id}:finding:{area.value}:{finding.id if finding else 'new'}:"


def finding_form(case: Case, area: Area, finding: Finding | None, reference: Reference) -> bool:
    """Show the form for a finding of an area, an old one or a new one; True once it is kept."""
    names = job_names(case, reference, area)
    key = state.key_for(("finding", area.value, finding.id if finding else "new"))
    label = st.text_input(
        "What was seen, heard, felt or smelt",
        finding.label if finding else "",
        max_chars=200,
        key=f"{key}:label",
    )
    with st.grid(4, min_column_width=140):
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
            "How it was inspected",
            list(Look),
            finding.look if finding else None,
            LOOKS,
            key=f"{key}:look",
        )
        sure = None
        if found is State.SUSPECT:
            sure = st.number_input(
                "Chance that it is real, %",
                min_value=0,
                max_value=100,
                value=_percent(finding.chance) if finding else None,
                placeholder="default",
                key=f"{key}:chance",
            )
    jobs: list[str] = []
    causes: list[dict[str, Any]] = []
    several = st.toggle(
        "Several causes are possible",
        bool(finding and finding.causes),
        key=f"{key}:several",
        help="Your own statement: each cause with its chance and its jobs; what the chances leave "
        "is nothing to repair. Without it the faults behind a symptom or a code are worked out.",
    )
    if several:
        causes = _cause_boxes(finding, names, key)
    else:
        jobs = pick_several(
            "Jobs that repair it",
            names,
            listed_choices(finding.jobs, names) if finding else [],
            placeholder="type to search",
            key=f"{key}:jobs",
        )
    visible = st.toggle(
        "The next buyer would see it too",
        finding.visible if finding else True,
        key=f"{key}:visible",
    )
    attachments = files_box(finding.attachments if finding else (), files_key(case, area, finding))
    note = st.text_area(
        "Note", finding.note if finding else "", max_chars=20_000, height=80, key=f"{key}:note"
    )
    words = "Save" if finding else "Add this finding"
    if not st.button(words, key=f"{key}:save", type="primary", icon=":material/save:"):
        return False
    if not (label.strip() or jobs or causes):
        st.error("Say what was seen, or name a job or a cause.")
        return False
    if not all(one["label"].strip() for one in causes):
        st.error("A cause has a chance or jobs and no name: name it, or empty it.")
        return False
    old = finding.model_dump() if finding else {}
    taken = [one.id for one in case.findings]
    changes: dict[str, Any] = {
        "id": finding.id if finding else free_id(label or area.value, taken),
        "area": area,
        "state": found,
        "label": label,
        "severity": severity,
        "look": look,
        "chance": _chance(sure, finding.chance if finding else None),
        "jobs": choices_of(jobs, finding.jobs if finding and not several else (), names),
        "causes": causes,
        "visible": visible,
        "attachments": [one.model_dump() for one in attachments],
        "note": note,
    }
    if finding is not None:
        state.remember(f"Changed: {finding.label or finding.area.value}")
    return _save(case, {**old, **changes})


def _cause_boxes(finding: Finding | None, names: dict[str, str], key: str) -> list[dict[str, Any]]:
    """Show one box a cause; return those that say anything."""
    old = list(finding.causes) if finding else []
    count_key = f"{key}:count"
    count = st.session_state.setdefault(count_key, max(2, len(old)))
    out: list[dict[str, Any]] = []
    for place in range(count):
        before = old[place] if place < len(old) else None
        with st.container(border=True):
            left, right = st.columns([3, 1])
            label = left.text_input(
                f"Cause {place + 1}",
                before.label if before else "",
                max_chars=200,
                key=f"{key}:cause:{place}",
            )
            percent = right.number_input(
                "Chance, %",
                min_value=0.0,
                max_value=100.0,
                value=float(before.chance * 100) if before else 0.0,
                step=5.0,
                format="%.0f",
                key=f"{key}:cause:{place}:chance",
            )
            jobs = pick_several(
                "Its jobs",
                names,
                listed_choices(before.jobs, names) if before else [],
                placeholder="type to search; none if nothing needs doing",
                key=f"{key}:cause:{place}:jobs",
            )
        if label.strip() or percent or jobs:
            taken = [*(one.id for one in old), *(one["id"] for one in out)]
            out.append(
                {
                    "id": before.id if before else free_id(label or "cause", taken),
                    "label": label,
                    "chance": before.chance
                    if before is not None and percent == float(before.chance * 100)
                    else number(percent, digits=4) / 100,
                    "jobs": choices_of(jobs, before.jobs if before else (), names),
                }
            )
    total = sum((one["chance"] for one in out), Decimal(0))
    with st.container(horizontal=True, vertical_alignment="center"):
        st.button("Add a cause", icon=":material/add:", on_click=_one_more, args=(count_key,))
        nothing = max(Decimal(0), 1 - total)
        st.caption(f"Together {100 * total:.0f} %; {100 * nothing:.0f} % nothing to repair.")
    return out


def _one_more(count_key: str) -> None:
    st.session_state[count_key] += 1


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


def _chance(percent: int | None, old: Decimal | None) -> Decimal | None:
    if percent is None or percent == _percent(old):
        return old if percent is not None else None
    return Decimal(percent) / 100


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
