"""The best set of jobs by what the car brings on all draws, not by a sum of means."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple

from appraise.engine.decide.options import Prospects
from appraise.engine.decide.selection import Names, Program
from appraise.engine.decide.selection_items import Choice

__all__ = ["CENT", "Climb", "Weighed"]

CENT = 0.01


class Weighed(NamedTuple):
    """A set of jobs with its mean net on all draws; minus infinity if it breaks a rule or limit."""

    choice: Choice
    net: float


@dataclass(frozen=True, slots=True)
class Climb:
    """Sets of jobs on all draws, each weighed once.

    Attributes
    ----------
    seen : all that were weighed, by the names of their jobs.
    """

    found: Prospects
    program: Program
    seen: dict[Names, Weighed] = field(default_factory=dict)

    def best(self, starts: Iterable[Names]) -> Weighed | None:
        """Return the best set that is found, or None if none keeps the rules and limits.

        From each start one job is added or given up, with what it requires, as long as the net
        rises by a cent; from the best top one is also put in another's place. No proof that nothing
        better exists; the tests say how close it comes.

        Parameters
        ----------
        starts : sets of names.
        """
        sets = dict.fromkeys([*starts, self.program.forced])
        fair = [one for one in sets if self.weigh(one).net > -inf]
        if not fair:
            return None
        at = max(map(self._top, fair), key=lambda one: self.seen[one].net)
        while swapped := self._better(at, self._swaps(at)):
            at = self._top(swapped)
        return self.seen[at]

    def _top(self, at: Names) -> Names:
        while near := self._better(at, self._one_step(at)):
            at = near
        return at

    def weigh(self, names: Names) -> Weighed:
        """Return a set with its net, worked out if it is new."""
        if names not in self.seen:
            choice = self.program.of(names)
            net = -inf
            if not choice.problem:
                net = float(self.found.sold(choice.chosen, choice.access).net.mean())
            self.seen[names] = Weighed(choice, net)
        return self.seen[names]

    def _better(self, names: Names, others: Iterable[Names]) -> Names | None:
        best = max(others, key=lambda one: self.weigh(one).net, default=names)
        return best if self.weigh(best).net > self.weigh(names).net + CENT else None

    def _one_step(self, names: Names) -> Iterator[Names]:
        for one in self.program.names:
            yield self._without(names, one) if one in names else self._with(names, one)

    def _swaps(self, names: Names) -> Iterator[Names]:
        for out in sorted(names - self.program.forced):
            fewer = self._without(names, out)
            for one in self.program.names:
                if one not in names:
                    yield self._with(fewer, one)

    def _with(self, names: Names, one: str) -> Names:
        return self.program.with_required(names | {one})

    def _without(self, names: Names, one: str) -> Names:
        return frozenset(
            other for other in names if one not in self.program.with_required(frozenset({other}))
        )
