"""The open jobs as tasks for a day plan: hours, parts on the way, what waits for what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

import numpy as np
from numpy.typing import NDArray

from appraise.engine.catalog.values import Lookup
from appraise.engine.work.plan import Bench, PlannedDraws
from appraise.engine.work.schedule import Plan, Task, plan_days
from appraise.models.work import PlannedPart, Stage

__all__ = ["PUT_BACK", "day_plan", "parts_here"]

PUT_BACK = 0.5
"""Share of an access group's hours that putting it back takes. No published source; from memory."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Access:
    """Access groups as a day plan needs them."""

    hours: dict[str, float]
    covers: dict[str, tuple[str, ...]]


def day_plan(
    bench: Bench, start: date, hours_to_come: Mapping[str, float], today: date | None = None
) -> Plan:
    """Return the open jobs day by day, in tenths of an hour, so that what is shown adds up.

    Parameters
    ----------
    start : first day of work.
    hours_to_come : own hours still to work on each job, without access; by id of the planned job.
    today : on which parts are ordered that are not yet; None for the first day of work.

    Raises
    ------
    ValueError
        As `plan_days`.
    """
    lookup = bench.workshop.lookup
    open_jobs = [one for one in bench.jobs if one.planned.open]
    names = {one.planned.id for one in open_jobs}
    groups = lookup.reference.access
    needed = {name for one in open_jobs if not one.by_shop for name in one.access}
    access = _Access(
        {
            name: _tenths(
                bench.workshop.prices.access_hours(name).likely
                * (PUT_BACK if name in bench.opened else 1)
            )
            for name in needed
        },
        {name: tuple(groups[name].covers) for name in needed},
    )
    tasks = [_task(one, names, today or start, hours_to_come, lookup) for one in open_jobs]
    return plan_days(
        tasks, start, float(bench.case.deal.hours_per_day), access.hours, access.covers
    )


def _task(
    one: PlannedDraws,
    open_names: set[str],
    today: date,
    hours_to_come: Mapping[str, float],
    lookup: Lookup,
) -> Task:
    planned = one.planned
    shop_days = 0.0
    if one.by_shop or one.job.shop_only:
        worked = float(np.median(one.hours)) if one.job.shop_only else _shop_hours(one)
        shop_days = max(1.0, worked / lookup.number("shop.hours_a_day"))
    return Task(
        name=planned.id,
        hours=0.0 if one.by_shop else _tenths(hours_to_come.get(planned.id, 0.0)),
        shop_days=shop_days,
        after=tuple(name for name in planned.after if name in open_names),
        ready_on=parts_here(one, today, lookup),
        must=planned.must,
        access=() if one.by_shop else one.access,
    )


def _tenths(hours: float) -> float:
    """Return hours in whole tenths, at least one for anything: what a list of days can show."""
    return max(round(hours, 1), 0.1) if hours > 0 else 0.0


def _shop_hours(one: PlannedDraws) -> float:
    return float(one.job.hours.likely) * one.planned.quantity


def parts_here(one: PlannedDraws, today: date, lookup: Lookup) -> date | None:
    """Return the day on which the parts of a job are here, or None if they are.

    Parts that are not ordered yet are taken as ordered today. A job that is begun without a list
    of its parts is taken to have them.
    """
    planned = one.planned
    if one.by_shop:
        return None
    usual = ceil(lookup.spread(f"lead.{one.job.lead.value}").likely)
    if not planned.parts:
        if planned.stage is Stage.STARTED:
            return None
        return today + timedelta(days=usual) if one.job.parts else None
    days = [_arrives(part, today, usual) for part in planned.parts if part.arrived_on is None]
    return max(days, default=None)


def _arrives(part: PlannedPart, today: date, usual: int) -> date:
    days = usual if part.delivery_days is None else part.delivery_days
    due = (part.ordered_on or today) + timedelta(days=days)
    return max(due, today)
