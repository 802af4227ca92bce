"""What each finding was expected to be, and what it turned out to be."""

from __future__ import annotations

from collections.abc import Container

import streamlit as st

from appraise.errors import AppraiseError
from appraise.models.case import Case
from appraise.models.findings import Finding
from appraise.models.forecast import Itemized
from appraise.models.trade import ExpectedFinding
from appraise.models.work import Stage
from appraise.reference.load import Reference
from appraise.reports.tables_work import then_table
from appraise.services import possible_causes, today
from appraise.services.ownership.owning import itemize_case, settle, unsettle
from ui.repair.common import attempt, finding_names, job_names, link, page_of, refusal
from ui.session import state
from ui.widgets import show
from ui.widgets.sheets import table_button
from ui.words import SEVERITIES, STATES, chance_words, money, span

__all__ = ["faults"]

A_PAGE = 12
OPEN, NOTHING, FAULT = "open", "nothing", "fault"
"""Choices that are no cause; an id of a cause stands behind `cause `."""
WORDS = {OPEN: "Still open", NOTHING: "Nothing wrong", FAULT: "It was a fault"}
OTHER = "Something else"


def faults(case: Case, reference: Reference) -> None:
    """Show the findings with what they turned out to be, and what that does to the total."""
    names = finding_names(case)
    if not names:
        st.write("Nothing suspect or faulty is noted yet.")
        link("inspect", "Note what you find on Inspect", ":material/visibility:")
        return
    summary = _summary(case, reference)
    expected = case.purchase.expected if case.purchase else None
    before = {one.id: one for one in expected.findings} if expected else {}
    trouble = [one for one in case.findings if one.trouble]
    shown = page_of(trouble, "faults-page", A_PAGE)
    with st.grid(2, min_column_width=320):
        for finding in shown:
            _one(case, finding, before.get(finding.id), reference)
    link("inspect", "Found something new? Note it on Inspect", ":material/add:")
    if summary is not None:
        _table(summary, case.currency, kept=expected is not None)
        table_button(case, "Then and now", "Findings")


def _summary(case: Case, reference: Reference) -> Itemized | None:
    try:
        found = itemize_case(case, reference)
    except AppraiseError as error:
        st.info(f"No summary yet: {show.plain(str(error))}", icon=":material/info:")
        return None
    if found.expected is None:
        st.caption(
            "What was expected on the day of the purchase was not kept for this car, so there is "
            "nothing to compare it with. For a car entered as bought on Inspect it is."
        )
    else:
        st.markdown(f"**{show.plain(found.words)}**")
    return found


def _one(
    case: Case, finding: Finding, before: ExpectedFinding | None, reference: Reference
) -> None:
    key = state.key_for(("truth", finding.id))
    label = show.plain(finding_names(case)[finding.id])
    with st.container(border=True):
        severity = f", {SEVERITIES[finding.severity].lower()}" if finding.severity else ""
        st.markdown(f"**{label}**  \n{STATES[finding.state]}{severity}")
        st.caption(_expected(case, before))
        options = _options(case, finding, reference)
        st.selectbox(
            "What it turned out to be",
            list(options),
            list(options).index(_now(finding, options)),
            format_func=lambda one: options[one],
            key=key,
            on_change=_settle,
            args=(finding.id, key),
        )
        refusal(key)
        _hints(case, finding, reference)


def _expected(case: Case, before: ExpectedFinding | None) -> str:
    expected = case.purchase.expected if case.purchase else None
    if expected is None:
        return "Not kept what was expected of it."
    if before is None:
        return "New: not known on the day of the purchase."
    sure = "a fault for certain"
    if before.chance < 1:
        sure = f"anything to repair {chance_words(before.chance)}"
    return (
        f"Expected on {expected.on}: {sure}, {money(before.money.mean)} {case.currency} and "
        f"{before.own_hours:.1f} h on average."
    )


def _options(case: Case, finding: Finding, reference: Reference) -> dict[str, str]:
    """Return what it may have turned out to be; a fault not listed only where none is its own."""
    possible = possible_causes(finding, case.vehicle, reference)
    causes = {f"cause {one}": label for one, label in possible.items()}
    other = {} if finding.causes else {FAULT: OTHER if causes else WORDS[FAULT]}
    return {OPEN: WORDS[OPEN], **causes, **other, NOTHING: WORDS[NOTHING]}


def _now(finding: Finding, options: Container[str]) -> str:
    truth = finding.truth
    if truth is None:
        return OPEN
    if not truth.fault:
        return NOTHING
    cause = f"cause {truth.cause}"
    return cause if cause in options else FAULT


def _settle(finding_id: str, key: str) -> None:
    picked = str(st.session_state[key])

    def change(case: Case) -> Case:
        if picked == OPEN:
            return unsettle(case, finding_id)
        cause = picked.removeprefix("cause ") if picked.startswith("cause ") else None
        return settle(case, finding_id, today(), fault=picked != NOTHING, cause=cause)

    attempt(key, change, undo="Changed: what a finding turned out to be")


def _hints(case: Case, finding: Finding, reference: Reference) -> None:
    """Say what follows from it for the jobs."""
    planned = [
        one
        for one in case.work.jobs
        if finding.id in one.findings and one.stage is not Stage.DROPPED
    ]
    names = job_names(case, reference)
    listed = show.plain("; ".join(names[one.id] for one in planned))
    truth = finding.truth
    if planned:
        more = ""
        if truth is not None and not truth.fault and any(one.open for one in planned):
            more = " Nothing was wrong: drop it under Jobs if it is not needed."
        st.caption(f"Planned for it: {listed}.{more}")
    elif truth is not None and truth.fault:
        st.caption("No job is planned for it yet: plan it under Jobs.")
    elif finding.causes and truth is None:
        st.caption("Was it something that is not on the list? Add the cause on Inspect first.")


def _table(found: Itemized, currency: str, *, kept: bool) -> None:
    st.subheader("Then and now")
    labels: tuple[str, ...] = ("Finding", "Expected now, on average", "What it was")
    if kept:
        then = ("Turned out", "Chance then", "Expected then, on average")
        labels = (labels[0], *then, *labels[1:])
    show.table(
        then_table(found, currency),
        "Findings as expected at the purchase and as they turned out",
        *labels,
    )
    st.caption(
        f"On average, each as if repaired alone. The whole repair now: "
        f"{money(found.now.mean)} {currency}, {span(found.now)} (8 in 10)."
    )
