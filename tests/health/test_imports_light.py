"""Asking for help is quick: nothing heavy is imported before it is needed."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

HEAVY = {"numpy", "pandas", "scipy", "streamlit", "sqlalchemy", "alembic", "plotly"}
PRINT = "import sys; sys.stderr.write('\\nHAS ' + ' '.join(sys.modules))"
COMMAND = """
import sys
from appraise import cli
sys.argv = ["appraise", *{arguments}]
try:
    cli.main()
except SystemExit as stopped:
    assert not stopped.code, stopped.code
"""


def imported(work: str, tmp_path: Path) -> set[str]:
    """Return the packages that a process of its own has imported after a piece of work."""
    done = subprocess.run(  # noqa: S603 - our own words only
        [sys.executable, "-c", f"{work}\n{PRINT}"],
        env={"APPRAISE_DATA_FOLDER": str(tmp_path / "data")},
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    return {name.split(".")[0] for name in done.stderr.rsplit("HAS", 1)[1].split()}


def test_importing_the_package_imports_nothing_else(tmp_path: Path) -> None:
    assert imported("import appraise", tmp_path) & (HEAVY | {"pydantic", "typer"}) == set()


@pytest.mark.parametrize(
    "arguments", ['["--help"]', '["bid", "--help"]', '["jobs", "--help"]'], ids=str
)
def test_help_imports_nothing_heavy(tmp_path: Path, arguments: str) -> None:
    found = imported(COMMAND.format(arguments=arguments), tmp_path)

    assert found & HEAVY == set()
    assert "typer" in found


@pytest.mark.parametrize("arguments", ['["jobs", "brake"]', '["schema"]'], ids=str)
def test_lists_import_neither_numbers_nor_screens(tmp_path: Path, arguments: str) -> None:
    assert imported(COMMAND.format(arguments=arguments), tmp_path) & HEAVY == set()


def test_a_bid_imports_neither_screens_nor_tables(tmp_path: Path) -> None:
    found = imported(COMMAND.format(arguments='["bid", "demo"]'), tmp_path)

    assert found & {"pandas", "streamlit", "plotly"} == set()
    assert "numpy" in found


def test_a_bid_does_without_the_slow_part_of_scipy(tmp_path: Path) -> None:
    """`scipy.stats` takes most of a second to import; `scipy.special` has all that is needed."""
    work = COMMAND.format(arguments='["bid", "demo"]') + "assert 'scipy.stats' not in sys.modules"

    assert "scipy" in imported(work, tmp_path)


def test_the_screens_answer_before_they_can_count(tmp_path: Path) -> None:
    """What the pages need comes while the browser loads: it has to wait for the server alone."""
    found = imported("import ui.launch", tmp_path)

    assert found & {"pandas", "scipy", "sqlalchemy"} == set()
    assert "streamlit" in found


def test_the_list_of_cars_does_without_pandas(tmp_path: Path) -> None:
    found = imported(
        "import ui.session.cached, ui.cars.new_car, ui.widgets.sheets, ui.widgets.show", tmp_path
    )

    assert "pandas" not in found
    assert {"sqlalchemy", "scipy"} <= found
