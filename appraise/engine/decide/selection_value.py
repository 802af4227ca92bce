"""What a choice of repairs is worth: exact, in whole cents, with the cheapest access for it.

Gains, money and what hours come to are each rounded to the cent once, so that equal is equal and
nothing hangs on the order of adding. Hours stay as given.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import fsum, inf, isfinite
from typing import NamedTuple

from appraise.engine.decide.integer_program import least_cover
from appraise.engine.decide.selection_items import Access, Choice, Item, Selection

__all__ = ["CENTS", "HOURS_SLACK", "Caps", "Counted", "Places", "in_cents"]

Places = frozenset[int]
"""Items or groups by their place in the order of names."""

HOURS_SLACK = 1e-6
"""A sum of hours this far over its limit still keeps it: what adding floats may lose."""

CENTS = 100
UNDER_HALF = 0.4
"""Cents: what preferences among equals sum to, so that they cost none."""

CENTS_SLACK = 1e-4
MOST_LARGER = 10
"""Larger groups up to which every set of them is tried; above, an integer program decides."""


class Caps(NamedTuple):
    """Most that may be spent: whole cents and hours, infinite where there is no limit."""

    cents: float
    hours: float

    def keep(self, cents: int, hours: float) -> bool:
        """Whether both limits are kept."""
        return cents <= self.cents and hours <= self.hours + HOURS_SLACK


NO_CAPS = Caps(inf, inf)


def in_cents(amount: float) -> int:
    """Return an amount of money in whole cents."""
    return round(CENTS * amount)


@dataclass(frozen=True, slots=True)
class Counted:
    """A selection in numbers: everything by its place in the order of names.

    Attributes
    ----------
    names, groups : of items and of access groups, in order.
    gain, money, worth : of each item, cents; worth is gain less money and hours.
    hours : of each item.
    needs, requires : of each item, groups and other items.
    group_money, group_cost : of each group, cents, without and with its hours.
    serves : of each group, the groups that it serves, itself among them.
    """

    names: tuple[str, ...]
    gain: tuple[int, ...]
    money: tuple[int, ...]
    hours: tuple[float, ...]
    worth: tuple[int, ...]
    needs: tuple[Places, ...]
    requires: tuple[Places, ...]
    must: Places
    groups: tuple[str, ...]
    group_money: tuple[int, ...]
    group_hours: tuple[float, ...]
    group_cost: tuple[int, ...]
    serves: tuple[Places, ...]
    exclusive: tuple[Places, ...]
    clean: Places
    bonus: int
    caps: Caps

    @classmethod
    def of(cls, selection: Selection) -> Counted:
        """Return a selection in numbers.

        Raises
        ------
        ValueError
            A name is unknown or twice there, or a number cannot be.
        """
        items = sorted(selection.items, key=lambda one: one.name)
        access = sorted(selection.access, key=lambda one: one.name)
        places = _places("repair", [one.name for one in items])
        groups = _places("access", [one.name for one in access])
        rate = _at_least_nought("hour cost", selection.hour_cost)
        both: tuple[Item | Access, ...] = (*items, *access)
        for one in both:
            _at_least_nought(f"{one.name}: money", one.money)
            _at_least_nought(f"{one.name}: hours", one.hours)
        for item in items:
            if not isfinite(item.gain):
                raise ValueError(f"{item.name}: gain must be a finite number")
        bonus = _at_least_nought("clean bonus", selection.clean.bonus) if selection.clean else 0.0

        def cost(one: Item | Access) -> int:
            return in_cents(one.money) + in_cents(one.hours * rate)

        return cls(
            names=tuple(places),
            gain=tuple(in_cents(one.gain) for one in items),
            money=tuple(in_cents(one.money) for one in items),
            hours=tuple(one.hours for one in items),
            worth=tuple(in_cents(one.gain) - cost(one) for one in items),
            needs=tuple(_known(groups, one.access, f"{one.name}: access") for one in items),
            requires=tuple(_known(places, one.requires, f"{one.name}: requires") for one in items),
            must=frozenset(at for at, one in enumerate(items) if one.must),
            groups=tuple(groups),
            group_money=tuple(in_cents(one.money) for one in access),
            group_hours=tuple(one.hours for one in access),
            group_cost=tuple(cost(one) for one in access),
            serves=tuple(
                _known(groups, (one.name, *one.covers), f"{one.name}: covers") for one in access
            ),
            exclusive=tuple(
                _known(places, names, "at most one") for names in selection.at_most_one
            ),
            clean=_known(places, selection.clean.items if selection.clean else (), "clean"),
            bonus=in_cents(bonus),
            caps=Caps(
                inf
                if (limit := _limit("money limit", selection.money_limit)) == inf
                else int(CENTS * limit + CENTS_SLACK),
                _limit("hours limit", selection.hours_limit),
            ),
        )

    def named(self, items: Iterable[int]) -> str:
        """Return the names of items, in order, as words."""
        return ", ".join(self.names[at] for at in sorted(items))

    def with_required(self, items: Places) -> Places:
        """Return items with all that they require, however far."""
        found = items
        while more := frozenset().union(*(self.requires[at] for at in found)) - found:
            found |= more
        return found

    @property
    def forced(self) -> Places:
        """What has to be done, and what that requires."""
        return self.with_required(self.must)

    def needed_by(self, items: Places) -> Places:
        """Return the groups that items need."""
        return frozenset().union(*(self.needs[at] for at in items))

    def without_useless(self, needed: Places) -> Places:
        """Return the groups that can be worth paying where no more than `needed` is needed.

        A larger group falls away if paying one by one for what it would serve costs less, and
        takes no more money and no more hours.
        """
        kept = set(needed)
        for group, serves in enumerate(self.serves):
            own = serves & needed
            if group in needed or not own:
                continue
            cheap = self.group_cost[group] <= sum(self.group_cost[at] for at in own)
            saving = self.group_money[group] < sum(self.group_money[at] for at in own)
            quick = self.group_hours[group] < fsum(self.group_hours[at] for at in own)
            if cheap or saving or quick:
                kept.add(group)
        return frozenset(kept)

    def cover(
        self,
        items: Places,
        aim: Sequence[float],
        caps: Caps = NO_CAPS,
        then: Sequence[float] | None = None,
    ) -> Places | None:
        """Return the groups that serve items with the least of `aim`, or None if none can.

        Exact: a group is served by itself or by a larger one, so every set of larger ones that
        may be worth it is tried; with more than ten of them an integer program decides.
        Among equals the fewest groups; of as few, the first by name if all were tried.

        Parameters
        ----------
        items : what is chosen.
        aim : (groups,) what is to be little: `group_cost`, `group_money` or `group_hours`.
        caps : that items and groups have to keep together.
        then : (groups,) what is to be little among equals, before their number.
        """
        waiting = self.needed_by(items)
        paid: set[int] = set()
        while True:
            useful = self.without_useless(waiting)
            alone = {
                group
                for group in waiting
                if not any(group in self.serves[other] for other in useful - {group})
            }
            if not alone:
                break
            paid |= alone
            waiting -= frozenset().union(*(self.serves[at] for at in alone))
        larger = sorted(at for at in useful if self.serves[at] & waiting - {at})
        if len(larger) > MOST_LARGER:
            return self._large_cover(items, frozenset(paid), waiting, (aim, then), caps)
        best: tuple[float, float, int, tuple[int, ...]] | None = None
        for count in range(len(larger) + 1):
            for some in combinations(larger, count):
                rest = waiting - frozenset().union(*(self.serves[at] for at in some))
                if not rest.isdisjoint(larger):
                    continue  # the set with that larger one as well is tried by itself
                groups = tuple(sorted(paid | rest | set(some)))
                second = fsum(then[at] for at in groups) if then else 0.0
                key = (fsum(aim[at] for at in groups), second, len(groups), groups)
                if (best is None or key < best) and caps.keep(*self.spent(items, groups)):
                    best = key
        return None if best is None else frozenset(best[3])

    def _large_cover(
        self,
        items: Places,
        paid: Places,
        waiting: Places,
        aims: tuple[Sequence[float], Sequence[float] | None],
        caps: Caps,
    ) -> Places | None:
        """Return `cover` where there are many larger groups; some are `paid` in any case."""
        aim, then = aims
        second = then or [1.0] * len(self.groups)
        little = 0.0 if aim is self.group_hours else UNDER_HALF / (fsum(second) or 1.0)
        cents, hours = self.spent(items, paid)
        limits: list[tuple[Sequence[float], float]] = [
            (self.group_money, caps.cents - cents + CENTS_SLACK),
            (self.group_hours, caps.hours - hours + HOURS_SLACK),
        ]
        found = least_cover(
            self.serves,
            sorted(waiting),
            [amount + little * more for amount, more in zip(aim, second, strict=True)],
            limits,
            lambda more: caps.keep(*self.spent(items, paid | more)),
        )
        return None if found is None else paid | found

    def spent(self, items: Iterable[int], groups: Iterable[int]) -> tuple[int, float]:
        """Return the money, in cents, and the hours that items and groups take."""
        items, groups = list(items), list(groups)
        cents = sum(self.money[at] for at in items) + sum(self.group_money[at] for at in groups)
        hours = [self.hours[at] for at in items] + [self.group_hours[at] for at in groups]
        return cents, fsum(hours)

    def net(self, items: Places, groups: Places) -> int:
        """Return what items bring net of all they and the groups take, in cents."""
        bonus = self.bonus if self.clean <= items else 0
        costs = sum(self.group_cost[at] for at in groups)
        return bonus + sum(self.worth[at] for at in items) - costs

    def choice(self, items: Places, caps: Caps, then: Sequence[float] | None = None) -> Choice:
        """Return what items come to, with the cheapest access within the limits if there is one.

        Parameters
        ----------
        items : what is chosen.
        caps : the limits; where no access keeps them, the cheapest of all is taken.
        then : (groups,) of access that costs the same, which to prefer: that with the least.
        """
        groups = self.cover(items, self.group_cost, caps, then)
        problem = self.broken(items)
        if groups is None:
            groups = self.cover(items, self.group_cost) or frozenset()
            over = self.over(items, caps, "this choice")
            problem = f"{problem}; {over}" if problem else over
        return self.with_groups(items, groups, problem)

    def with_groups(self, items: Places, groups: Places, problem: str = "") -> Choice:
        """Return what items come to if those groups are paid."""
        cents, hours = self.spent(items, groups)
        gain = sum(self.gain[at] for at in items) + (self.bonus if self.clean <= items else 0)
        return Choice(
            chosen=frozenset(self.names[at] for at in items),
            access=frozenset(self.groups[at] for at in groups),
            net=self.net(items, groups) / CENTS,
            gain=gain / CENTS,
            money=cents / CENTS,
            hours=hours,
            problem=problem,
        )

    def broken(self, items: Places) -> str:
        """Return which rules items break, limits apart, in words; empty if none."""
        return "; ".join(self._broken(items))

    def _broken(self, items: Places) -> Iterator[str]:
        if missing := self.must - items:
            yield f"must be done but not chosen: {self.named(missing)}"
        for at in sorted(items):
            if lacking := self.requires[at] - items:
                yield f"{self.names[at]} needs what is not chosen: {self.named(lacking)}"
        for some in self.clashes(items):
            yield f"only one of these can be chosen: {self.named(some)}"

    def clashes(self, items: Places) -> Iterator[Places]:
        """Yield those of `items` that exclude each other, set by set."""
        for some in self.exclusive:
            if len(some & items) > 1:
                yield some & items

    def over(self, items: Places, caps: Caps, who: str) -> str:
        """Return in words which limit items break whatever access is paid; empty if none.

        Parameters
        ----------
        items : chosen, or having to be.
        caps : the limits.
        who : what they are, to begin the sentence.
        """
        least_cents, _ = self.spent(items, self.cover(items, self.group_money) or ())
        _, least_hours = self.spent(items, self.cover(items, self.group_hours) or ())
        money = f"the money limit is {caps.cents / CENTS:,.2f}"
        hours = f"the hours limit is {caps.hours:,.2f}"
        if not caps.keep(least_cents, 0.0):
            return f"{money}, {who} takes {least_cents / CENTS:,.2f} or more"
        if not caps.keep(0, least_hours):
            return f"{hours}, {who} takes {least_hours:,.2f} or more"
        if self.cover(items, self.group_cost, caps) is None:
            return f"{money}, {hours}, {who} can keep each but not both"
        return ""

    def impossible(self, caps: Caps) -> str:
        """Return why nothing can be chosen at all, in words; empty if something can.

        Costs are never below 0, so something can be chosen if and only if what has to be done,
        and that alone, breaks no rule and no limit.
        """
        forced = self.forced
        who = "what must be done, with all it needs,"
        told = [
            f"{who} holds {self.named(some)}, of which only one can be chosen; let one go"
            for some in self.clashes(forced)
        ]
        if over := self.over(forced, caps, f"{who} ({self.named(forced)})"):
            told.append(f"{over}; raise it or let something go")
        return "; ".join(told)


def _places(what: str, names: Sequence[str]) -> dict[str, int]:
    places = {name: at for at, name in enumerate(names)}
    if len(places) < len(names):
        twice = next(one for one in names if names.count(one) > 1)
        raise ValueError(f"{what} {twice!r} is there twice; give each a name of its own")
    return places


def _known(places: dict[str, int], names: Iterable[str], where: str) -> Places:
    unknown = sorted(set(names) - places.keys())
    if unknown:
        raise ValueError(f"{where}: {', '.join(unknown)} is not known")
    return frozenset(places[name] for name in names)


def _at_least_nought(what: str, number: float) -> float:
    if not (isfinite(number) and number >= 0):
        raise ValueError(f"{what} must be a finite number of at least 0, not {number}")
    return number


def _limit(what: str, limit: float | None) -> float:
    if limit is None or limit == inf:
        return inf
    return _at_least_nought(what, limit)
