"""Cautions and the small print at the foot of a page: each caution once, before the work."""

from __future__ import annotations

from collections.abc import Iterable

from appraise.engine.catalog.cautions import on_this_car
from appraise.models.case import Case
from appraise.reference.jobs import job_of_case
from appraise.reference.load import Reference
from appraise.reference.schema import Caution
from appraise.reference.signs import possible_jobs
from appraise.reports.columns import folded
from appraise.reports.wording import ESTIMATE

__all__ = ["caution_lines", "cautions_ahead", "cautions_of", "closing"]


def cautions_of(names: Iterable[str], reference: Reference) -> list[Caution]:
    """Return the cautions of some work, each once, in the order given."""
    found = dict.fromkeys(names)
    return [reference.cautions[name] for name in found if name in reference.cautions]


def cautions_ahead(case: Case, reference: Reference) -> tuple[str, ...]:
    """Return the cautions of all that is still to be done: open jobs, and faults without a job.

    Of a fault without a job every job is counted that one of its causes may need.
    """
    jobs = [one.job for one in case.work.jobs if one.open]
    planned = {name for one in case.work.jobs for name in one.findings}
    for finding in case.findings:
        settled = finding.truth is not None and not finding.truth.fault
        if finding.trouble and not settled and finding.id not in planned:
            jobs += possible_jobs(finding, case.vehicle, reference)
    known = [job_of_case(case, name, reference) for name in jobs]
    names = (name for one in known if one is not None for name in one.cautions)
    return on_this_car(names, case.vehicle)


def caution_lines(names: Iterable[str], reference: Reference) -> list[str]:
    """Return cautions as lines of a page."""
    found = cautions_of(names, reference)
    lines = [line for one in found for line in folded(f"{one.work}: {one.text}", "  ! ")]
    return ["CAUTIONS", *lines] if lines else []


def closing(case: Case, reference: Reference) -> str:
    """Return the foot of a page about the work: what can hurt in it, and the small print."""
    lines = caution_lines(cautions_ahead(case, reference), reference)
    return "\n".join(["", *lines, *([""] if lines else []), ESTIMATE])
