"""From a symptom or a trouble code to a finding with its usual causes; results of checks."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import ROUND_DOWN, Decimal

from appraise.errors import AppraiseError, BadCase, Problem
from appraise.models.case import Case
from appraise.models.diagnosis import Diagnosis
from appraise.models.findings import (
    Area,
    Cause,
    CheckResult,
    Finding,
    JobChoice,
    Severity,
    State,
)
from appraise.models.jobs import Job
from appraise.models.vehicle import Vehicle
from appraise.reference.load import Reference
from appraise.reference.schema import CodeGroup, Symptom, WeightedCause
from appraise.services.cases.editing import free_id, put_finding

__all__ = [
    "code_group",
    "codes_in",
    "diagnose_case",
    "enter_result",
    "finding_from_code",
    "finding_from_symptom",
    "symptoms_for",
    "usual_causes",
    "without_result",
]

SEVERITY_OF = {
    "stop": Severity.DANGEROUS,
    "high": Severity.MAJOR,
    "medium": Severity.MAJOR,
    "low": Severity.MINOR,
}
PLACES = Decimal("0.0001")
LONGEST_TEXT, SHOWN = 20_000, 40
"""Characters; three thousand codes."""


def diagnose_case(case: Case, reference: Reference, only: str | None = None) -> Diagnosis:
    """Return the odds of causes and what checks are worth; see `engine.diagnosis.diagnose`."""
    from appraise.engine.bid.diagnosis import diagnose  # noqa: PLC0415 - NumPy only when needed

    return diagnose(case, reference, only)


def fits(job: Job, car: Vehicle) -> bool:
    """Whether a job can be one for this car."""
    return (
        (not job.fuels or car.fuel in job.fuels)
        and (not job.transmissions or car.transmission in job.transmissions)
        and (not job.drives or car.drive in job.drives)
    )


def usual_causes(
    weighted: Iterable[WeightedCause], car: Vehicle, reference: Reference
) -> tuple[Cause, ...]:
    """Return causes with their jobs as this car can have them.

    A cause none of whose jobs is one for this car is left out, and its share goes to the others
    in proportion.
    """
    kept: list[tuple[WeightedCause, tuple[JobChoice, ...]]] = []
    total = Decimal(0)
    for one in weighted:
        total += one.share
        jobs = reference.causes[one.cause].jobs
        fitting = [name for name in jobs if fits(reference.jobs[name].job, car)]
        if fitting or not jobs:
            kept.append((one, tuple(JobChoice(job=name) for name in fitting)))
    left = sum((one.share for one, _ in kept), Decimal(0))
    if not kept or not left:
        return ()
    return tuple(
        Cause(
            id=one.cause,
            label=reference.causes[one.cause].label,
            chance=(one.share * total / left).quantize(PLACES, ROUND_DOWN),
            jobs=jobs,
        )
        for one, jobs in kept
    )


def _can_be(cause: str, car: Vehicle, reference: Reference) -> bool:
    """Whether a cause can be one of this car's: it needs no job, or one that fits."""
    jobs = reference.causes[cause].jobs
    return not jobs or any(fits(reference.jobs[name].job, car) for name in jobs)


def symptoms_for(car: Vehicle, reference: Reference, area: Area | None = None) -> list[Symptom]:
    """Return the symptoms that this car can have, those of the area first, then by label."""
    found = [
        one
        for one in reference.symptoms.values()
        if (not one.fuels or car.fuel in one.fuels)
        and (not one.transmissions or car.transmission in one.transmissions)
        and any(_can_be(cause.cause, car, reference) for cause in one.causes)
    ]
    return sorted(found, key=lambda one: (one.area is not area, one.label))


def finding_from_symptom(case: Case, symptom_id: str, reference: Reference) -> Case:
    """Return the case with a finding for a symptom, its usual causes filled in.

    Raises
    ------
    AppraiseError
        There is no such symptom.
    """
    symptom = reference.symptoms.get(symptom_id)
    if symptom is None:
        raise AppraiseError("there is no such symptom", where=symptom_id)
    finding = Finding(
        id=free_id(symptom.label, [one.id for one in case.findings]),
        area=symptom.area,
        state=State.FAULTY,
        label=symptom.label,
        severity=symptom.severity,
        symptom=symptom.id,
        causes=usual_causes(symptom.causes, case.vehicle, reference),
    )
    return put_finding(case, finding)


def code_group(code: str, reference: Reference) -> CodeGroup | None:
    """Return the group that a trouble code stands in, or None."""
    for group in reference.code_groups.values():
        if any(one.code == code for one in group.codes):
            return group
    return None


def finding_from_code(case: Case, code: str, reference: Reference) -> Case:
    """Return the case with a finding for a trouble code, its usual causes filled in.

    A code that is noted already changes nothing; one that goes with a finding already there is
    added to it. A code without an entry gives a finding without causes.

    Parameters
    ----------
    code : five characters, upper case.
    """
    if any(code in one.codes for one in case.findings):
        return case
    group = code_group(code, reference)
    if group is None:
        finding = Finding(
            id=free_id(code, [one.id for one in case.findings]),
            area=Area.ENGINE if code.startswith("P") else Area.ELECTRICAL,
            state=State.SUSPECT,
            label=f"{code} stored",
            codes=(code,),
        )
        return put_finding(case, finding)
    same = {one.code for one in group.codes}
    for finding in case.findings:
        if set(finding.codes) & same:
            codes = tuple(dict.fromkeys((*finding.codes, code)))
            return put_finding(case, finding.model_copy(update={"codes": codes}))
    label = next(one.label for one in group.codes if one.code == code)
    finding = Finding(
        id=free_id(code, [one.id for one in case.findings]),
        area=group.area,
        state=State.FAULTY,
        label=f"{code}: {label}",
        severity=SEVERITY_OF[group.urgency],
        codes=(code,),
        causes=usual_causes(group.causes, case.vehicle, reference),
    )
    return put_finding(case, finding)


def codes_in(text: str) -> tuple[str, ...]:
    """Return the trouble codes in a text, each once: as typed, or decoded from a raw answer.

    Raises
    ------
    AppraiseError
        A word that is no code, or an answer that cannot be read.
    """
    from appraise.engine.scan.answers import NOISE  # noqa: PLC0415
    from appraise.engine.scan.trouble_codes import decode_messages, read_code  # noqa: PLC0415

    if len(text) > LONGEST_TEXT:
        raise AppraiseError(f"is longer than {LONGEST_TEXT:,} characters: no list of codes is")
    words = [one for one in text.replace(",", " ").replace(";", " ").split() if one]
    printed = re.search(r"\b[0-9A-F:]*\d[0-9A-F:]*\b", text, re.IGNORECASE)
    by_a_tool = printed is not None or not NOISE.sub(" ", text.upper()).strip()
    if words and (words[0][0].upper() in "PBCU" or not by_a_tool):
        for one in words:
            if not re.search(r"\d", one):
                raise AppraiseError(f"{one[:SHOWN].upper()} is not a code; codes look like P0302")
        return tuple(dict.fromkeys(read_code(one).code for one in words))
    if not words:
        return ()
    found = (code for message in decode_messages(text) for code in message.codes)
    return tuple(dict.fromkeys(found))


def enter_result(
    case: Case,
    finding_id: str,
    check_id: str,
    outcome: str,
    reference: Reference,
    done_on: date | None = None,
) -> Case:
    """Return the case with the result of a check on a finding; an older one of it is replaced.

    Raises
    ------
    BadCase
        There is no such finding, check or outcome.
    """
    finding = _finding(case.findings, finding_id)
    check = reference.checks.get(check_id)
    if check is None:
        raise BadCase((Problem("check", f"there is no check {check_id!r}", "stop"),))
    if outcome not in check.outcomes:
        known = ", ".join(check.outcomes)
        message = f"{check.label} has no outcome {outcome!r}: it is one of {known}"
        raise BadCase((Problem("outcome", message, "stop"),))
    kept = [one for one in finding.results if one.check != check_id]
    results = (*kept, CheckResult(check=check_id, outcome=outcome, done_on=done_on))
    return put_finding(case, finding.model_copy(update={"results": results}))


def without_result(case: Case, finding_id: str, check_id: str) -> Case:
    """Return the case without the result of a check."""
    finding = _finding(case.findings, finding_id)
    kept = tuple(one for one in finding.results if one.check != check_id)
    return put_finding(case, finding.model_copy(update={"results": kept}))


def _finding(findings: Sequence[Finding], finding_id: str) -> Finding:
    for one in findings:
        if one.id == finding_id:
            return one
    raise BadCase((Problem("finding", f"there is no finding {finding_id!r}", "stop"),))
