"""Which repairs to do before selling: the best choice, and all that are worth a thought.

An integer program: each repair is chosen or not, each access is paid once, a repair may require
others or exclude them, money and hours may be limited. Taking repairs by gain per cost until a
limit is reached goes wrong on five of six textbook instances and is used for nothing.
"""

from __future__ import annotations

from itertools import combinations
from typing import Literal

import numpy as np

from appraise.engine.decide.selection_items import Access, Choice, Clean, Frontier, Item, Selection
from appraise.engine.decide.selection_search import Program, Walk
from appraise.engine.decide.selection_value import HOURS_SLACK, Counted, Places

__all__ = [
    "Access",
    "Choice",
    "Clean",
    "Frontier",
    "Item",
    "Selection",
    "choose",
    "enumerate_all",
    "frontier",
    "net_of",
]

MOST_ENUMERATED = 16
MOST_GROUPS = 12
MOST_POINTS = 24


def choose(selection: Selection) -> Choice:
    """Return the choice with the highest net: gains + clean bonus - money - hours x hour cost.

    Exact, by HiGHS with a gap of 0, and worked out again in whole cents. Among choices with the
    same net the one with the fewest repairs; among those the one that holds the earliest name in
    which they differ. The first is asked for by a preference that sums to less than half a cent,
    and a second solve then looks for any other choice that is as good.

    Parameters
    ----------
    selection : what there is to choose from.

    Returns
    -------
    The choice; if the rules and limits allow none, an empty one whose `problem` says why.

    Raises
    ------
    ValueError
        A name is unknown or twice there, or a number cannot be.

    Examples
    --------
    The California Manufacturing problem (Hillier and Lieberman, Introduction to Operations
    Research, section 11.1): new factories in two cities, a warehouse only with its factory and
    one at most.

    >>> cities = (
    ...     Item("factory in LA", gain=15, money=6, hours=0),
    ...     Item("factory in SF", gain=8, money=3, hours=0),
    ...     Item("warehouse in LA", gain=11, money=5, hours=0, requires=("factory in LA",)),
    ...     Item("warehouse in SF", gain=6, money=2, hours=0, requires=("factory in SF",)),
    ... )
    >>> both = (("warehouse in LA", "warehouse in SF"),)
    >>> best = choose(Selection(cities, at_most_one=both, money_limit=10))
    >>> sorted(best.chosen), best.net
    (['factory in LA', 'factory in SF'], 14.0)
    """
    counted = Counted.of(selection)
    if problem := counted.impossible(counted.caps):
        return _none(problem)
    program = Program.of(counted)
    best = program.best(counted.caps, program.fewest)
    return program.first_of_equals(best, counted.caps).choice


def net_of(selection: Selection, chosen: frozenset[str]) -> Choice:
    """Return what a given choice comes to, with the cheapest access that keeps the limits.

    Parameters
    ----------
    selection : what there is to choose from.
    chosen : names of repairs; where they break a rule or limit, `problem` says which.

    Raises
    ------
    ValueError
        A name is unknown or twice there, or a number cannot be.
    """
    counted = Counted.of(selection)
    if unknown := sorted(chosen - set(counted.names)):
        raise ValueError(f"chosen: {', '.join(unknown)} is not known")
    places = frozenset(at for at, name in enumerate(counted.names) if name in chosen)
    return counted.choice(places, counted.caps)


def enumerate_all(selection: Selection) -> Choice:
    """Return what `choose` returns, by trying every choice with every set of access groups.

    Shares no search with `choose` and serves as the check on it.

    Parameters
    ----------
    selection : of at most 16 repairs and 12 access groups.

    Raises
    ------
    ValueError
        There are more; or a name is unknown or twice there, or a number cannot be.
    """
    counted = Counted.of(selection)
    count, groups = len(counted.names), len(counted.groups)
    if count > MOST_ENUMERATED or groups > MOST_GROUPS:
        raise ValueError(
            f"{count} repairs and {groups} access groups are too many to try every choice; "
            f"{MOST_ENUMERATED} and {MOST_GROUPS} are the most"
        )
    # The first name is the highest bit, so that of two choices of equal number the higher mask
    # holds the earliest name in which they differ.
    masks = np.arange(2**count)
    bits = (masks[:, None] >> np.arange(count - 1, -1, -1)) & 1 == 1
    lawful = np.array([not counted.broken(frozenset(np.flatnonzero(row))) for row in bits])
    masks, bits = masks[lawful], bits[lawful]
    clean = bits[:, sorted(counted.clean)].all(axis=1)
    net = bits @ np.array(counted.worth, dtype=np.int64) + counted.bonus * clean
    money = bits @ np.array(counted.money, dtype=np.int64)
    hours = bits @ np.array(counted.hours, dtype=float)
    chosen = bits.sum(axis=1)
    best: tuple[tuple[int, int, int], Places, tuple[int, ...]] | None = None
    for size in range(groups + 1):
        for paid in combinations(range(groups), size):
            served = frozenset().union(*(counted.serves[at] for at in paid))
            unserved = [at for at in range(count) if not counted.needs[at] <= served]
            cents, more = counted.spent((), paid)
            fits = ~bits[:, unserved].any(axis=1) & (money + cents <= counted.caps.cents)
            fits &= hours + more <= counted.caps.hours + HOURS_SLACK
            if not fits.any():
                continue
            after = net[fits] - sum(counted.group_cost[at] for at in paid)
            at = int(np.lexsort((masks[fits], -chosen[fits], after))[-1])
            key = (int(after[at]), -int(chosen[fits][at]), int(masks[fits][at]))
            if best is None or key > best[0]:
                best = (key, frozenset(np.flatnonzero(bits[fits][at]).tolist()), paid)
    if best is None:
        return _none("no choice keeps every rule and limit")
    return counted.with_groups(best[1], frozenset(best[2]))


def frontier(
    selection: Selection,
    by: Literal["money", "hours"] = "money",
    points: int = MOST_POINTS,
    best: Choice | None = None,
) -> Frontier:
    """Return the choices of which none takes less and brings as much as another.

    Each is the best choice under a limit on what it takes: first about evenly between the least
    and the most that is worth taking, then just below each one found, until the gaps are shown
    to be empty. If there are more than `points`, the even ones are given and `capped` is set.
    Choices in hours less than 0.0001 apart are one point; of those that take and bring the same,
    the solver's first is given, which is always the same one.

    Parameters
    ----------
    selection : what there is to choose from; its own limits hold throughout.
    by : what is spent, money or own hours, access included.
    points : most choices given, at least 2.
    best : what `choose` returned for this selection, if it was asked: spares looking for it again.

    Raises
    ------
    ValueError
        `points` is under 2; or a name is unknown or twice there, or a number cannot be.
    """
    if points < 2:  # noqa: PLR2004
        raise ValueError("a frontier has at least 2 points")
    counted = Counted.of(selection)
    if problem := counted.impossible(counted.caps):
        return Frontier((), by, problem=problem)
    top = None
    if best is not None and best.proven:
        top = frozenset(at for at, name in enumerate(counted.names) if name in best.chosen)
    found, capped = Walk.of(counted, by).points(points, top)
    return Frontier(found, by, capped)


def _none(problem: str) -> Choice:
    return Choice(frozenset(), frozenset(), 0.0, 0.0, 0.0, 0.0, problem=problem)
