"""The command line: each command a few lines over the services."""

from __future__ import annotations

import sys

import typer

from appraise.cli.diagnosis import diagnosis
from appraise.cli.judging import judging
from appraise.cli.keeping import keeping
from appraise.cli.owned import owned
from appraise.cli.people import people
from appraise.cli.starting import starting
from appraise.cli.tables import tables
from appraise.errors import AppraiseError

__all__ = ["app", "main"]

app = typer.Typer(
    name="appraise",
    help="Judge a used car with faults before bidding: repair cost with its doubt, resale, and "
    "the most one can pay.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for group in (starting, judging, diagnosis, owned, tables, keeping):
    app.add_typer(group)
app.add_typer(people, name="people")


def main() -> None:
    """Run the command line; what is wrong with the input is one line and exit code 2."""
    try:
        app()
    except AppraiseError as error:
        print(f"appraise: {error}", file=sys.stderr)  # noqa: T201
        sys.exit(2)
