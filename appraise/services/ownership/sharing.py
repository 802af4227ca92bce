"""What else may be done while a car is apart anyway, and what that saves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from appraise.models.case import Case
from appraise.models.jobs import Job
from appraise.models.work import Stage
from appraise.reference.load import Reference
from appraise.reference.signs import possible_jobs

if TYPE_CHECKING:
    from appraise.engine.catalog.prices import PriceList

__all__ = ["Offer", "while_in_there"]

MOST_OFFERS = 8


@dataclass(frozen=True, slots=True)
class Offer:
    """A job that costs less now, because what has to come off for it is off anyway.

    Attributes
    ----------
    why : a finding it belongs to, or what it is worth doing for.
    opened_for : the planned job that opens the access.
    hours : own hours that it takes then, likely.
    saved_hours, saved : what doing it now saves against doing it later by itself.
    """

    job: str
    label: str
    why: str
    opened_for: str
    hours: float
    saved_hours: float
    saved: float


def while_in_there(case: Case, reference: Reference) -> tuple[Offer, ...]:
    """Return jobs that share access with what is planned, and what doing them now saves.

    First jobs under possible causes of findings that have none planned, then service and small
    jobs of the same system; of these the ones that save most of their own time.
    """
    from appraise.engine.catalog.prices import PriceList  # noqa: PLC0415
    from appraise.engine.catalog.values import Lookup  # noqa: PLC0415 - the engine only when needed

    prices = PriceList.of(case, Lookup(reference))
    planned = {one.job for one in case.work.jobs if one.stage is not Stage.DROPPED}
    bought: set[str] = set()
    opened: dict[str, str] = {}
    systems: set[str] = set()
    for one in case.work.jobs:
        if not one.open:
            continue
        job = prices.job(one.job, f"work.jobs.{one.id}").job
        bought |= {part.label for part in job.parts}
        if job.shop_only or not job.access:
            continue
        systems.add(job.system.value)
        for name in job.access:
            for inner in (name, *reference.access[name].covers):
                opened.setdefault(inner, job.label)
    rate = float(case.deal.own_rate)
    offers: list[Offer] = []
    for job, why in _candidates(case, prices, reference, systems):
        fits_in = bool(job.access) and all(name in opened for name in job.access)
        if job.id in planned or not fits_in or not job.allows(case.vehicle) or job.shop_only:
            continue
        if job.parts and {part.label for part in job.parts} <= bought:
            continue  # a smaller job that is done with a planned one
        planned.add(job.id)
        saved = sum(prices.access_hours(name).likely for name in job.access)
        hours = prices.job(job.id, "while in there").hours.likely
        if why or saved >= hours:
            named = opened[job.access[0]]
            offers.append(Offer(job.id, job.label, why, named, hours, saved, saved * rate))
    offers.sort(key=lambda one: (not one.why, -one.saved_hours / (one.hours + one.saved_hours)))
    return tuple(offers[:MOST_OFFERS])


def _candidates(
    case: Case, prices: PriceList, reference: Reference, systems: set[str]
) -> Iterator[tuple[Job, str]]:
    """Yield jobs that may be worth doing, with the finding that they belong to, if any."""
    for finding in case.findings:
        if not finding.trouble or finding.truth is not None:
            continue
        for job in possible_jobs(finding, case.vehicle, reference):
            yield prices.job(job, "findings").job, finding.label or finding.area.value
    for entry in reference.jobs.values():
        if entry.job.kind in ("repair", "service") and entry.job.system.value in systems:
            yield entry.job, ""
