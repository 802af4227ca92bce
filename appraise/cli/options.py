"""What several commands ask for, and how it is read."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from appraise.errors import AppraiseError, CaseNotFound

if TYPE_CHECKING:
    from appraise.models.case import Case
    from appraise.reference.load import Reference
    from appraise.store.cases import SaleRecord

__all__ = [
    "CaseArgument",
    "DayOption",
    "JsonOption",
    "OwnOption",
    "case_and_sales",
    "day_of",
    "echo_figures",
    "open_case",
    "reference_of",
]

EARLIEST, LATEST = date(1900, 1, 1), date(2199, 12, 31)

CaseArgument = Annotated[
    str, typer.Argument(metavar="CASE", help="A case file (JSON), an example, or a saved car.")
]
OwnOption = Annotated[
    Path | None,
    typer.Option(
        "--own-values", help="A TOML file of your own values, used over the shipped ones."
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="One JSON object instead of a page.")]
DayOption = Annotated[
    str | None,
    typer.Option("--on", metavar="YYYY-MM-DD", help="Day the figures are for; today if left out."),
]


def open_case(name: str) -> Case:
    """Return the case in a file, the example, or the car that is kept, of that name.

    The database is opened only if it is neither of the first two.
    """
    return case_and_sales(name)[0]


def case_and_sales(name: str) -> tuple[Case, tuple[SaleRecord, ...]]:
    """Return a case as `open_case` does, and for a car that is kept the cars offered or sold."""
    from appraise.services import load_case_file  # noqa: PLC0415

    try:
        return load_case_file(name), ()
    except CaseNotFound:
        from appraise.services.records.kept import kept_car, kept_sales  # noqa: PLC0415
        from appraise.settings import Settings  # noqa: PLC0415

        found = kept_car(Settings(), name)
        if found is None:
            raise
        return found, kept_sales(Settings())


def echo_figures(page: str) -> None:
    """Print a page that gives figures, with the small print below it."""
    from appraise.reports.wording import ESTIMATE  # noqa: PLC0415

    typer.echo(f"{page}\n\n{ESTIMATE}")


def reference_of(given: Path | None) -> Reference:
    """Return the catalog with the own values in the file that was named, else those kept, over it.

    The database is opened only if there is one.
    """
    from appraise import services  # noqa: PLC0415
    from appraise.settings import Settings  # noqa: PLC0415

    if given is not None:
        if os.path.isdir(given):  # noqa: PTH112 - answers False for names that are too long
            raise AppraiseError("is a folder, not a file", where=str(given))
        if not os.path.isfile(given):  # noqa: PTH113 - the same
            raise AppraiseError("there is no such file", where=str(given))
        return services.reference_values(given)
    settings = Settings()
    if not settings.has_database:
        return services.reference_values()
    from appraise.reference.load import check_own_values  # noqa: PLC0415
    from appraise.services.records.own_values import kept_own_text  # noqa: PLC0415

    return check_own_values(kept_own_text(settings))


def day_of(given: str | None) -> date | None:
    """Return the day that was named, or None for today."""
    if given is None:
        return None
    try:
        day = date.fromisoformat(given)
    except ValueError:
        day = None
    if day is None or str(day) != given:
        raise AppraiseError(f"{given!r} must be a day, such as 2026-03-31", where="--on")
    if not EARLIEST <= day <= LATEST:
        raise AppraiseError(f"{given} should lie between {EARLIEST} and {LATEST}", where="--on")
    return day
