"""Small integer programmes over yes-or-no variables, solved exactly by HiGHS through SciPy."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from appraise.engine.decide.solver_output import off_standard_output

__all__ = ["MOST_NODES", "Answer", "Rows", "another_than", "least_cover", "search", "solve"]

Floats = NDArray[np.float64]

MOST_NODES = 200_000
"""Branches after which the search gives up the proof: counted, not timed, so that every machine
gives the same answer."""

OPTIMAL, INFEASIBLE = 0, 2
HALF = 0.5


@dataclass(frozen=True, slots=True)
class Rows:
    """Conditions ``matrix @ x <= most``.

    Attributes
    ----------
    matrix : (rows, variables).
    most : (rows,), infinite where there is no limit.
    """

    matrix: Floats
    most: Floats

    def and_also(self, rows: Sequence[tuple[Floats, float]]) -> Rows:
        """Return these conditions and some more."""
        if not rows:
            return self
        matrix = np.vstack([self.matrix, *(row for row, _ in rows)])
        return Rows(matrix, np.concatenate([self.most, [most for _, most in rows]]))


@dataclass(frozen=True, slots=True)
class Answer:
    """What the solver found.

    Attributes
    ----------
    yes : (variables,) which are 1, or None if nothing was found.
    proven : that it is the best, or that there is nothing.
    """

    yes: NDArray[np.bool_] | None
    proven: bool


def solve(aim: Floats, rows: Rows, low: Floats, high: Floats) -> Answer:
    """Return the x of 0 and 1 with the most of ``aim @ x``.

    HiGHS by branch and cut with a relative gap of 0; its own absolute gap is 1e-6 of the aim.

    Parameters
    ----------
    aim : (variables,) what each adds.
    rows : what has to hold.
    low, high : (variables,) bounds, 0 or 1.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415

    told = rows.matrix.any(axis=1)
    if np.any(rows.most[~told] < 0):
        return Answer(None, proven=True)
    binding = told & (rows.most < inf)
    scale = np.abs(rows.matrix[binding]).max(axis=1)
    with off_standard_output():
        found = milp(
            -aim,
            constraints=LinearConstraint(
                rows.matrix[binding] / scale[:, None], -inf, rows.most[binding] / scale
            ),
            integrality=np.ones(len(aim)),
            bounds=Bounds(low, high),
            # Programmes this small are solved a third faster without presolve.
            options={"mip_rel_gap": 0.0, "node_limit": MOST_NODES, "presolve": False},
        )
    yes = None if found.x is None else found.x > HALF
    return Answer(yes, found.status in {OPTIMAL, INFEASIBLE})


def search(
    aim: Floats,
    rows: Rows,
    low: Floats,
    high: Floats,
    accept: Callable[[NDArray[np.bool_]], bool],
    columns: slice = slice(None),
) -> Answer:
    """Return the best x that is accepted.

    The solver keeps conditions within a tolerance, for numbers that are 0 or 1 within a tolerance:
    what it finds is judged once rounded, and if refused, forbidden, and the search goes on.

    Parameters
    ----------
    aim, rows, low, high : as in `solve`.
    accept : judges which variables are 1.
    columns : the variables that tell one answer from another.
    """
    cuts: list[tuple[Floats, float]] = []
    proven = True
    while True:
        answer = solve(aim, rows.and_also(cuts), low, high)
        proven = proven and answer.proven
        if answer.yes is None or accept(answer.yes):
            return Answer(answer.yes, proven)
        cuts.append(another_than(answer.yes, columns))


def another_than(yes: NDArray[np.bool_], columns: slice = slice(None)) -> tuple[Floats, float]:
    """Return the condition that some variable of `columns` is not as in `yes`."""
    row = np.zeros(len(yes))
    row[columns] = np.where(yes[columns], 1.0, -1.0)
    return row, float(yes[columns].sum() - 1)


def least_cover(
    serves: Sequence[frozenset[int]],
    needed: Sequence[int],
    aim: Sequence[float],
    limits: Sequence[tuple[Sequence[float], float]],
    accept: Callable[[frozenset[int]], bool],
) -> frozenset[int] | None:
    """Return the groups with the least of `aim` that serve all that is needed, or None.

    Parameters
    ----------
    serves : of each group, the groups that it serves.
    needed : groups to be served.
    aim : (groups,) what is to be little.
    limits : amounts (groups,) and the most that they may sum to.
    accept : judges what keeps the limits within the solver's tolerance.
    """
    groups = len(serves)
    matrix = np.zeros((len(needed) + len(limits), groups))
    for row, group in enumerate(needed):
        matrix[row, [at for at in range(groups) if group in serves[at]]] = -1
    for row, (amounts, _) in enumerate(limits, len(needed)):
        matrix[row] = amounts
    most = np.array([-1.0] * len(needed) + [limit for _, limit in limits])
    answer = search(
        -np.array(aim, dtype=float),
        Rows(matrix, most),
        np.zeros(groups),
        np.ones(groups),
        lambda yes: accept(_places(yes)),
    )
    return None if answer.yes is None else _places(answer.yes)


def _places(yes: NDArray[np.bool_]) -> frozenset[int]:
    return frozenset(np.flatnonzero(yes).tolist())
