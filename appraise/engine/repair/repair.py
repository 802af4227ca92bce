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
from appraise.engine.draws.subset import Mask
from appraise.engine.faults.car import AreaDoubt, CarFaults
from appraise.engine.faults.needed_jobs import (
    Needs,
    needs_of_areas,
    needs_of_findings,
    needs_of_remedies,
)
from appraise.engine.faults.rates import CarFault
from appraise.engine.faults.search import Search, search_of
from appraise.engine.repair.drawn_jobs import Workshop
from appraise.engine.repair.totals import Best, Pile, Tally
from appraise.errors import Problem
from appraise.models.case import Case
from appraise.models.jobs import DoneBy

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
    search : what finding the faults takes; in `found` and `total`.
    lead_days : (draws,) days until the last part is here.
    bill : (draws,) what a shop would charge for all that the next buyer can see.
    """

    found: Tally
    total: Tally
    by_finding: Mapping[str, Tally]
    by_area: dict[str, Expected]
    needs: tuple[Needs, ...]
    search: Search
    lead_days: Floats
    bill: Floats
    problems: tuple[Problem, ...]
    car: CarFaults
    workshop: Workshop
    shop_rate: Floats

    def cost_of(self, fault: CarFault) -> tuple[float, float]:
        """Return mean money and hours of a fault's repair, over its remedies."""
        return _repair_of(fault, self.workshop)

    def together(self) -> Iterator[tuple[tuple[Needs, ...], Tally]]:
        """Yield the findings that the same faults may be behind, and what each lot takes.

        What finding the faults takes is in it; a finding with a person's own causes or jobs is a
        lot by itself.
        """
        lots: dict[str, list[Needs]] = {}
        group_of = {
            finding: at
            for at, (_, signs) in enumerate(self.car.groups)
            for sign in self.car.seen.signs
            if sign.name in signs
            for finding in sign.findings
        }
        for needs in self.needs:
            lots.setdefault(str(group_of.get(needs.id, needs.id)), []).append(needs)
        for lot in lots.values():
            piles = _joined((_pile(one, self.workshop) for one in lot), self.workshop.streams.draws)
            tally = _tally(piles, self.workshop, self.shop_rate, billing=False)
            group = group_of.get(lot[0].id)
            if group is not None:
                money, hours = self.search.by_group[group]
                tally = _with_search(tally, money, hours, self.workshop, self.shop_rate)
            yield tuple(lot), tally

    def fault_cost(self, name: str, rows: Mask) -> Floats:
        """Return what a fault's repair alone costs where it is there, own time paid: (places,)."""
        shop, fault = self.workshop, self.car.faults.get(name)
        pile = Pile(shop.streams.draws)
        needs = [
            need for one in self.needs for need in one.needs if fault is None and need.cause == name
        ]
        if fault is not None:
            needs = list(needs_of_remedies(fault, rows, name, shop.streams))
        for need in needs:
            pile.add(need, shop)
        tally = _tally(pile, shop, self.shop_rate, billing=False)
        return (tally.money + tally.hours * float(shop.case.deal.own_rate))[rows]


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
    """Return what an area's doubt takes on average, alone: its faults times their remedies.

    Exact but for two things: access that covers other access is taken at its own mean, and nothing
    is shared with what was found or with another fault.
    """
    money = hours = 0.0
    for fault, count in doubt.kinds:
        one = _repair_of(fault, workshop)
        money, hours = money + count * one[0], hours + count * one[1]
    return Expected(money, hours)


def _together(jobs: Iterable[str], where: str, workshop: Workshop) -> Expected:
    """Return what jobs take on average, with all that follows from them."""
    owned = workshop.case.deal.tools_owned
    groups = workshop.lookup.reference.access
    mine: set[str] = set()
    theirs: set[str] = set()
    tools: set[str] = set()
    money = labor = worked = 0.0
    every = {
        priced.job.id: priced for job in jobs for priced in workshop.prices.closure(job, where)
    }
    for priced in every.values():
        means = workshop.means(priced)
        by_shop = workshop.by_shop(priced)
        money += means.bill if by_shop else means.parts
        if by_shop:
            labor += means.hours
            theirs |= set(priced.job.access)
        else:
            worked += means.hours
            mine |= set(priced.job.access)
            tools |= set(priced.job.tools)
    for access, by_shop in ((mine, False), (theirs, True)):
        covered = {inner for one in access for inner in groups[one].covers}
        together = sum(workshop.prices.access_hours(one).mean for one in access - covered)
        if by_shop:
            labor += together
        else:
            worked += together
    money += sum(workshop.prices.tool_price(one).mean for one in tools if one not in owned)
    return Expected(money + labor * workshop.shop_rate.mean, worked)


def _misfits(found: Iterable[Needs], prices: PriceList) -> Iterator[Problem]:
    for needs in found:
        for need in needs.needs:
            why_not = prices.fits(prices.job(need.choice.job, need.where).job)
            if why_not:
                yield Problem(need.where, f"{need.choice.job} {why_not}")


def repair(
    case: Case,
    car: CarFaults,
    streams: Streams,
    prices: PriceList,
    lookup: Lookup,
    best: Best | None = None,
) -> RepairDraws:
    """Return what mending everything takes, draw by draw.

    Parameters
    ----------
    case : the car, its findings and the deal.
    car : what is wrong with it.
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
    found = needs_of_findings(case, car, streams, prices, lookup)
    unseen = needs_of_areas(car, streams)
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
    search = search_of(car, case, prices, lambda one: _repair_of(one, workshop), streams.draws)

    def with_search(tally: Tally) -> Tally:
        return _with_search(tally, search.money, search.hours, workshop, shop_rate)

    def best_with_search(ways: Iterable[Tally], days: Floats) -> int:
        return best(map(with_search, ways), days) if best else 0

    whole.settle(found_pile, workshop, shop_rate, lead_days, best_with_search if best else None)
    found_jobs = found_pile.jobs_alone(workshop, billing=True)
    whole_jobs = whole.add_beyond(found_pile, found_jobs.copy(), workshop)
    found_tally = with_search(found_pile.finish(found_jobs, workshop, shop_rate))

    seen = [piles[needs.id] for needs in found if needs.visible]
    visible = found_tally
    if len(seen) < len(found):
        visible = _tally(_joined(seen, streams.draws), workshop, shop_rate, billing=True)
        visible = with_search(visible)
    return RepairDraws(
        found=found_tally,
        total=with_search(whole.finish(whole_jobs, workshop, shop_rate)),
        by_finding=EachAlone(piles, workshop, shop_rate),
        by_area={doubt.area.value: _expected(doubt, workshop) for doubt in car.doubts},
        needs=found,
        search=search,
        lead_days=lead_days,
        bill=visible.bill,
        problems=(*car.problems, *workshop.problems),
        car=car,
        workshop=workshop,
        shop_rate=shop_rate,
    )


def _repair_of(fault: CarFault, workshop: Workshop) -> tuple[float, float]:
    """Return mean money and hours of a fault's repair, over its remedies."""
    ways = [
        (chance, _together(jobs, f"fault.{fault.id}", workshop)) for jobs, chance in fault.remedies
    ]
    return (
        sum(chance * one.money for chance, one in ways),
        sum(chance * one.hours for chance, one in ways),
    )


def _with_search(
    tally: Tally, money: Floats, hours: Floats, workshop: Workshop, shop_rate: Floats
) -> Tally:
    """Return a tally with what finding the faults takes, by whoever does the work."""
    bill = tally.bill + money + hours * shop_rate
    if workshop.case.deal.done_by is DoneBy.SHOP:
        paid = hours * shop_rate
        return replace(
            tally,
            money=tally.money + money + paid,
            labor=tally.labor + float(paid.mean()),
            shop_hours=tally.shop_hours + hours,
            bill=bill,
        )
    return replace(tally, money=tally.money + money, hours=tally.hours + hours, bill=bill)


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
