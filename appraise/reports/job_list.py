"""Repair jobs as a readable list."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from appraise.errors import AppraiseError, one_line
from appraise.models.jobs import Job
from appraise.models.ranges import Range
from appraise.models.vehicle import PriceClass
from appraise.reference.load import JobEntry, Reference

__all__ = ["job_list", "job_totals"]


def _factor(reference: Reference, value_id: str, price_class: str) -> Decimal:
    table = reference.values[value_id].table or {}
    return table[price_class]


def job_totals(job: Job, reference: Reference, price_class: str) -> tuple[Decimal, Decimal]:
    """Return the likely hours with access, and the likely price of parts, for a price class."""
    hours = job.hours.likely * _factor(
        reference, f"hours.class_factor.{job.hours_family.value}", price_class
    )
    for name in job.access:
        group = reference.access[name]
        hours += group.hours.likely * _factor(
            reference, f"hours.class_factor.{group.hours_family}", price_class
        )
    parts = job.consumables + sum(
        part.price.likely
        * part.quantity
        * _factor(reference, f"parts.class_factor.{part.family.value}", price_class)
        for part in job.parts
    )
    return hours, Decimal(parts)


def _range(given: Range, digits: int) -> str:
    return f"{given.low:.{digits}f} / {given.likely:.{digits}f} / {given.high:.{digits}f}"


def job_list(entries: Iterable[JobEntry], reference: Reference, price_class: str) -> str:
    """Return jobs as text: one line each with likely hours and parts, details for a few.

    Raises
    ------
    AppraiseError
        There is no such price class.
    """
    if price_class not in {one.value for one in PriceClass}:
        known = ", ".join(one.value for one in PriceClass)
        raise AppraiseError(f"{price_class!r} is none of {known}", where="class")
    found = list(entries)
    lines = [f"{'job':<48} {'hours':>6} {'parts':>8}  what it is ({price_class})"]
    for entry in found:
        hours, parts = job_totals(entry.job, reference, price_class)
        lines.append(f"{entry.job.id:<48} {hours:6.1f} {parts:8.0f}  {entry.job.label}")
    if len(found) <= 3:  # noqa: PLR2004 - details only where they can be read
        for entry in found:
            lines += ["", *_details(entry, reference)]
    bases = sorted(
        {f"{entry.provenance.kind.value}, {entry.currency} {entry.base_year}" for entry in found}
    )
    lines += ["", f"{len(found)} jobs; likely hours with access, likely parts. {'; '.join(bases)}."]
    return "\n".join(map(one_line, lines))


def _details(entry: JobEntry, reference: Reference) -> list[str]:
    job = entry.job
    out = [job.label, f"  hours, low / likely / high (mid-size): {_range(job.hours, 1)}"]
    for name in job.access:
        group = reference.access[name]
        out.append(f"  first: {group.label}, {_range(group.hours, 1)} h")
    for part in job.parts:
        core = f", deposit on the old one {part.core:.0f}" if part.core else ""
        out.append(f"  part: {part.quantity} x {part.label}, {_range(part.price, 0)}{core}")
    out += [f"  tool: {reference.tools[name].label}" for name in job.tools]
    out += [f"  then: {reference.jobs[name].job.label}" for name in job.follows]
    names = dict.fromkeys(
        [*job.cautions, *(one for name in job.access for one in reference.access[name].cautions)]
    )
    out += [f"  ! {reference.cautions[one].work}: {reference.cautions[one].text}" for one in names]
    if job.note:
        out.append(f"  note: {job.note}")
    out.append(f"  source: {entry.provenance.kind.value}; {entry.provenance.note}")
    return out
