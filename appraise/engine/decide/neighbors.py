"""The best set of jobs by what the car brings on all draws, not by a sum of means."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple, Self

from appraise.engine.decide.options import Prospects
from appraise.engine.decide.selection_items import Choice, Selection
from appraise.engine.decide.selection_value import Counted, Places

__all__ = ["CENT", "Climb", "Weighed"]

CENT = 0.01
CLIMBED = 3


class Weighed(NamedTuple):
    """A set of jobs with its mean net on all draws; minus infinity if it breaks a rule or limit."""

    choice: Choice
    net: float


@dataclass(frozen=True, slots=True)
class Climb:
    """Sets of jobs on all draws, each weighed once.

    Attributes
    ----------
    seen : all that were weighed, by the places of their jobs.
    """

    found: Prospects
    counted: Counted
    seen: dict[Places, Weighed] = field(default_factory=dict)

    @classmethod
    def of(cls, found: Prospects, selection: Selection) -> Self:
        """Return a climb on which nothing is weighed yet."""
        return cls(found, Counted.of(selection))

    def best(self, starts: Iterable[Iterable[str]]) -> Weighed | None:
        """Return the best set that is found, or None if none keeps the rules and limits.

        From the three best of the starts one job is added or given up, with what it requires, as
        long as the net rises by a cent; from the better top one is also put in another's place. No
        proof that nothing better exists; the tests say how close it comes.

        Parameters
        ----------
        starts : sets of names.
        """
        counted = self.counted
        sets = [
            frozenset(at for at, name in enumerate(counted.names) if name in set(names))
            for names in starts
        ]
        sets.append(counted.forced)
        fair = [one for one in dict.fromkeys(sets) if self.weigh(one).net > -inf]
        fair.sort(key=lambda one: -self.seen[one].net)
        if not fair:
            return None
        at = max(map(self._top, fair[:CLIMBED]), key=lambda one: self.seen[one].net)
        while swapped := self._better(at, self._swaps(at)):
            at = self._top(swapped)
        return self.seen[at]

    def _top(self, at: Places) -> Places:
        while near := self._better(at, self._one_step(at)):
            at = near
        return at

    def weigh(self, items: Places) -> Weighed:
        """Return a set with its net, worked out if it is new."""
        if items not in self.seen:
            choice = self.counted.choice(items, self.counted.caps)
            net = -inf
            if not choice.problem:
                net = float(self.found.sold(choice.chosen, choice.access).net.mean())
            self.seen[items] = Weighed(choice, net)
        return self.seen[items]

    def _better(self, items: Places, others: Iterable[Places]) -> Places | None:
        best = max(others, key=lambda one: self.weigh(one).net, default=items)
        return best if self.weigh(best).net > self.weigh(items).net + CENT else None

    def _one_step(self, items: Places) -> Iterator[Places]:
        for at in range(len(self.counted.names)):
            yield self._without(items, at) if at in items else self._with(items, at)

    def _swaps(self, items: Places) -> Iterator[Places]:
        for out in items - self.counted.forced:
            fewer = self._without(items, out)
            for at in set(range(len(self.counted.names))) - items:
                yield self._with(fewer, at)

    def _with(self, items: Places, at: int) -> Places:
        return items | self.counted.with_required(frozenset({at}))

    def _without(self, items: Places, at: int) -> Places:
        return frozenset(
            one for one in items if at not in self.counted.with_required(frozenset({one}))
        )
