"""Commands for what is wrong with a car: codes, diagnosis, answers and logs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from appraise.cli.options import (
    CaseArgument,
    JsonOption,
    OwnOption,
    echo_figures,
    open_case,
    reference_of,
)
from appraise.errors import AppraiseError

__all__ = ["diagnosis"]

diagnosis = typer.Typer()


@diagnosis.command()
def code(
    codes: Annotated[
        list[str], typer.Argument(metavar="CODE...", help="Codes, or a raw answer in quotes.")
    ],
    own_values: OwnOption = None,
) -> None:
    """Say what trouble codes mean and what usually lies behind them."""
    from appraise import services  # noqa: PLC0415
    from appraise.reports.diagnosis_page import code_page  # noqa: PLC0415

    text = " ".join(codes)
    if not text.strip():
        raise AppraiseError("is empty: name a trouble code", where="CODE")
    found = services.codes_in(text)
    if not found:
        typer.echo("That answer holds no trouble code: the list is empty.")
        return
    echo_figures(code_page(found, reference_of(own_values)))


@diagnosis.command()
def diagnose(
    case: CaseArgument,
    minutes: Annotated[
        str | None, typer.Option(metavar="MINUTES", help="Minutes left to inspect.")
    ] = None,
    tools: Annotated[
        str | None,
        typer.Option(
            "--with",
            metavar="TOOLS",
            help="Tools at hand, as in scan_tool,flashlight; any if left out.",
        ),
    ] = None,
    own_values: OwnOption = None,
    *,
    drive: Annotated[bool, typer.Option(help="Whether the car may be driven.")] = True,
    as_json: JsonOption = False,
) -> None:
    """Say what is wrong with a car, most likely first, and what to look at next."""
    from appraise import services  # noqa: PLC0415
    from appraise.reports.diagnosis_page import diagnosis_page  # noqa: PLC0415

    loaded = open_case(case)
    reference = reference_of(own_values)
    at_hand = None if tools is None else [one.strip() for one in tools.split(",") if one.strip()]
    found = services.diagnose_case(loaded, reference, _minutes(minutes), at_hand, drive=drive)
    if as_json:
        typer.echo(json.dumps(found.model_dump(by_alias=True), default=float, indent=2))
    else:
        echo_figures(diagnosis_page(found, loaded, reference))


def _minutes(given: str | None) -> float | None:
    if given is None:
        return None
    try:
        return float(given)
    except ValueError:
        message = f"{given!r} is not a number of minutes, such as 20"
        raise AppraiseError(message, where="--minutes") from None


@diagnosis.command()
def answers(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Raw answers of a scan tool.")],
    case: Annotated[
        str, typer.Option("--case", help="The car they are from, a case file or an example.")
    ],
    own_values: OwnOption = None,
) -> None:
    """Read a scan tool's raw answers: codes, live values, monitors, a recent clear."""
    from appraise import services  # noqa: PLC0415
    from appraise.reports.answers_page import answers_page  # noqa: PLC0415
    from appraise.services.inspection.scanning import read_scan  # noqa: PLC0415

    reference = reference_of(own_values)
    car = open_case(case).vehicle
    try:
        found = read_scan(services.text_of(file), car, reference)
    except AppraiseError as error:
        error.where = error.where or str(file)
        raise
    parts = (found.codes, found.readings, found.cleared, found.gates, found.notes)
    echo_figures(answers_page(*parts))


@diagnosis.command()
def log(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A log from a scan tool (CSV).")],
    height: Annotated[
        float | None, typer.Option(help="Elevation, m, if the log has no barometer.")
    ] = None,
    rpm_from: Annotated[float, typer.Option(help="Averages from this engine speed on.")] = 3000,
    rpm_to: Annotated[float, typer.Option(help="Averages up to this engine speed.")] = 5000,
    before: Annotated[
        Path | None, typer.Option(help="A log from before the repair, to compare with.")
    ] = None,
    columns: Annotated[
        list[str] | None,
        typer.Option("--column", help="What a column is, as heading=name; remembered."),
    ] = None,
) -> None:
    """Find the full-load pulls in a data log: boost against the air outside, before and after."""
    from appraise import services  # noqa: PLC0415
    from appraise.engine.measure.logged import logged_pulls  # noqa: PLC0415
    from appraise.reports.cautions import caution_lines  # noqa: PLC0415
    from appraise.reports.log_page import log_page  # noqa: PLC0415
    from appraise.services.inspection.log_views import (  # noqa: PLC0415
        log_view,
        remember_columns,
        remembered_columns,
    )
    from appraise.settings import Settings  # noqa: PLC0415

    kept = Settings().log_columns
    mapping = remember_columns(kept, columns) if columns else remembered_columns(kept)
    earlier = None if before is None else log_view(before, height, mapping)
    page = log_page(logged_pulls(log_view(file, height, mapping), rpm_from, rpm_to, earlier))
    lines = caution_lines(["road_test"], services.reference_values())
    echo_figures("\n".join([page, "", *lines]))
