"""Which faults are behind a group of signs: noisy-OR, by which signs are already explained.

Every fault is there or not, and each that is there shows a sign of its own with a chance of its
own; something else may show the sign too. A group is signs that share faults. Given how well the
car was kept, its faults are independent before the signs are seen.

Forward, a table over the sets of signs already explained takes one fault after the other; its last
entry is the chance of all the signs. Backward, the same table gives each fault's chance, and draws
sets of faults. There are only sums of positive terms, so nothing cancels.

References
----------
pearl-1988
heckerman-1989
carter-kohn-1994
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["MOST_SIGNS", "Behind", "Drawn", "Group", "explain", "fired", "forward"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Places = NDArray[np.intp]
Shown = NDArray[np.int32]
Steps = tuple[tuple[Floats, ...], ...]

MOST_SIGNS = 14
"""Of a group that is worked out exactly: its table has ``2 ** signs`` entries."""


@dataclass(frozen=True, slots=True)
class Group:
    """Signs that were seen, and the faults that may be behind them.

    Attributes
    ----------
    names : (faults,) each fault's name, for its draws.
    chances : (care, faults) chance of each fault before anything was seen.
    weights : (faults,) how many times likelier all else that was seen of a fault is if it is there.
    links : for each fault (sign, chance that it shows it), each sign once.
    leaks : (signs,) chance that something else shows the sign.
    """

    names: tuple[str, ...]
    chances: Floats
    weights: Floats
    links: tuple[tuple[tuple[int, float], ...], ...]
    leaks: Floats


@dataclass(frozen=True, slots=True)
class Behind:
    """What the signs say of a group's faults.

    Attributes
    ----------
    evidence : (care,) chance of all that was seen, up to one factor for all of them.
    chances : (care, faults) chance of each fault now.
    silent : (care, faults) chance that it is there and shows none of the signs.
    steps : the tables of `forward`.
    error : of the chances: none.
    """

    group: Group
    evidence: Floats
    chances: Floats
    silent: Floats
    steps: Steps
    error: float = 0.0

    def draw(self, care: Places, uniform: Callable[[str], Floats]) -> Drawn:
        """Return sets of faults; see `fired`."""
        there, shown, otherwise = fired(self.group, self.steps, care, uniform)
        return Drawn(there, shown != 0, otherwise)


def _shown(table: Floats, sign: int, chance: float) -> Floats:
    """Let a fault that is there show a sign: (care, sets)."""
    out = table.reshape(len(table), -1, 2, 1 << sign).copy()
    out[:, :, 1] += chance * out[:, :, 0]
    out[:, :, 0] *= 1 - chance
    return out.reshape(table.shape)


def _looking_back(table: Floats, sign: int, chance: float) -> Floats:
    """Return the transpose of `_shown` at a table that looks back from the end."""
    out = table.reshape(len(table), -1, 2, 1 << sign).copy()
    out[:, :, 0] *= 1 - chance
    out[:, :, 0] += chance * out[:, :, 1]
    return out.reshape(table.shape)


def forward(group: Group) -> tuple[Floats, Steps]:
    """Return the chance of each set of signs explained, (care, sets), and the way there.

    For each fault the tables before it and after each of its links, as if it were there.
    """
    table = np.ones((len(group.chances), 1))
    for leak in group.leaks:
        table = np.concatenate([table * (1 - leak), table * leak], axis=1)
    steps = []
    for fault, links in enumerate(group.links):
        after = [table]
        for sign, chance in links:
            after.append(_shown(after[-1], sign, chance))
        steps.append(tuple(after))
        there = group.chances[:, fault, None] * group.weights[fault]
        table = (1 - group.chances[:, fault, None]) * table + there * after[-1]
    return table, tuple(steps)


def explain(group: Group) -> Behind:
    """Return the chance of all signs of a group, and of each fault behind them: exact.

    ``P(signs, faults) = prod over signs of (1 - (1 - leak) prod over faults of (1 - q))
    times prod of chances and weights``, summed over all sets of faults.

    References
    ----------
    pearl-1988
    heckerman-1989

    Examples
    --------
    Fever in one who has a cold, the flu or malaria for certain, and two or all three of them;
    their inhibitions are .6, .2 and .1 (Russell and Norvig):

    >>> links = (((0, 0.4),), ((0, 0.8),), ((0, 0.9),))
    >>> names = ("cold", "flu", "malaria")
    >>> for there in ([1, 1, 0], [1, 0, 1], [0, 1, 1], [1, 1, 1]):
    ...     has = np.array([there], dtype=float)
    ...     found = explain(Group(names, has, np.ones(3), links, np.zeros(1)))
    ...     print(found.evidence.round(3))
    [0.88]
    [0.94]
    [0.98]
    [0.988]
    """
    care, faults = group.chances.shape
    table, steps = forward(group)
    there = group.chances * group.weights
    missing = 1 - group.chances
    evidence = table[:, -1].copy()
    back = np.zeros_like(table)
    back[:, -1] = 1.0
    chances, silent = np.empty((care, faults)), np.empty((care, faults))
    for fault in range(faults - 1, -1, -1):
        ahead, before = back, steps[fault][0]
        for sign, chance in reversed(group.links[fault]):
            ahead = _looking_back(ahead, sign, chance)
        quiet = float(np.prod([1 - chance for _, chance in group.links[fault]]))
        chances[:, fault] = there[:, fault] * np.einsum("cs,cs->c", before, ahead)
        silent[:, fault] = there[:, fault] * np.einsum("cs,cs->c", before, back) * quiet
        back = missing[:, fault, None] * back + there[:, fault, None] * ahead
    with np.errstate(invalid="ignore", divide="ignore"):
        return Behind(
            group, evidence, chances / evidence[:, None], silent / evidence[:, None], steps
        )


@dataclass(frozen=True, slots=True)
class Drawn:
    """Sets of faults in draws.

    Attributes
    ----------
    there : (faults, draws) which faults the car has.
    shows : (faults, draws) those of them that show at least one of the signs.
    otherwise : (signs, draws) where something else shows the sign, alone or beside a fault.
    """

    there: Bools
    shows: Bools
    otherwise: Bools


def fired(
    group: Group, steps: Steps, care: Places, uniform: Callable[[str], Floats]
) -> tuple[Bools, Shown, Bools]:
    """Return sets of faults, each draw one from those that all that was seen allows.

    Parameters
    ----------
    steps : the tables of `forward`.
    care : (draws,) which of the states of care each draw has.
    uniform : gives (draws,) uniforms in [0, 1) by name: one for each fault, one for each link.

    Returns
    -------
    As in `Drawn`: which faults are there; the signs that each shows, sign s as ``2 ** s``; and
    where something else shows a sign.

    References
    ----------
    carter-kohn-1994
    """
    faults, signs = len(group.links), len(group.leaks)
    there = np.zeros((faults, len(care)), dtype=bool)
    shown = np.zeros((faults, len(care)), dtype=np.int32)
    state = np.full(len(care), (1 << signs) - 1)
    for fault in range(faults - 1, -1, -1):
        yes = (group.chances[:, fault] * group.weights[fault])[:, None] * steps[fault][-1]
        no = (1 - group.chances[:, fault])[:, None] * steps[fault][0]
        both = yes + no
        chance = np.divide(yes, both, out=np.zeros_like(yes), where=both > 0)
        name = group.names[fault]
        there[fault] = uniform(name) < chance[care, state]
        rows = np.flatnonzero(there[fault])
        if len(rows):
            where = (care[rows], state[rows], rows)
            state[rows], shown[fault, rows] = _undone(
                steps[fault], group.links[fault], where, name, uniform
            )
    places = np.arange(signs)[:, None]
    return there, shown, (state >> places & 1).astype(bool)


def _undone(
    steps: Sequence[Floats],
    links: tuple[tuple[int, float], ...],
    where: tuple[Places, Places, Places],
    name: str,
    uniform: Callable[[str], Floats],
) -> tuple[Places, Shown]:
    """Return what was explained before a fault showed its signs, and the signs that it shows.

    Parameters
    ----------
    where : (rows,) state of care, set of signs explained with the fault, and number of the draw.
    """
    care, at, rows = where
    shown = np.zeros(len(rows), dtype=np.int32)
    for place in range(len(links) - 1, -1, -1):
        sign, chance = links[place]
        bit = 1 << sign
        on = (at & bit) != 0
        without = np.where(on, chance * steps[place][care, at & ~bit], 0.0)
        already = steps[place][care, at]
        pick = uniform(f"{name}/shows/{sign}")[rows] * (without + np.where(on, already, 1.0))
        shown |= (on & (pick < without + chance * already)) * np.int32(bit)
        at = np.where(on & (pick < without), at & ~bit, at)
    return at, shown
