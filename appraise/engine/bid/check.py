"""What is amiss in a case that the models alone cannot see."""

from __future__ import annotations

from collections.abc import Iterator

from appraise.errors import BadCase, Problem
from appraise.models.appraisal import NOT_PRICED
from appraise.models.case import Case
from appraise.models.findings import JobChoice, Severity
from appraise.models.jobs import Job
from appraise.reference.load import Reference
from appraise.reference.signs import is_sign

__all__ = ["check_case"]

NAMED = 3
YEARS_AHEAD = 2
OLDEST_YEARS = 100


def check_case(case: Case, reference: Reference) -> tuple[Problem, ...]:
    """Return what a person should know about a case before its numbers.

    Raises
    ------
    BadCase
        It names a job, an access group or a tool that does not exist.
    """
    wrong = tuple(_unknown_names(case, reference))
    if wrong:
        raise BadCase(wrong)
    return tuple(_warnings(case, reference))


def _unknown_names(case: Case, reference: Reference) -> Iterator[Problem]:
    jobs = {job.id for job in case.own_jobs} | set(reference.jobs)

    def missing(where: str, what: str, name: str) -> Problem:
        return Problem(where, f"there is no {what} {name!r}", "stop")

    for where, choice in _choices(case):
        if choice.job not in jobs:
            yield missing(f"{where}.job", "job", choice.job)
    for at, job in enumerate(case.own_jobs):
        yield from (
            missing(f"own_jobs[{at}].{field}", what, name)
            for field, what, names, table in _names_of(job, reference, jobs)
            for name in names
            if name not in table
        )
    yield from _unknown_results(case, reference)
    findings = {one.id for one in case.findings}
    for at, paper in enumerate(case.papers):
        for index, claim in enumerate(paper.claims):
            if claim.finding not in findings:
                yield missing(f"papers[{at}].claims[{index}].finding", "finding", claim.finding)
    for at, tool in enumerate(case.deal.tools_owned):
        if tool not in reference.tools:
            yield missing(f"deal.tools_owned[{at}]", "tool", tool)


def _unknown_results(case: Case, reference: Reference) -> Iterator[Problem]:
    for at, result in enumerate(case.results):
        check = reference.checks.get(result.check)
        where = f"results[{at}]"
        if check is None:
            yield Problem(f"{where}.check", f"there is no check {result.check!r}", "stop")
        elif result.outcome not in check.outcomes:
            known = ", ".join(check.outcomes)
            message = f"{check.label} has no outcome {result.outcome!r}: it is one of {known}"
            yield Problem(f"{where}.outcome", message, "stop")


def _choices(case: Case) -> Iterator[tuple[str, JobChoice]]:
    """Yield every job that a finding names, directly or under a cause, with its path."""
    for at, finding in enumerate(case.findings):
        for index, choice in enumerate(finding.jobs):
            yield f"findings[{at}].jobs[{index}]", choice
        for number, cause in enumerate(finding.causes):
            for index, choice in enumerate(cause.jobs):
                yield f"findings[{at}].causes[{number}].jobs[{index}]", choice


def _names_of(
    job: Job, reference: Reference, jobs: set[str]
) -> tuple[tuple[str, str, tuple[str, ...], set[str]], ...]:
    return (
        ("access", "access group", job.access, set(reference.access)),
        ("tools", "tool", job.tools, set(reference.tools)),
        ("follows", "job", job.follows, jobs),
        ("cautions", "caution", job.cautions, set(reference.cautions)),
    )


def _warnings(case: Case, reference: Reference) -> Iterator[Problem]:
    for at, finding in enumerate(case.findings):
        where = f"findings[{at}]"
        name = finding.label or finding.area.value.replace("_", " ")
        if finding.severity is Severity.DANGEROUS:
            yield Problem(where, f"{name}: dangerous, not to be driven until repaired", "warning")
        if finding.unpriced and not is_sign(finding, reference):
            yield Problem(
                where, f"{name}: {NOT_PRICED}", hint="Add its jobs or its possible causes."
            )
    deal = case.deal
    if not (deal.fees or deal.tax_percent or deal.holding_per_day or deal.own_rate):
        yield Problem(
            "deal",
            "no fees, tax, holding cost or hours of yours are entered, so the walk-away "
            "price leaves nothing for them",
            hint="Enter them with the bid, or once for every new car in the settings.",
        )
    if not any(
        not comp.left_out and comp.currency in (None, case.currency)
        for comp in case.market.comparables
    ):
        yield Problem(
            "market.comparables",
            "no comparable car to price this one from, so there is no bid",
            hint="Enter at least one car like it.",
        )
    if case.vehicle.age_years(case.appraised_on) > OLDEST_YEARS:
        yield Problem("appraised_on", "makes the car more than a century old: is the day right?")
    if case.vehicle.model_year > case.appraised_on.year + YEARS_AHEAD:
        yield Problem(
            "vehicle.model_year", f"{case.vehicle.model_year} is years after the day of appraisal"
        )
    yield from _laws(_jobs_of(case, reference))


def _laws(jobs: tuple[Job, ...]) -> Iterator[Problem]:
    """Say what federal law forbids at jobs on emission controls and safety systems, a law once."""
    emission = [job.label for job in jobs if job.emission_control]
    if emission:
        law = "42 U.S.C. 7522(a)(3)"
        yield Problem(
            "job.emission",
            f"{_first(emission)}: on an emission control. Nobody may knowingly remove one, render "
            "it inoperative or fit a part that bypasses it; a repair after which it works properly "
            f"is none of these ({law}). Check your State / country.",
            "note",
            law=law,
        )
    safety = [job.label for job in jobs if job.safety_system]
    if safety:
        law = "49 U.S.C. 30122(b)"
        yield Problem(
            "job.safety",
            f"{_first(safety)}: on a safety system. A manufacturer, distributor, dealer, rental "
            "company or motor vehicle repair business may not knowingly make one inoperative "
            f"({law}). The section asks nobody to replace one that is gone; State law may. Check "
            "your State / country.",
            "note",
            law=law,
        )


def _first(labels: list[str]) -> str:
    """Return the first few of some labels, and how many more there are."""
    more = f" and {len(labels) - NAMED} more" if len(labels) > NAMED else ""
    return f"{', '.join(labels[:NAMED])}{more}"


def _jobs_of(case: Case, reference: Reference) -> tuple[Job, ...]:
    """Every job that a finding names directly or under a cause, once."""
    own = {job.id: job for job in case.own_jobs}
    names = dict.fromkeys(choice.job for _, choice in _choices(case))
    return tuple(own[name] if name in own else reference.jobs[name].job for name in names)
