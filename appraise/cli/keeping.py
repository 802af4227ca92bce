"""Commands for what is kept: backups, and the form of a case file."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from appraise.errors import one_line

__all__ = ["keeping"]

keeping = typer.Typer()


@keeping.command()
def cars() -> None:
    """List your cars, with the name that other commands take for each."""
    from appraise.services.records.kept import kept_cars  # noqa: PLC0415
    from appraise.settings import Settings  # noqa: PLC0415

    found = kept_cars(Settings())
    if not found:
        typer.echo("No cars are kept yet: appraise open")
    for one in found:
        words = f", {one.title}" if one.name != one.title else ""
        wrong = f" (cannot be read: {one.wrong})" if one.wrong else ""
        typer.echo(one_line(f"{one.name}: {one.standing}{words}{wrong}"))


@keeping.command()
def backup(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE.zip]", help="Where; a name of today if empty.")
    ] = None,
    *,
    force: Annotated[bool, typer.Option("--force", help="Write over a file there.")] = False,
) -> None:
    """Back up everything in one file: cars, history, photos, own values."""
    from appraise.services import today  # noqa: PLC0415
    from appraise.services.records.backup import backup_name, write_backup  # noqa: PLC0415
    from appraise.services.records.workspace import open_workspace  # noqa: PLC0415
    from appraise.settings import Settings  # noqa: PLC0415

    target = file or Path(backup_name(today()))
    words = write_backup(open_workspace(Settings()), target, force=force)
    typer.echo(one_line(f"{target}: {words}"))


@keeping.command()
def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE.zip", help="A backup.")],
    *,
    over: Annotated[
        bool, typer.Option("--over", help="Replace what is kept; it is backed up first.")
    ] = False,
) -> None:
    """Restore a backup, once all of it was checked."""
    from appraise.services.records.backup import restore as put_back  # noqa: PLC0415
    from appraise.services.records.workspace import open_workspace  # noqa: PLC0415
    from appraise.settings import Settings  # noqa: PLC0415

    workspace = open_workspace(Settings())
    words = put_back(workspace, file, over=over)
    typer.echo(one_line(words))
    workspace.people.note("backup put back", "")


@keeping.command("own-values")
def own_values(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE.toml]", help="Kept in the place of those now.")
    ] = None,
) -> None:
    """Print your own values over the catalog, or keep those in a file."""
    from appraise.given import file_text  # noqa: PLC0415
    from appraise.reference.load import LARGEST_OWN  # noqa: PLC0415
    from appraise.services.records.own_values import save_own_text  # noqa: PLC0415
    from appraise.services.records.workspace import open_workspace  # noqa: PLC0415
    from appraise.settings import Settings  # noqa: PLC0415

    store = open_workspace(Settings()).own_values
    if file is not None:
        save_own_text(store, file_text(file, LARGEST_OWN), name=file.name)
        typer.echo(one_line(f"{file}: kept. Every car is worked out with them from now on."))
        return
    text = store.load().removesuffix("\n")
    for line in text.split("\n") if text else ():
        typer.echo(one_line(line.removesuffix("\r")))


@keeping.command()
def schema() -> None:
    """Print the JSON Schema of a case file."""
    from appraise import services  # noqa: PLC0415

    typer.echo(json.dumps(services.case_schema(), indent=2))
