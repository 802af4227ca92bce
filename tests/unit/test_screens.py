"""Starting the screens: for this machine alone, or for others only once they have to sign in."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
from collections.abc import Callable
from importlib.machinery import ModuleSpec
from pathlib import Path
from typing import Any

import pytest
from streamlit import config

from appraise import cli, screens
from appraise.accounts.people import add_person
from appraise.errors import AppraiseError
from appraise.screens import ADDRESS, ANYWHERE, server_options
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings

ROOT = Path(__file__).parents[2]
GOOD = "four words are long"
LAUNCHER = """
import json, os, pathlib, sys
given = {"arguments": sys.argv[1:], "sign_in": os.environ.get("APPRAISE_SIGN_IN", "")}
pathlib.Path(__file__).with_name("given.json").write_text(json.dumps(given))
"""
Opened = Callable[..., tuple[int, str, dict[str, Any] | None]]


@pytest.fixture
def settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Settings:
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(tmp_path / "data"))
    monkeypatch.delenv("APPRAISE_SIGN_IN", raising=False)
    return Settings()


@pytest.fixture
def listed(settings: Settings) -> Settings:
    """Return settings with one person who may sign in."""
    add_person(open_workspace(settings).people, "Ada", "edit", GOOD)
    return settings


@pytest.fixture
def opened(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> Opened:
    """Run `appraise open`; return its exit code, what it said, and what the screens were told."""
    (tmp_path / "launch.py").write_text(LAUNCHER, encoding="utf-8")

    def found(name: str) -> ModuleSpec:
        spec = ModuleSpec(name, None, is_package=True)
        spec.submodule_search_locations = [str(tmp_path)]
        return spec

    monkeypatch.setattr(screens, "find_spec", found)
    monkeypatch.setattr(screens.signal, "signal", lambda *_: None)

    def go(*arguments: str) -> tuple[int, str, dict[str, Any] | None]:
        monkeypatch.setattr(sys, "argv", ["appraise", "open", *arguments])
        with pytest.raises(SystemExit) as stopped:
            cli.main()
        told = tmp_path / "given.json"
        given = json.loads(told.read_text(encoding="utf-8")) if told.exists() else None
        return int(stopped.value.code or 0), capsys.readouterr().err, given

    return go


@pytest.fixture
def port() -> str:
    with socket.socket() as free:
        free.bind((ADDRESS, 0))
        return str(free.getsockname()[1])


@pytest.mark.usefixtures("settings")
def test_by_itself_it_is_for_this_machine_alone_and_asks_nobody(opened: Opened, port: str) -> None:
    code, _, given = opened("--port", port, "--no-browser")

    assert code == 0
    assert given == {"arguments": ["--port", port, "--no-browser"], "sign_in": ""}


@pytest.mark.usefixtures("listed")
def test_a_list_of_people_alone_changes_nothing(opened: Opened, port: str) -> None:
    assert opened("--port", port)[2] == {"arguments": ["--port", port], "sign_in": ""}


@pytest.mark.usefixtures("settings")
def test_others_are_not_let_in_before_sign_in_is_set_up(opened: Opened, port: str) -> None:
    code, said, given = opened("--lan", "--port", port)

    assert code == 2
    assert said == (
        "appraise: --lan: needs people who sign in. "
        "Set it up: appraise people add NAME --role edit\n"
    )
    assert given is None


@pytest.mark.usefixtures("listed")
@pytest.mark.parametrize(
    ("arguments", "address"), [((), ANYWHERE), (("--address", "127.0.0.2"), "127.0.0.2")]
)
@pytest.mark.skipif(sys.platform != "linux", reason="only there all of 127/8 is this machine")
def test_with_people_others_are_let_in_and_have_to_sign_in(
    opened: Opened, port: str, arguments: tuple[str, ...], address: str
) -> None:
    code, _, given = opened("--lan", *arguments, "--port", port)

    assert code == 0
    assert given == {"arguments": ["--port", port, "--address", address], "sign_in": "people"}


@pytest.mark.usefixtures("listed")
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--address", "192.0.2.1"), "--address: needs --lan"),
        (("--lan", "--address", "pc-in-the-hall"), "'pc-in-the-hall' is no address"),
        (("--lan", "--address", "0.0.0.0 --x"), "is no address"),
        (("--lan", "--address", "192.0.2.1"), "this machine does not have 192.0.2.1"),
        (("--lan", "--port", "99999999"), "port: 99999999 is in use or no port"),
    ],
)
def test_an_address_that_cannot_be_is_one_line(
    opened: Opened, arguments: tuple[str, ...], words: str
) -> None:
    """192.0.2.0/24 is nobody's (RFC 5737)."""
    code, said, given = opened(*arguments)

    assert code == 2
    assert words in said
    assert said.count("\n") == 1
    assert given is None


@pytest.mark.parametrize("address", [ANYWHERE, "::", "192.0.2.1", "pc-in-the-hall", ""])
def test_the_server_itself_refuses_others_without_sign_in(settings: Settings, address: str) -> None:
    with pytest.raises(AppraiseError, match="appraise open --lan"):
        server_options(settings, address, 8501, browser=False)


def test_the_launcher_refuses_it_too(settings: Settings) -> None:
    done = subprocess.run(  # noqa: S603 - our own words only
        [sys.executable, str(ROOT / "ui" / "launch.py"), "--address", ANYWHERE, "--no-browser"],
        env={"APPRAISE_DATA_FOLDER": str(settings.data_folder), "PATH": os.environ["PATH"]},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 2
    assert done.stderr.endswith("Use appraise open --lan, which asks them to sign in.\n")


def test_without_sign_in_the_server_gets_what_it_always_got(settings: Settings) -> None:
    assert server_options(settings, ADDRESS, 8501, browser=True) == {
        "server.address": ADDRESS,
        "server.port": 8501,
        "server.headless": False,
    }


@pytest.mark.parametrize("kind", ["people", "provider"])
def test_with_sign_in_forged_requests_and_other_origins_are_kept_out(
    settings: Settings, kind: str
) -> None:
    open_to_all = settings.model_copy(update={"sign_in": kind})
    options = server_options(open_to_all, ANYWHERE, 8501, browser=False)

    assert options["server.enableXsrfProtection"] is True
    assert options["server.enableCORS"] is True
    assert options["server.corsAllowedOrigins"] == []
    # A header that a proxy is trusted with would name anybody, were there no proxy.
    assert options["server.trustedUserHeaders"] == {}
    assert options["secrets.files"] == [str(settings.data_folder / "secrets.toml")]
    # Left open, the server asks the internet for its own address.
    assert options["browser.serverAddress"] == socket.gethostname()


def test_the_server_knows_every_option_and_takes_it_from_a_program(settings: Settings) -> None:
    open_to_all = settings.model_copy(update={"sign_in": "people"})
    for name in server_options(open_to_all, ANYWHERE, 8501, browser=False):
        option = config._config_options_template[name]
        assert not option.sensitive, name


@pytest.mark.parametrize("half", ["certificate", "certificate_key"])
def test_half_a_certificate_is_refused(settings: Settings, tmp_path: Path, half: str) -> None:
    file = tmp_path / "half.pem"
    file.touch()
    named = settings.model_copy(update={"sign_in": "people", half: file})

    with pytest.raises(AppraiseError, match="APPRAISE_CERTIFICATE_KEY: both are needed"):
        server_options(named, ANYWHERE, 8501, browser=False)


def test_a_certificate_is_handed_on_and_one_that_is_not_there_refused(
    settings: Settings, tmp_path: Path
) -> None:
    both = {"certificate": tmp_path / "a.pem", "certificate_key": tmp_path / "b.pem"}
    named = settings.model_copy(update={"sign_in": "people", **both})
    with pytest.raises(AppraiseError, match=r"a\.pem: there is no such file"):
        server_options(named, ANYWHERE, 8501, browser=False)
    for one in both.values():
        one.touch()
    options = server_options(named, ANYWHERE, 8501, browser=False)

    assert options["server.sslCertFile"] == str(both["certificate"])
    assert options["server.sslKeyFile"] == str(both["certificate_key"])
