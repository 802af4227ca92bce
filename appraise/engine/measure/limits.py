"""A measurement held against a limit: passes, fails, or nobody can tell.

Everything is in `Decimal`, so that a reading on the limit is on the limit. How one unit becomes
another is handed in: the engine knows no table of units.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise
from typing import Literal

from appraise.reference.schema import ByQuantity, Kind, Limit

__all__ = ["Convert", "Verdict", "verdict"]

Result = Literal["passes", "fails", "cannot tell"]
Convert = Callable[[Decimal, str, str], Decimal]
"""From a value, its unit and another unit to the value in that unit."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a reading says about a limit.

    Attributes
    ----------
    why : one sentence with the figures compared.
    kind : how good the ground under the limit is.
    """

    result: Result
    why: str
    limit_id: str
    jurisdiction: str
    kind: Kind


@dataclass(frozen=True, slots=True)
class Bounds:
    """Good bounds in `unit`, bad ones in the limit's own, and what is to be said of them.

    Attributes
    ----------
    closed : whether there is nothing between good and bad.
    """

    good_at_least: Decimal | None
    good_at_most: Decimal | None
    bad_below: Decimal | None
    bad_above: Decimal | None
    unit: str
    said: str = ""
    closed: bool = False


def verdict(
    limit: Limit,
    value: Decimal | bool | None,  # noqa: FBT001 - the answer to a question
    unit: str = "",
    by: Decimal | None = None,
    *,
    convert: Convert | None = None,
) -> Verdict:
    """Return whether a reading passes a limit, fails it, or leaves it open.

    It passes within the good bounds and fails beyond the bad ones. A limit of law has nothing
    between: a bound that it does not name as bad is the good one. A reading in a unit in which the
    source prints the limit too is held against the printed figure; any other is converted.

    Parameters
    ----------
    limit : a number with bounds, or a question.
    value : the reading; for a question whether the answer is yes; None if not taken.
    unit : of the reading; empty for the limit's own.
    by : what the limit hangs on, in `limit.by.unit`; between two published points the limit is
        read by a straight line, below the first it is the first's, above the last it is not known.
    convert : needed for a reading in a unit other than the limit's and the printed ones.

    Raises
    ------
    TypeError
        A number for a question or the other way round.
    ValueError
        A value that is no number, or a unit that cannot be converted as `convert` is missing.
    """
    if value is None:
        return _say(limit, "cannot tell", "not measured")
    if limit.asks != "number":
        return _answer(limit, value)
    if isinstance(value, bool):
        raise TypeError(f"{limit.id}: asks for a number, not for yes or no")
    if value.is_nan():
        raise ValueError(f"{limit.id}: the reading is no number")
    unit = unit or limit.unit
    bounds = _bounds(limit, unit, by)
    if isinstance(bounds, str):
        return _say(limit, "cannot tell", bounds)
    reading = _converted(limit, value, unit, bounds.unit, convert)
    bounds = _closed(bounds) if limit.kind is Kind.LAW else bounds
    own = reading
    if bounds.unit != limit.unit and (bounds.bad_below, bounds.bad_above) != (None, None):
        own = _converted(limit, value, unit, limit.unit, convert)
    result = _result(bounds, reading, own)
    shown = f"{_number(value)} {unit}".strip()
    if bounds.unit != unit:
        shown += f" = {_number(reading)} {bounds.unit}"
    return _say(limit, result, f"{shown}; {_range(bounds, result)}{bounds.said}")


def _say(limit: Limit, result: Result, why: str) -> Verdict:
    return Verdict(result, why, limit.id, limit.jurisdiction, limit.kind)


def _answer(limit: Limit, value: Decimal | bool) -> Verdict:  # noqa: FBT001 - the answer itself
    if not isinstance(value, bool):
        raise TypeError(f"{limit.id}: asks for yes or no, not for a number")
    answer = "yes" if value else "no"
    result: Result = "passes" if answer == limit.asks else "fails"
    return _say(limit, result, f"answered {answer}; {limit.asks} passes")


def _bounds(limit: Limit, unit: str, by: Decimal | None) -> Bounds | str:
    """Return the bounds that a reading is held against, or why there are none."""
    most, said = limit.good_at_most, ""
    if limit.by is not None:
        if by is None:
            return f"depends on {limit.by.label.lower()}, which is not given"
        if not by.is_finite():
            raise ValueError(f"{limit.id}: {limit.by.label.lower()} is no number")
        found = _height(limit.by, by)
        if found is None:
            last = limit.by.points[-1][0]
            return f"no figure is published above {_number(last)} {limit.by.unit}"
        most, said = found
    else:
        for printed in limit.printed:
            whole = (printed.good_at_least is None, printed.good_at_most is None) == (
                limit.good_at_least is None,
                limit.good_at_most is None,
            )
            if printed.unit == unit != limit.unit and whole:
                return Bounds(
                    printed.good_at_least,
                    printed.good_at_most,
                    limit.bad_below,
                    limit.bad_above,
                    unit,
                    " as the source prints it",
                )
    return Bounds(limit.good_at_least, most, limit.bad_below, limit.bad_above, limit.unit, said)


def _height(by: ByQuantity, at: Decimal) -> tuple[Decimal, str] | None:
    """Return the limit at a quantity and how it came about, or None above the last point."""
    first, last = by.points[0], by.points[-1]
    if at > last[0]:
        return None
    where = f" for {by.label.lower()} {_number(at)} {by.unit}"
    if at < first[0]:
        return first[1], f"{where}, the figure published for {_number(first[0])} {by.unit}"
    for left, right in pairwise(by.points):
        if at in (left[0], right[0]):
            return (left if at == left[0] else right)[1], where
        if left[0] < at < right[0]:
            height = left[1] + (right[1] - left[1]) * (at - left[0]) / (right[0] - left[0])
            sizes = f"{_number(left[0])} and {_number(right[0])} {by.unit}"
            return height, f"{where}, by a straight line between the published {sizes}"
    return first[1], where


def _converted(
    limit: Limit, value: Decimal, unit: str, to: str, convert: Convert | None
) -> Decimal:
    if unit == to or value.is_infinite():
        return value
    if convert is None:
        raise ValueError(f"{limit.id}: a reading in {unit} needs a way to convert it to {to}")
    return convert(value, unit, to)


def _closed(bounds: Bounds) -> Bounds:
    """Return bounds of law: beyond a good bound is bad, whatever else is written."""
    return replace(
        bounds,
        bad_below=None if bounds.good_at_least is not None else bounds.bad_below,
        bad_above=None if bounds.good_at_most is not None else bounds.bad_above,
        closed=True,
    )


def _result(bounds: Bounds, reading: Decimal, own: Decimal) -> Result:
    """Return the result: `reading` against the good bounds, `own` against the bad ones."""
    good = (bounds.good_at_least is None or reading >= bounds.good_at_least) and (
        bounds.good_at_most is None or reading <= bounds.good_at_most
    )
    bad = (bounds.bad_below is not None and own < bounds.bad_below) or (
        bounds.bad_above is not None and own > bounds.bad_above
    )
    if bad or (bounds.closed and not good):
        return "fails"
    return "passes" if good else "cannot tell"


def _range(bounds: Bounds, result: Result) -> str:
    least, most, unit = bounds.good_at_least, bounds.good_at_most, bounds.unit
    if least is not None and most is not None:
        good = f"{_number(least)} to {_number(most)} {unit} passes"
    elif least is not None:
        good = f"at least {_number(least)} {unit} passes"
    elif most is not None:
        good = f"at most {_number(most)} {unit} passes"
    else:
        good = "no bound for good is given"
    if result == "cannot tell":
        return f"{good}, and it is not far enough off to fail"
    return good


def _number(value: Decimal) -> str:
    """Return a number without trailing zeros, at most 6 digits behind the point."""
    if value.is_infinite():
        return "without end"
    short = round(value, 6)
    text = f"{short:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
