"""Which repairs to do before selling, by an integer program; what a choice comes to, and why not.

Each repair is chosen or not, each access (teardown, a tool) is paid once, a repair may require
others or exclude them, money and hours may be limited. Taking repairs by gain per cost until a
limit is reached goes wrong on five of six textbook instances and is used for nothing.

Gains, money and what hours come to are each rounded to the cent once, so that equal is equal.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from math import floor, fsum, inf

import numpy as np
from numpy.typing import NDArray

from appraise.engine.decide.selection_items import Access, Choice, Item, Selection
from appraise.engine.decide.solver_output import no_output

__all__ = ["CENTS", "UNDER_HALF", "Names", "Program", "choose", "net_of"]

Floats = NDArray[np.float64]
Names = frozenset[str]

CENTS = 100
UNDER_HALF = 0.4
"""Cents: what preferences among equals sum to, and what a limit in whole cents may give."""

HOURS_SLACK = 1e-6
"""A sum of hours this far over its limit still keeps it: what adding floats may lose."""

MOST_NODES = 200_000
"""Branches after which the proof is given up: counted, so that every machine answers the same."""

BLOCK = 16
"""Names put in order in one go: their weights are powers of 2, which the solver tells apart."""


class Program:
    """A selection with a column of 0 or 1 for each repair, each access, and the clean bonus.

    Its names, groups, gains, money, hours and net stand in the order of the columns; all but hours
    in cents.
    """

    def __init__(self, selection: Selection) -> None:
        items = {one.name: one for one in sorted(selection.items, key=lambda one: one.name)}
        access = sorted(selection.access, key=lambda one: one.name)
        self.selection, self._items = selection, items
        self.names, self.groups = tuple(items), tuple(one.name for one in access)
        count = len(items)
        columns: tuple[Item | Access, ...] = (*items.values(), *access)
        clean = selection.clean
        self._clean = frozenset(clean.items) if clean else None
        bonus = clean.bonus if clean else 0.0
        gains = [*(one.gain for one in items.values()), *(0.0 for _ in access), bonus]
        self.gain = np.round(CENTS * np.array(gains))
        self.money = np.round(CENTS * np.array([*(one.money for one in columns), 0.0]))
        self.hours = np.array([*(one.hours for one in columns), 0.0])
        cost = self.money + np.round(CENTS * (self.hours * selection.hour_cost))
        self.net = self.gain - cost
        self.repair = (np.arange(len(gains)) < count).astype(float)
        money, hours = selection.money_limit, selection.hours_limit
        cents = inf if money in {None, inf} else floor(CENTS * money + HOURS_SLACK)
        self.caps = (cents, inf if hours is None else hours)
        self.must = frozenset(one.name for one in items.values() if one.must)
        self._served = {
            group: frozenset(one.name for one in access if group in (one.name, *one.covers))
            for group in self.groups
        }
        self._cheapest: dict[tuple[Names, int], Names] = {}
        item = {name: column for column, name in enumerate(items)}
        group = {name: column for column, name in enumerate(self.groups, count)}
        rows: list[tuple[dict[int, float], float]] = []
        for name, one in items.items():
            own = {item[name]: 1.0}
            for need in sorted(one.access):
                servers = (group[server] for server in self._served[need])
                rows.append((own | dict.fromkeys(servers, -1.0), 0.0))
            rows += [(own | {item[other]: -1.0}, 0.0) for other in sorted(one.requires)]
        for some in sorted(tuple(sorted(some)) for some in selection.at_most_one):
            rows.append((dict.fromkeys((item[name] for name in some), 1.0), 1.0))
        rows += [({len(columns): 1.0, item[name]: -1.0}, 0.0) for name in sorted(self._clean or ())]
        self._rows = np.zeros((len(rows), len(gains)))
        for row, (entries, _) in enumerate(rows):
            self._rows[row, list(entries)] = list(entries.values())
        self._most = [most for _, most in rows]

    def solve(
        self,
        aim: Floats,
        caps: tuple[float, float],
        more: Sequence[tuple[Floats, float]] = (),
        bounds: tuple[Floats, Floats] | None = None,
    ) -> tuple[Floats | None, bool]:
        """Return the columns with the most of ``aim`` within caps, or None, and if it is proven.

        ``more`` are rows with the most of each; ``bounds`` of each column are 0 and 1, or 1 and 1
        for what must be done.
        """
        rows = [*self._rows, self.money, self.hours, *(row for row, _ in more)]
        limits = [caps[0] + UNDER_HALF, caps[1] + HOURS_SLACK, *(most for _, most in more)]
        low, high = bounds or self.bounds()
        return _solve(aim, np.array(rows), [*self._most, *limits], low, high)

    def bounds(self) -> tuple[Floats, Floats]:
        """Return the least and the most of each column."""
        low = self._columns(self.must, frozenset())
        low[-1] = 0
        return low, np.ones(len(low))

    def choice(self, yes: Floats, problem: str = "", *, proven: bool = True) -> Choice:
        """Return what columns come to."""
        picked = np.flatnonzero(yes[:-1])
        named = [(*self.names, *self.groups)[at] for at in picked]
        count = int((picked < len(self.names)).sum())
        chosen, access = frozenset(named[:count]), frozenset(named[count:])
        gain, money, net = (float(one @ yes) / CENTS for one in (self.gain, self.money, self.net))
        return Choice(chosen, access, net, gain, money, fsum(self.hours[picked]), proven, problem)

    def of(self, chosen: Names) -> Choice:
        """Return what repairs come to with the cheapest access that keeps the limits, or why not.

        Of access that costs the same the fewest groups are paid, of as few the first by name.
        """
        access, over = self._access(chosen, "this choice")
        problem = "; ".join([*self._broken(chosen), *over])
        return self.choice(self._columns(chosen, access), problem)

    def _columns(self, chosen: Names, access: Names) -> Floats:
        bonus = self._clean is not None and self._clean <= chosen
        picked = [*(one in chosen for one in self.names), *(one in access for one in self.groups)]
        return np.array([*picked, bonus], dtype=float)

    def _access(self, chosen: Names, who: str) -> tuple[Names, list[str]]:
        """Return the cheapest access within the limits, else of all and which limit it breaks."""
        needed = frozenset(one for name in chosen for one in self._items[name].access)
        for which in range(3):
            if (needed, which) not in self._cheapest:
                self._cheapest[needed, which] = self._paid(needed, which, (inf, inf)) or needed
        best, cheap, quick = (
            self.choice(self._columns(chosen, self._cheapest[needed, which])) for which in range(3)
        )
        cents, hours = self.caps[0] + UNDER_HALF, self.caps[1] + HOURS_SLACK
        money_limit = f"the money limit is {self.caps[0] / CENTS:,.2f}"
        hours_limit = f"the hours limit is {self.caps[1]:,.2f}"
        if cheap.money * CENTS > cents:
            return best.access, [f"{money_limit}, {who} takes {cheap.money:,.2f} or more"]
        if quick.hours > hours:
            return best.access, [f"{hours_limit}, {who} takes {quick.hours:,.2f} or more"]
        if best.money * CENTS <= cents and best.hours <= hours:
            return best.access, []
        alone = self._columns(chosen, frozenset())
        left = (self.caps[0] - float(self.money @ alone), self.caps[1] - float(self.hours @ alone))
        within = self._paid(needed, 0, left)
        if within is None:
            return best.access, [f"{money_limit}, {hours_limit}, {who} can keep each but not both"]
        return within, []

    def _paid(self, needed: Names, which: int, left: tuple[float, float]) -> Names | None:
        """Return the access that serves with the least cost (0), money (1) or hours (2)."""
        if all(len(self._served[one]) == 1 for one in needed):
            return needed
        net, money, hours = (
            one[len(self.names) : -1] for one in (self.net, self.money, self.hours)
        )
        count = len(self.groups)
        little = (1 - 0.5 ** np.arange(1, count + 1)) * UNDER_HALF / count
        serves = [[-float(one in self._served[need]) for one in self.groups] for need in needed]
        most = [*(-1.0 for _ in needed), left[0] + UNDER_HALF, left[1] + HOURS_SLACK]
        aim = (net, -money, -hours)[which] - little * (which == 0)
        rows = np.array([*serves, money, hours])
        yes, _ = _solve(aim, rows, most, np.zeros(count), np.ones(count))
        return None if yes is None else frozenset(self.groups[at] for at in np.flatnonzero(yes))

    def _broken(self, chosen: Names) -> Iterator[str]:
        if missing := self.must - chosen:
            yield f"must be done but not chosen: {_listed(missing)}"
        for name in sorted(chosen):
            if lacking := frozenset(self._items[name].requires) - chosen:
                yield f"{name} needs what is not chosen: {_listed(lacking)}"
        for some in self._clashes(chosen):
            yield f"only one of these can be chosen: {_listed(some)}"

    def _clashes(self, chosen: Names) -> Iterator[Names]:
        both = (chosen.intersection(some) for some in self.selection.at_most_one)
        return (some for some in both if len(some) > 1)

    def with_required(self, chosen: Names) -> Names:
        """Return repairs with all that they require, however far."""
        more = chosen.union(*(self._items[name].requires for name in chosen))
        return chosen if more == chosen else self.with_required(more)

    @property
    def forced(self) -> Names:
        """What has to be done, and what that requires."""
        return self.with_required(self.must)

    def least(self) -> Choice:
        """Return what has to be done, with all it needs; none, and why, if that cannot be."""
        forced, who = self.forced, "what must be done, with all it needs,"
        _, over = self._access(forced, f"{who} ({_listed(forced)})")
        told = [
            *(
                f"{who} holds {_listed(some)}, of which only one can be chosen; let one go"
                for some in self._clashes(forced)
            ),
            *(f"{one}; raise it or let something go" for one in over),
        ]
        if told:
            return Choice(frozenset(), frozenset(), 0.0, 0.0, 0.0, 0.0, problem="; ".join(told))
        return replace(self.of(forced), proven=False)


def choose(selection: Selection) -> Choice:
    """Return the choice with the highest net: gains + clean bonus - money - hours x hour cost.

    Exact, by HiGHS with a gap of 0. Among choices with the same net the one with the fewest
    repairs; among those the one that holds the earliest name in which they differ. If the rules
    and limits allow none, an empty one whose `problem` says why.
    """
    program = Program(selection)
    few = program.repair * UNDER_HALF / (len(program.names) + 1)
    yes, proven = program.solve(program.net - few, program.caps)
    if yes is None:
        return program.least()
    as_good = [
        (-program.net, UNDER_HALF - float(program.net @ yes)),
        (program.repair, float(program.repair @ yes)),
    ]
    another = program.repair * (2 * yes - 1), float(program.repair @ yes) - 1
    other, _ = program.solve(0 * yes, program.caps, [*as_good, another])
    if other is None:
        return replace(program.of(program.choice(yes).chosen), proven=proven)
    low, high = program.bounds()
    for start in range(0, len(program.names), BLOCK):
        block = np.arange(start, min(start + BLOCK, len(program.names)))
        aim = np.zeros(len(yes))
        aim[block] = 2.0 ** -np.arange(len(block))
        first, _ = program.solve(aim, program.caps, as_good, (low, high))
        yes = yes if first is None else first
        low[block] = high[block] = yes[block]
    return replace(program.of(program.choice(yes).chosen), proven=proven)


def net_of(selection: Selection, chosen: Names) -> Choice:
    """Return `Program.of` for one choice."""
    return Program(selection).of(chosen)


def _solve(
    aim: Floats, rows: Floats, most: Sequence[float], low: Floats, high: Floats
) -> tuple[Floats | None, bool]:
    """Return the x of 0 and 1 with the most of ``aim @ x`` and ``rows @ x <= most``."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415

    # Presolve stays on: without it a root solution often misses a row by rounding, which HiGHS
    # 1.12 repairs with a second program and a printed line, at three times the time.
    with no_output():
        found = milp(
            -aim,
            constraints=LinearConstraint(rows, -inf, np.array(most)),
            integrality=np.ones(len(aim)),
            bounds=Bounds(low, high),
            options={"mip_rel_gap": 0.0, "node_limit": MOST_NODES},
        )
    return None if found.x is None else np.round(found.x), found.status in {0, 2}


def _listed(names: Iterable[str]) -> str:
    return ", ".join(sorted(names))
