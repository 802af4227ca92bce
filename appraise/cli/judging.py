"""Commands for a car before it is bought: the price, the papers, the number."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from appraise.cli.options import (
    CaseArgument,
    JsonOption,
    OwnOption,
    case_and_sales,
    echo_figures,
    open_case,
    reference_of,
)
from appraise.errors import one_line

__all__ = ["judging"]

judging = typer.Typer()


@judging.command()
def bid(case: CaseArgument, own_values: OwnOption = None, *, as_json: JsonOption = False) -> None:
    """Work out the highest price that still pays, with its risk."""
    from appraise import services  # noqa: PLC0415
    from appraise.services.output.telling import told_of  # noqa: PLC0415

    reference = reference_of(own_values)
    loaded, sales = case_and_sales(case)
    appraisal = services.appraise_case(loaded, reference)
    told = told_of(loaded, reference, appraisal, sales)
    if as_json:
        typer.echo(json.dumps(services.bid_summary(appraisal, told), indent=2))
    else:
        from appraise.reports.bid_page import bid_page  # noqa: PLC0415

        typer.echo(bid_page(loaded, appraisal, reference, told))


@judging.command()
def check(case: CaseArgument, own_values: OwnOption = None) -> None:
    """Check a case for mistakes, without appraising it."""
    from appraise import services  # noqa: PLC0415

    loaded = open_case(case)
    problems = services.check_text(loaded, reference_of(own_values))
    for problem in problems:
        typer.echo(one_line(f"{problem.weight}: {problem.where}: {problem.words}"))
    typer.echo(
        f"{one_line(loaded.title)}: {len(loaded.findings)} findings, "
        f"{len(loaded.market.comparables)} comparables, "
        f"{'nothing wrong' if not problems else f'{len(problems)} to know of'}"
    )


@judging.command()
def papers(case: CaseArgument, own_values: OwnOption = None) -> None:
    """Say what the papers of a car prove, and where they contradict each other."""
    from appraise.reports.papers_page import papers_page  # noqa: PLC0415
    from appraise.services.inspection.paperwork import examine  # noqa: PLC0415

    loaded = open_case(case)
    found = examine(loaded, reference_of(own_values))
    echo_figures(papers_page(loaded, found))


@judging.command()
def vin(
    number: Annotated[str, typer.Argument(metavar="VIN", help="As written on the car.")],
    model_year: Annotated[int | None, typer.Option(help="As the papers have it.")] = None,
    other: Annotated[
        str | None, typer.Option("--other", help="The number on a paper, to be compared.")
    ] = None,
) -> None:
    """Read a vehicle identification number: what it says, and what is wrong with it."""
    from appraise.engine.papers.vin import read_vin  # noqa: PLC0415
    from appraise.engine.papers.vin_compare import compare  # noqa: PLC0415
    from appraise.reports.vin_page import compare_page, vin_page  # noqa: PLC0415

    typer.echo(vin_page(read_vin(number, model_year)))
    if other is not None:
        typer.echo("")
        typer.echo(compare_page(compare(number, other)))


@judging.command()
def jobs(
    words: Annotated[
        list[str] | None, typer.Argument(metavar="[SEARCH]", help="Words that must all occur.")
    ] = None,
    price_class: Annotated[
        str, typer.Option("--class", help="Price class of the car the figures are for.")
    ] = "mid_size",
    own_values: OwnOption = None,
) -> None:
    """List repair jobs with their hours, parts and what stands behind them."""
    from appraise import services  # noqa: PLC0415
    from appraise.reports.job_list import job_list  # noqa: PLC0415

    reference = reference_of(own_values)
    found = services.find_jobs(words or [], reference)
    if not found:
        typer.echo(one_line(f"no job has all of: {' '.join(words or [])}"), err=True)
        raise typer.Exit(1)
    echo_figures(job_list(found, reference, price_class))
