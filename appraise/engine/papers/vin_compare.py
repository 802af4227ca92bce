"""Two vehicle identification numbers as two papers have them: the same car or not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from appraise.engine.papers.vin import FIELD, LOOK_AGAIN, read_vin
from appraise.engine.papers.vin_parts import LENGTH, NEVER, VALUES, Vin, alike
from appraise.errors import Problem

__all__ = ["Comparison", "Difference", "compare"]

CHECK: Final = 9
"""Position of the check digit, which counts for nothing in itself."""
MOST_NAMED: Final = 5

Result = Literal[
    "same",
    "same if misread",
    "one differs",
    "neighbors swapped",
    "one left out",
    "several differ",
    "cannot tell",
]


@dataclass(frozen=True, slots=True)
class Difference:
    """A position at which two numbers differ.

    Attributes
    ----------
    same_value : the check digit cannot see this difference.
    lookalike : the two are easily taken for each other.
    """

    position: int
    first: str
    second: str
    same_value: bool
    lookalike: bool


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two numbers as written, side by side.

    Attributes
    ----------
    result : `same if misread` if they differ only in I, O, Q, which no number holds.
    problems : what the difference means and what to do; none if they are the same.
    """

    first: Vin
    second: Vin
    result: Result
    differences: tuple[Difference, ...] = ()
    problems: tuple[Problem, ...] = ()


def compare(first: str, second: str) -> Comparison:
    """Return whether two numbers as written name the same car, and what sets them apart.

    Parameters
    ----------
    first, second : as they stand on two papers, or on a paper and the car.

    Examples
    --------
    >>> compare("1G4AH59H45G118341", "1G4AH59H45GI18341").result
    'same if misread'
    """
    one, two = read_vin(first), read_vin(second)
    result, differences = _apart(one.text, two.text)
    if result == "same":
        return Comparison(one, two, result)
    problem = _meaning(one, two, result, differences)
    return Comparison(one, two, result, differences, (problem,))


def _apart(one: str, two: str) -> tuple[Result, tuple[Difference, ...]]:
    if not one or not two:
        return "cannot tell", ()
    if one == two:
        return "same", ()
    if len(one) != len(two):
        return ("one left out" if _left_out(one, two) else "several differ"), ()
    differences = tuple(
        Difference(at, left, right, at != CHECK and _same_value(left, right), alike(left, right))
        for at, (left, right) in enumerate(zip(one, two, strict=True), 1)
        if left != right
    )
    real = tuple(d for d in differences if len(one) != LENGTH or not _misread(d))
    if not real:
        return "same if misread", differences
    if len(real) == 1:
        return "one differs", differences
    return ("neighbors swapped" if _crossed(real) else "several differ"), differences


def _misread(one: Difference) -> bool:
    return NEVER.get(one.first, one.first) == NEVER.get(one.second, one.second)


def _crossed(differences: tuple[Difference, ...]) -> bool:
    left, right = differences[:2]
    return (
        len(differences) == len((left, right))
        and right.position == left.position + 1
        and (left.first, right.first) == (right.second, left.second)
    )


def _same_value(left: str, right: str) -> bool:
    values = [VALUES.get(NEVER.get(one, one)) for one in (left, right)]
    return values[0] is not None and values[0] == values[1]


def _left_out(one: str, two: str) -> int:
    """Return the position of the one character that the shorter has not, or 0."""
    long, short = (one, two) if len(one) > len(two) else (two, one)
    at = next(
        (at for at, (a, b) in enumerate(zip(long, short, strict=False)) if a != b), len(short)
    )
    return at + 1 if long[:at] + long[at + 1 :] == short else 0


def _meaning(one: Vin, two: Vin, result: Result, differences: tuple[Difference, ...]) -> Problem:
    where = ", ".join(
        f"{d.first} against {d.second} at position {d.position}"
        f"{' (easily taken for each other)' if d.lookalike else ''}"
        for d in differences[:MOST_NAMED]
    )
    if len(differences) > MOST_NAMED:
        where += f", and {len(differences) - MOST_NAMED} more"
    if result == "cannot tell":
        which = "neither" if one.text == two.text else "the second" if one.text else "the first"
        amiss = "number is written" if which == "neither" else "number is not written"
        return Problem(FIELD, f"{which} {amiss}: there is nothing to compare", "stop", "Read both.")
    if result == "same if misread":
        message = f"{where}: the same, as I, O and Q never stand in a number (49 CFR 565.13(g))"
        return Problem(
            FIELD, message, "note", "Have the paper written right before you rely on it."
        )
    if result == "one left out":
        longer = one.text if len(one.text) > len(two.text) else two.text
        at = _left_out(one.text, two.text)
        message = f"one lacks {longer[at - 1]} at position {at} and is otherwise the same"
        return Problem(FIELD, message, "warning", f"{LOOK_AGAIN}, and count {LENGTH} characters.")
    hint = f"{LOOK_AGAIN}, and have the wrong paper put right before you buy"
    if result == "several differ":
        message = (
            f"they differ at {len(differences)} positions: {where}"
            if differences
            else f"one has {len(one.text)} characters, the other {len(two.text)}"
        )
        message += "; more than a slip of the pen, so the papers may speak of two cars"
        return Problem(FIELD, message, "warning", f"{hint}; until then that paper proves nothing.")
    swapped = "two neighbors are swapped, " if result == "neighbors swapped" else ""
    return Problem(
        FIELD, f"{swapped}{where}; {_judged(one, two, differences)}", "warning", f"{hint}."
    )


def _judged(one: Vin, two: Vin, differences: tuple[Difference, ...]) -> str:
    """Return which of two numbers the check digit speaks for."""
    if one.check is None or two.check is None:
        return "there is no check digit to tell which is right"
    if all(d.same_value for d in differences):
        return "the values are the same, so the check digit cannot tell which is right"
    holds = (one.check.holds, two.check.holds)
    if holds[0] == holds[1]:
        return "the check digit fits neither" if not holds[0] else "the check digit fits both"
    return f"the check digit fits the {'first' if holds[0] else 'second'} only (49 CFR 565.15(c))"
