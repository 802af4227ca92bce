"""What may be done to a car from today on: open jobs, and findings that have none yet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from appraise.engine.catalog.values import spread_of
from appraise.engine.faults.needed_jobs import Needs
from appraise.engine.repair.totals import Tally
from appraise.engine.work.day_plan import PUT_BACK
from appraise.engine.work.forecast import JobOutlook, Outlook
from appraise.engine.work.learning import adjusted
from appraise.models.work import Purpose, Stage

__all__ = [
    "ADDING",
    "Candidate",
    "access_of",
    "candidate_of_findings",
    "candidate_of_job",
    "with_own_access",
    "with_requirements",
]

Floats = NDArray[np.float64]

ADDING = (Purpose.UPGRADE, Purpose.PREVENTIVE)


@dataclass(frozen=True, slots=True)
class Candidate:
    """Something that may be done: each array (draws,), shared access and tools apart.

    Attributes
    ----------
    bill : what a shop would charge for it, the teardown that it needs apart.
    opens : that teardown, whoever does the work; none for a finding, whose bill holds its own.
    adds : what an upgrade or preventive job adds to the price; nought for a repair.
    lead : days until its parts are here.
    needs : the findings behind it, if their cause is not known yet.
    """

    name: str
    label: str
    purpose: Purpose
    must: bool
    money: Floats
    hours: Floats
    bill: Floats
    adds: Floats
    lead: float
    access: tuple[str, ...] = ()
    requires: tuple[str, ...] = ()
    needs: tuple[Needs, ...] = ()
    opens: tuple[str, ...] = ()

    @property
    def repairs(self) -> bool:
        """Whether a buyer misses it if it is not done."""
        return self.purpose not in ADDING


def candidate_of_job(one: JobOutlook, outlook: Outlook) -> Candidate:
    """Return an open planned job; what is paid for it already is off, what is ordered is not."""
    drawn, planned = one.drawn, one.drawn.planned
    lookup = outlook.bench.workshop.lookup
    uncertain = adjusted(np.maximum(drawn.money - drawn.known, 0), outlook.money)
    money = np.maximum(drawn.known + uncertain - float(one.paid), float(one.committed))
    hours = np.maximum(adjusted(drawn.hours, outlook.hours) - float(one.worked), 0)
    adds = np.zeros(len(money))
    if planned.purpose in ADDING:
        streams = outlook.bench.workshop.streams
        if planned.adds is not None:
            adds = streams.amounts(f"adds/{planned.id}", spread_of(planned.adds))
        else:
            back = lookup.spread(f"{planned.purpose.value}.return")
            rate = float(outlook.bench.case.deal.own_rate)
            share = streams.amounts(f"adds/{planned.id}", back)
            adds = share * (drawn.money + drawn.hours * rate)
    lead = 0.0 if planned.stage is Stage.STARTED else _lead(one, outlook)
    whose, had = "shop " if drawn.by_shop else "", outlook.bench.had
    access = tuple(f"{whose}{name}" for name in drawn.access)
    return Candidate(
        name=planned.id,
        label=drawn.label,
        purpose=planned.purpose,
        must=planned.must or planned.purpose is Purpose.BYPASS,
        money=money,
        hours=hours,
        bill=np.zeros(len(money)) if planned.purpose in ADDING else drawn.bill,
        adds=adds,
        lead=lead,
        access=(*access, *(f"tool {name}" for name in drawn.tools if name not in had)),
        opens=() if planned.purpose in ADDING else drawn.access,
    )


def _lead(one: JobOutlook, outlook: Outlook) -> float:
    """Return the days until a job's parts are here, the likely ones."""
    planned, job = one.drawn.planned, one.drawn.job
    usual = outlook.bench.workshop.lookup.spread(f"lead.{job.lead.value}").likely
    if not planned.parts:
        return usual if job.parts else 0.0
    waiting = [part for part in planned.parts if part.arrived_on is None]
    days = [usual if part.delivery_days is None else part.delivery_days for part in waiting]
    return float(max(days, default=0.0))


def candidate_of_findings(
    lot: Sequence[Needs], tally: Tally, outlook: Outlook, *, must: bool
) -> Candidate:
    """Return findings that have no job yet, repaired whatever is behind them.

    Parameters
    ----------
    lot : findings that the same faults may be behind.
    """
    rate = outlook.bench.shop_rate
    money = adjusted(tally.money, outlook.money)
    hours = adjusted(tally.hours, outlook.hours)
    more = f" and {len(lot) - 1} more" if len(lot) > 1 else ""
    return Candidate(
        name=f"finding.{lot[0].id}",
        label=f"{lot[0].label}{more}, whatever it is",
        purpose=Purpose.REPAIR,
        must=must,
        money=money,
        hours=hours,
        bill=tally.money + tally.hours * rate,
        adds=np.zeros(len(money)),
        lead=0.0,
        needs=tuple(lot),
    )


def with_requirements(candidates: list[Candidate], outlook: Outlook) -> list[Candidate]:
    """Let a job require those that the catalog says follow from it, where they are planned."""
    planned = {one.drawn.planned.job: one.drawn.planned.id for one in outlook.jobs}
    follows = {one.drawn.planned.id: one.drawn.job.follows for one in outlook.jobs}
    names = {one.name for one in candidates}
    return [
        replace(
            one,
            requires=tuple(
                planned[job]
                for job in follows.get(one.name, ())
                if planned.get(job) in names and planned[job] != one.name
            ),
        )
        for one in candidates
    ]


def access_of(
    candidates: Iterable[Candidate], outlook: Outlook
) -> tuple[dict[str, tuple[Floats, Floats]], dict[str, tuple[str, ...]]]:
    """Return money and hours of all that several may share, and what covers what.

    Access that a begun job has open takes only what putting it back does.
    """
    bench = outlook.bench
    groups = bench.workshop.lookup.reference.access
    nothing = np.zeros(bench.workshop.streams.draws)
    access: dict[str, tuple[Floats, Floats]] = {}
    covers: dict[str, tuple[str, ...]] = {}
    for name in sorted({name for one in candidates for name in one.access}):
        kind, _, rest = name.partition(" ")
        if kind == "tool" and rest:
            access[name] = (adjusted(bench.tool(rest), outlook.money), nothing)
        elif kind == "shop" and rest:
            labor = bench.access(rest) * bench.shop_rate
            access[name] = (adjusted(labor, outlook.money), nothing)
            covers[name] = tuple(f"shop {inner}" for inner in groups[rest].covers)
        else:
            share = PUT_BACK if name in bench.opened else 1.0
            access[name] = (nothing, adjusted(bench.access(name), outlook.hours) * share)
            covers[name] = tuple(groups[name].covers)
    return access, covers


def with_own_access(
    candidates: Iterable[Candidate],
    access: dict[str, tuple[Floats, Floats]],
    covers: dict[str, tuple[str, ...]],
) -> tuple[tuple[Candidate, ...], dict[str, tuple[Floats, Floats]]]:
    """Put access and tools that only one candidate needs into its own cost: the rest is shared.

    Access that covers other access, or is covered by it, stays apart.

    Returns
    -------
    The candidates, and the access that is left.
    """
    listed = tuple(candidates)
    users = Counter(name for one in listed for name in one.access)
    needed = set(users)
    tied = {
        name
        for outer in needed
        for inner in needed & set(covers.get(outer, ()))
        for name in (outer, inner)
    }
    own = {name for name, count in users.items() if count == 1} - tied
    out = []
    for one in listed:
        mine = [name for name in one.access if name in own]
        money, hours = one.money, one.hours
        for name in mine:
            money = money + access[name][0]
            hours = hours + access[name][1]
        left = tuple(name for name in one.access if name not in own)
        out.append(replace(one, money=money, hours=hours, access=left))
    return tuple(out), {name: both for name, both in access.items() if name not in own}
