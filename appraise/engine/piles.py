"""What is needed in which draws, each thing once, and what that comes to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from appraise.engine.draws import BILL, HOURS, PARTS
from appraise.engine.needs import Mask, Need
from appraise.engine.pricing import PricedJob
from appraise.engine.workshop import Workshop
from appraise.models.jobs import Lead

__all__ = ["Pile", "Sums", "Tally", "access_hours"]

Floats = NDArray[np.float64]

Line = Literal["parts", "own hours", "errand hours", "shop hours", "bill", "billed access"]
"""What is summed. Errand hours are those lost to bringing a car to a specialist and back."""

DENSE = 4
"""What is needed in more than one draw in this many is added in all of them: that is quicker."""


@dataclass(frozen=True, slots=True)
class Tally:
    """Sums over the draws, in the case's currency and in hours: each (draws,).

    Attributes
    ----------
    money : money out: parts, bought-in work, tools, deposits lost, a shop's labour.
    labour : the shop's labour in it, on average.
    hours : own hours.
    bill : what a shop would charge for all of it.
    """

    money: Floats
    labour: float
    hours: Floats
    bill: Floats


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
    """Running sums over jobs: each (draws,), made when first added to.

    Attributes
    ----------
    lines : by what is summed.
    billing : whether a shop's bill is summed too.
    """

    draws: int
    billing: bool
    lines: dict[Line, Floats] = field(default_factory=dict)

    def line(self, name: Line) -> Floats:
        """Return a running sum."""
        if name not in self.lines:
            self.lines[name] = np.zeros(self.draws)
        return self.lines[name]

    def copy(self) -> Sums:
        """Return sums that can go on by themselves."""
        kept = {name: values.copy() for name, values in self.lines.items()}
        return Sums(self.draws, self.billing, kept)

    def add_job(self, wanted: Wanted, workshop: Workshop) -> None:
        """Add a job where it is wanted."""
        rows = _where(wanted.rows)
        if rows is None:
            return
        drawn = workshop.job(wanted.priced)
        lines: list[tuple[Line, Floats]]
        mine: Line = "errand hours" if wanted.priced.job.shop_only else "own hours"
        if workshop.by_shop(wanted.priced):
            lines = [("parts", drawn[BILL]), ("shop hours", drawn[HOURS])]
        else:
            lines = [("parts", drawn[PARTS]), (mine, drawn[HOURS])]
        if self.billing:
            lines.append(("bill", drawn[BILL]))
        factor, product = workshop.scratch
        if isinstance(rows, slice):
            np.copyto(factor, wanted.rows if wanted.times is None else wanted.times)
            for name, values in lines:
                np.multiply(values, factor, out=product)
                into = self.line(name)
                np.add(into, product, out=into)
            return
        for name, values in lines:
            few = values[rows]
            if wanted.times is not None:
                few *= wanted.times[rows]
            self.line(name)[rows] += few

    def add(self, name: Line, values: Floats, rows: Mask, workshop: Workshop) -> None:
        """Add values where they are wanted."""
        few = _where(rows)
        if few is None:
            return
        into = self.line(name)
        if isinstance(few, slice):
            _, product = workshop.scratch
            np.multiply(values, rows, out=product)
            np.add(into, product, out=into)
        else:
            into[few] += values[few]


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
        both = bool(self.access_own and self.access_shop)
        if sums.billing and both:
            whoever = dict(self.access_own)
            for name, rows in self.access_shop.items():
                _either(whoever, name, rows)
            for hours, rows in access_hours(whoever, workshop):
                sums.add("billed access", hours, rows, workshop)
            self._bill(sums, shop_rate)
        for hours, rows in access_hours(self.access_own, workshop):
            sums.add("own hours", hours, rows, workshop)
        for hours, rows in access_hours(self.access_shop, workshop):
            sums.add("shop hours", hours, rows, workshop)
        if sums.billing and not both:
            self._bill(sums, shop_rate)
        for tool, rows in self.tools.items():
            sums.add("parts", workshop.tool(tool), rows, workshop)
        money, bill = sums.line("parts"), sums.line("bill")
        labour = 0.0
        if "shop hours" in sums.lines:
            paid = sums.line("shop hours") * shop_rate
            labour = float(paid.mean())
            money += paid
        hours = sums.line("own hours")
        if "errand hours" in sums.lines:
            hours += sums.line("errand hours")
        return Tally(money, labour, hours, bill)

    @staticmethod
    def _bill(sums: Sums, shop_rate: Floats) -> None:
        """Add to the bill the hours that a shop would work: all but those lost on errands."""
        worked: tuple[Line, ...] = ("own hours", "shop hours", "billed access")
        for line in worked:
            if line in sums.lines:
                bill = sums.line("bill")
                np.add(bill, sums.line(line) * shop_rate, out=bill)

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


def access_hours(needed: dict[str, Mask], workshop: Workshop) -> Iterator[tuple[Floats, Mask]]:
    """Yield the hours of each access that is paid, and where: each (draws,).

    What a larger access covers is not paid beside it, but the larger one then takes no less than
    what it covers would have taken together: one more job never makes the work shorter.

    Parameters
    ----------
    needed : (draws,) where each access group is needed, by whoever does the work.
    workshop : hands out the draws.
    """
    groups = workshop.lookup.reference.access
    inner_first = sorted(needed, key=lambda name: (len(groups[name].covers), name))
    paid: dict[str, Floats] = {}
    covered: dict[str, Mask] = {}
    for name in inner_first:
        inner = [one for one in groups[name].covers if one in needed]
        hours = workshop.access(name)
        if inner:
            together = np.zeros(len(hours))
            for one in inner:
                bare = needed[one] & ~covered[one] if one in covered else needed[one]
                together += paid[one] * bare
                _either(covered, one, needed[name])
            hours = np.maximum(hours, together)
        paid[name] = hours
    for name in inner_first:
        yield paid[name], needed[name] & ~covered[name] if name in covered else needed[name]


def _where(rows: Mask) -> NDArray[np.intp] | slice | None:
    """Return where a mask holds: as indices if few, all draws if many, None if nowhere."""
    count = int(np.count_nonzero(rows))
    if not count:
        return None
    return slice(None) if count * DENSE > len(rows) else np.flatnonzero(rows)


def _either(into: dict[str, Mask], key: str, rows: Mask) -> None:
    into[key] = into[key] | rows if key in into else rows
