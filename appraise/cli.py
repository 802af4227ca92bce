"""The command line: each command a few lines over the services."""

from __future__ import annotations

import json
import os
import sys
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from appraise.cli_people import people
from appraise.errors import AppraiseError, one_line

__all__ = ["app", "main"]

EARLIEST, LATEST = date(1900, 1, 1), date(2199, 12, 31)

app = typer.Typer(
    name="appraise",
    help="Judge a used car with faults before bidding: repair cost with its doubt, resale, and "
    "the most one can pay.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
app.add_typer(people, name="people")

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


@app.command("open")
def open_screens(
    port: Annotated[int, typer.Option(help="Port on this machine.")] = 8501,
    address: Annotated[str, typer.Option(help="With --lan: one of this machine's addresses.")] = "",
    *,
    browser: Annotated[bool, typer.Option(help="Open the page in a browser.")] = True,
    lan: Annotated[bool, typer.Option("--lan", help="Let others in, who have to sign in.")] = False,
) -> None:
    """Start the screens on this machine only (127.0.0.1); new data folders get the example cars.

    With --lan others in the network get in too, once they have signed in: appraise people --help.
    """
    from appraise.screens import start  # noqa: PLC0415

    raise typer.Exit(start(port=port, browser=browser, lan=lan, address=address))


@app.command()
def bid(case: CaseArgument, own_values: OwnOption = None, *, as_json: JsonOption = False) -> None:
    """Work out the highest price that still pays, with its risk."""
    from appraise import services  # noqa: PLC0415

    reference = services.reference_values(_own(own_values))
    loaded = services.load_case_file(case)
    appraisal = services.appraise_case(loaded, reference)
    if as_json:
        typer.echo(json.dumps(services.bid_summary(appraisal), indent=2))
    else:
        from appraise.reports.bid_page import bid_page  # noqa: PLC0415

        typer.echo(bid_page(loaded, appraisal, reference))


@app.command()
def check(case: CaseArgument, own_values: OwnOption = None) -> None:
    """Check a case for mistakes without working it out."""
    from appraise import services  # noqa: PLC0415

    loaded = services.load_case_file(case)
    problems = services.check_text(loaded, services.reference_values(_own(own_values)))
    for problem in problems:
        typer.echo(one_line(f"{problem.weight}: {problem.where}: {problem.words}"))
    typer.echo(
        f"{loaded.title}: {len(loaded.findings)} findings, "
        f"{len(loaded.market.comparables)} comparables, "
        f"{'nothing amiss' if not problems else f'{len(problems)} to know of'}"
    )


@app.command()
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

    reference = services.reference_values(_own(own_values))
    found = services.find_jobs(words or [], reference)
    if not found:
        typer.echo(f"no job has all of: {' '.join(words or [])}", err=True)
        raise typer.Exit(1)
    typer.echo(job_list(found, reference, price_class))


@app.command()
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
    typer.echo(code_page(found, services.reference_values(_own(own_values))))


@app.command()
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
    from appraise.services.scanning import read_scan  # noqa: PLC0415

    reference = services.reference_values(_own(own_values))
    car = services.load_case_file(case).vehicle
    try:
        found = read_scan(services.text_of(file), car, reference)
    except AppraiseError as error:
        error.where = error.where or str(file)
        raise
    parts = (found.codes, found.readings, found.cleared, found.gates, found.notes)
    typer.echo(answers_page(*parts))


@app.command()
def checks(case: CaseArgument, own_values: OwnOption = None) -> None:
    """Rank the checks on each finding by what they are worth before they are paid for."""
    from appraise import services  # noqa: PLC0415
    from appraise.reports.diagnosis_page import checks_page  # noqa: PLC0415

    loaded = services.load_case_file(case)
    diagnosis = services.diagnose_case(loaded, services.reference_values(_own(own_values)))
    typer.echo(checks_page(diagnosis, loaded.currency))


@app.command()
def log(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A log from a scan tool (CSV).")],
    height: Annotated[
        float | None, typer.Option(help="Height of the place, m, if the log has no barometer.")
    ] = None,
    rpm_from: Annotated[float, typer.Option(help="Averages from this engine speed on.")] = 3000,
    rpm_to: Annotated[float, typer.Option(help="Averages up to this engine speed.")] = 5000,
    before: Annotated[
        Path | None, typer.Option(help="A log from before the mend, to compare with.")
    ] = None,
    columns: Annotated[
        list[str] | None,
        typer.Option("--column", help="What a column is, as heading=name; remembered."),
    ] = None,
) -> None:
    """Find the full-load pulls in a data log: boost against the air outside, before and after."""
    from appraise.reports.log_page import log_page  # noqa: PLC0415
    from appraise.services.log_views import (  # noqa: PLC0415
        log_view,
        remember_columns,
        remembered_columns,
    )
    from appraise.settings import Settings  # noqa: PLC0415

    kept = Settings().log_columns
    mapping = remember_columns(kept, columns) if columns else remembered_columns(kept)
    earlier = None if before is None else log_view(before, height, mapping)
    typer.echo(log_page(log_view(file, height, mapping), rpm_from, rpm_to, earlier))


@app.command()
def vin(
    number: Annotated[str, typer.Argument(metavar="VIN", help="As written on the car.")],
    model_year: Annotated[int | None, typer.Option(help="As the papers have it.")] = None,
    other: Annotated[
        str | None, typer.Option("--other", help="The number on a paper, to be compared.")
    ] = None,
) -> None:
    """Read a vehicle identification number: what it says, and what is wrong with it."""
    from appraise.reports.vin_page import compare_page, vin_page  # noqa: PLC0415

    typer.echo(vin_page(number, model_year))
    if other is not None:
        typer.echo("")
        typer.echo(compare_page(number, other))


@app.command()
def papers(case: CaseArgument, own_values: OwnOption = None) -> None:
    """Say what the papers of a car prove, and where they contradict each other."""
    from appraise import services  # noqa: PLC0415
    from appraise.reports.papers_page import papers_page  # noqa: PLC0415
    from appraise.services.paperwork import examine  # noqa: PLC0415

    loaded = services.load_case_file(case)
    found = examine(loaded, services.reference_values(_own(own_values)))
    readings = found.odometer.readings
    page = papers_page(loaded, found.strengths, readings, found.problems, found.in_hand)
    typer.echo(page)


@app.command()
def choose(
    case: CaseArgument,
    own_values: OwnOption = None,
    on: DayOption = None,
    *,
    as_json: JsonOption = False,
) -> None:
    """Weigh what to do with an owned car: sell as it stands, mend some or all, break, keep."""
    from appraise import services  # noqa: PLC0415
    from appraise.services.deciding import choose_case  # noqa: PLC0415

    loaded = services.load_case_file(case)
    found = choose_case(loaded, services.reference_values(_own(own_values)), _day(on))
    if as_json:
        typer.echo(found.model_dump_json(indent=2))
    else:
        from appraise.reports.choose_page import choose_page  # noqa: PLC0415

        typer.echo(choose_page(loaded, found))


@app.command()
def forecast(
    case: CaseArgument,
    own_values: OwnOption = None,
    on: DayOption = None,
    *,
    as_json: JsonOption = False,
) -> None:
    """Say where the budget of an owned car's repair stands, and where it will end."""
    from appraise import services  # noqa: PLC0415
    from appraise.services.deciding import forecast_case  # noqa: PLC0415

    loaded = services.load_case_file(case)
    found = forecast_case(loaded, services.reference_values(_own(own_values)), _day(on))
    if as_json:
        typer.echo(found.model_dump_json(indent=2))
    else:
        from appraise.reports.forecast_page import forecast_page  # noqa: PLC0415

        typer.echo(forecast_page(loaded, found))


@app.command()
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
    from appraise import services  # noqa: PLC0415
    from appraise.services import printing  # noqa: PLC0415

    loaded = services.load_case_file(case)
    lists = printing.parts_lists(loaded, services.reference_values(_own(own_values)), _day(on))
    written = printing.write_parts(loaded, lists, sheet=sheet, paper=paper, force=force)
    if as_json:
        typer.echo(printing.parts_json(loaded, lists))
    elif written:
        for words in written:
            typer.echo(words)
    else:
        from appraise.reports.parts_page import parts_page  # noqa: PLC0415

        typer.echo(parts_page(loaded, lists))


class SheetKind(StrEnum):
    """Papers to take along or to hand over."""

    BID = "bid"
    WORK = "work"
    BUYER = "buyer"


@app.command()
def sheet(
    kind: Annotated[SheetKind, typer.Argument(help="For the auction, the workshop or the buyer.")],
    case: CaseArgument,
    file: Annotated[Path, typer.Argument(metavar="FILE.pdf", help="Where it is written.")],
    own_values: OwnOption = None,
    on: DayOption = None,
    *,
    force: Annotated[bool, typer.Option("--force", help="Write over a file there.")] = False,
) -> None:
    """Write a paper (PDF): the bid sheet, the work sheet or the buyer's sheet."""
    from appraise import services  # noqa: PLC0415
    from appraise.services import printing  # noqa: PLC0415

    written = {
        SheetKind.BID: printing.bid_sheet,
        SheetKind.WORK: printing.work_sheet,
        SheetKind.BUYER: printing.buyers_sheet,
    }[kind]
    printing.free_place(file, ".pdf", "the file", force=force)
    loaded = services.load_case_file(case)
    reference = services.reference_values(_own(own_values))
    printing.write_files({file: written(loaded, reference, _day(on))})
    typer.echo(one_line(f"{file}: written"))


@app.command()
def backup(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE.zip]", help="Where; a name of today if empty.")
    ] = None,
    *,
    force: Annotated[bool, typer.Option("--force", help="Write over a file there.")] = False,
) -> None:
    """Write everything that is kept into one file: cars, history, photos, own values."""
    from appraise.services import today  # noqa: PLC0415
    from appraise.services.backup import backup_name, write_backup  # noqa: PLC0415
    from appraise.services.workspace import open_workspace  # noqa: PLC0415
    from appraise.settings import Settings  # noqa: PLC0415

    target = file or Path(backup_name(today()))
    words = write_backup(open_workspace(Settings()), target, force=force)
    typer.echo(one_line(f"{target}: {words}"))


@app.command()
def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE.zip", help="A backup.")],
    *,
    over: Annotated[
        bool, typer.Option("--over", help="Replace what is kept; it is backed up first.")
    ] = False,
) -> None:
    """Put a backup back, once all of it was checked."""
    from appraise.services.backup import restore as put_back  # noqa: PLC0415
    from appraise.services.workspace import open_workspace  # noqa: PLC0415
    from appraise.settings import Settings  # noqa: PLC0415

    typer.echo(one_line(put_back(open_workspace(Settings()), file, over=over)))


@app.command()
def schema() -> None:
    """Print the JSON Schema of a case file."""
    from appraise import services  # noqa: PLC0415

    typer.echo(json.dumps(services.case_schema(), indent=2))


def _own(given: Path | None) -> Path | None:
    """Return the own file that was named, or the one in the data folder."""
    if given is not None:
        if os.path.isdir(given):  # noqa: PTH112 - answers False for names that are too long
            raise AppraiseError("is a folder, not a file", where=str(given))
        if not os.path.isfile(given):  # noqa: PTH113 - the same
            raise AppraiseError("there is no such file", where=str(given))
        return given
    from appraise.settings import Settings  # noqa: PLC0415

    return Settings().own_values


def _day(given: str | None) -> date | None:
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


def main() -> None:
    """Run the command line; what is wrong with the input is one line and exit code 2."""
    try:
        app()
    except AppraiseError as error:
        print(f"appraise: {error}", file=sys.stderr)  # noqa: T201
        sys.exit(2)
