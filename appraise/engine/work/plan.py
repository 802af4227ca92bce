"""Planned jobs on their draws: the catalog's ranges, or what is known better by now.

The draws of a job hang on the same names as in the estimate before the purchase, so a plan that
knows nothing new costs to the cent what the bid allowed for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from appraise.engine.catalog.prices import PricedJob, PriceList
from appraise.engine.catalog.values import Lookup, spread_of
from appraise.engine.draws.streams import BILL, HOURS, PARTS, JobSpec, PartSpec, Spread, Streams
from appraise.engine.repair.done_by import cheaper
from appraise.engine.repair.drawn_jobs import Workshop
from appraise.engine.work.schedule import Task, order_of
from appraise.errors import Problem
from appraise.models.case import Case
from appraise.models.findings import JobChoice
from appraise.models.jobs import Job
from appraise.models.work import PlannedJob, Stage
from appraise.reference.load import Reference

__all__ = ["Bench", "PlannedDraws", "bench_of", "openings"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PlannedDraws:
    """One planned job: each array (draws,), for all times that it is done.

    Attributes
    ----------
    by_shop : whether a shop's labor is paid for it.
    money : money out without access and tools: parts, deposits lost, bought-in work, shop labor.
    hours : own hours without access; those lost on the way to a specialist count.
    bill : what a shop would charge, without access.
    budget : money as expected before its parts had prices: the catalog's figures, or own ones.
    known : the part of the money that is a known price.
    access, tools : what it needs that others may need too; tools that are not owned.
    """

    planned: PlannedJob
    job: Job
    label: str
    by_shop: bool
    money: Floats
    hours: Floats
    bill: Floats
    budget: Floats
    known: float
    access: tuple[str, ...]
    tools: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Bench:
    """What a case's work is reckoned with.

    Attributes
    ----------
    jobs : planned jobs that are not dropped, in an order in which they can be done.
    shop_rate : (draws,) a shop's price of an hour.
    """

    case: Case
    workshop: Workshop
    shop_rate: Floats
    jobs: tuple[PlannedDraws, ...]
    problems: tuple[Problem, ...]

    @property
    def opened(self) -> frozenset[str]:
        """Access groups that own hands have open for a begun job."""
        begun = (one for one in self.jobs if one.planned.stage is Stage.STARTED)
        return frozenset(name for one in begun if not one.by_shop for name in one.access)

    @property
    def had(self) -> frozenset[str]:
        """Special tools that a job done has brought."""
        done = (one for one in self.jobs if one.planned.stage is Stage.DONE)
        return frozenset(name for one in done for name in one.tools)

    def access(self, name: str) -> Floats:
        """Return the hours of an access group: (draws,)."""
        return self.workshop.access(name)

    def tool(self, name: str) -> Floats:
        """Return what a special tool costs once: (draws,)."""
        return self.workshop.tool(name)


def bench_of(case: Case, reference: Reference, lookup: Lookup | None = None) -> Bench:
    """Return the planned jobs of a case on its draws.

    Raises
    ------
    BadCase
        A planned job is in no catalog.
    """
    lookup = lookup or Lookup(reference)
    streams = Streams(case.seed, case.draws)
    prices = PriceList.of(case, lookup)
    deal = case.deal
    rate = (
        spread_of(deal.shop_rate)
        if deal.shop_rate
        else lookup.spread("shop.rate", float(deal.price_level))
    )
    workshop = Workshop(case, prices, lookup, streams, rate)
    shop_rate = streams.amounts("shop/rate", rate)
    kept = {one.id: one for one in case.work.jobs if one.stage is not Stage.DROPPED}
    order = order_of(
        [
            Task(name, 0.0, after=tuple(other for other in one.after if other in kept))
            for name, one in kept.items()
        ]
    )
    problems: list[Problem] = []
    own = {name: _on_its_own(one, workshop) for name, one in kept.items()}
    by_shop = _who_does_them(kept, own)
    jobs = tuple(_drawn(kept[name], own[name], problems, by_shop=by_shop[name]) for name in order)
    return Bench(case, workshop, shop_rate, jobs, tuple(problems))


def openings(
    jobs: Iterable[PlannedDraws], groups: Mapping[str, tuple[str, ...]]
) -> dict[str, tuple[str, ...]]:
    """Return for each job the access that it opens first, in the order given.

    What a larger access covers is not opened beside it.

    Parameters
    ----------
    jobs : in the order in which they are done.
    groups : by access, what it covers.
    """
    listed = list(jobs)
    out: dict[str, tuple[str, ...]] = {}
    for by_shop in (False, True):
        mine = [one for one in listed if one.by_shop is by_shop]
        needed = {name for one in mine for name in one.access}
        covered = {inner for name in needed for inner in groups[name]} & needed
        opened: set[str] = set()
        for one in mine:
            first = [name for name in one.access if name not in covered | opened]
            opened |= set(first)
            out[one.planned.id] = tuple(first)
    return out


def _on_its_own(planned: PlannedJob, bench: Workshop) -> Workshop:
    """Return the workshop for one planned job: its own figures hold for it alone."""
    choice = JobChoice(
        job=planned.job, parts=planned.money, hours=planned.hours, done_by=planned.done_by
    )
    return replace(bench, own={planned.job: choice}, shop_jobs={}, specs={}, jobs={})


def _who_does_them(
    planned: Mapping[str, PlannedJob], workshops: Mapping[str, Workshop]
) -> dict[str, bool]:
    """Return for each planned job whether a shop does it: all of them are taken as needed."""
    jobs = {}
    for name, one in planned.items():
        priced = workshops[name].prices.job(one.job, f"work.jobs.{name}.job")
        jobs[name] = workshops[name].doable(priced, one.quantity, 1)
    if not jobs:
        return {}
    workshop = next(iter(workshops.values()))
    return cheaper(jobs, workshop.shared(jobs.values()), 1, workshop.hour)


def _drawn(
    planned: PlannedJob, workshop: Workshop, problems: list[Problem], *, by_shop: bool
) -> PlannedDraws:
    """Return a planned job on its draws."""
    where = f"work.jobs.{planned.id}.job"
    priced = workshop.prices.job(planned.job, where)
    misfit = workshop.prices.fits(priced.job)
    if misfit:
        problems.append(Problem(where, f"{priced.job.label} {misfit}"))
    spec = workshop.spec(priced)
    times = planned.quantity
    known = 0.0
    before = drawn = workshop.streams.job(spec)
    if planned.parts and planned.money is None:
        drawn = workshop.streams.job(_with_parts(spec, planned, priced, workshop, problems))
        known = float(sum(part.cost or 0 for part in planned.parts))
    hours = drawn[HOURS] * times
    shop_rate = workshop.streams.amounts("shop/rate", workshop.shop_rate)
    labor = 0.0 if priced.job.shop_only else hours * shop_rate
    bill = drawn[BILL] * times + labor
    owned = workshop.case.deal.tools_owned
    return PlannedDraws(
        planned=planned,
        job=priced.job,
        label=priced.job.label if times == 1 else f"{priced.job.label}, {times} times",
        by_shop=by_shop,
        money=bill if by_shop else drawn[PARTS] * times,
        hours=np.zeros_like(hours) if by_shop else hours,
        bill=bill,
        budget=before[BILL] * times + labor if by_shop else before[PARTS] * times,
        known=0.0 if by_shop else known,
        access=priced.job.access,
        tools=() if by_shop else tuple(one for one in priced.job.tools if one not in owned),
    )


def _with_parts(
    spec: JobSpec,
    planned: PlannedJob,
    priced: PricedJob,
    workshop: Workshop,
    problems: list[Problem],
) -> JobSpec:
    """Return the job with its own list of parts: known prices fixed, the rest by the catalog.

    The list is for the whole job, whatever its quantity; its tax and shipping are in it.
    """
    tax = 1 + float(workshop.case.deal.parts_tax_percent) / 100
    lines = {line.label.casefold(): line for line in priced.parts}
    times = planned.quantity
    parts: list[PartSpec] = []
    for part in planned.parts:
        line = lines.get(part.label.casefold())
        if part.price is not None:
            fixed = Spread(float(part.price), float(part.price), float(part.price))
            parts.append(PartSpec(fixed, part.quantity / times, bought_in=False))
        elif line is not None:
            factor = part.quantity * (1.0 if line.bought_in else tax) / times
            parts.append(PartSpec(line.price, factor, line.bought_in))
        else:
            message = (
                f"{part.label} has no price and stands on no list of the catalog for this job: "
                "it counts as nothing"
            )
            where = f"work.jobs.{planned.id}.parts.{part.id}"
            problems.append(Problem(where, message, hint="Enter what it costs."))
    brought = float(sum(part.shipping + part.tax for part in planned.parts))
    deposits = float(sum(part.core * part.quantity for part in planned.parts))
    return replace(
        spec,
        parts=tuple(parts),
        other=priced.consumables + brought / times,
        deposit=deposits / times,
    )
