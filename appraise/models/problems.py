"""Pydantic's errors as problems with a field path and words for a person."""

from __future__ import annotations

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
    shown = repr(given) if isinstance(given, (str, int, float, bool)) else ""
    if len(shown) > 60:  # noqa: PLR2004
        shown = shown[:57] + "..."
    context = error.get("ctx", {})
    length = len(given) if isinstance(given, str) else context.get("actual_length", "too many")
    known = {
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


def problems_of(error: ValidationError) -> tuple[Problem, ...]:
    """Return one problem for each fault that Pydantic found, in its order."""
    return tuple(
        Problem(where=path_of(detail["loc"]), message=_words(detail), weight="stop")
        for detail in error.errors(include_url=False)
    )
