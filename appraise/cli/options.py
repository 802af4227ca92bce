"""What several commands ask for, and how it is read."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from appraise.errors import AppraiseError

__all__ = ["CaseArgument", "DayOption", "JsonOption", "OwnOption", "day_of", "own_file"]

EARLIEST, LATEST = date(1900, 1, 1), date(2199, 12, 31)

CaseArgument = Annotated[
    str, typer.Argument(metavar="CASE", help="A case file (JSON), or the name of an example.")
]
OwnOption = Annotated[
    Path | None,
    typer.Option("--own-values", help="Your own file over the shipped reference values (TOML)."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="One JSON object instead of a page.")]
DayOption = Annotated[
    str | None, typer.Option("--on", metavar="YYYY-MM-DD", help="Day it is told for; today if not.")
]


def own_file(given: Path | None) -> Path | None:
    """Return the own file that was named, or the one in the data folder."""
    if given is not None:
        if os.path.isdir(given):  # noqa: PTH112 - answers False for names that are too long
            raise AppraiseError("is a folder, not a file", where=str(given))
        if not os.path.isfile(given):  # noqa: PTH113 - the same
            raise AppraiseError("there is no such file", where=str(given))
        return given
    from appraise.settings import Settings  # noqa: PLC0415

    return Settings().own_values


def day_of(given: str | None) -> date | None:
    """Return the day that was named, or None for today."""
    if given is None:
        return None
    try:
        day = date.fromisoformat(given)
    except ValueError:
        day = None
    if day is None or str(day) != given:
        raise AppraiseError(f"{given!r} should be a day, such as 2026-03-31", where="--on")
    if not EARLIEST <= day <= LATEST:
        raise AppraiseError(f"{given} should lie between {EARLIEST} and {LATEST}", where="--on")
    return day
