"""What tests of several folders share: the commands, and a PostgreSQL server of one's own."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--update", action="store_true", help="write the pins of the shipped data as they stand"
    )


def _server_binaries() -> Path:
    """Return the folder of the newest PostgreSQL here; skip without one, but fail in CI."""
    found = shutil.which("initdb")
    folders = [Path(found).resolve().parent] if found else []
    folders += sorted(
        (path.parent for path in Path("/usr/lib/postgresql").glob("*/bin/initdb")),
        key=lambda folder: int(folder.parent.name.split(".")[0]),
    )
    if not folders:
        missing = "no PostgreSQL server here: install the package postgresql to test on one"
        if os.environ.get("CI") == "true":
            pytest.fail(missing)
        pytest.skip(missing)
    return folders[-1]


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class PostgreSQL:
    """A PostgreSQL server in a folder of its own, on the loopback interface, without fsync."""

    def __init__(self, binaries: Path, folder: Path) -> None:
        self._binaries = binaries
        self._folder = folder
        self._data = folder / "data"
        self.port = 0
        self._user: dict[str, Any] = {}
        if os.geteuid() == 0:  # the server refuses to run as root
            account = pwd.getpwnam("postgres")
            os.chown(folder, account.pw_uid, account.pw_gid)
            self._user = {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}

    def _run(self, program: str, *arguments: str) -> int:
        with (self._folder / "output.txt").open("ab") as output:
            return subprocess.run(  # noqa: S603
                [self._binaries / program, "-D", self._data, *arguments],
                cwd=self._folder,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=output,
                check=False,
                **self._user,
            ).returncode

    def start(self) -> None:
        made = self._run("initdb", "-U", "postgres", "-A", "trust", "-E", "UTF8", "--no-sync")
        if made == 0:
            for _ in range(5):  # somebody may take the port between finding and using it
                self.port = _free_port()
                options = f"-p {self.port} -h 127.0.0.1 -k {self._folder} -F"
                if self._run("pg_ctl", "-w", "-t", "60", "-o", options, "start") == 0:
                    return
        pytest.fail(f"PostgreSQL does not start: {(self._folder / 'output.txt').read_text()}")

    def stop(self) -> None:
        self._run("pg_ctl", "-w", "-m", "immediate", "stop")

    def new_database(self) -> str:
        import psycopg  # noqa: PLC0415 - an extra

        name = f"cases_{uuid4().hex}"
        with psycopg.connect(
            host="127.0.0.1", port=self.port, user="postgres", autocommit=True
        ) as connection:
            connection.execute(f"CREATE DATABASE {name}")
        return f"postgresql://postgres@127.0.0.1:{self.port}/{name}"


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[PostgreSQL]:
    """Return a running server; without its programs the tests are skipped, or fail in CI."""
    binaries = _server_binaries()
    folder = Path(tempfile.mkdtemp(prefix="appraise-"))  # short: its socket's path has a limit
    try:
        server = PostgreSQL(binaries, folder)
        try:
            server.start()
            yield server
        finally:
            server.stop()
    finally:
        shutil.rmtree(folder)


def _commands(group: Any, way: tuple[str, ...] = ()) -> Iterator[tuple[str, Any]]:
    if hasattr(group, "commands"):
        for name, one in group.commands.items():
            yield from _commands(one, (*way, name))
    else:
        yield " ".join(way), group


@pytest.fixture(scope="session")
def commands() -> dict[str, Any]:
    """Return every command there is, by its whole name."""
    from typer.main import get_command  # noqa: PLC0415 - only where a test asks for it

    from appraise import cli  # noqa: PLC0415

    return dict(_commands(get_command(cli.app)))
