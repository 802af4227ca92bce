"""What putting the car right will take: each job once, each access once, on the same draws.

Per draw one cause of each finding is picked, the jobs of the picked causes are collected with
those that follow from them, and everything that several of them share is paid once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from appraise.engine.draws import Streams
from appraise.engine.lookup import Lookup, spread_of
from appraise.engine.needs import Mask, Need, Needs, needs_of_areas, needs_of_findings
from appraise.engine.pricing import PricedJob, PriceList
from appraise.engine.unseen import AreaDoubt
from appraise.engine.workshop import Workshop
from appraise.errors import Problem
from appraise.models.case import Case
from appraise.models.jobs import Lead

__all__ = ["RepairDraws", "Tally", "repair"]

Floats = NDArray[np.float64]

DENSE = 4
"""What is needed in more than one draw in this many is added in all of them: that is quicker."""


@dataclass(frozen=True, slots=True)
class Tally:
    """Sums over the draws, in the case's currency and in hours: each (draws,).

    Attributes
    ----------
    parts : parts, bought-in work, tools and deposits lost.
    shop : a shop's labour.
    hours : own hours.
    bill : what a shop would charge for all of it.
    """

    parts: Floats
    shop: Floats
    hours: Floats
    bill: Floats

    @property
    def money(self) -> Floats:
        """Money out: parts, tools and shop: (draws,)."""
        return self.parts + self.shop


@dataclass(frozen=True, slots=True)
class RepairDraws:
    """The repair, draw by draw.

    Attributes
    ----------
    found : what the findings take together.
    total : the same with what the areas not looked at may add.
    by_finding : each finding as if it were mended alone; what they share is counted in each.
    by_area : what each area's doubt would take alone.
    lead_days : (draws,) days until the last part is here.
    bill : (draws,) what a shop would charge for all that the next buyer can see.
    """

    found: Tally
    total: Tally
    by_finding: dict[str, Tally]
    by_area: dict[str, Tally]
    needs: tuple[Needs, ...]
    lead_days: Floats
    bill: Floats
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class Wanted:
    """A job on a pile.

    Attributes
    ----------
    rows : (draws,) where it is needed.
    times : (draws,) how often, or None where that is never more than once.
    """

    priced: PricedJob
    rows: Mask
    times: NDArray[np.int8] | None

    def joined(self, other: Wanted) -> Wanted:
        """Return the job needed where either needs it, as often as the one that needs it more."""
        times = None
        if self.times is not None or other.times is not None:
            mine = self.rows.astype(np.int8) if self.times is None else self.times
            theirs = other.rows.astype(np.int8) if other.times is None else other.times
            times = np.maximum(mine, theirs)
        return Wanted(self.priced, self.rows | other.rows, times)


@dataclass(slots=True)
class Sums:
    """Running sums over the draws: each (draws,)."""

    parts: Floats
    own_hours: Floats
    shop_hours: Floats
    bill: Floats
    bill_hours: Floats

    @classmethod
    def nothing(cls, draws: int) -> Sums:
        """Return sums of nothing."""
        return cls(*(np.zeros(draws) for _ in range(5)))

    def copy(self) -> Sums:
        """Return sums that can go on by themselves."""
        return Sums(*(getattr(self, name).copy() for name in self.__slots__))

    def add_job(self, wanted: Wanted, workshop: Workshop, *, bill: bool) -> None:
        """Add a job where it is wanted."""
        rows = _where(wanted.rows)
        if rows is None:
            return
        drawn = workshop.job(wanted.priced)
        by_shop = workshop.by_shop(wanted.priced)
        mine = self.shop_hours if by_shop else self.own_hours
        lines = [(self.parts, drawn.bill if by_shop else drawn.parts), (mine, drawn.hours)]
        if bill:
            lines.append((self.bill, drawn.bill))
            if not wanted.priced.job.shop_only:
                lines.append((self.bill_hours, drawn.hours))
        if isinstance(rows, slice):
            factor = np.empty(len(wanted.rows))
            np.copyto(factor, wanted.rows if wanted.times is None else wanted.times)
            scratch = np.empty(len(wanted.rows))
            for into, values in lines:
                np.multiply(values, factor, out=scratch)
                np.add(into, scratch, out=into)
        else:
            times = 1.0 if wanted.times is None else wanted.times[rows].astype(np.float64)
            for into, values in lines:
                into[rows] += values[rows] * times


@dataclass(slots=True)
class Pile:
    """What is needed in which draws, by everything that is paid once.

    Attributes
    ----------
    jobs : by job id.
    access_own, access_shop, tools : (draws,) where each is needed.
    """

    draws: int
    jobs: dict[str, Wanted] = field(default_factory=dict)
    access_own: dict[str, Mask] = field(default_factory=dict)
    access_shop: dict[str, Mask] = field(default_factory=dict)
    tools: dict[str, Mask] = field(default_factory=dict)

    def add(self, need: Need, workshop: Workshop) -> None:
        """Put a need on the pile, with all that follows from it."""
        owned = workshop.case.deal.tools_owned
        for priced in workshop.closure(need.choice.job, need.where):
            job = priced.job
            times = None
            if job.id == need.choice.job and need.choice.quantity > 1:
                times = need.rows.astype(np.int8) * np.int8(need.choice.quantity)
            self._put(Wanted(priced, need.rows, times))
            by_shop = workshop.by_shop(priced)
            for access in job.access:
                _either(self.access_shop if by_shop else self.access_own, access, need.rows)
            if not by_shop:
                for tool in job.tools:
                    if tool not in owned:
                        _either(self.tools, tool, need.rows)

    def _put(self, wanted: Wanted) -> None:
        name = wanted.priced.job.id
        self.jobs[name] = self.jobs[name].joined(wanted) if name in self.jobs else wanted

    def join(self, other: Pile) -> None:
        """Put another pile on this one; what both hold stays there once."""
        for wanted in other.jobs.values():
            self._put(wanted)
        for mine, theirs in (
            (self.access_own, other.access_own),
            (self.access_shop, other.access_shop),
            (self.tools, other.tools),
        ):
            for name, rows in theirs.items():
                _either(mine, name, rows)

    def jobs_beyond(self, other: Pile) -> Iterator[Wanted]:
        """Yield the jobs of this pile where the other, which it holds whole, has them not."""
        for name, wanted in self.jobs.items():
            before = other.jobs.get(name)
            if before is None:
                yield wanted
            else:
                rows = wanted.rows & ~before.rows
                times = None if wanted.times is None else wanted.times * rows
                yield Wanted(wanted.priced, rows, times)

    def jobs_alone(self, workshop: Workshop, *, bill: bool) -> Sums:
        """Return the sums over the pile's jobs, without access and tools."""
        sums = Sums.nothing(self.draws)
        for wanted in self.jobs.values():
            sums.add_job(wanted, workshop, bill=bill)
        return sums

    def finish(self, sums: Sums, workshop: Workshop, shop_rate: Floats, *, bill: bool) -> Tally:
        """Return what the pile comes to, from the sums over its jobs, which are used up.

        Parameters
        ----------
        sums : over the pile's jobs.
        workshop : hands out the draws.
        shop_rate : (draws,) a shop's price of an hour.
        bill : whether a shop's bill for all of it is wanted; else it is nought.
        """
        for access, own, shop in self._access_rows(workshop):
            hours = workshop.access(access)
            _add(sums.own_hours, hours, own)
            _add(sums.shop_hours, hours, shop)
            if bill:
                _add(sums.bill_hours, hours, own | shop)
        for tool, rows in self.tools.items():
            _add(sums.parts, workshop.tool(tool), rows)
        if bill:
            sums.bill += sums.bill_hours * shop_rate
        sums.shop_hours *= shop_rate
        return Tally(sums.parts, sums.shop_hours, sums.own_hours, sums.bill)

    def _access_rows(self, workshop: Workshop) -> Iterator[tuple[str, Mask, Mask]]:
        """Yield where each access is paid, by own hands and by a shop: never both.

        What a larger access covers is not paid beside it; where both want one, own hands do it.
        """
        nowhere = np.zeros(self.draws, dtype=bool)
        wanted = {
            name: self.access_own.get(name, nowhere) | self.access_shop.get(name, nowhere)
            for name in sorted(self.access_own.keys() | self.access_shop.keys())
        }
        covered: dict[str, Mask] = {}
        for name, rows in wanted.items():
            for inner in workshop.lookup.reference.access[name].covers:
                if inner in wanted:
                    _either(covered, inner, rows)
        for name in wanted:
            own = self.access_own.get(name, nowhere)
            shop = self.access_shop.get(name, nowhere)
            bare = ~covered[name] if name in covered else ~nowhere
            yield name, own & bare, shop & ~own & bare

    def leads(self) -> Iterator[tuple[Lead, Mask]]:
        """Yield how long parts take to come, and in which draws any such are needed."""
        for lead in Lead:
            rows = [
                wanted.rows
                for wanted in self.jobs.values()
                if wanted.priced.job.lead is lead and wanted.priced.parts
            ]
            if rows:
                yield lead, np.logical_or.reduce(rows)


def _where(rows: Mask) -> NDArray[np.intp] | slice | None:
    """Return where a mask holds: as indices if few, all draws if many, None if nowhere."""
    count = int(np.count_nonzero(rows))
    if not count:
        return None
    return slice(None) if count * DENSE > len(rows) else np.flatnonzero(rows)


def _add(into: Floats, values: Floats, mask: Mask) -> None:
    rows = _where(mask)
    if rows is None:
        return
    if isinstance(rows, slice):
        into += values * mask
    else:
        into[rows] += values[rows]


def _either(into: dict[str, Mask], key: str, rows: Mask) -> None:
    into[key] = into[key] | rows if key in into else rows


def _pile(needs: Needs, workshop: Workshop) -> Pile:
    pile = Pile(workshop.streams.draws)
    for need in needs.needs:
        pile.add(need, workshop)
    return pile


def _joined(piles: Iterable[Pile], draws: int) -> Pile:
    out = Pile(draws)
    for pile in piles:
        out.join(pile)
    return out


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
) -> RepairDraws:
    """Return what mending everything takes, draw by draw.

    Parameters
    ----------
    case : the car, its findings and the deal.
    doubts : what each area may still hide.
    streams : the case's draws.
    prices : the price list for this car.
    lookup : the reference values.

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
    found = needs_of_findings(case, streams, lookup)
    unseen = needs_of_areas(doubts, streams)
    workshop.set_own_figures(found)
    workshop.problems += _misfits(found, prices)

    piles = {needs.id: _pile(needs, workshop) for needs in found}
    area_piles = {needs.id: _pile(needs, workshop) for needs in unseen}
    found_pile = _joined(piles.values(), streams.draws)
    whole = _joined([found_pile, *area_piles.values()], streams.draws)
    found_jobs = found_pile.jobs_alone(workshop, bill=True)
    whole_jobs = found_jobs.copy()
    for wanted in whole.jobs_beyond(found_pile):
        whole_jobs.add_job(wanted, workshop, bill=True)
    found_tally = found_pile.finish(found_jobs, workshop, shop_rate, bill=True)

    def tally(pile: Pile, *, bill: bool) -> Tally:
        return pile.finish(pile.jobs_alone(workshop, bill=bill), workshop, shop_rate, bill=bill)

    seen = [piles[needs.id] for needs in found if needs.visible]
    visible = found_tally
    if len(seen) < len(found):
        visible = tally(_joined(seen, streams.draws), bill=True)
    return RepairDraws(
        found=found_tally,
        total=whole.finish(whole_jobs, workshop, shop_rate, bill=True),
        by_finding={name: tally(pile, bill=False) for name, pile in piles.items()},
        by_area={name: tally(pile, bill=False) for name, pile in area_piles.items()},
        needs=found,
        lead_days=_lead_days(whole, streams, lookup),
        bill=visible.bill,
        problems=tuple(workshop.problems),
    )


def _lead_days(pile: Pile, streams: Streams, lookup: Lookup) -> Floats:
    out = np.zeros(streams.draws)
    for lead, rows in pile.leads():
        days = streams.amounts(f"lead/{lead.value}", lookup.spread(f"lead.{lead.value}"))
        np.maximum(out, days * rows, out=out)
    return out
