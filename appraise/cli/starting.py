"""The command that starts the screens."""

from __future__ import annotations

from typing import Annotated

import typer

__all__ = ["starting"]

starting = typer.Typer()


@starting.command("open")
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
