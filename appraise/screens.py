"""Start the screens as a process of their own; nothing here imports them."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from importlib.util import find_spec
from ipaddress import ip_address
from pathlib import Path
from typing import TYPE_CHECKING, Any

from appraise.errors import AppraiseError

if TYPE_CHECKING:
    from appraise.settings import Settings

__all__ = ["ADDRESS", "ANYWHERE", "SIGN_IN", "only_here", "server_options", "start"]

ADDRESS = "127.0.0.1"
ANYWHERE = "0.0.0.0"  # noqa: S104 - only with sign-in
SIGN_IN = "APPRAISE_SIGN_IN"
"""Variable that tells the screens how people sign in."""


def start(*, port: int, browser: bool, lan: bool = False, address: str = "") -> int:
    """Run the screens until they are stopped; return the exit code.

    Parameters
    ----------
    lan : let others in the network in, after they have signed in.
    address : of this machine, on which to let them in; all of its addresses if empty.

    Raises
    ------
    AppraiseError
        The screens are not installed, the port is taken, or sign-in is not set up.
    """
    place, environment = _place(lan=lan, address=address)
    spec = find_spec("ui")
    places = list(spec.submodule_search_locations or []) if spec else []
    launcher = next((Path(one) / "launch.py" for one in places), None)
    if launcher is None or not launcher.is_file():
        raise AppraiseError("the screens are not installed beside this program", where="ui")
    _probe(place, port)
    command = [sys.executable, str(launcher), "--port", str(port)]
    if place != ADDRESS:
        command += ["--address", place]
    if not browser:
        command.append("--no-browser")
    with subprocess.Popen(command, env=environment) as screens:  # noqa: S603 - own launcher
        signal.signal(signal.SIGTERM, lambda *_: screens.terminate())
        try:
            return screens.wait()
        except KeyboardInterrupt:
            screens.terminate()
            screens.wait()
            return 0


def only_here(address: str) -> bool:
    """Return whether only this machine reaches an address.

    Examples
    --------
    >>> only_here("127.0.0.1"), only_here("::1"), only_here("0.0.0.0"), only_here("pc-in-the-hall")
    (True, True, False, False)
    """
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return address == "localhost"


def server_options(settings: Settings, address: str, port: int, *, browser: bool) -> dict[str, Any]:
    """Return how the server is to be run, by the names that Streamlit has for it.

    Raises
    ------
    AppraiseError
        Others could reach it and nobody would have to sign in, or half a certificate is named.
    """
    if not settings.sign_in and not only_here(address):
        raise AppraiseError(
            "others in the network could see and change everything",
            where="--address",
            hint="Use appraise open --lan, which asks them to sign in.",
        )
    found: dict[str, Any] = {
        "server.address": address,
        "server.port": port,
        "server.headless": not browser,
    }
    if not settings.sign_in:
        return found
    found |= {
        "server.enableXsrfProtection": True,
        "server.enableCORS": True,
        "server.corsAllowedOrigins": [],
        "server.trustedUserHeaders": {},
        "secrets.files": [str(settings.secrets)],
    }
    if address in (ANYWHERE, "::"):
        # Named, so that the server does not ask the internet for its own address.
        found["browser.serverAddress"] = socket.gethostname()
    certificate, key = settings.certificate, settings.certificate_key
    if (certificate is None) != (key is None):
        raise AppraiseError(
            "both are needed", where="APPRAISE_CERTIFICATE, APPRAISE_CERTIFICATE_KEY"
        )
    if certificate is not None and key is not None:
        for one in (certificate, key):
            if not one.is_file():
                raise AppraiseError("there is no such file", where=str(one))
        found |= {"server.sslCertFile": str(certificate), "server.sslKeyFile": str(key)}
    return found


def _place(*, lan: bool, address: str) -> tuple[str, dict[str, str] | None]:
    """Return the address, and the variables of the screens if they differ from these."""
    if not lan:
        if address:
            raise AppraiseError("needs --lan", where="--address")
        return ADDRESS, None
    place = address or ANYWHERE
    try:
        ip_address(place)
    except ValueError as error:
        raise AppraiseError(
            f"{place!r} is no address", where="--address", hint="Give one such as 192.168.1.20"
        ) from error
    from appraise.accounts.signing_in import sign_in_kind  # noqa: PLC0415 - only for several people
    from appraise.services.records.workspace import open_workspace  # noqa: PLC0415
    from appraise.settings import Settings  # noqa: PLC0415

    settings = Settings()
    workspace = open_workspace(settings)
    kind = sign_in_kind(workspace.people.everybody(), settings.secrets)
    workspace.cases.engine.dispose()
    server_options(settings.model_copy(update={"sign_in": kind}), place, 0, browser=False)
    return place, {**os.environ, SIGN_IN: kind}


def _probe(address: str, port: int) -> None:
    """Refuse a port that is taken, or an address that this machine does not have."""
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((address, 0))
        except OSError as error:
            raise AppraiseError(
                f"this machine does not have {address}", where="--address"
            ) from error
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((address, port))
        except (OSError, OverflowError) as error:
            raise AppraiseError(
                f"{port} is in use or no port", where="port", hint="Try: appraise open --port 8600"
            ) from error
