"""What is needed in which draws, each thing once, and what that comes to."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from appraise.engine.catalog.prices import PricedJob
from appraise.engine.draws.streams import BILL, HOURS, PARTS
from appraise.engine.draws.subset import Mask, Places, Rows
from appraise.engine.faults.needed_jobs import Need
from appraise.engine.repair.done_by import Doable, bits_of, cheaper, divisions
from appraise.engine.repair.drawn_jobs import Workshop
from appraise.models.jobs import DoneBy, Lead

__all__ = ["Best", "Pile", "Sums", "Tally", "access_hours"]

Floats = NDArray[np.float64]

Needed = dict[str, Rows]
"""Where access or tools are needed, by name."""

Line = Literal["parts", "your hours", "errand hours", "shop hours", "bill", "billed access"]
"""What is summed. Errand hours are those lost to bringing a car to a specialist and back."""


@dataclass(frozen=True, slots=True)
class Tally:
    """Sums over the draws, in the case's currency and in hours: each (draws,).

    Attributes
    ----------
    money : money out: parts, bought-in work, tools, deposits lost, a shop's labor.
    labor : the shop's labor in it, on average.
    hours : own hours.
    shop_hours : a shop's hours.
    bill : what a shop would charge for all of it.
    """

    money: Floats
    labor: float
    hours: Floats
    shop_hours: Floats
    bill: Floats


Best = Callable[[Iterable[Tally], Floats], int]
"""Returns the place of the best way to do a repair, by what each comes to and the lead days."""


@dataclass(frozen=True, slots=True, eq=False)
class Wanted:
    """A job on a pile.

    Attributes
    ----------
    times : (draws,) how often, or None where that is never more than once.
    """

    priced: PricedJob
    rows: Rows
    times: NDArray[np.int8] | None

    def joined(self, other: Wanted) -> Wanted:
        """Return the job needed where either needs it, as often as the one that needs it more."""
        times = None
        if self.times is not None or other.times is not None:
            mine = self.rows.mask.astype(np.int8) if self.times is None else self.times
            theirs = other.rows.mask.astype(np.int8) if other.times is None else other.times
            times = np.maximum(mine, theirs)
        return Wanted(self.priced, self.rows | other.rows, times)

    def doable(self, workshop: Workshop) -> Doable:
        """Return the job as it is compared who does it cheaper."""
        times = self.rows.mask if self.times is None else self.times
        return workshop.doable(self.priced, float(times.mean()), bits_of(self.rows.mask))


@dataclass(slots=True)
class Sums:
    """Running sums over jobs: each (draws,), made when first added to.

    Attributes
    ----------
    lines : by what is summed.
    billing : whether a shop's bill is summed too.
    """

    draws: int
    billing: bool
    lines: dict[Line, Floats] = field(default_factory=dict)
    _factor: Floats = field(init=False)
    _product: Floats = field(init=False)

    def __post_init__(self) -> None:
        """Make room to work in, over and over."""
        self._factor, self._product = np.empty(self.draws), np.empty(self.draws)

    def line(self, name: Line) -> Floats:
        """Return a sum, for reading."""
        return self.lines.get(name, _nought(self.draws))

    def copy(self) -> Sums:
        """Return sums that can go on by themselves."""
        kept = {name: values.copy() for name, values in self.lines.items()}
        return Sums(self.draws, self.billing, kept)

    def add_job(self, wanted: Wanted, workshop: Workshop, *, seldom_mean: bool = False) -> None:
        """Add a job where it is wanted; at its mean, if so asked, where that is seldom."""
        places = wanted.rows.places()
        if places is not None and not len(places):
            return
        drawn = workshop.job_at(wanted.priced, wanted.rows, seldom_mean=seldom_mean)
        mine: Line = "errand hours" if wanted.priced.job.shop_only else "your hours"
        lines: list[tuple[Line, Floats]]
        if workshop.by_shop(wanted.priced):
            lines = [("parts", drawn[BILL]), ("shop hours", drawn[HOURS])]
        else:
            lines = [("parts", drawn[PARTS]), (mine, drawn[HOURS])]
        if self.billing:
            lines.append(("bill", drawn[BILL]))
        times = wanted.rows.mask if wanted.times is None else wanted.times
        if places is None:
            np.copyto(self._factor, times)
            for name, values in lines:
                self.add_times(name, values, self._factor)
        else:
            for name, values in lines:
                few = values if wanted.times is None else values * wanted.times[places]
                self._add_few(name, few, places)

    def add(self, name: Line, values: Floats, rows: Rows) -> None:
        """Add values where they are wanted."""
        places = rows.places()
        if places is None:
            self.add_times(name, values, rows.mask)
        elif len(places):
            self._add_few(name, values[places], places)

    def add_times(self, name: Line, values: Floats, factor: Floats | Mask) -> None:
        """Add values times a factor, draw by draw."""
        if name not in self.lines:
            self.lines[name] = values * factor
            return
        np.multiply(values, factor, out=self._product)
        self.lines[name] += self._product

    def _add_few(self, name: Line, few: Floats, places: Places) -> None:
        if name not in self.lines:
            self.lines[name] = np.zeros(self.draws)
        self.lines[name][places] += few


@lru_cache(maxsize=4)
def _nought(draws: int) -> Floats:
    """Return a sum to which nothing was added: (draws,), read-only."""
    out = np.zeros(draws)
    out.flags.writeable = False
    return out


@dataclass(slots=True)
class Pile:
    """Which jobs are needed in which draws, each once: by job id."""

    draws: int
    jobs: dict[str, Wanted] = field(default_factory=dict)

    def add(self, need: Need, workshop: Workshop) -> None:
        """Put a need on the pile, with all that follows from it."""
        rows = need.at
        for priced in workshop.prices.closure(need.choice.job, need.where):
            times = None
            if priced.job.id == need.choice.job and need.choice.quantity > 1:
                times = rows.mask.astype(np.int8) * np.int8(need.choice.quantity)
            self._put(Wanted(priced, rows, times))

    def settle(
        self,
        found: Pile,
        workshop: Workshop,
        shop_rate: Floats,
        lead_days: Floats,
        best: Best | None,
    ) -> None:
        """Settle who does each job of the pile where the cheaper does.

        Parameters
        ----------
        found : the part of the pile that was found.
        lead_days : (draws,) days until the last part is here, whoever does the work.
        best : picks one of the ways to divide the work; if None, the lower mean cost does.
        """
        wanted = self.jobs.values()
        if all(workshop.said(one.priced) is not DoneBy.CHEAPER for one in wanted):
            return
        jobs = {name: one.doable(workshop) for name, one in self.jobs.items()}
        shared = workshop.shared(jobs.values())
        if best is None:
            workshop.shop_jobs |= cheaper(jobs, shared, self.draws, workshop.hour)
            return
        ways = divisions(jobs, shared, self.draws, workshop.usual_rate)

        def tallies() -> Iterator[Tally]:
            for way in ways:
                workshop.shop_jobs |= way
                sums = self.add_beyond(found, found.jobs_alone(workshop, billing=False), workshop)
                yield self.finish(sums, workshop, shop_rate)

        workshop.shop_jobs |= ways[best(tallies(), lead_days)]

    def _put(self, wanted: Wanted) -> None:
        name = wanted.priced.job.id
        self.jobs[name] = self.jobs[name].joined(wanted) if name in self.jobs else wanted

    def join(self, other: Pile) -> None:
        """Put another pile on this one; what both hold stays there once."""
        for wanted in other.jobs.values():
            self._put(wanted)

    def shared(self, workshop: Workshop) -> tuple[Needed, Needed, Needed]:
        """Return where access is needed by own hands and by a shop, and tools by own hands."""
        owned = workshop.case.deal.tools_owned
        own: Needed = {}
        shop: Needed = {}
        tools: Needed = {}
        for wanted in self.jobs.values():
            job = wanted.priced.job
            by_shop = workshop.by_shop(wanted.priced)
            for access in job.access:
                _either(shop if by_shop else own, access, wanted.rows)
            if not by_shop:
                for tool in job.tools:
                    if tool not in owned:
                        _either(tools, tool, wanted.rows)
        return own, shop, tools

    def add_beyond(self, other: Pile, sums: Sums, workshop: Workshop) -> Sums:
        """Return the sums over another pile, which is in this one, with all that is beyond it.

        What nobody found is mostly needed in few draws: there a job takes its mean.
        """
        for wanted in self._jobs_beyond(other):
            sums.add_job(wanted, workshop, seldom_mean=True)
        return sums

    def _jobs_beyond(self, other: Pile) -> Iterator[Wanted]:
        """Yield the jobs of this pile where the other, which it holds whole, has them not."""
        for name, wanted in self.jobs.items():
            before = other.jobs.get(name)
            if before is None:
                yield wanted
            elif before is not wanted:
                rows = wanted.rows - before.rows
                times = None if wanted.times is None else wanted.times * rows.mask
                yield Wanted(wanted.priced, rows, times)

    def jobs_alone(self, workshop: Workshop, *, billing: bool) -> Sums:
        """Return the sums over the pile's jobs, without access and tools."""
        sums = Sums(self.draws, billing)
        for wanted in self.jobs.values():
            sums.add_job(wanted, workshop)
        return sums

    def finish(self, sums: Sums, workshop: Workshop, shop_rate: Floats) -> Tally:
        """Return what the pile comes to, from the sums over its jobs, which are used up.

        Parameters
        ----------
        sums : over the pile's jobs; without billing, the tally's bill is nought.
        workshop : hands out the draws.
        shop_rate : (draws,) a shop's price of an hour.
        """
        access_own, access_shop, tools = self.shared(workshop)
        both = bool(access_own and access_shop)
        if sums.billing and both:
            whoever = dict(access_own)
            for name, rows in access_shop.items():
                _either(whoever, name, rows)
            for hours, rows in access_hours(whoever, workshop):
                sums.add("billed access", hours, rows)
            self._bill(sums, shop_rate)
        for hours, rows in access_hours(access_own, workshop):
            sums.add("your hours", hours, rows)
        for hours, rows in access_hours(access_shop, workshop):
            sums.add("shop hours", hours, rows)
        if sums.billing and not both:
            self._bill(sums, shop_rate)
        for tool, rows in tools.items():
            sums.add("parts", workshop.tool(tool), rows)
        money, hours, bill = sums.line("parts"), sums.line("your hours"), sums.line("bill")
        labor = 0.0
        if "shop hours" in sums.lines:
            paid = sums.line("shop hours") * shop_rate
            labor = float(paid.mean())
            money = money + paid
        if "errand hours" in sums.lines:
            hours = hours + sums.line("errand hours")
        return Tally(money, labor, hours, sums.line("shop hours"), bill)

    @staticmethod
    def _bill(sums: Sums, shop_rate: Floats) -> None:
        """Add to the bill the hours that a shop would work: all but those lost on errands."""
        worked: tuple[Line, ...] = ("your hours", "shop hours", "billed access")
        for line in worked:
            if line in sums.lines:
                sums.add_times("bill", sums.lines[line], shop_rate)

    def leads(self) -> Iterator[tuple[Lead, Mask]]:
        """Yield how long parts take to come, and in which draws any such are needed."""
        for lead in Lead:
            rows: Mask | None = None
            for wanted in self.jobs.values():
                if wanted.priced.job.lead is lead and wanted.priced.parts:
                    mask = wanted.rows.mask
                    rows = mask.copy() if rows is None else np.logical_or(rows, mask, out=rows)
            if rows is not None:
                yield lead, rows


def access_hours(needed: Needed, workshop: Workshop) -> Iterator[tuple[Floats, Rows]]:
    """Yield the hours of each access that is paid, and where.

    What a larger access covers is not paid beside it, but the larger one then takes no less than
    what it covers would have taken together: one more job never makes the work shorter.

    Parameters
    ----------
    needed : where each access group is needed, by whoever does the work.
    workshop : hands out the draws.
    """
    groups = workshop.lookup.reference.access
    inner_first = sorted(needed, key=lambda name: (len(groups[name].covers), name))
    paid: dict[str, Floats] = {}
    covered: dict[str, Rows] = {}
    for name in inner_first:
        inner = [one for one in groups[name].covers if one in needed]
        hours = workshop.access(name)
        if inner:
            together = np.zeros(len(hours))
            for one in inner:
                bare = needed[one] - covered[one] if one in covered else needed[one]
                _add_at(together, paid[one], bare)
                _either(covered, one, needed[name])
            hours = np.maximum(hours, together)
        paid[name] = hours
    for name in inner_first:
        yield paid[name], needed[name] - covered[name] if name in covered else needed[name]


def _add_at(into: Floats, values: Floats, rows: Rows) -> None:
    places = rows.places()
    if places is None:
        into += values * rows.mask
    else:
        into[places] += values[places]


def _either(into: Needed, key: str, rows: Rows) -> None:
    into[key] = into[key] | rows if key in into else rows
