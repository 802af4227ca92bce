"""The command line: each command a few lines over the services."""

from __future__ import annotations

import atexit
import gc
import sys
from io import StringIO
from typing import Annotated

import typer

from appraise.cli.diagnosis import diagnosis
from appraise.cli.judging import judging
from appraise.cli.keeping import keeping
from appraise.cli.owned import owned
from appraise.cli.people import people
from appraise.cli.starting import starting
from appraise.cli.tables import tables
from appraise.errors import AppraiseError, one_line

__all__ = ["app", "main"]

app = typer.Typer(
    name="appraise",
    help="Appraise a used car with faults: the repair as a range, the price after repair, and the "
    "highest price that still pays.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _version(*, asked: bool) -> None:
    if asked:
        from importlib.metadata import version  # noqa: PLC0415

        typer.echo(version("appraise"))
        raise typer.Exit


@app.callback()
def whole(
    *,
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    """Take what holds for every command."""
    del version  # its callback has printed it by now


for group in (starting, judging, diagnosis, owned, tables, keeping):
    app.add_typer(group)
app.add_typer(people, name="people")


def main() -> None:
    """Run the command line; what is wrong with the input is one line and exit code 2.

    A command that is not as it should be is told as Typer tells it, but what somebody called a
    file is in it, so nothing of that may turn the way of reading or begin a line.
    """
    gc.disable()  # a command is over before looking for litter pays: an eighth of a bid's time
    atexit.register(gc.freeze)  # nor is anything looked for at its end: another eighth
    try:
        sys.exit(app(standalone_mode=False))
    except AppraiseError as error:
        said, code = f"appraise: {error}\n", 2
    except typer.Abort:
        said, code = "Aborted!\n", 1
    except typer.TyperException as error:
        said, code = _usage(error), error.exit_code
    print("\n".join(map(one_line, said.split("\n"))), end="", file=sys.stderr)  # noqa: T201
    sys.exit(code)


def _usage(error: typer.TyperException) -> str:
    shown = StringIO()
    error.show(shown)  # type: ignore[attr-defined]  # of those that there are, which have no name
    return shown.getvalue()
