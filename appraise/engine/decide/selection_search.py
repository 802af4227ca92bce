"""The search for the best choice of repairs, and for all choices that are worth a thought."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import floor, inf
from typing import Literal, NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from appraise.engine.decide.integer_program import Rows, another_than, search
from appraise.engine.decide.selection_items import Choice
from appraise.engine.decide.selection_value import (
    CENTS,
    HOURS_SLACK,
    Caps,
    Counted,
    Places,
    in_cents,
)

__all__ = ["Found", "Program", "Walk"]

Floats = NDArray[np.float64]
Yes = NDArray[np.bool_]

UNDER_HALF = 0.004
"""Money, under half a cent: what preferences among equals sum to, so that they cost no cent."""

BLOCK = 12
"""Names put in order in one go: their weights are powers of 2, which the solver tells apart."""

HOURS_STEP = 1e-4
"""Points of a frontier in hours that lie closer than this are one."""


class Found(NamedTuple):
    """A choice with the places of its repairs."""

    items: Places
    choice: Choice

    @property
    def rank(self) -> tuple[float, int]:
        """What it is ranked by: net, then the fewer the better."""
        return self.choice.net, -len(self.items)


@dataclass(frozen=True, slots=True)
class Program:
    """A selection as an integer program: variables for repairs, access groups, the bonus.

    Attributes
    ----------
    live, groups : places of the repairs and groups that can be worth it: their columns in order.
    net : (variables,) what each adds, in money.
    rows : all that has to hold; the last two are the limits of money and hours.
    """

    counted: Counted
    live: tuple[int, ...]
    groups: tuple[int, ...]
    net: Floats
    rows: Rows

    @classmethod
    def of(cls, counted: Counted) -> Self:
        """Return the program of a selection."""
        live = tuple(sorted(worth_a_thought(counted)))
        groups = tuple(sorted(counted.without_useless(counted.needed_by(frozenset(live)))))
        item = {at: column for column, at in enumerate(live)}
        group = {at: column for column, at in enumerate(groups, len(live))}
        bonus = len(live) + len(groups)
        told: list[tuple[dict[int, float], float]] = []
        for at in live:
            for need in sorted(counted.needs[at]):
                servers = {group[one]: -1.0 for one in groups if need in counted.serves[one]}
                told.append(({item[at]: 1.0} | servers, 0.0))
            told += [
                ({item[at]: 1.0, item[other]: -1.0}, 0.0)
                for other in sorted(counted.requires[at] - {at})
            ]
        told += [
            ({item[at]: 1.0 for at in sorted(some) if at in item}, 1.0)
            for some in counted.exclusive
        ]
        told += [({bonus: 1.0, item[at]: -1.0}, 0.0) for at in sorted(counted.clean & set(live))]
        matrix = np.zeros((len(told) + 2, bonus + 1))
        for row, (entries, _) in enumerate(told):
            matrix[row, list(entries)] = list(entries.values())
        program = cls(counted, live, groups, np.zeros(bonus + 1), Rows(matrix, np.empty(0)))
        matrix[-2] = program.columns(counted.money, counted.group_money) / CENTS
        matrix[-1] = program.columns(counted.hours, counted.group_hours)
        net = program.columns(counted.worth, [-cost for cost in counted.group_cost])
        net[-1] = counted.bonus if counted.clean <= set(live) else 0
        most = np.array([most for _, most in told] + [inf, inf])
        return replace(program, net=net / CENTS, rows=Rows(matrix, most))

    def columns(self, items: Sequence[float], groups: Sequence[float]) -> Floats:
        """Return amounts of items and groups as (variables,), 0 for the bonus."""
        amounts = [items[at] for at in self.live] + [groups[at] for at in self.groups]
        return np.array([*amounts, 0.0])

    @property
    def fewest(self) -> Floats:
        """The preference for few repairs: (variables,) in money."""
        return preference(np.arange(len(self.net)) < len(self.live))

    @property
    def bounds(self) -> tuple[Floats, Floats]:
        """The least and the most that each variable may be: two of (variables,)."""
        low = np.zeros(len(self.net))
        low[[column for column, at in enumerate(self.live) if at in self.counted.must]] = 1
        return low, np.ones(len(self.net))

    def within(self, caps: Caps) -> Rows:
        """Return the rows under limits."""
        most = self.rows.most.copy()
        most[-2] = caps.cents / CENTS + UNDER_HALF
        most[-1] = caps.hours + HOURS_SLACK
        return replace(self.rows, most=most)

    def items(self, yes: Yes) -> Places:
        """Return which repairs an answer chooses."""
        return frozenset(at for at, one in zip(self.live, yes, strict=False) if one)

    def best(
        self,
        caps: Caps,
        dislike: Floats,
        then: Sequence[float] | None = None,
        start: Found | None = None,
    ) -> Found:
        """Return a choice with the highest net within limits that can be kept.

        Parameters
        ----------
        caps : the limits.
        dislike : (variables,) a preference among equals, summing to under half a cent.
        then : (all groups,) of access that costs the same, which to prefer: that with the least.
        start : one within the limits that is fair already; nothing worse is looked at.
        """
        counted = self.counted
        refused: list[bool] = []
        if start is None:
            start = Found(counted.forced, counted.choice(counted.forced, caps, then))
        seen = [start]
        rows = self.within(caps).and_also([(-self.net, UNDER_HALF - start.choice.net)])

        def accept(yes: Yes) -> bool:
            items = self.items(yes)
            choice = counted.choice(items, caps, then)
            if not choice.problem:
                seen.append(Found(items, choice))
            paid = zip(self.groups, yes[len(self.live) :], strict=False)
            promised = counted.net(items, frozenset(at for at, one in paid if one))
            good = not choice.problem and in_cents(choice.net) >= promised
            refused.append(not good)
            return good

        low, high = self.bounds
        columns = slice(len(self.live))
        answer = search(self.net - dislike, rows, low, high, accept, columns)
        best = max(reversed(seen), key=lambda one: one.choice.net)
        # The start itself keeps every row: with nothing refused there has to be an answer.
        proven = answer.proven and (answer.yes is not None or any(refused))
        return best._replace(choice=replace(best.choice, proven=proven))

    def first_of_equals(self, found: Found, caps: Caps) -> Found:
        """Return the first by name of all choices with the net of `found` and as few repairs.

        Looks for any other choice as good; without one, `found` is the only one.
        """
        low, high = self.bounds
        nothing = np.zeros(len(self.net))
        while True:
            chosen = np.array(
                [*(at in found.items for at in self.live), *nothing[len(self.live) :]]
            )
            another = another_than(chosen > 0, slice(len(self.live)))
            other = self._as_good(found, caps, nothing, low, high, [another])
            if other is None or other.rank == found.rank:
                break
            found = other
        if other is None:
            return found
        for start in range(0, len(self.live), BLOCK):
            block = np.arange(start, min(start + BLOCK, len(self.live)))
            aim = nothing.copy()
            aim[block] = 2.0 ** np.arange(len(block) - 1, -1, -1)
            found = self._as_good(found, caps, aim, low, high) or found
            low[block] = high[block] = [self.live[at] in found.items for at in block]
        return found

    def _as_good(
        self,
        found: Found,
        caps: Caps,
        aim: Floats,
        low: Floats,
        high: Floats,
        more: Sequence[tuple[Floats, float]] = (),
    ) -> Found | None:
        """Return the choice with the most of `aim` of those ranked no lower than `found`."""
        few = (np.arange(len(self.net)) < len(self.live)).astype(float)
        rows = self.within(caps).and_also(
            [
                (-self.net, UNDER_HALF - found.choice.net),
                (few, float(len(found.items))),
                *more,
            ]
        )
        seen: list[Found] = []

        def accept(yes: Yes) -> bool:
            items = self.items(yes)
            choice = replace(self.counted.choice(items, caps), proven=found.choice.proven)
            seen.append(Found(items, choice))
            return not choice.problem and seen[-1].rank >= found.rank

        answer = search(aim, rows, low, high, accept, slice(len(self.live)))
        return None if answer.yes is None else seen[-1]


def worth_a_thought(counted: Counted) -> Places:
    """Return the repairs that the best choice with the fewest repairs may hold.

    One that brings no more than it costs, access apart, is left out unless it must be done,
    another of those left requires it, or it counts towards the clean car's bonus: without it any
    choice that holds it is no worse, takes no more and is smaller.
    """
    live = set(range(len(counted.names)))
    kept = counted.forced | (counted.clean if counted.bonus else frozenset())
    while idle := {
        at
        for at in live - kept
        if counted.worth[at] <= 0
        and not any(at in counted.requires[other] for other in live - {at})
    }:
        live -= idle
    return frozenset(live)


def preference(amounts: NDArray[np.bool_] | Floats) -> Floats:
    """Return amounts scaled so that all of them together are under half a cent."""
    total = float(amounts.sum())
    scaled: Floats = amounts.astype(float) * (UNDER_HALF / total if total else 0.0)
    return scaled


@dataclass(frozen=True, slots=True)
class Walk:
    """The way along a frontier, from the most spent to the least.

    Attributes
    ----------
    by : what is spent.
    dislike : (variables,) the preference for spending little.
    spends : (all groups,) what each group spends.
    step : difference below which two points are one: a cent, or hours.
    """

    program: Program
    by: Literal["money", "hours"]
    dislike: Floats
    spends: Sequence[float]
    step: float

    @classmethod
    def of(cls, counted: Counted, by: Literal["money", "hours"]) -> Self:
        """Return the walk along the frontier of a selection."""
        program = Program.of(counted)
        money = (counted.money, counted.group_money, 1.0)
        hours = (counted.hours, counted.group_hours, HOURS_STEP)
        items, groups, step = money if by == "money" else hours
        return cls(program, by, preference(program.columns(items, groups)), groups, step)

    def spent(self, found: Found) -> float:
        """Return what a choice spends, in cents or hours."""
        return float(in_cents(found.choice.money)) if self.by == "money" else found.choice.hours

    def best(self, limit: float, below: Found | None = None, above: Found | None = None) -> Found:
        """Return the best choice that spends no more than a limit, in cents or hours.

        Parameters
        ----------
        limit : at most that of the selection counts.
        below, above : known ones that spend less and more: a start each, the latter cut down.
        """
        caps = self.program.counted.caps
        if self.by == "money":
            caps = caps._replace(cents=min(caps.cents, limit if limit == inf else floor(limit)))
        else:
            caps = caps._replace(hours=min(caps.hours, limit))
        start = above and self._cut_down(above.items, caps)
        if below and not (start and start.choice.net > below.choice.net):
            start = below
        return self.program.best(caps, self.dislike, self.spends, start)

    def _cut_down(self, items: Places, caps: Caps) -> Found | None:
        """Return a fair choice under limits that `items` break, or None: a start, no answer.

        Gives up repairs one after another, each with those that require it, first the one that
        loses the least net for what it saves; then takes back what fits and brings something.
        """
        counted = self.program.counted
        closed = {at: counted.with_required(frozenset({at})) for at in self.program.live}

        def weighed(some: Places) -> tuple[int, int, float]:
            groups = counted.cover(some, counted.group_cost, then=self.spends) or frozenset()
            return counted.net(some, groups), *counted.spent(some, groups)

        now = weighed(items)
        spent = 1 if self.by == "money" else 2
        while not caps.keep(now[1], now[2]):
            fewer = [
                items - {other for other in items if at in closed[other]}
                for at in sorted(items - counted.forced)
            ]
            tried = [(some, weighed(some)) for some in fewer]
            saving = [one for one in tried if one[1][spent] < now[spent]]
            if not saving:
                return None
            items, now = min(
                saving, key=lambda one: (now[0] - one[1][0]) / (now[spent] - one[1][spent])
            )
        for at in self.program.live:
            more = items | closed[at]
            if more != items and not any(counted.clashes(more)):
                then = weighed(more)
                if then[0] > now[0] and caps.keep(then[1], then[2]):
                    items, now = more, then
        return Found(items, counted.choice(items, caps, self.spends))

    def least(self) -> float:
        """Return the least that has to be spent, in cents or hours."""
        counted = self.program.counted
        groups = counted.cover(counted.forced, self.spends, counted.caps) or frozenset()
        cents, hours = counted.spent(counted.forced, groups)
        return float(cents) if self.by == "money" else hours

    def points(self, most: int, best: Places | None = None) -> tuple[tuple[Choice, ...], bool]:
        """Return at most so many points, and whether there are more; `best` has the highest net."""
        least = self.least()
        bottom = self.best(least)
        counted = self.program.counted
        if best is None:
            top = self.best(inf, bottom)
        else:
            top = Found(best, counted.choice(best, counted.caps, self.spends))
        even = [top]
        gaps: list[tuple[Found, Found]] = []
        for number in range(most - 2, -1, -1):
            above = even[-1]
            below = self.spent(above) - self.step
            limit = min(below, least + (self.spent(top) - least) * number / (most - 1))
            found = self.best(limit, bottom, above) if limit > least else bottom
            if self.spent(found) < least + self.step:
                found = bottom
            if limit < below:
                gaps.append((found, above))
            even.append(found)
            if found is bottom:
                break
        every = self._filled(even, gaps, most)
        return self._rising(every or even), every is None

    def _filled(
        self, even: list[Found], gaps: list[tuple[Found, Found]], most: int
    ) -> list[Found] | None:
        """Return the points with those in the gaps, or None if they are too many."""
        found = list(even)
        while gaps:
            low, high = gaps.pop()
            limit = self.spent(high) - self.step
            if limit < self.spent(low) + self.step:
                continue
            between = self.best(limit, low, high)
            if between.choice.net > low.choice.net:
                found.append(between)
                gaps.append((low, between))
            if len(found) > most:
                return None
        return found

    def _rising(self, found: list[Found]) -> tuple[Choice, ...]:
        """Return the choices by what they spend, without those that bring no more for it."""
        out: list[Choice] = []
        for one in sorted(found, key=lambda one: (self.spent(one), -one.choice.net)):
            if not out or one.choice.net > out[-1].net:
                out.append(one.choice)
        return tuple(out)
