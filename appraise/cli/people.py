"""The commands for the list of those who may sign in."""

from __future__ import annotations

import sys
from datetime import UTC
from typing import TYPE_CHECKING, Annotated

import typer

from appraise.errors import AppraiseError, one_line

if TYPE_CHECKING:
    from appraise.services.records.workspace import Workspace
    from appraise.store.people import PeopleStore

__all__ = ["people"]

people = typer.Typer(
    help="Who may sign in once others in the network are let in (appraise open --lan).",
    no_args_is_help=True,
)

NameArgument = Annotated[str, typer.Argument(metavar="NAME", help="As shown; capitals alike.")]
StdinOption = Annotated[
    bool, typer.Option("--password-stdin", help="Read the password from standard input.")
]


@people.command()
def add(
    name: NameArgument,
    role: Annotated[str, typer.Option(help="look (and save nothing) or edit.")] = "look",
    *,
    password_stdin: StdinOption = False,
    provider: Annotated[
        bool,
        typer.Option("--provider", help="No password: NAME is the e-mail address at the provider."),
    ] = False,
) -> None:
    """Add somebody who may sign in; asks for a password twice."""
    from appraise.accounts.people import add_person  # noqa: PLC0415

    password = None if provider else _password(from_stdin=password_stdin)
    added = add_person(_store(), name, role, password)
    typer.echo(one_line(f"{added.name} may sign in, to {added.role}."))


@people.command("list")
def list_people() -> None:
    """List those who may sign in, with what they may do."""
    from appraise.settings import Settings  # noqa: PLC0415

    for one in _store().everybody() if Settings().has_database else ():
        way = "" if one.password else "  through the provider"
        typer.echo(one_line(f"{one.role}  {one.name}{way}"))


@people.command()
def remove(name: NameArgument) -> None:
    """Take somebody off the list; a window where they are signed in is closed to them."""
    from appraise.accounts.people import remove_person  # noqa: PLC0415

    removed = remove_person(_store(), name)
    typer.echo(one_line(f"{removed.name} may not sign in any more."))


@people.command("password")
def new_password(name: NameArgument, *, password_stdin: StdinOption = False) -> None:
    """Give somebody another password; asks for it twice."""
    from appraise.accounts.people import set_password  # noqa: PLC0415

    changed = set_password(_store(), name, _password(from_stdin=password_stdin))
    typer.echo(one_line(f"{changed.name} has another password."))


@people.command("role")
def new_role(
    name: NameArgument,
    role: Annotated[str, typer.Argument(metavar="ROLE", help="look (and save nothing) or edit.")],
) -> None:
    """Let somebody edit, or only look, from now on."""
    from appraise.accounts.people import set_role  # noqa: PLC0415

    changed = set_role(_store(), name, role)
    typer.echo(one_line(f"{changed.name} may sign in, to {changed.role}."))


@people.command("log")
def show_log(
    most: Annotated[int, typer.Option(min=1, help="Number of lines, the newest first.")] = 50,
) -> None:
    """Say who did what: cars changed, who signed in or failed to, settings, backups."""
    from appraise.services.records.doings import doings  # noqa: PLC0415

    for one in doings(_workspace(), most):
        when = one.at.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
        car = f": {one.car}" if one.car else ""
        place = f"  from {one.came_from}" if one.came_from else ""
        typer.echo(one_line(f"{when}  {one.who or '-'}  {one.what}{car}{place}"))


def _workspace() -> Workspace:
    from appraise.services.records.workspace import open_workspace  # noqa: PLC0415
    from appraise.settings import Settings  # noqa: PLC0415

    return open_workspace(Settings())


def _store() -> PeopleStore:
    return _workspace().people


def _password(*, from_stdin: bool) -> str:
    """Return a password, read from a script's line or asked for twice without echo."""
    if from_stdin:
        try:
            return sys.stdin.buffer.readline().decode("utf-8").rstrip("\r\n")
        except UnicodeDecodeError as error:
            raise AppraiseError("is no text in UTF-8", where="password") from error
    if not sys.stdin.isatty():
        raise AppraiseError(
            "cannot be asked for without a terminal", where="password", hint="Use --password-stdin"
        )
    asked: str = typer.prompt("Password", hide_input=True, confirmation_prompt="Once more")
    return asked
