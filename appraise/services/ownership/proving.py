"""Whether what was measured or read after a job shows that it did what it was for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from appraise.errors import AppraiseError, BadCase, Problem
from appraise.models.case import Case
from appraise.models.work import Bypass, JobProof, PlannedJob, PullProof, Stage
from appraise.reference.jobs import job_label
from appraise.reference.load import Reference
from appraise.services.inspection.measuring import verdict_of
from appraise.services.ownership.working import job_of, put_job

__all__ = ["Proved", "finish_job", "measure_job", "proof_of", "reopen_job", "unproved"]

Result = Literal["passes", "fails", "cannot tell", "said why not", "none"]


@dataclass(frozen=True, slots=True)
class Proved:
    """What a job's proof says.

    Attributes
    ----------
    lines : each measurement, code and log with its own result and the figures compared.
    """

    result: Result
    lines: tuple[tuple[Result, str], ...]

    @property
    def enough(self) -> bool:
        """Whether the job may be called done."""
        return self.result in ("passes", "said why not")


def proof_of(job: PlannedJob, case: Case, reference: Reference) -> Proved:
    """Return what the proof of a job says: it passes if everything in it does.

    One line that fails makes the whole fail; one that cannot tell leaves it open. While a control
    is bypassed no code proves anything.
    """
    proof = job.proof
    lines: list[tuple[Result, str]] = []
    for measurement in proof.measurements:
        try:
            verdict = verdict_of(measurement, reference)
        except (AppraiseError, ValueError, TypeError) as error:
            lines.append(("cannot tell", f"{measurement.limit}: {error}"))
            continue
        label = reference.limits[measurement.limit].label
        place = f" ({measurement.place})" if measurement.place else ""
        source = f" ({verdict.kind.value})"
        lines.append((verdict.result, f"{label}{place}: {verdict.why}{source}"))
    if proof.code is not None:
        lines += _codes(job, case, reference)
    if proof.pull is not None:
        lines.append(_pull(proof.pull))
    results = {result for result, _ in lines}
    whole: Result = "none"
    if "fails" in results:
        whole = "fails"
    elif "cannot tell" in results:
        whole = "cannot tell"
    elif results:
        whole = "passes"
    elif proof.why_none:
        whole = "said why not"
        lines.append(("said why not", proof.why_none))
    return Proved(whole, tuple(lines))


def _codes(job: PlannedJob, case: Case, reference: Reference) -> list[tuple[Result, str]]:
    from appraise.services.inspection.scanning import judge_mend, read_scan  # noqa: PLC0415 - seldom needed

    proof = job.proof.code
    assert proof is not None  # noqa: S101 - asked for only where there is one
    if not proof.codes:
        return [("cannot tell", "no code is named that the job was to end")]
    if not proof.answers.strip():
        return [("cannot tell", "the car's answers after the drive are missing")]
    at_clear = None
    try:
        now = read_scan(proof.answers, case.vehicle, reference)
        if proof.at_clear.strip():
            at_clear = read_scan(proof.at_clear, case.vehicle, reference)
    except AppraiseError as error:
        return [("cannot tell", f"the answers cannot be read: {error}")]
    bypassed = [one for one in case.work.open_bypasses if one.id != job.id]
    if bypassed:
        names = ", ".join(one.bypass.what for one in bypassed if one.bypass)
        return [("cannot tell", f"{names} bypassed: put it back first")]
    results: dict[str, Result] = {"proved": "passes", "not proved": "fails"}
    return [
        (results.get(found.result, "cannot tell"), f"{code}: {'; '.join(found.why)}")
        for code, found in judge_mend(proof.codes, at_clear, now, reference)
    ]


def _pull(pull: PullProof) -> tuple[Result, str]:
    before = "" if pull.before is None else f", {pull.before:g} before"
    said = (
        f"{pull.quantity}: {pull.after:g} {pull.unit} on a logged pull{before}; "
        f"target {pull.low:g} to {pull.high:g}"
    )
    return ("passes" if pull.low <= pull.after <= pull.high else "fails"), said


def measure_job(
    case: Case,
    job_id: str,
    limit_id: str,
    typed: str,
    reference: Reference,
    *,
    by: Decimal | None = None,
    place: str = "",
    on: date | None = None,
) -> Case:
    """Return the case with a measurement taken after a job.

    Raises
    ------
    AppraiseError
        There is no such limit, or the text is no measurement of that kind.
    """
    from appraise.services.inspection.measuring import read_measurement  # noqa: PLC0415

    job = job_of(case, job_id)
    taken = [one.id for one in job.proof.measurements]
    one = read_measurement(limit_id, typed, reference, by=by, place=place, on=on, taken=taken)
    proof = job.proof.model_copy(update={"measurements": (*job.proof.measurements, one)})
    return put_job(case, job.model_copy(update={"proof": proof}))


def finish_job(case: Case, job_id: str, on: date, reference: Reference, why_none: str = "") -> Case:
    """Return the case with a job done: only if its proof passes, or it is said why there is none.

    Finishing a bypass restores the control.

    Raises
    ------
    BadCase
        The test fails, leaves it open, or is missing.
    """
    job = job_of(case, job_id)
    proof = job.proof
    if why_none.strip():
        proof = JobProof.model_validate(proof.model_dump() | {"why_none": why_none})
        job = job.model_copy(update={"proof": proof})
    found = proof_of(job, case, reference)
    if not found.enough:
        raise BadCase((Problem(f"work.jobs.{job_id}.proof", _refusal(found), "stop"),))
    bypass = job.bypass
    if bypass is not None:
        bypass = Bypass.model_validate(bypass.model_dump() | {"restored_on": on})
    done = {"stage": Stage.DONE, "done_on": on, "bypass": bypass}
    return put_job(case, job.model_copy(update=done))


def _refusal(found: Proved) -> str:
    if found.result == "none":
        return "not done without a test: measure it, or say why there is nothing to measure"
    wrong = "; ".join(words for result, words in found.lines if result != "passes")
    if found.result == "fails":
        return f"not done, the test fails: {wrong}"
    return f"not done, the test leaves it open: {wrong}"


def reopen_job(case: Case, job_id: str) -> Case:
    """Return the case with a job begun again that was called done."""
    job = job_of(case, job_id)
    bypass = job.bypass
    if bypass is not None:
        bypass = Bypass.model_validate(bypass.model_dump() | {"restored_on": None})
    again = {"stage": Stage.STARTED, "done_on": None, "bypass": bypass}
    return put_job(case, job.model_copy(update=again))


def unproved(case: Case, reference: Reference) -> tuple[Problem, ...]:
    """Return what is amiss: jobs called done whose proof does not pass, and open bypasses."""
    out = []
    for job in case.work.jobs:
        if job.stage is Stage.DONE:
            found = proof_of(job, case, reference)
            if not found.enough:
                label = job_label(case, job.job, reference)
                out.append(Problem(f"work.jobs.{job.id}", f"{label}: {_refusal(found)}"))
    out += [_bypassed(job.id, job.bypass) for job in case.work.open_bypasses if job.bypass]
    return tuple(out)


def _bypassed(job_id: str, bypass: Bypass) -> Problem:
    return Problem(
        f"work.jobs.{job_id}",
        f"{bypass.what} bypassed since {bypass.started_on}: {bypass.reason}. "
        f"To restore: {bypass.restore}",
        "warning",
        "A bypass is no repair; restore it before the sale, or name it to the buyer in writing. "
        "Nobody may knowingly bypass an emission control (42 U.S.C. 7522(a)(3)), save as a "
        "necessary and temporary step of a repair; check your State / country.",
    )
