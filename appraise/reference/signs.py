"""What a finding names: a symptom, trouble codes, and the faults that may be behind them."""

from __future__ import annotations

from appraise.models.findings import Finding
from appraise.models.vehicle import Vehicle
from appraise.reference.load import Reference
from appraise.reference.schema import CodeGroup, Fault, Symptom

__all__ = ["can_have", "is_sign", "possible_causes", "possible_jobs", "signs_named"]


def signs_named(finding: Finding, reference: Reference) -> tuple[Symptom | CodeGroup, ...]:
    """Return the symptom and the groups of codes that a finding names, as far as they are known."""
    symptom = reference.symptoms.get(finding.symptom or "")
    known = reference.group_of_code if finding.codes else {}
    groups = {known[code].id: known[code] for code in finding.codes if code in known}
    return tuple(groups.values()) if symptom is None else (symptom, *groups.values())


def is_sign(finding: Finding, reference: Reference) -> bool:
    """Whether a finding leaves it to the program what is behind it."""
    states_more = finding.causes or finding.jobs
    return finding.trouble and not states_more and bool(signs_named(finding, reference))


def can_have(fault: Fault, car: Vehicle, reference: Reference) -> bool:
    """Whether a car can have a fault: it fits the car, and so does a way to repair it."""
    return fault.allows(car) and any(
        all(reference.jobs[job].job.allows(car) for job in one.jobs) for one in fault.remedies
    )


def possible_causes(finding: Finding, car: Vehicle, reference: Reference) -> dict[str, str]:
    """Return what may be behind a finding, by id: a person's own causes, or faults, by share."""
    if finding.causes:
        return {one.id: one.label for one in finding.causes}
    links = [one for named in signs_named(finding, reference) for one in named.causes]
    links.sort(key=lambda one: -one.share)
    faults = [reference.causes[one.cause] for one in links]
    return {one.id: one.label for one in faults if can_have(one, car, reference)}


def possible_jobs(finding: Finding, car: Vehicle, reference: Reference) -> tuple[str, ...]:
    """Return the jobs that a finding may need, by id: its own, those of what may be behind it."""
    stated = [*finding.jobs, *(one for cause in finding.causes for one in cause.jobs)]
    if stated or finding.causes:
        return tuple(one.job for one in stated)
    faults = (reference.causes[one] for one in possible_causes(finding, car, reference))
    return tuple(dict.fromkeys(job for one in faults for job in one.usual_jobs))
