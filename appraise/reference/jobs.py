"""A job by its id, of the catalog or the case's own."""

from __future__ import annotations

from appraise.models.case import Case
from appraise.models.jobs import Job
from appraise.reference.load import Reference

__all__ = ["job_label", "job_of_case"]


def job_of_case(case: Case, name: str, reference: Reference) -> Job | None:
    """Return a job, the case's own before the catalog's; None if it is not known any more."""
    own = next((one for one in case.own_jobs if one.id == name), None)
    entry = reference.jobs.get(name)
    return own or (entry.job if entry else None)


def job_label(case: Case, name: str, reference: Reference) -> str:
    """Return what people call a job; its id if it is not known any more."""
    found = job_of_case(case, name, reference)
    return found.label if found else name
