"""The command that writes a car's tables as a spreadsheet."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from appraise.cli.options import (
    CaseArgument,
    DayOption,
    OwnOption,
    case_and_sales,
    day_of,
    reference_of,
)

__all__ = ["tables"]

tables = typer.Typer()


@tables.command("tables")
def write_tables(
    case: CaseArgument,
    file: Annotated[Path, typer.Argument(metavar="FILE.xlsx", help="Where they are written.")],
    only: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="This table alone; may be given several times."),
    ] = None,
    own_values: OwnOption = None,
    on: DayOption = None,
    *,
    force: Annotated[bool, typer.Option("--force", help="Write over a file there.")] = False,
) -> None:
    """Write everything that is known of a car as tables of a spreadsheet (xlsx)."""
    from appraise.services.output import tables as service  # noqa: PLC0415
    from appraise.services.output.printing import free_place  # noqa: PLC0415

    free_place(file, ".xlsx", "the file", force=force)
    loaded, sales = case_and_sales(case)
    reference = reference_of(own_values)
    day = day_of(on)
    written = service.write_tables(loaded, reference, file, only or (), day, sales, force=force)
    for words in written:
        typer.echo(words)
