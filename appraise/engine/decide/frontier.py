"""The choices of which none takes less and brings as much as another."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from appraise.engine.decide.selection import CENTS, UNDER_HALF, Program
from appraise.engine.decide.selection_items import Choice, Frontier, Selection

__all__ = ["frontier"]

MOST_POINTS = 24
HOURS_STEP = 1e-4


def frontier(
    selection: Selection, by: Literal["money", "hours"] = "money", points: int = MOST_POINTS
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
    """
    if points < 2:  # noqa: PLR2004
        raise ValueError("a frontier has at least 2 points")
    program = Program(selection)
    money = by == "money"
    spends = program.money / CENTS if money else program.hours
    step = 1 / CENTS if money else HOURS_STEP
    # Among equals the one that takes least, then the one of fewest repairs and groups.
    few = program.repair + 1
    little = UNDER_HALF * (0.99 * spends / (spends.sum() or 1.0) + 0.01 * few / few.sum())

    def spent(one: Choice) -> float:
        return one.money if money else one.hours

    def best(limit: float) -> Choice | None:
        cents, hours = program.caps
        caps = (
            (min(cents, round(CENTS * limit, 6) // 1), hours)
            if money
            else (cents, min(hours, limit))
        )
        yes, proven = program.solve(program.net - little, caps)
        return None if yes is None else program.choice(yes, proven=proven)

    top = best(float("inf"))
    if top is None:
        return Frontier((), by, problem=program.least().problem)
    yes, _ = program.solve(-spends, program.caps)
    least = 0.0 if yes is None else spent(program.choice(yes))
    even, gaps = [top], []
    for number in range(points - 2, -1, -1):
        above = spent(even[-1]) - step
        limit = min(above, least + (spent(top) - least) * number / (points - 1))
        found = best(max(limit, least)) if above > least - step / 2 else None
        if found is None:
            break
        if limit < above:
            gaps.append((found, even[-1]))
        even.append(found)
    every = list(even)
    while gaps and len(every) <= points:
        low, high = gaps.pop()
        between = best(spent(high) - step)
        if between is not None and between.net > low.net:
            every.append(between)
            gaps.append((low, between))
    capped = len(every) > points
    return Frontier(_rising(even if capped else every, spent), by, capped)


def _rising(found: list[Choice], spent: Callable[[Choice], float]) -> tuple[Choice, ...]:
    """Return the choices by what they spend, without those that bring no more for it."""
    rising: list[Choice] = []
    for one in sorted(found, key=lambda one: (spent(one), -one.net)):
        if not rising or one.net > rising[-1].net:
            rising.append(one)
    return tuple(rising)
