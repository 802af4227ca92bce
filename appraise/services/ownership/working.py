"""Jobs on an owned car: planned from its findings, added, dropped, taken out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from appraise.errors import BadCase, Problem
from appraise.models.case import Case
from appraise.models.files import Attachments
from appraise.models.findings import Finding, JobChoice, Severity, State
from appraise.models.jobs import Job
from appraise.models.work import PlannedJob, PlannedPart, Purpose, Stage
from appraise.reference.load import Reference
from appraise.services.cases.editing import changed, free_id

if TYPE_CHECKING:
    from appraise.engine.catalog.prices import PriceList

__all__ = [
    "BYPASS_JOB",
    "Planned",
    "add_job",
    "add_upgrade",
    "attach_to_job",
    "drop_job",
    "job_of",
    "plan_from_findings",
    "put_job",
    "start_bypass",
    "without_job",
]

BYPASS_JOB = "engine_management.bypass_removed"
CERTAIN = Decimal("0.95")
CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Planned:
    """A case with jobs planned from its findings.

    Attributes
    ----------
    added : ids of the planned jobs that are new.
    unclear : findings whose cause is not known well enough to plan a job.
    """

    case: Case
    added: tuple[str, ...]
    unclear: tuple[str, ...]


def job_of(case: Case, job_id: str) -> PlannedJob:
    """Return a planned job.

    Raises
    ------
    BadCase
        There is none of that id.
    """
    found = case.work.job(job_id)
    if found is None:
        raise BadCase((Problem("work.jobs", f"there is no planned job {job_id!r}", "stop"),))
    return found


def plan_from_findings(case: Case, reference: Reference) -> Planned:
    """Return the case with a job for every fault whose cause is known.

    A finding that has a job already, or came to nothing, gets none. What follows from a job (an
    alignment after an arm) is planned once, after the last job that asks for it. Jobs of dangerous
    and major findings must be done before a private buyer drives the car away.
    """
    added: list[str] = []
    unclear: list[str] = []
    new = case
    for finding in case.findings:
        if not finding.trouble or _has_job(new, finding.id):
            continue
        choices = _choices(finding, reference)
        if choices is None:
            unclear.append(finding.id)
            continue
        must = finding.severity in (Severity.DANGEROUS, Severity.MAJOR)
        for choice in choices:
            new, ids = _planned(new, choice, reference, finding=finding.id, must=must)
            added += ids
    return Planned(new, tuple(added), tuple(unclear))


def _has_job(case: Case, finding_id: str) -> bool:
    return any(
        finding_id in one.findings for one in case.work.jobs if one.stage is not Stage.DROPPED
    )


def _choices(finding: Finding, reference: Reference) -> tuple[JobChoice, ...] | None:
    """Return the jobs that a finding needs, or None as long as its cause is not known."""
    if finding.truth is not None:
        if not finding.truth.fault:
            return ()
        of_cause = [one.jobs for one in finding.causes if one.id == finding.truth.cause]
        if of_cause:
            return of_cause[0]
        fault = reference.causes.get(finding.truth.cause or "")
        return tuple(JobChoice(job=job) for job in fault.usual_jobs) if fault else finding.jobs
    if finding.jobs and finding.state is State.FAULTY:
        return finding.jobs
    likely = [one for one in finding.causes if one.chance >= CERTAIN]
    if likely and finding.state is State.FAULTY:
        return likely[0].jobs
    return None


def add_job(
    case: Case,
    job_id: str,
    reference: Reference,
    *,
    finding: str | None = None,
    must: bool = False,
) -> Case:
    """Return the case with a job of the catalog, or of its own, planned with what follows.

    Raises
    ------
    BadCase
        There is no such job.
    """
    return _planned(case, JobChoice(job=job_id), reference, finding=finding, must=must)[0]


def add_upgrade(case: Case, job_id: str, purpose: Purpose, reference: Reference) -> Case:
    """Return the case with an upgrade or preventive job planned."""
    new, ids = _planned(case, JobChoice(job=job_id), reference, purpose=purpose)
    return new if ids else case


def _planned(
    case: Case,
    choice: JobChoice,
    reference: Reference,
    *,
    finding: str | None = None,
    must: bool = False,
    purpose: Purpose = Purpose.REPAIR,
) -> tuple[Case, list[str]]:
    """Plan a job and all that follows from it on this car, each once."""
    from appraise.engine.catalog.prices import PriceList  # noqa: PLC0415
    from appraise.engine.catalog.values import Lookup  # noqa: PLC0415 - the engine only when needed

    prices = PriceList.of(case, Lookup(reference))
    new, added = case, []
    waiting: list[tuple[JobChoice, str | None]] = [(choice, None)]
    seen: set[str] = set()
    while waiting:
        current, before = waiting.pop(0)
        if current.job in seen:
            continue
        seen.add(current.job)
        job = prices.job(current.job, "work.jobs").job
        if before is not None and prices.fits(job):
            continue
        same = _same(new, current.job)
        if same is None:
            planned = _new_job(new, current, job, prices, purpose)
            new = _with(new, planned)
            added.append(planned.id)
            same = planned
        findings = (finding,) if finding and finding not in same.findings else ()
        after = (before,) if before and before not in same.after else ()
        new = put_job(
            new,
            same.model_copy(
                update={
                    "findings": (*same.findings, *findings),
                    "after": (*same.after, *after),
                    "must": same.must or must,
                }
            ),
        )
        waiting += [(JobChoice(job=name), same.id) for name in job.follows]
    return new, added


def _same(case: Case, job_id: str) -> PlannedJob | None:
    """Return the planned job of the catalog that is still open, if there is one."""
    return next((one for one in case.work.jobs if one.job == job_id and one.open), None)


def _new_job(
    case: Case, choice: JobChoice, job: Job, prices: PriceList, purpose: Purpose
) -> PlannedJob:
    priced = prices.job(choice.job, "work.jobs")
    parts: list[PlannedPart] = []
    for line in priced.parts:
        parts.append(
            PlannedPart(
                id=free_id(line.label, [one.id for one in parts]),
                label=line.label,
                quantity=min(100, line.quantity * choice.quantity),
                core=Decimal(line.core).quantize(CENT),
            )
        )
    return PlannedJob(
        id=free_id(job.id.split(".")[-1], [one.id for one in case.work.jobs]),
        job=choice.job,
        quantity=choice.quantity,
        purpose=purpose,
        done_by=choice.done_by,
        parts=tuple(parts),
        money=choice.parts,
        hours=choice.hours,
    )


def put_job(case: Case, job: PlannedJob) -> Case:
    """Return the case with a planned job added, or put in place of the one with its id.

    Raises
    ------
    BadCase
        It cannot be: a ring of jobs that wait for each other, done without proof, and so on.
    """
    rows = [one.model_dump() for one in case.work.jobs]
    place = next((at for at, one in enumerate(rows) if one["id"] == job.id), len(rows))
    rows[place : place + 1] = [job.model_dump()]
    return changed(case, ("work", "jobs"), rows)


def _with(case: Case, job: PlannedJob) -> Case:
    return changed(case, ("work", "jobs"), [*_rows(case), job.model_dump()])


def _rows(case: Case) -> list[dict[str, Any]]:
    return [one.model_dump() for one in case.work.jobs]


def attach_to_job(case: Case, job_id: str, files: Attachments) -> Case:
    """Return the case with other photos and PDFs on a planned job, however far it has come.

    Parameters
    ----------
    files : all that the job is to name from now on.

    Raises
    ------
    BadCase
        There is no such job, or it cannot name those files.
    """
    return put_job(case, job_of(case, job_id).model_copy(update={"attachments": files}))


def drop_job(case: Case, job_id: str) -> Case:
    """Return the case with a job that will not be done; its receipts and hours stay.

    Raises
    ------
    BadCase
        It restores a control that is still out of action: that cannot be left undone unseen.
    """
    job = job_of(case, job_id)
    if job.bypass is not None and job.bypass.open:
        message = f"{job.bypass.what} is still bypassed: restoring it cannot be dropped"
        hint = "Finish it on Test, or take it out if there was no bypass."
        raise BadCase((Problem(f"work.jobs.{job_id}", message, "stop", hint),))
    return put_job(case, job.model_copy(update={"stage": Stage.DROPPED, "done_on": None}))


def without_job(case: Case, job_id: str) -> Case:
    """Return the case without a planned job, taken out of what others wait for.

    Raises
    ------
    BadCase
        It has receipts or hours: those would belong to nothing.
    """
    job_of(case, job_id)
    entries = [one for one in case.work.entries if one.job == job_id]
    if entries:
        paid = sum((one.paid for one in entries), Decimal(0))
        hours = sum((one.worked for one in entries), Decimal(0))
        message = (
            f"it has {len(entries)} entries, {paid:,.2f} {case.currency} and {hours:g} hours, "
            "which would belong to no job"
        )
        hint = "Drop it instead: what was spent on it stays in the books."
        raise BadCase((Problem(f"work.jobs.{job_id}", message, "stop", hint),))
    work = case.work.model_dump()
    work["jobs"] = [one for one in work["jobs"] if one["id"] != job_id]
    for one in work["jobs"]:
        one["after"] = [name for name in one["after"] if name != job_id]
    groups = [[name for name in group if name != job_id] for group in work["at_most_one"]]
    work["at_most_one"] = [group for group in groups if len(group) > 1]
    work["disclosed"] = [name for name in work["disclosed"] if name != job_id]
    return changed(case, ("work",), work)


def start_bypass(
    case: Case, what: str, reason: str, restore: str, on: date, reference: Reference
) -> Case:
    """Return the case with a control put out of action for a time: a job that restores it.

    Raises
    ------
    BadCase
        One of the texts is empty.
    """
    job = reference.jobs[BYPASS_JOB].job
    planned = {
        "id": free_id(f"bypass {what}", [one.id for one in case.work.jobs]),
        "job": job.id,
        "purpose": Purpose.BYPASS,
        "must": True,
        "bypass": {"what": what, "reason": reason, "started_on": on, "restore": restore},
    }
    return changed(case, ("work", "jobs"), [*_rows(case), planned])
