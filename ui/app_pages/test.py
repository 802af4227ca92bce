from __future__ import annotations

import streamlit as st

from appraise.errors import AppraiseError, BadCase
from appraise.models.case import Case
from appraise.models.work import PlannedJob, Stage
from appraise.reference.jobs import job_label
from appraise.reference.load import Reference
from appraise.reports.wording import STAGES
from appraise.services import today
from appraise.services.ownership.proving import Proved, finish_job, reopen_job, unproved
from ui.proving.proof_form import (
    ICONS,
    RESULTS,
    proof_boxes,
    proof_lines,
    proved,
    would_prove,
)
from ui.session import cached, state
from ui.widgets import show
from ui.widgets.refusals import refuse, refused, settled

OPENED = "proof-job"
MOST_SHOWN = 20
NOT_NEEDED = ("passes", "fails", "cannot tell")


def open_job(name: str | None) -> None:
    st.session_state[OPENED] = name


def begin_again(job_id: str) -> None:
    try:
        new = reopen_job(state.case(), job_id)
    except BadCase as error:
        state.notice(error.message, bad=True)
        return
    state.remember("Begun again")
    state.save(new)


def finish_box(job: PlannedJob, found: Proved, label: str) -> None:
    """Ask for the day on which a job was done, and why there is no proof if there is none."""
    key = state.key_for(("prove", job.id, "done"))
    if found.result not in NOT_NEEDED:
        st.text_input(
            "Why there is no test: the last resort",
            job.proof.why_none,
            max_chars=200,
            placeholder="nothing about it can be measured",
            key=f"{key}:why",
        )
    if job.bypass is not None:
        st.caption(f"Done means restored: {show.plain(job.bypass.restore)}")
    with st.container(horizontal=True, vertical_alignment="bottom"):
        st.date_input("Done on", today(), max_value=today(), key=f"{key}:on", width=160)
        st.button(
            "Done",
            icon=":material/task_alt:",
            type="primary",
            key=f"{key}:go",
            on_click=finish,
            args=(job.id, label, key),
        )
    refused(key)


def finish(job_id: str, label: str, key: str) -> None:
    """Call a job done, if its proof allows it; else say why not, beside the button."""
    settled(key)
    on, reason = st.session_state[f"{key}:on"], st.session_state.get(f"{key}:why", "")
    try:
        new = finish_job(state.case(), job_id, on, cached.reference(), reason)
    except BadCase as error:
        refuse(key, error.message)
    except AppraiseError as error:
        refuse(key, f"not done, the car's answers cannot be read: {error}")
    else:
        if state.save(new):
            open_job(None)
            state.notice(f"Done: {label}.")


def card(case: Case, job: PlannedJob, reference: Reference) -> None:
    """Show a job with its proofs; the opened one with all that can be added."""
    found = proved(job, case, reference)
    label = job_label(case, job.job, reference)
    name = f"{case.id}:{job.id}"
    opened = st.session_state.get(OPENED) == name
    with st.container(border=True):
        on = f" on {job.done_on}" if job.done_on else ""
        icon = ":material/task_alt:" if job.stage is Stage.DONE else ":material/build:"
        st.markdown(
            f"**{show.plain(label)}**  \n{icon} {STAGES[job.stage]}{on} · "
            f"{ICONS[found.result]} {RESULTS.get(found.result, found.result)}"
        )
        about = [one.called for one in case.findings if one.id in job.findings]
        if about:
            st.caption(show.plain(f"Repairs: {'; '.join(about)}"))
        if job.bypass is not None and job.bypass.open:
            st.caption(
                f":material/warning: {show.plain(job.bypass.what)} bypassed since "
                f"{job.bypass.started_on}: {show.plain(job.bypass.reason)}"
            )
        if job.open:
            st.caption(show.plain(f"A test for it: {would_prove(job, case, reference)}"))
        proof_lines(job, found, reference, change=opened)
        if job.stage is Stage.DONE:
            st.button(
                "Begin again",
                icon=":material/restart_alt:",
                key=f"again:{job.id}",
                on_click=begin_again,
                args=(job.id,),
            )
        elif opened:
            proof_boxes(case, job, reference)
            finish_box(job, found, label)
            st.button("Close", on_click=open_job, args=(None,), key="close-proof", type="tertiary")
        else:
            st.button(
                "Test it",
                icon=":material/add:",
                key=f"prove:{job.id}",
                on_click=open_job,
                args=(name,),
            )


def amiss(case: Case, reference: Reference) -> None:
    """Say which jobs are called done without proof, and what is bypassed."""
    try:
        show.problems(unproved(case, reference))
    except AppraiseError as error:
        st.warning(show.plain(f"The car's answers kept with a job cannot be read: {error}"))


case = show.need_car("Test")
if case is not None:
    reference = cached.reference()
    jobs = [one for one in case.work.jobs if one.stage is not Stage.DROPPED]
    jobs.sort(key=lambda one: one.stage is Stage.DONE)
    if case.purchase is None:
        st.write("The car is not bought yet. Once it is yours, each job on it is tested here.")
        st.page_link("app_pages/inspect.py", label="Enter the purchase", icon=":material/key:")
    elif not jobs:
        st.write("No job is planned yet. Plan the jobs first, then test each here once it is done.")
        st.page_link("app_pages/repair.py", label="Plan the work", icon=":material/build:")
    else:
        amiss(case, reference)
        finished = sum(one.stage is Stage.DONE for one in jobs)
        st.progress(finished / len(jobs), text=f"{finished} of {len(jobs)} jobs done and tested")
        if len(jobs) > MOST_SHOWN:
            pages = -(-len(jobs) // MOST_SHOWN)
            number = st.number_input(f"Page, of {pages}", min_value=1, max_value=pages, value=1)
            jobs = jobs[(number - 1) * MOST_SHOWN : number * MOST_SHOWN]
        for one in jobs:
            card(case, one, reference)
