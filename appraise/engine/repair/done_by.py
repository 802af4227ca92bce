"""Who does which job where the cheaper does it: own hands or a shop, with what jobs share."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from appraise.engine.draws.subset import Mask

__all__ = ["Doable", "Hour", "Shared", "bits_of", "cheaper", "divisions"]

SLACK = 1e-9
"""Money that is lost to rounding and counts as none."""

RATIOS = (0.1, 0.25, 0.4, 0.55, 0.7, 0.85, 1.0, 1.15, 1.3, 1.45, 1.6, 1.8, 2.1)
"""Prices of an own hour in a shop's at which work is divided.

Twice as many raised no bid of 60 random cases by more than 12.
"""


class Hour(NamedTuple):
    """What an own hour and a shop's cost."""

    own: float
    shop: float


@dataclass(frozen=True, slots=True)
class Doable:
    """A job that either may do.

    Attributes
    ----------
    own, shop : mean money by own hands, and by a shop, without hours and what is shared.
    hours : mean hours, whoever works them.
    shared : names of the access and the tools that it needs.
    rows : the draws in which it is needed, as `bits_of` gives them.
    by_shop : who does it, where that is said; None where the cheaper does.
    """

    own: float
    shop: float
    hours: float
    shared: tuple[str, ...]
    rows: int
    by_shop: bool | None


@dataclass(frozen=True, slots=True)
class Shared:
    """Access or a tool, paid once by each who needs it.

    Attributes
    ----------
    own : mean money, paid by own hands alone: a shop has its tools.
    hours : mean hours, whoever works them.
    covers : what comes off with it.
    """

    own: float
    hours: float
    covers: tuple[str, ...] = ()


def bits_of(mask: Mask) -> int:
    """Return a mask as one whole number, a bit for each draw."""
    return int.from_bytes(np.packbits(mask).tobytes())


def divisions(
    jobs: Mapping[str, Doable], shared: Mapping[str, Shared], draws: int, rate: float
) -> tuple[dict[str, bool], ...]:
    """Return the ways to divide the work that are worth comparing, as `cheaper` gives them.

    All by own hands, all by a shop, and what is cheaper where own hours cost fixed parts of a
    shop's. They hang on none of the rates of a case: the best of them, by whatever falls as a rate
    rises, falls too.

    Parameters
    ----------
    rate : what a shop's hour costs as a rule.
    """
    out = [
        {name: bool(one.by_shop) for name, one in jobs.items()},
        {name: one.by_shop is not False for name, one in jobs.items()},
    ]
    for ratio in RATIOS:
        one = cheaper(jobs, shared, draws, Hour(ratio * rate, rate))
        if one not in out:
            out.append(one)
    return tuple(out)


def cheaper(
    jobs: Mapping[str, Doable], shared: Mapping[str, Shared], draws: int, hour: Hour
) -> dict[str, bool]:
    """Return for each job whether a shop does it, by mean cost with what they share paid once.

    Own hands and a shop do not share a teardown, so jobs that share one are decided together:
    the better of all by own hands and all by a shop, then job by job whatever lowers the mean.
    So no group costs more on average than with either alone. What covers other access is taken
    at its own mean.

    Parameters
    ----------
    jobs : by name; those of which it is said who does them stay.
    shared : by name, what they may share.
    draws : how many draws the jobs' rows are of.
    hour : what an hour costs each.
    """
    by_shop = {name: bool(one.by_shop) for name, one in jobs.items()}
    for group in _groups(jobs, shared):
        free = sorted(name for name in group if jobs[name].by_shop is None)
        if free:
            choice = _Choice(jobs, shared, draws, hour, group, by_shop)
            own = choice.cost()
            for name in free:
                choice.give(name, shop=True)
            if choice.cost() >= own:
                for name in free:
                    choice.give(name, shop=False)
            while [name for name in free if choice.better(name)]:
                pass
    return by_shop


def _groups(jobs: Mapping[str, Doable], shared: Mapping[str, Shared]) -> Iterable[set[str]]:
    """Yield the jobs that share something, or share it with others that do."""
    users: defaultdict[str, set[str]] = defaultdict(set)
    for name, one in jobs.items():
        for need in one.shared:
            for thing in (need, *shared[need].covers):
                users[thing].add(name)
    left = dict.fromkeys(jobs)
    while left:
        group: set[str] = set()
        waiting = {next(iter(left))}
        while waiting:
            name = waiting.pop()
            group.add(name)
            for need in jobs[name].shared:
                for thing in (need, *shared[need].covers):
                    waiting |= users.pop(thing, set()) - group
        for name in group:
            del left[name]
        yield group


@dataclass(slots=True)
class _Choice:
    """Who does each job of a group, and what that costs on average."""

    jobs: Mapping[str, Doable]
    shared: Mapping[str, Shared]
    draws: int
    hour: Hour
    group: set[str]
    by_shop: dict[str, bool]
    users: dict[str, list[str]] = field(init=False)
    outer: dict[str, list[str]] = field(init=False)
    needed: dict[tuple[str, bool], int] = field(init=False)
    """Draws in which own hands, or a shop, need something."""

    def __post_init__(self) -> None:
        """List who needs what."""
        self.users = {}
        for name in sorted(self.group):
            for thing in self.jobs[name].shared:
                self.users.setdefault(thing, []).append(name)
        self.outer = {
            thing: [one for one in self.users if thing in self.shared[one].covers]
            for thing in self.users
        }
        self.needed = {}
        self._look(self.users)

    def _look(self, things: Iterable[str]) -> None:
        for thing in things:
            for shop in (False, True):
                rows = 0
                for name in self.users[thing]:
                    if self.by_shop[name] is shop:
                        rows |= self.jobs[name].rows
                self.needed[thing, shop] = rows

    def give(self, name: str, *, shop: bool) -> None:
        """Let own hands or a shop do a job."""
        self.by_shop[name] = shop
        self._look(self.jobs[name].shared)

    def better(self, name: str) -> bool:
        """Let the other do a job if that is cheaper; return whether it is."""
        job, shop = self.jobs[name], self.by_shop[name]
        touched = dict.fromkeys(job.shared)
        for thing in job.shared:
            touched |= {one: None for one in self.shared[thing].covers if one in self.users}
        change = self._work(job, shop=not shop) - self._work(job, shop=shop)
        change -= self._paid(touched)
        self.give(name, shop=not shop)
        change += self._paid(touched)
        if change < -SLACK:
            return True
        self.give(name, shop=shop)
        return False

    def cost(self) -> float:
        """Return the mean cost of the group."""
        work = sum(
            self._work(self.jobs[name], shop=self.by_shop[name]) for name in sorted(self.group)
        )
        return work + self._paid(self.users)

    def _work(self, job: Doable, *, shop: bool) -> float:
        if shop:
            return job.shop + job.hours * self.hour.shop
        return job.own + job.hours * self.hour.own

    def _paid(self, things: Iterable[str]) -> float:
        """Return what shared things cost on average, where nothing larger covers them."""
        total = 0.0
        for thing in things:
            for shop in (False, True):
                rows = self.needed[thing, shop]
                for outer in self.outer[thing]:
                    rows &= ~self.needed[outer, shop]
                one = self.shared[thing]
                each = one.hours * self.hour.shop if shop else one.own + one.hours * self.hour.own
                total += each * rows.bit_count() / self.draws
        return total
