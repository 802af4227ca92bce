"""Trouble codes, symptoms and measurements of an area, entered on the page Inspect."""

from __future__ import annotations

from decimal import Decimal
from functools import partial

import streamlit as st

from appraise.errors import AppraiseError
from appraise.models.case import Case
from appraise.models.findings import Area
from appraise.reference.load import Reference
from appraise.reports.answers_page import reading_words
from appraise.reports.table import table_of
from appraise.services import (
    codes_in,
    finding_from_code,
    finding_from_symptom,
    symptoms_for,
    today,
)
from appraise.services.inspection.measuring import (
    limits_of,
    take_measurement,
    tire_words,
    verdict_of,
    without_measurement,
)
from appraise.services.inspection.scanning import judge_mend, read_scan
from appraise.services.output.table_lists import sheet_of
from ui.session import cached, state
from ui.widgets import show
from ui.widgets.refusals import refuse, refused, settled
from ui.widgets.sheets import sheet_button

__all__ = ["codes_box", "measurements_box", "symptoms_box"]

ICONS = {
    "passes": ":material/check:",
    "fails": ":material/close:",
    "cannot tell": ":material/question_mark:",
}


def symptoms_box(case: Case, area: Area, reference: Reference) -> None:
    """Offer the symptoms of an area."""
    symptoms = {one.id: one for one in symptoms_for(case.vehicle, reference, area)}
    if not symptoms:
        return
    picked = st.selectbox(
        "Something a person sees, hears, feels or smells",
        list(symptoms),
        None,
        format_func=lambda one: " / ".join((symptoms[one].label, *symptoms[one].ask)),
        placeholder="type to search",
        key=state.key_for(("symptom", area.value)),
    )
    if picked is not None:
        st.button(
            "Note it",
            icon=":material/add:",
            on_click=_note_symptom,
            args=(picked,),
        )


def _note_symptom(symptom_id: str) -> None:
    reference = cached.reference()
    new = finding_from_symptom(state.case(), symptom_id, reference)
    if state.save(new, fresh_widgets=True):
        symptom = reference.symptoms[symptom_id]
        st.session_state["area"] = symptom.area
        state.notice(f"Noted: {symptom.label}.")


def codes_box(case: Case, reference: Reference) -> None:
    """Take trouble codes, typed or as a scan tool's raw answer."""
    key = f"{case.id}:codes"
    st.text_area(
        "Trouble codes, or a raw answer",
        key=key,
        height=80,
        persist_state="session",
        placeholder="P0302, P0171   or   43 02 03 02 01 71",
        on_change=settled,
        args=(key,),
    )
    st.button("Note these codes", on_click=_note_codes, args=(key,), icon=":material/add:")
    refused(key)
    noted = [code for finding in case.findings for code in finding.codes]
    if noted:
        st.caption("Noted: " + ", ".join(noted))
    scan_box(case, reference)


def _note_codes(key: str) -> None:
    text = (st.session_state.get(key) or "").strip()
    if not text:
        refuse(key, "Type a trouble code, or paste an answer.")
        return
    case, reference = state.case(), cached.reference()
    try:
        codes = codes_in(text)
        for code in codes:
            case = finding_from_code(case, code, reference)
    except AppraiseError as error:
        refuse(key, str(error))
        return
    settled(key)
    if not codes:
        state.notice("That answer holds no trouble code: the list is empty.")
        return
    if state.save(case, fresh_widgets=True):
        st.session_state[key] = ""
        state.notice(f"Noted {', '.join(codes)}.")


def scan_box(case: Case, reference: Reference) -> None:
    """Read raw answers: live values, monitors, whether codes were cleared, whether a mend holds."""
    now = st.text_area(
        "Raw answers, as read now (modes 01, 03, 07, 0A)",
        key=f"{case.id}:answers",
        height=120,
        persist_state="session",
        placeholder="41 01 00 07 E5 00\n43 00\n41 30 12\n41 31 01 40",
    )
    at_clear = st.text_area(
        "The same, as read right after clearing the codes (only to test a repair)",
        key=f"{case.id}:answers-at-clear",
        height=80,
        persist_state="session",
    )
    if not now:
        return
    try:
        scan = read_scan(now, case.vehicle, reference)
        before = read_scan(at_clear, case.vehicle, reference) if at_clear else None
    except AppraiseError as error:
        st.error(show.plain(str(error)))
        return
    for message in scan.codes:
        st.markdown(f"{message.mode.capitalize()} codes: **{', '.join(message.codes) or 'none'}**")
    why = " ".join(f"{one}." for one in scan.cleared.why)
    st.markdown(f"Cleared not long ago: **{scan.cleared.result}**. {show.plain(why)}")
    if scan.cleared.missing:
        st.caption(f"Not read: {', '.join(scan.cleared.missing)}.")
    for name, gate in scan.gates:
        words = show.plain("; ".join(gate.why))
        st.caption(f"Inspection, {name.replace('_', ' ')}: **{gate.result}**. {words}")
    st.caption("Check your State / country.")
    noted = list(dict.fromkeys(code for one in case.findings for code in one.codes))
    for code, proof in judge_mend(noted, before, scan, reference):
        words = show.plain("; ".join(proof.why))
        st.caption(f"Repair of {code}: **{proof.result}**. {words}")
    read = table_of(
        "Live values",
        [one for one in scan.readings if one.value is not None],
        ("Value", 34, "text", lambda one: one.name),
        ("Reading", 34, "text", reading_words),
    )
    if read.rows:
        show.table(read, "Live values that were read")
        make = partial(sheet_of, read, case.title, case.currency)
        sheet_button(make, f"{case.id}-live-values", f"{case.id}:answers:sheet")
    for note in scan.notes:
        st.caption(show.plain(note))


def tire_date_box(case: Case) -> None:
    """Read a tire's date code, or its whole number."""
    typed = st.text_input(
        "Date code on the tire, or its whole number", key=state.key_for(("tire-date",))
    )
    if not typed:
        return
    try:
        st.write(show.plain(tire_words(typed, case)))
    except AppraiseError as error:
        st.error(show.plain(str(error)))


def measurements_box(case: Case, area: Area, reference: Reference) -> None:
    """Take a measurement of an area and show what those taken say."""
    if area is Area.TIRES:
        tire_date_box(case)
    limits = {one.id: one for one in limits_of(area, reference)}
    if not limits:
        st.caption("Nothing to measure in this area.")
        return
    picked = st.selectbox(
        "What was measured",
        list(limits),
        None,
        format_func=lambda one: f"{limits[one].label} ({limits[one].jurisdiction})",
        placeholder="choose",
        key=state.key_for(("limit", area.value)),
    )
    if picked is not None:
        _entry(case, picked, reference)
    for one in case.measurements:
        if one.limit not in limits:
            continue
        said = verdict_of(one, reference)
        with st.container(horizontal=True, vertical_alignment="center"):
            place = f", {one.place}" if one.place else ""
            st.markdown(
                f"{ICONS[said.result]} **{show.plain(limits[one.limit].label)}"
                f"{show.plain(place)}**: {said.result}. {show.plain(said.why)}. "
                f"{show.plain(said.jurisdiction)} ({said.kind.value})"
            )
            st.button("Remove", key=f"measured:{one.id}", on_click=_remove, args=(one.id,))


def _entry(case: Case, limit_id: str, reference: Reference) -> None:
    limit = reference.limits[limit_id]
    key = state.key_for(("measure", limit_id))
    if limit.how:
        st.caption(show.plain(limit.how))
    show.cautions(limit.cautions, case.vehicle, reference)
    with st.grid(3, min_column_width=130, vertical_alignment="bottom"):
        if limit.asks == "number":
            typed = st.text_input(
                f"Reading, {show.plain(limit.unit)} unless you say", key=f"{key}:typed"
            )
        else:
            typed = st.segmented_control("Answer", ["yes", "no"], key=f"{key}:typed") or ""
        place = st.text_input("Where", placeholder="left front", key=f"{key}:place")
        by = None
        if limit.by is not None:
            by = st.number_input(
                show.plain(f"{limit.by.label}, {limit.by.unit}"), value=None, key=f"{key}:by"
            )
    if not st.button("Compare with the limit", key=f"{key}:go"):
        return
    try:
        measured = take_measurement(
            case,
            limit_id,
            typed,
            reference,
            by=None if by is None else Decimal(str(by)),
            place=place,
            on=today(),
        )
    except AppraiseError as error:
        st.error(show.plain(str(error)))
        return
    if state.save(measured.case, fresh_widgets=True):
        said = measured.verdict
        state.notice(f"{limit.label}: {said.result}. {said.why}", bad=said.result == "fails")
        st.rerun()


def _remove(measurement_id: str) -> None:
    state.remember("Removed a measurement")
    state.save(without_measurement(state.case(), measurement_id), fresh_widgets=True)
