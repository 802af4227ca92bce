"""Parts to buy for the jobs planned, and old units to give back for their deposit."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from appraise.models.case import Case
from appraise.models.ledger import CORES
from appraise.models.parts import CoreRow, PartRow
from appraise.models.work import PlannedJob, PlannedPart
from appraise.reference.load import Reference
from appraise.services.cases.casework import today

if TYPE_CHECKING:
    from appraise.engine.catalog.prices import PricedJob, PriceList

__all__ = ["cores_to_return", "part_rows", "parts_of"]

CENT = Decimal("0.01")
MOST_PIECES = 100


def part_rows(case: Case, reference: Reference, on: date | None = None) -> tuple[PartRow, ...]:
    """Return every part of the jobs that are not dropped and not done, in the plan's order.

    A job without a list of its own shows the catalog's. Bought-in work is no part.
    """
    from appraise.engine.catalog.prices import PriceList  # noqa: PLC0415
    from appraise.engine.catalog.values import Lookup  # noqa: PLC0415 - the engine only when needed

    prices = PriceList.of(case, Lookup(reference))
    day = on or today()
    return tuple(row for job in case.work.jobs if job.open for row in _rows(job, prices, case, day))


def parts_of(case: Case, job: PlannedJob, reference: Reference) -> tuple[PlannedPart, ...]:
    """Return a job's parts: its own list, or the catalog's with what is bought in.

    Raises
    ------
    BadCase
        The job is in no catalog.
    """
    from appraise.engine.catalog.prices import PriceList  # noqa: PLC0415
    from appraise.engine.catalog.values import Lookup  # noqa: PLC0415 - the engine only when needed

    if job.parts:
        return job.parts
    return _parts(job, PriceList.of(case, Lookup(reference)).job(job.job, f"work.jobs.{job.id}"))


def _parts(job: PlannedJob, priced: PricedJob) -> tuple[PlannedPart, ...]:
    return job.parts or tuple(
        PlannedPart(
            id=f"line-{at}",
            label=line.label,
            quantity=min(MOST_PIECES, line.quantity * job.quantity),
            core=Decimal(line.core).quantize(CENT),
        )
        for at, line in enumerate(priced.parts)
    )


def _rows(job: PlannedJob, prices: PriceList, case: Case, day: date) -> list[PartRow]:
    priced = prices.job(job.job, f"work.jobs.{job.id}")
    lines = {line.label.casefold(): line for line in priced.parts}
    services = {name for name, line in lines.items() if line.bought_in}
    parts = [one for one in _parts(job, priced) if one.label.casefold() not in services]
    tax = 1 + case.deal.parts_tax_percent / 100
    out = []
    for part in parts:
        line = lines.get(part.label.casefold())
        each, expected = part.price, False
        if each is None and line is not None:
            each, expected = (Decimal(line.price.likely) * tax).quantize(CENT), True
        total = None
        if each is not None:
            total = each * part.quantity + part.shipping + part.tax
        out.append(
            PartRow(
                job=job.id,
                job_label=priced.job.label,
                part=part.id,
                label=part.label,
                grade=part.grade.value,
                supplier=part.supplier,
                quantity=part.quantity,
                each=each,
                expected=expected,
                shipping=part.shipping,
                tax=part.tax,
                total=total,
                core=part.core,
                warranty_months=part.warranty_months,
                **_state(part, day),
            )
        )
    return out


def _state(part: PlannedPart, day: date) -> dict[str, Any]:
    if part.arrived_on is not None:
        return {"state": "here", "due": part.arrived_on}
    if part.ordered_on is None:
        return {"state": "to order", "due": None}
    if part.delivery_days is None:
        return {"state": "ordered", "due": None}
    due = part.ordered_on + timedelta(days=part.delivery_days)
    return {"state": "late" if due < day else "ordered", "due": due}


def cores_to_return(case: Case, reference: Reference) -> tuple[CoreRow, ...]:
    """Return the jobs whose deposits on old units are not back yet."""
    from appraise.engine.catalog.prices import PriceList  # noqa: PLC0415
    from appraise.engine.catalog.values import Lookup  # noqa: PLC0415 - the engine only when needed

    prices = PriceList.of(case, Lookup(reference))
    names = dict.fromkeys(one.job for one in case.work.entries if one.kind in CORES)
    out = []
    for name in names:
        mine = [one for one in case.work.entries if one.job == name and one.kind in CORES]
        paid = sum((one.paid for one in mine if one.paid > 0), Decimal(0))
        left = sum((one.paid for one in mine), Decimal(0))
        if left <= 0:
            continue
        job = case.work.job(name) if name else None
        label = "the car as a whole"
        parts: tuple[str, ...] = ()
        if job is not None:
            label = prices.job(job.job, f"work.jobs.{job.id}").job.label
            parts = tuple(part.label for part in job.parts if part.core)
        out.append(CoreRow(name or "", label, parts, paid, paid - left, left))
    return tuple(out)
