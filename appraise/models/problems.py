"""Pydantic's errors as problems with a field path and words for a person."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from appraise.errors import Problem

__all__ = ["path_of", "problems_of"]

BOUNDS = {
    "greater_than": ("gt", "more than {}", "after {}"),
    "greater_than_equal": ("ge", "{} or more", "{} or later"),
    "less_than": ("lt", "less than {}", "before {}"),
    "less_than_equal": ("le", "{} or less", "{} or earlier"),
}
"""Of each kind of bound: where Pydantic keeps it, and how it is said of a number and of a time."""
SHARES = {"chance", "confidence"}
"""Entered as percent on the screens, and as a share of 1 in a file."""


def path_of(location: tuple[int | str, ...]) -> str:
    """Return `('findings', 3, 'chance')` as `findings[3].chance`."""
    path = ""
    for part in location:
        if isinstance(part, int):
            path += f"[{part}]"
        else:
            path += f".{part}" if path else part
    return path


def _words(error: ErrorDetails) -> str:
    kind = error["type"]
    given = error.get("input")
    shown = str(given) if isinstance(given, Decimal) else ""
    if isinstance(given, (str, int, float, bool)):
        shown = repr(given)
    if len(shown) > 60:  # noqa: PLR2004
        shown = shown[:57] + "..."
    context = error.get("ctx", {})
    length = len(given) if isinstance(given, str) else context.get("actual_length", "too many")
    field = error["loc"][-1] if error["loc"] else ""
    known = {
        "string_pattern_mismatch": _form(str(field), shown),
        "decimal_max_digits": f"{shown} has too many digits",
        "decimal_max_places": f"{shown} is finer than a hundredth",
        "decimal_whole_digits": f"{shown} has too many digits",
        "decimal_type": f"{shown or 'this'} must be a number",
        "decimal_parsing": f"{shown} must be a number",
        "string_too_short": "is empty",
        "too_short": "has no entry; it needs at least one",
        "date_from_datetime_inexact": f"{shown} must be a day, such as 2026-03-31",
        "date_from_datetime_parsing": f"{shown} must be a day, such as 2026-03-31",
        "string_type": f"{shown or 'this'} must be text",
        "model_type": "must be an object with its fields",
        "tuple_type": "must be a list",
        "int_type": f"{shown or 'this'} must be a whole number",
        "int_from_float": f"{shown} must be a whole number",
        "string_unicode": "holds half a character",
        "missing": "is missing",
        "extra_forbidden": "is not a known field",
        "value_error": str(context.get("error", error["msg"])),
        "too_long": f"has {length} entries; it may hold {context.get('max_length')} at most",
        "string_too_long": f"is {length} characters long; {context.get('max_length')} at most",
        "finite_number": f"{shown} is not a finite number",
    }
    if kind in known:
        return known[kind]
    if kind in BOUNDS:
        return f"must be {_bound(kind, context, field)}{f', not {shown}' if shown else ''}"
    message = error["msg"].removeprefix("Input should be ").removeprefix("Value error, ")
    if message == error["msg"]:
        return f"{shown}: {message}" if shown else message
    return f"{shown or 'this'} must be {message}"


def _bound(kind: str, context: dict[str, Any], field: int | str) -> str:
    """Return a bound as a person says it: `1886 or later`, `0.1 (10 %) or more`."""
    where, of_number, of_time = BOUNDS[kind]
    limit = context[where]
    if isinstance(limit, str) or field == "model_year":
        return of_time.format(limit)
    return of_number.format(f"{limit:,}" + (f" ({limit * 100:.0f} %)" if field in SHARES else ""))


def _form(field: str, shown: str) -> str:
    if field == "currency":
        return f"{shown} must be three capital letters (ISO 4217), such as USD"
    return f"{shown} must be lower-case letters, digits, dots, dashes and underscores only"


def problems_of(error: ValidationError) -> tuple[Problem, ...]:
    """Return one problem for each fault that Pydantic found, in its order."""
    return tuple(
        Problem(where=path_of(detail["loc"]), message=_words(detail), weight="stop")
        for detail in error.errors(include_url=False)
    )
