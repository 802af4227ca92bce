"""Everything works with no network: working out a case opens no socket at all."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

WATCH = """
import sys
seen = []
sys.addaudithook(lambda event, given: seen.append(event) if event.startswith("socket.") else None)
{work}
sys.stderr.write("\\nSEEN " + " ".join(sorted(set(seen))))
"""
"""Audit events of the standard library's socket module: making one, asking a name, connecting."""

COMMAND = """
from appraise import cli
sys.argv = ["appraise", *{arguments}]
try:
    cli.main()
except SystemExit:
    pass
"""
EVERYTHING = """
import appraise
from appraise import services
from appraise.models.told import Told
for case in services.example_cases():
    found = services.appraise_case(case, services.reference_values())
    services.bid_summary(found, Told())
"""


def watched(work: str, tmp_path: Path) -> tuple[list[str], str]:
    """Return the socket events of a piece of work in a process of its own, and what it printed."""
    done = subprocess.run(  # noqa: S603 - our own words only
        [sys.executable, "-c", WATCH.format(work=work)],
        env={"APPRAISE_DATA_FOLDER": str(tmp_path / "data")},
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stderr.rsplit("SEEN", 1)[1].split(), done.stdout


def test_importing_and_appraising_every_example_opens_no_socket(tmp_path: Path) -> None:
    assert watched(EVERYTHING, tmp_path) == ([], "")


@pytest.mark.parametrize(
    "arguments",
    [["bid", "demo", "--json"], ["check", "demo"], ["jobs", "brake"], ["schema"], ["--help"]],
    ids=" ".join,
)
def test_no_command_opens_a_socket(tmp_path: Path, arguments: list[str]) -> None:
    events, out = watched(COMMAND.format(arguments=json.dumps(arguments)), tmp_path)

    assert events == []
    assert out


def test_a_socket_would_be_seen(tmp_path: Path) -> None:
    work = "import socket; s = socket.socket(); s.bind(('127.0.0.1', 0)); s.close()"

    assert watched(work, tmp_path)[0] == ["socket.__new__", "socket.bind"]
