"""The planned jobs, one by one, and what can be done with each."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from appraise.models.case import Case
from appraise.models.forecast import Forecast, JobForecast
from appraise.models.work import PlannedJob, Purpose, Stage
from appraise.reference.jobs import job_of_case
from appraise.reference.load import Reference
from appraise.services import today
from appraise.services.output.printing import work_sheet
from appraise.services.ownership.proving import proof_of
from appraise.services.ownership.working import (
    attach_to_job,
    drop_job,
    job_of,
    plan_from_findings,
    put_job,
    without_job,
)
from ui.repair.add import add_box, bypass_box, exclusive_box, offers
from ui.repair.common import (
    FORM,
    STAGES,
    attempt,
    finding_names,
    job_names,
    job_with,
    link,
    open_form,
    page_of,
    refusal,
)
from ui.repair.files import files_button, opened_files, shows_files
from ui.repair.job_form import job_form
from ui.session import cached, state
from ui.widgets import show
from ui.widgets.files_form import small_pictures
from ui.widgets.print_button import print_button
from ui.words import money, span

__all__ = ["jobs"]

PLAN = "plan"
PURPOSES = {
    Purpose.REPAIR: "",
    Purpose.PREVENTIVE: "preventive",
    Purpose.UPGRADE: "an upgrade",
    Purpose.BYPASS: "a bypass, to be restored",
}


def jobs(case: Case, forecast: Forecast | None, reference: Reference) -> None:
    """Show the planned jobs in order, and the ways to add more."""
    names = job_names(case, reference)
    _planning(case)
    ordered = _ordered(case, forecast)
    expected = {one.id: one for one in forecast.jobs} if forecast else {}
    if not ordered:
        st.write("No jobs yet. Plan them from the findings, or add one from the catalog.")
    for job in page_of(ordered, "jobs-page"):
        _one(case, job, expected.get(job.id), names, reference)
        if st.session_state.get(FORM) == job.id:
            job_form(case, job, names)
    if ordered:
        print_button("Work sheet", work_sheet, case)
    offers(case, reference)
    _folded("Add a job", "work-add", lambda: add_box(case, reference))
    _folded("At most one of", "work-one-of", lambda: exclusive_box(case, names))
    _folded("Bypass a control for a time", "work-bypass", lambda: bypass_box(reference))


def _folded(label: str, key: str, draw: Callable[[], None]) -> None:
    box = st.expander(label, on_change="rerun", key=key)
    if box.open:
        with box:
            draw()


def _planning(case: Case) -> None:
    """Offer to plan from the findings, and say which have no job yet."""
    planned = {
        name for one in case.work.jobs if one.stage is not Stage.DROPPED for name in one.findings
    }
    fine = {one.id for one in case.findings if one.truth is not None and not one.truth.fault}
    left = [
        label
        for name, label in finding_names(case).items()
        if name not in planned and name not in fine
    ]
    if left:
        st.button(
            "Plan jobs from the findings",
            icon=":material/playlist_add:",
            type="secondary" if case.work.jobs else "primary",
            on_click=_plan,
        )
    refusal(PLAN)
    if left:
        st.caption(
            f"No job yet: {show.plain('; '.join(left))}. A finding gets its jobs once its cause is "
            "known, and what repairs it."
        )
        with st.container(horizontal=True):
            link("diagnose", "Diagnose it", ":material/balance:")
            link("inspect", "Say on Inspect what repairs it", ":material/visibility:")


def _plan() -> None:
    reference = cached.reference()
    found: list[tuple[int, tuple[str, ...]]] = []

    def change(case: Case) -> Case:
        planned = plan_from_findings(case, reference)
        found.append((len(planned.added), planned.unclear))
        return planned.case

    if attempt(PLAN, change, undo="Planned jobs from the findings"):
        added, unclear = found[0]
        names = finding_names(state.case())
        words = f"Jobs planned: {added}."
        if unclear:
            listed = "; ".join(names.get(one, one) for one in unclear)
            words += f" The cause is not clear enough for: {listed}."
        state.notice(words)


def _ordered(case: Case, forecast: Forecast | None) -> list[PlannedJob]:
    """Return open jobs in an order in which they can be done, then those done, then dropped."""
    place = {one.id: at for at, one in enumerate(forecast.jobs)} if forecast else {}
    rank = {Stage.STARTED: 0, Stage.PLANNED: 0, Stage.DONE: 1, Stage.DROPPED: 2}
    return sorted(case.work.jobs, key=lambda one: (rank[one.stage], place.get(one.id, 0)))


def _one(
    case: Case,
    job: PlannedJob,
    expected: JobForecast | None,
    names: dict[str, str],
    reference: Reference,
) -> None:
    with st.container(border=True):
        times = f", {job.quantity} times" if job.quantity > 1 else ""
        said = [_stage(job), PURPOSES[job.purpose]]
        if job.must and job.open:
            said.append("must be done before a private buyer drives it away")
        line = show.plain(", ".join(one for one in said if one))
        st.markdown(f"**{show.plain(names[job.id] + times)}**  \n{line}")
        if job.open:
            _cautions(case, job, reference)
        if expected is not None:
            st.markdown(_figures(job, expected, case.currency))
        details = _details(case, job, names, reference)
        if details:
            st.caption("  \n".join(details))
        if job.stage is Stage.DONE:
            _proof(case, job, reference)
        if not shows_files("job", job.id):
            small_pictures(job.attachments)
        _buttons(job)
        refusal(f"job:{job.id}")
        opened_files("job", job.id, job.attachments, attach_to_job)


def _stage(job: PlannedJob) -> str:
    day = {Stage.STARTED: job.started_on, Stage.DONE: job.done_on}.get(job.stage)
    return f"{STAGES[job.stage]} on {day}" if day else STAGES[job.stage]


def _cautions(case: Case, job: PlannedJob, reference: Reference) -> None:
    known = job_of_case(case, job.job, reference)
    show.cautions(known.cautions if known else (), case.vehicle, reference)


def _figures(job: PlannedJob, expected: JobForecast, currency: str) -> str:
    """Return what a job takes, and what was put into it, as a line or two."""
    hours = expected.hours
    about = f"About {money(expected.money.p50)} {currency} ({span(expected.money)})"
    lines = [f"{about} and {hours.p50:.1f} h ({hours.p10:.1f} to {hours.p90:.1f})"]
    so_far = [
        (expected.paid, f"{expected.paid:,.2f} {currency} paid"),
        (expected.worked, f"{expected.worked:g} h worked"),
        (expected.committed, f"{expected.committed:,.2f} {currency} ordered and not paid"),
    ]
    said = [words for amount, words in so_far if amount]
    if said:
        line = f"So far {', '.join(said)}"
        if job.open:
            line += (
                f"; to come {money(expected.to_come.mean)} {currency} and "
                f"{expected.hours_to_come.mean:.1f} h on average"
            )
        lines.append(line)
    return "  \n".join(show.plain(one) for one in lines)


def _details(case: Case, job: PlannedJob, names: dict[str, str], reference: Reference) -> list[str]:
    findings = finding_names(case)
    open_names = {one.id for one in case.work.jobs if one.open}
    known = job_of_case(case, job.job, reference)
    lines = []
    waits = [names[one] for one in job.after if one in open_names]
    if job.bypass is not None:
        lines.append(f"Since {job.bypass.started_on}: {job.bypass.reason}")
        lines.append(f"To restore: {job.bypass.restore}")
    if waits and job.open:
        lines.append("Waits for: " + "; ".join(waits))
    if job.findings:
        lines.append("Repairs: " + "; ".join(findings.get(one, one) for one in job.findings))
    tools = (
        []
        if known is None or not job.open
        else [_tool(one, case, reference) for one in known.tools]
    )
    if tools:
        lines.append("Special tools: " + "; ".join(tools))
    groups = [group for group in case.work.at_most_one if job.id in group]
    others = dict.fromkeys(names[one] for group in groups for one in group if one != job.id)
    if others:
        lines.append("Instead of: " + "; ".join(others))
    if job.note:
        lines.append(job.note)
    return [show.plain(one) for one in lines]


def _tool(name: str, case: Case, reference: Reference) -> str:
    known = reference.tools.get(name)
    label = known.label if known else name
    return f"{label} (owned)" if name in case.deal.tools_owned else label


def _proof(case: Case, job: PlannedJob, reference: Reference) -> None:
    words = {
        "passes": ":material/check: Tested",
        "fails": ":material/close: The test fails",
        "cannot tell": ":material/question_mark: The test leaves it open",
        "said why not": ":material/remove: No test, and why",
        "none": ":material/close: Not tested",
    }
    found = proof_of(job, case, reference)
    said = "; ".join(text for _, text in found.lines)
    st.caption(f"{words[found.result]}: {show.plain(said)}" if said else words[found.result])


def _buttons(job: PlannedJob) -> None:
    with st.container(horizontal=True, vertical_alignment="center"):
        if job.stage is Stage.PLANNED:
            _button(job, "Begin", ":material/play_arrow:", _begin)
        if job.stage is Stage.STARTED:
            _button(job, "Not begun after all", ":material/undo:", _set_back)
        if job.stage is Stage.DROPPED:
            _button(job, "Plan it again", ":material/undo:", _set_back)
        if job.open:
            _button(job, "Change", ":material/edit:", open_form)
        files_button("job", job.id, job.attachments)
        if job.open and job.bypass is None:
            _button(job, "Drop", ":material/do_not_disturb_on:", _drop)
        if job.stage is not Stage.DONE:
            _button(job, "Take out", ":material/delete:", _take_out)
        if job.stage is not Stage.DROPPED:
            words = "Done? Test it" if job.open else "Its test"
            link("test", words, ":material/verified:")


def _button(job: PlannedJob, words: str, icon: str, do: Callable[[str], None]) -> None:
    name = words.split(maxsplit=1)[0].lower()
    st.button(words, icon=icon, key=f"job-{name}:{job.id}", on_click=do, args=(job.id,))


def _begin(name: str) -> None:
    changes = {"stage": Stage.STARTED, "started_on": today()}
    _change(name, lambda case: put_job(case, job_with(job_of(case, name), changes)), "Begun")


def _set_back(name: str) -> None:
    def change(case: Case) -> Case:
        job = job_of(case, name)
        begun = job.stage is Stage.DROPPED and job.started_on is not None
        stage = Stage.STARTED if begun else Stage.PLANNED
        day = job.started_on if begun else None
        return put_job(case, job_with(job, {"stage": stage, "started_on": day}))

    _change(name, change, "Set back")


def _drop(name: str) -> None:
    _change(name, lambda case: drop_job(case, name), "Dropped")


def _take_out(name: str) -> None:
    _change(name, lambda case: without_job(case, name), "Taken out")


def _change(name: str, change: Callable[[Case], Case], words: str) -> None:
    label = job_names(state.case(), cached.reference()).get(name, name)
    attempt(f"job:{name}", change, undo=f"{words}: {label}")
