"""What putting the car right will take: each job once, each access once, on the same draws.

Per draw one cause of each finding is picked, the jobs of the picked causes are collected with
those that follow from them, and everything that several of them share is paid once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup, spread_of
from appraise.engine.draws.streams import Streams
from appraise.engine.faults.needed_jobs import Needs, needs_of_areas, needs_of_findings
from appraise.engine.faults.unseen import AreaDoubt
from appraise.engine.repair.drawn_jobs import Workshop
from appraise.engine.repair.totals import Best, Pile, Tally
from appraise.errors import Problem
from appraise.models.case import Case
from appraise.models.findings import Area

__all__ = ["EachAlone", "Expected", "RepairDraws", "repair", "unseen_bill"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Expected:
    """Exact means: money out, and own hours."""

    money: float
    hours: float


@dataclass(frozen=True, slots=True, eq=False)
class EachAlone(Mapping[str, Tally]):
    """Each finding as if it were mended alone: worked out when asked for, and not kept.

    Forty findings on 20,000 draws would be 13 MB, and few of those who ask for the whole ask for
    each.
    """

    piles: dict[str, Pile]
    workshop: Workshop
    shop_rate: Floats

    def __getitem__(self, name: str) -> Tally:
        """Return what the finding of that id takes, without a bill."""
        return _tally(self.piles[name], self.workshop, self.shop_rate, billing=False)

    def __iter__(self) -> Iterator[str]:
        """Iterate over the findings' ids."""
        return iter(self.piles)

    def __len__(self) -> int:
        """Return how many findings there are."""
        return len(self.piles)


@dataclass(frozen=True, slots=True)
class RepairDraws:
    """The repair, draw by draw.

    Attributes
    ----------
    found : what the findings take together.
    total : the same with what the areas not looked at may add.
    by_finding : each finding as if it were mended alone; what they share is counted in each.
    by_area : what each area's doubt would take alone: exact means.
    lead_days : (draws,) days until the last part is here.
    bill : (draws,) what a shop would charge for all that the next buyer can see.
    doubts : what each area may still hide beside the faults in it that nobody priced.
    """

    found: Tally
    total: Tally
    by_finding: Mapping[str, Tally]
    by_area: dict[str, Expected]
    needs: tuple[Needs, ...]
    lead_days: Floats
    bill: Floats
    doubts: tuple[AreaDoubt, ...]
    problems: tuple[Problem, ...]


def _pile(needs: Needs, workshop: Workshop) -> Pile:
    pile = Pile(workshop.streams.draws)
    for need in needs.needs:
        pile.add(need, workshop)
    return pile


def _tally(pile: Pile, workshop: Workshop, shop_rate: Floats, *, billing: bool) -> Tally:
    sums = pile.jobs_alone(workshop, billing=billing)
    return pile.finish(sums, workshop, shop_rate)


def _joined(piles: Iterable[Pile], draws: int) -> Pile:
    out = Pile(draws)
    for pile in piles:
        out.join(pile)
    return out


def _expected(doubt: AreaDoubt, workshop: Workshop) -> Expected:
    """Return what an area's doubt takes on average, alone: its chance times its typical repairs.

    Exact but for two things: access that covers other access is taken at its own mean, and nothing
    is shared with what was found.
    """
    owned = workshop.case.deal.tools_owned
    groups = workshop.lookup.reference.access
    money = hours = 0.0
    for job_id, weight in doubt.typical:
        mine: set[str] = set()
        theirs: set[str] = set()
        tools: set[str] = set()
        labor = worked = 0.0
        for priced in workshop.prices.closure(job_id, f"areas.{doubt.area.value}"):
            means = workshop.means(priced)
            by_shop = workshop.by_shop(priced)
            money += weight * (means.bill if by_shop else means.parts)
            if by_shop:
                labor += means.hours
                theirs |= set(priced.job.access)
            else:
                worked += means.hours
                mine |= set(priced.job.access)
                tools |= set(priced.job.tools)
        for access, into in ((mine, "own"), (theirs, "shop")):
            covered = {inner for one in access for inner in groups[one].covers}
            together = sum(workshop.prices.access_hours(one).mean for one in access - covered)
            if into == "own":
                worked += together
            else:
                labor += together
        paid = sum(workshop.prices.tool_price(one).mean for one in tools if one not in owned)
        money += weight * (paid + labor * workshop.shop_rate.mean)
        hours += weight * worked
    return Expected(doubt.chance * money, doubt.chance * hours)


def _beside(doubts: tuple[AreaDoubt, ...], found: Iterable[Needs]) -> tuple[AreaDoubt, ...]:
    """Return the doubts less the chance that the fault is one that was found and not priced.

    Such a fault takes what the area's own doubt stands for: ``p (1 - q)`` is left of it.
    """
    left: dict[Area, float] = {}
    for needs in found:
        if needs.stands_for is not None:
            left[needs.stands_for] = left.get(needs.stands_for, 1.0) * (1 - needs.chance)
    return tuple(
        replace(one, chance=one.chance * left[one.area]) if one.area in left else one
        for one in doubts
    )


def _misfits(found: Iterable[Needs], prices: PriceList) -> Iterator[Problem]:
    for needs in found:
        for need in needs.needs:
            why_not = prices.fits(prices.job(need.choice.job, need.where).job)
            if why_not:
                yield Problem(need.where, f"{need.choice.job} {why_not}")


def repair(
    case: Case,
    doubts: tuple[AreaDoubt, ...],
    streams: Streams,
    prices: PriceList,
    lookup: Lookup,
    best: Best | None = None,
) -> RepairDraws:
    """Return what mending everything takes, draw by draw.

    Parameters
    ----------
    case : the car, its findings and the deal.
    doubts : what each area may still hide.
    streams : the case's draws.
    prices : the price list for this car.
    lookup : the reference values.
    best : picks one of the ways to divide the work where the cheaper does it; if None, the lower
        mean cost does.

    Raises
    ------
    BadCase
        A finding names a job that does not exist.
    """
    deal = case.deal
    rate = (
        spread_of(deal.shop_rate)
        if deal.shop_rate
        else lookup.spread("shop.rate", float(deal.price_level))
    )
    shop_rate = streams.amounts("shop/rate", rate)
    workshop = Workshop(case, prices, lookup, streams, rate)
    found = needs_of_findings(case, streams, prices, lookup)
    doubts = _beside(doubts, found)
    unseen = needs_of_areas(doubts, streams)
    workshop.set_own_figures(found)
    workshop.problems += _misfits(found, prices)
    workshop.problems += [
        Problem(f"finding.{one.id}", f"{one.label}: {one.odds.problem}")
        for one in found
        if one.odds is not None and one.odds.problem
    ]

    piles = {needs.id: _pile(needs, workshop) for needs in found}
    found_pile = _joined(piles.values(), streams.draws)
    whole = _joined([found_pile], streams.draws)
    for needs in unseen:
        for need in needs.needs:
            whole.add(need, workshop)
    lead_days = _lead_days(whole, streams, lookup)
    whole.settle(workshop, shop_rate, lead_days, best)
    found_jobs = found_pile.jobs_alone(workshop, billing=True)
    whole_jobs = found_jobs.copy()
    for wanted in whole.jobs_beyond(found_pile):
        whole_jobs.add_job(wanted, workshop)
    found_tally = found_pile.finish(found_jobs, workshop, shop_rate)

    seen = [piles[needs.id] for needs in found if needs.visible]
    visible = found_tally
    if len(seen) < len(found):
        visible = _tally(_joined(seen, streams.draws), workshop, shop_rate, billing=True)
    return RepairDraws(
        found=found_tally,
        total=whole.finish(whole_jobs, workshop, shop_rate),
        by_finding=EachAlone(piles, workshop, shop_rate),
        by_area={doubt.area.value: _expected(doubt, workshop) for doubt in doubts},
        needs=found,
        lead_days=lead_days,
        bill=visible.bill,
        doubts=doubts,
        problems=tuple(workshop.problems),
    )


def _lead_days(pile: Pile, streams: Streams, lookup: Lookup) -> Floats:
    out = np.zeros(streams.draws)
    for lead, rows in pile.leads():
        days = streams.amounts(f"lead/{lead.value}", lookup.spread(f"lead.{lead.value}"))
        np.maximum(out, days * rows, out=out)
    return out


def unseen_bill(case: Case, areas: Iterable[Expected], lookup: Lookup) -> float:
    """Return what a shop would charge, on average, for what nobody inspected.

    Parameters
    ----------
    areas : what each area's doubt would take alone; own hours count at a shop's rate.
    """
    own = case.deal.shop_rate
    rate = spread_of(own) if own else lookup.spread("shop.rate", float(case.deal.price_level))
    return sum(one.money + one.hours * rate.mean for one in areas)
