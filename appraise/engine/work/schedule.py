"""A day plan: which job when, by somebody who has a few hours a day, and what it waits for.

One pair of hands works on one job at a time and ends it before the next; a shop's job runs beside
it. The plan is built forwards, day by day, by fixed rules of preference; it is a good order, not
one that is proved the shortest.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from graphlib import TopologicalSorter
from math import ceil, fsum, isfinite

from appraise.engine.work.tasks import Task, Teardown, order_of, sorter_of, teardown

__all__ = ["MOST_DAYS", "Day", "DayPlan", "Plan", "Slot", "Step", "Task", "order_of", "plan_days"]

MOST_DAYS = 3_000
"""No plan is longer than this: about eight years."""
SLACK = 1e-9
"""Hours that are lost to rounding and count as none."""
WEEKDAYS = range(7)
DAY_OFF = "day off"


@dataclass(frozen=True, slots=True)
class Step:
    """Own work on a day.

    Attributes
    ----------
    access : the group that is taken off (and later put back, in the same hours) for this task, or
        an empty text for the task's own hours.
    """

    task: str
    hours: float
    access: str = ""


@dataclass(frozen=True, slots=True)
class Day:
    """A day of the plan.

    Attributes
    ----------
    at_shop : tasks that a shop has on that day.
    waits : why there are own hours left over, each a few words; empty if there are none.
    """

    on: date
    steps: tuple[Step, ...]
    at_shop: tuple[str, ...]
    waits: tuple[str, ...]

    @property
    def hours(self) -> float:
        """Own hours worked on it."""
        return fsum(step.hours for step in self.steps)


@dataclass(frozen=True, slots=True)
class Slot:
    """The first and the last day of a task."""

    name: str
    begins: date
    ends: date


@dataclass(frozen=True, slots=True)
class Plan:
    """A day plan.

    Attributes
    ----------
    days : from the start to the finish, none left out.
    slots : tasks in the order in which they are begun.
    order : names in that order; where there is no plan, in an order that is possible.
    hours : own hours of all tasks, and of each access once.
    finish : the day on which all is done, or None if there is nothing to do or no plan.
    problem : why there is no plan, or an empty text.
    """

    days: tuple[Day, ...]
    slots: tuple[Slot, ...]
    order: tuple[str, ...]
    hours: float
    finish: date | None
    problem: str = ""


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A day plan with the names that people know the jobs and teardown by."""

    plan: Plan
    jobs: dict[str, str]
    access: dict[str, str]


def plan_days(
    tasks: Sequence[Task],
    start: date,
    hours_per_day: float,
    access_hours: Mapping[str, float],
    covers: Mapping[str, Sequence[str]],
    days_off: Collection[int] = (),
) -> Plan:
    """Return which task gets how many hours on which day.

    A task may begin when all before it are done and its parts are here. Own hands finish what
    they have begun; then they take, of all that may begin, what must be done (or has to be done
    before something that must), then what needs an access that is already open, then what the
    longest chain of work hangs on, then by name. A shop's job begins in the morning, after the
    day on which the last before it was done, and takes calendar days, days off among them;
    several may run at once. Followers of a shop's job begin the day after it.

    Parameters
    ----------
    tasks : in any order.
    start : the first day.
    hours_per_day : own hours on a day that is not off, above 0.
    access_hours : hours of each access group, off and on again.
    covers : by access group, the groups that come off with it.
    days_off : weekdays without own work, Monday being 0.

    Raises
    ------
    ValueError
        If the hours a day are not above 0, no day is left to work on, a figure is below 0, an
        access group is not known, or the tasks cannot be put in order.
    """
    order = order_of(tasks)
    _check(tasks, hours_per_day, days_off)
    needed = {group for task in tasks if task.own for group in task.access}
    off = teardown(needed, access_hours, covers)
    hours = fsum(task.hours for task in tasks) + off.total
    bench = _Bench(tasks, order, hours_per_day, off)
    days: list[Day] = []
    for on in _dates(start):
        if not bench.left:
            break
        days.append(bench.day(on, off=on.weekday() in days_off))
    if bench.left:
        problem = (
            f"the plan runs past {MOST_DAYS:,} days: give more hours a day, or look at the days on "
            "which parts are here"
        )
        return Plan((), (), order, hours, None, problem)
    slots = tuple(Slot(name, begins, bench.ends[name]) for name, begins in bench.begins.items())
    begun = tuple(slot.name for slot in slots)
    return Plan(tuple(days), slots, begun, hours, days[-1].on if days else None)


def _dates(start: date) -> Iterator[date]:
    for at in range(min(MOST_DAYS, date.max.toordinal() - start.toordinal() + 1)):
        yield start + timedelta(days=at)


def _check(tasks: Sequence[Task], hours_per_day: float, days_off: Collection[int]) -> None:
    """Refuse what cannot be planned."""
    if not (isfinite(hours_per_day) and hours_per_day > 0):
        raise ValueError(f"hours a day are {hours_per_day}: give more than 0")
    if any(day not in WEEKDAYS for day in days_off):
        raise ValueError(f"days off are {sorted(days_off)}: give weekdays from 0, Monday, to 6")
    if set(days_off) == set(WEEKDAYS) and any(task.own for task in tasks):
        raise ValueError("every weekday is a day off: leave at least one to work on")
    for task in tasks:
        for value, name in ((task.hours, "hours"), (task.shop_days, "shop days")):
            if not (isfinite(value) and value >= 0):
                raise ValueError(f"{task.name}: {name} are {value}: give 0 or more")


@dataclass(slots=True)
class _Bench:
    """The state of the work between two days."""

    tasks: Sequence[Task]
    order: tuple[str, ...]
    hours_per_day: float
    off: Teardown
    named: dict[str, Task] = field(init=False)
    left: int = field(init=False)
    sorter: TopologicalSorter[str] = field(init=False)
    pool: dict[str, Task] = field(default_factory=dict)
    current: Task | None = None
    pieces: deque[tuple[str, float]] = field(default_factory=deque)
    worked: set[str] = field(default_factory=set)
    at_shop: dict[str, int] = field(default_factory=dict)
    opened: set[str] = field(default_factory=set)
    spent: dict[str, float] = field(default_factory=dict)
    """Hours spent on a group, and on those that are counted in it."""
    begins: dict[str, date] = field(default_factory=dict)
    ends: dict[str, date] = field(default_factory=dict)
    must: dict[str, bool] = field(default_factory=dict)
    chain: dict[str, float] = field(default_factory=dict)
    """Days from the beginning of a task to the end of the longest chain that hangs on it."""

    def __post_init__(self) -> None:
        """Look ahead from the end: what must be done early, and how much hangs on each."""
        self.left = len(self.tasks)
        self.sorter = sorter_of(self.tasks)
        self.named = {task.name: task for task in self.tasks}
        self.must = {name: task.must for name, task in self.named.items()}
        after = dict.fromkeys(self.named, 0.0)
        for name in reversed(self.order):
            task = self.named[name]
            self.chain[name] = task.hours / self.hours_per_day + task.shop_days + after[name]
            for before in task.after:
                self.must[before] |= self.must[name]
                after[before] = max(after[before], self.chain[name])
        self._let_in()

    def day(self, on: date, *, off: bool) -> Day:
        """Work through a day."""
        self._send_to_shop(on)
        at_shop = tuple(sorted(self.at_shop))
        steps, spare = ([], 0.0) if off else self._work(on)
        waits = (DAY_OFF,) if off else self._waits(on) if spare > SLACK and self.left else ()
        for name in [name for name, last in self.at_shop.items() if last <= on.toordinal()]:
            del self.at_shop[name]
            self._finish(name, on)
        return Day(on, tuple(steps), at_shop, waits)

    def _let_in(self) -> None:
        self.pool.update({name: self.named[name] for name in self.sorter.get_ready()})

    def _finish(self, name: str, on: date) -> None:
        self.ends[name] = on
        self.left -= 1
        self.sorter.done(name)
        self._let_in()

    def _send_to_shop(self, on: date) -> None:
        for name in sorted(self.pool):
            task = self.pool[name]
            if (not task.own or name in self.worked) and _here(task, on):
                del self.pool[name]
                days = ceil(min(task.shop_days, MOST_DAYS + 1) - SLACK)
                self.at_shop[name] = on.toordinal() + max(days, 1) - 1
                self.begins.setdefault(name, on)

    def _work(self, on: date) -> tuple[list[Step], float]:
        """Return a day's steps and the hours left over."""
        steps: list[Step] = []
        spare = self.hours_per_day
        while True:
            if self.current is None:
                self.current = self._next(on, spare)
                if self.current is None:
                    return steps, spare
                self._take_up(self.current)
            task = self.current
            while self.pieces:
                access, hours = self.pieces.popleft()
                if hours > SLACK >= spare:
                    self.pieces.appendleft((access, hours))
                    return steps, spare
                now = min(hours, spare)
                spare -= now
                steps.append(Step(task.name, now, access))
                self.begins.setdefault(task.name, on)
                if hours - now > SLACK:
                    self.pieces.appendleft((access, hours - now))
            self.current = None
            if task.shop_days:
                self.worked.add(task.name)
                self.pool[task.name] = task
            else:
                self._finish(task.name, on)

    def _next(self, on: date, spare: float) -> Task | None:
        """Return what own hands take up next; with no hours left, only what takes none."""
        open_now = self._open()

        def rank(task: Task) -> tuple[bool, bool, float, str]:
            shares = not open_now.isdisjoint(task.access)
            return not self.must[task.name], not shares, -self.chain[task.name], task.name

        may = [
            task
            for task in self.pool.values()
            if task.own
            and task.name not in self.worked
            and _here(task, on)
            and (spare > SLACK or task.hours + sum(map(self._to_open, task.access)) <= SLACK)
        ]
        return min(may, key=rank, default=None)

    def _open(self) -> set[str]:
        """Return what is off: the groups taken off, and what came with them."""
        return self.opened.union(*(self.off.covered.get(one, ()) for one in self.opened))

    def _to_open(self, group: str) -> float:
        """Return the hours that a group still takes: less what it covers and is off already."""
        return 0.0 if group in self._open() else self.off.hours[group] - self.spent.get(group, 0.0)

    def _open_up(self, group: str) -> float:
        hours = self._to_open(group)
        self.opened.add(group)
        above: str | None = group
        while above is not None:
            self.spent[above] = self.spent.get(above, 0.0) + hours
            above = self.off.home.get(above)
        return hours

    def _take_up(self, task: Task) -> None:
        """Cut a task into pieces: what has to come off, larger groups first, then its own hours."""
        del self.pool[task.name]
        for group in sorted(
            task.access, key=lambda one: (-len(self.off.covered.get(one, ())), one)
        ):
            if group not in self._open():
                self.pieces.append((group, self._open_up(group)))
        self.pieces.append(("", task.hours))

    def _waits(self, on: date) -> tuple[str, ...]:
        parts = {name for name, task in self.pool.items() if not _here(task, on)}
        shop = {*self.at_shop, *self.pool} - parts
        said = (("parts", parts), ("a shop", shop))
        return tuple(
            f"waits for {what}: {', '.join(sorted(names))}" for what, names in said if names
        )


def _here(task: Task, on: date) -> bool:
    return task.ready_on is None or task.ready_on <= on
