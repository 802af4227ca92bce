"""Several programs on one data folder, opened for the first time at the same moment."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from appraise.services import example_cases
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings

OPENER = """
import sys
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings
import appraise.services.cases.casework
appraise.services.cases.casework.example_cases()
print("ready", flush=True)
sys.stdin.readline()
workspace = open_workspace(Settings())
print(len(workspace.cases.summaries()))
workspace.cases.engine.dispose()
"""


@pytest.mark.parametrize("kind", ["sqlite", pytest.param("postgresql", marks=pytest.mark.server)])
def test_each_opens_and_the_examples_are_there_once(
    tmp_path: Path, kind: str, request: pytest.FixtureRequest
) -> None:
    url = request.getfixturevalue("postgresql_url") if kind == "postgresql" else ""
    env = {**os.environ, "APPRAISE_DATA_FOLDER": str(tmp_path), "APPRAISE_DATABASE_URL": url}
    openers = [
        subprocess.Popen(  # noqa: S603 - our own words only
            [sys.executable, "-c", OPENER],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=env,
        )
        for _ in range(4)
    ]
    try:
        for one in openers:
            assert one.stdout is not None
            assert one.stdout.readline() == "ready\n"
        for one in openers:
            assert one.stdin is not None
            one.stdin.write("go\n")
            one.stdin.flush()
        said = [one.communicate(timeout=60) for one in openers]
    finally:
        for one in openers:
            one.kill()
            one.communicate()

    assert [error for _, error in said] == [""] * len(openers)
    workspace = open_workspace(Settings(data_folder=tmp_path, database_url=url))
    found = [one.id for one in workspace.cases.summaries()]
    workspace.cases.engine.dispose()
    assert sorted(found) == sorted(one.id for one in example_cases())
