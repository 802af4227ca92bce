"""A plan's tasks before they have days: what comes before what, and what has to come off."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from graphlib import CycleError, TopologicalSorter
from heapq import heapify, heappop, heappush
from math import fsum, isfinite

__all__ = ["Task", "Teardown", "order_of", "sorter_of", "teardown"]


@dataclass(frozen=True, slots=True)
class Task:
    """A job as the plan sees it.

    Attributes
    ----------
    hours : own hours, without access; 0 for a shop's job.
    shop_days : calendar days at a shop, begun days counting whole; own hours, if there are any,
        come before them (taking it there).
    after : names of the tasks that have to be done first.
    ready_on : the day its parts are here; None if they are.
    must : whether it goes before what could be left.
    access : groups that have to be off; a shop that does the whole job sees to its own.
    """

    name: str
    hours: float
    shop_days: float = 0.0
    after: tuple[str, ...] = ()
    ready_on: date | None = None
    must: bool = False
    access: tuple[str, ...] = ()

    @property
    def own(self) -> bool:
        """Whether own hands do any of it."""
        return self.hours > 0 or self.shop_days == 0


def order_of(tasks: Sequence[Task]) -> tuple[str, ...]:
    """Return the tasks' names so that each comes after all that it has to wait for.

    Otherwise the given order is kept: of all that may come next, the one given first.

    Raises
    ------
    ValueError
        If two tasks share a name, one waits for a task that is not there, or they wait for each
        other in a ring.

    Examples
    --------
    >>> order_of([Task("alignment", 0, 1, after=("arm",)), Task("brakes", 2), Task("arm", 3)])
    ('brakes', 'arm', 'alignment')
    """
    places = {task.name: at for at, task in enumerate(tasks)}
    names = tuple(places)
    sorter = sorter_of(tasks)
    waiting = [places[name] for name in sorter.get_ready()]
    heapify(waiting)
    out = []
    while waiting:
        name = names[heappop(waiting)]
        out.append(name)
        sorter.done(name)
        for ready in sorter.get_ready():
            heappush(waiting, places[ready])
    return tuple(out)


def sorter_of(tasks: Sequence[Task]) -> TopologicalSorter[str]:
    """Return a sorter of the tasks' names, ready to hand out those that wait for nothing.

    Raises
    ------
    ValueError
        As in `order_of`.
    """
    names = {task.name for task in tasks}
    seen: set[str] = set()
    for task in tasks:
        if task.name in seen:
            raise ValueError(f"two tasks are named {task.name!r}: give each its own name")
        seen.add(task.name)
        for before in task.after:
            if before not in names:
                raise ValueError(f"{task.name} has to wait for {before!r}, which is not there")
    sorter = TopologicalSorter({task.name: task.after for task in tasks})
    try:
        sorter.prepare()
    except CycleError as error:
        raise ValueError(
            f"tasks wait for each other in a ring: {_ring(error)}; let one of them not wait"
        ) from error
    return sorter


def _ring(error: CycleError) -> str:
    """Return the names of a ring, each before the next, from the first by name round to itself."""
    names = [str(name) for name in error.args[1][:-1]]
    at = names.index(min(names))
    turned = [*names[at:], *names[:at]]
    return " -> ".join([*turned, turned[0]])


@dataclass(frozen=True, slots=True)
class Teardown:
    """What has to come off for all tasks together.

    Attributes
    ----------
    hours : by group, off and on again, with the larger ones made up as `teardown` says.
    home : by group, the larger one that it is counted in, if there is one.
    covered : by group, all that comes off with it, whether it is needed or not.
    total : hours of all together, each counted once.
    """

    hours: Mapping[str, float]
    home: Mapping[str, str]
    covered: Mapping[str, frozenset[str]]
    total: float


def teardown(
    needed: Collection[str], access_hours: Mapping[str, float], covers: Mapping[str, Sequence[str]]
) -> Teardown:
    """Return the hours of all that has to come off, each once.

    What a larger group covers is not counted beside it, but the larger one then takes no less
    than what it covers would have taken together. What two larger ones cover is counted in the
    one that covers less.

    Parameters
    ----------
    needed : names of access groups.
    access_hours : hours of each, off and on again.
    covers : by group, the groups that come off with it.

    Raises
    ------
    ValueError
        If groups cover each other in a ring, or one that is needed has no hours of 0 or more.

    Examples
    --------
    >>> hours = {"belt_off": 0.5, "bumper_off": 1.0, "engine_out": 6.0}
    >>> teardown(hours, hours, {"engine_out": ("belt_off", "bumper_off")}).total
    6.0
    """
    wanted = set(needed)
    for group in sorted(wanted):
        own = access_hours.get(group)
        if own is None:
            raise ValueError(f"access {group!r} is not known: give its hours")
        if not (isfinite(own) and own >= 0):
            raise ValueError(f"access {group}: hours are {own}: give 0 or more")
    covered = _all_covered(covers)
    none: frozenset[str] = frozenset()
    hours: dict[str, float] = {}
    home: dict[str, str] = {}
    for name in sorted(wanted, key=lambda one: (len(covered.get(one, none)), one)):
        inner = [one for one in covered.get(name, none) & wanted if one not in home]
        home.update(dict.fromkeys(inner, name))
        hours[name] = max(access_hours[name], fsum(hours[one] for one in inner))
    return Teardown(hours, home, covered, fsum(hours[one] for one in wanted if one not in home))


def _all_covered(covers: Mapping[str, Sequence[str]]) -> dict[str, frozenset[str]]:
    """Return by group all that comes off with it, down to the bottom."""
    try:
        inner_first = tuple(TopologicalSorter(covers).static_order())
    except CycleError as error:
        raise ValueError(f"access groups cover each other in a ring: {_ring(error)}") from error
    out: dict[str, frozenset[str]] = {}
    for name in inner_first:
        inner = covers.get(name, ())
        out[name] = frozenset(inner).union(*(out[one] for one in inner))
    return out
