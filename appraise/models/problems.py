"""Pydantic's errors as problems with a field path and words for a person."""

from __future__ import annotations

from decimal import Decimal

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from appraise.errors import Problem

__all__ = ["path_of", "problems_of"]


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
        "decimal_type": f"{shown or 'this'} should be a number",
        "decimal_parsing": f"{shown} should be a number",
        "string_too_short": "is empty",
        "too_short": "has no entry; it needs at least one",
        "date_from_datetime_inexact": f"{shown} should be a day, such as 2026-03-31",
        "date_from_datetime_parsing": f"{shown} should be a day, such as 2026-03-31",
        "string_type": f"{shown or 'this'} should be text",
        "model_type": "should be an object with its fields",
        "tuple_type": "should be a list",
        "int_type": f"{shown or 'this'} should be a whole number",
        "int_from_float": f"{shown} should be a whole number",
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
    message = error["msg"].removeprefix("Input should be ").removeprefix("Value error, ")
    if message == error["msg"]:
        return f"{shown}: {message}" if shown else message
    return f"{shown or 'this'} should be {message}"


def _form(field: str, shown: str) -> str:
    if field == "currency":
        return f"{shown} should be three capital letters (ISO 4217), such as USD"
    return f"{shown} should be lower-case letters, digits, dots, dashes and underscores only"


def problems_of(error: ValidationError) -> tuple[Problem, ...]:
    """Return one problem for each fault that Pydantic found, in its order."""
    return tuple(
        Problem(where=path_of(detail["loc"]), message=_words(detail), weight="stop")
        for detail in error.errors(include_url=False)
    )
