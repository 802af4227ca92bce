"""Commands for a car that is yours: the budget, the choice, what to buy, papers to print."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from appraise.cli.options import (
    CaseArgument,
    DayOption,
    JsonOption,
    OwnOption,
    case_and_sales,
    day_of,
    open_case,
    reference_of,
)
from appraise.errors import one_line, plain_json

__all__ = ["owned"]

owned = typer.Typer()


@owned.command()
def forecast(
    case: CaseArgument,
    own_values: OwnOption = None,
    on: DayOption = None,
    *,
    as_json: JsonOption = False,
) -> None:
    """Say where the budget of an owned car's repair stands, and where it will end."""
    from appraise.services.ownership.deciding import forecast_case  # noqa: PLC0415

    loaded = open_case(case)
    reference = reference_of(own_values)
    found = forecast_case(loaded, reference, day_of(on))
    if as_json:
        typer.echo(plain_json(found.model_dump_json(indent=2)))
    else:
        from appraise.reports.cautions import closing  # noqa: PLC0415
        from appraise.reports.forecast_page import forecast_page  # noqa: PLC0415

        typer.echo(forecast_page(loaded, found))
        typer.echo(closing(loaded, reference))


@owned.command()
def decide(
    case: CaseArgument,
    own_values: OwnOption = None,
    on: DayOption = None,
    *,
    as_json: JsonOption = False,
) -> None:
    """Weigh what to do with an owned car: sell as is, repair some or all, part out, keep."""
    from appraise.services.ownership.deciding import choose_case  # noqa: PLC0415

    loaded = open_case(case)
    reference = reference_of(own_values)
    found = choose_case(loaded, reference, day_of(on))
    if as_json:
        typer.echo(plain_json(found.model_dump_json(indent=2)))
    else:
        from appraise.reports.cautions import closing  # noqa: PLC0415
        from appraise.reports.choose_page import choose_page  # noqa: PLC0415

        typer.echo(choose_page(loaded, found))
        typer.echo(closing(loaded, reference))


@owned.command()
def parts(
    case: CaseArgument,
    own_values: OwnOption = None,
    on: DayOption = None,
    sheet: Annotated[
        Path | None, typer.Option(metavar="FILE.xlsx", help="Write a spreadsheet.")
    ] = None,
    paper: Annotated[
        Path | None, typer.Option(metavar="FILE.pdf", help="Write a paper to print.")
    ] = None,
    *,
    as_json: JsonOption = False,
    force: Annotated[bool, typer.Option("--force", help="Write over files there.")] = False,
) -> None:
    """List an owned car's parts to buy, cores to give back, and the work day by day."""
    from appraise.services.output import printing  # noqa: PLC0415

    loaded = open_case(case)
    reference = reference_of(own_values)
    lists = printing.parts_lists(loaded, reference, day_of(on))
    written = printing.write_parts(loaded, lists, sheet=sheet, paper=paper, force=force)
    if as_json:
        typer.echo(plain_json(printing.parts_json(loaded, lists)))
    elif written:
        for words in written:
            typer.echo(words)
    else:
        from appraise.reports.cautions import closing  # noqa: PLC0415
        from appraise.reports.parts_page import parts_page  # noqa: PLC0415

        typer.echo(parts_page(loaded, lists))
        typer.echo(closing(loaded, reference))


class SheetKind(StrEnum):
    """Papers to take along or to hand over."""

    BID = "bid"
    WORK = "work"
    HANDOVER = "handover"


@owned.command()
def sheet(
    kind: Annotated[
        SheetKind, typer.Argument(help="For the auction, the workshop or the next buyer.")
    ],
    case: CaseArgument,
    file: Annotated[Path, typer.Argument(metavar="FILE.pdf", help="Where it is written.")],
    own_values: OwnOption = None,
    on: DayOption = None,
    *,
    force: Annotated[bool, typer.Option("--force", help="Write over a file there.")] = False,
) -> None:
    """Write a paper (PDF): the bid sheet, the work sheet or the handover sheet."""
    from appraise.services.output import printing  # noqa: PLC0415

    printing.free_place(file, ".pdf", "the file", force=force)
    loaded, sales = case_and_sales(case)
    reference, day = reference_of(own_values), day_of(on)
    if kind is SheetKind.BID:
        paper = printing.bid_sheet(loaded, reference, day, sales)
    elif kind is SheetKind.WORK:
        paper = printing.work_sheet(loaded, reference, day)
    else:
        paper = printing.buyers_sheet(loaded, reference, day)
    printing.write_files({file: paper}, force=force)
    typer.echo(one_line(f"{file}: written"))
