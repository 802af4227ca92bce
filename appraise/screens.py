"""Start the screens as a process of their own; nothing here imports them."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

from appraise.errors import AppraiseError

__all__ = ["start"]

ADDRESS = "127.0.0.1"


def start(*, port: int, browser: bool) -> int:
    """Run the screens until they are stopped; return the exit code.

    Raises
    ------
    AppraiseError
        The screens are not installed, or the port is taken.
    """
    spec = find_spec("ui")
    places = list(spec.submodule_search_locations or []) if spec else []
    launcher = next((Path(one) / "launch.py" for one in places), None)
    if launcher is None or not launcher.is_file():
        raise AppraiseError("the screens are not installed beside this program", where="ui")
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((ADDRESS, port))
        except (OSError, OverflowError) as error:
            raise AppraiseError(
                f"{port} is in use or no port", where="port", hint="Try: appraise open --port 8600"
            ) from error
    command = [sys.executable, str(launcher), "--port", str(port)]
    if not browser:
        command.append("--no-browser")
    with subprocess.Popen(command) as screens:  # noqa: S603 - own launcher
        signal.signal(signal.SIGTERM, lambda *_: screens.terminate())
        try:
            return screens.wait()
        except KeyboardInterrupt:
            screens.terminate()
            screens.wait()
            return 0
