"""Who may import whom, as pyproject.toml has it."""

from __future__ import annotations

import ast
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
RULES = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]


def lint(folder: Path, config: Path) -> subprocess.CompletedProcess[str]:
    command = "import sys; from importlinter.cli import lint_imports_command as go; sys.exit(go())"
    return subprocess.run(  # noqa: S603 - our own words only
        [sys.executable, "-c", command, "--no-cache", "--config", str(config)],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )


def test_every_contract_on_imports_is_kept() -> None:
    done = lint(ROOT, ROOT / "pyproject.toml")

    assert done.returncode == 0, done.stdout + done.stderr
    assert f"Contracts: {len(RULES['contracts'])} kept, 0 broken." in done.stdout


def test_the_layers_are_those_of_the_house_from_the_screens_down() -> None:
    layers = next(one["layers"] for one in RULES["contracts"] if one["type"] == "layers")

    order = [part for layer in layers for part in layer.split(" | ")]
    for above, below in (
        ("ui", "appraise.services"),
        ("appraise.cli", "appraise.services"),
        ("appraise.services", "appraise.store"),
        ("appraise.services", "appraise.engine"),
        ("appraise.services", "appraise.reports"),
        ("appraise.engine", "appraise.reference"),
        ("appraise.reference", "appraise.models"),
        ("appraise.models", "appraise.errors"),
    ):
        assert order.index(above) < order.index(below)


def test_engine_models_and_reference_may_not_know_screens_databases_or_tables() -> None:
    contract = next(one for one in RULES["contracts"] if one["type"] == "forbidden")

    sources = {"appraise.engine", "appraise.models", "appraise.reference"}
    assert sources <= set(contract["source_modules"])
    assert {"streamlit", "sqlalchemy", "plotly", "pandas"} <= set(contract["forbidden_modules"])


@pytest.mark.parametrize(("line", "code"), [("import upper.top\n", 1), ("import json\n", 0)])
def test_an_import_upwards_breaks_a_contract(tmp_path: Path, line: str, code: int) -> None:
    """The check itself works: a lower layer that imports an upper one is found."""
    for name, text in (("top", ""), ("low", line)):
        (tmp_path / "upper").mkdir(exist_ok=True)
        (tmp_path / "upper" / "__init__.py").touch()
        (tmp_path / "upper" / f"{name}.py").write_text(text, encoding="utf-8")
    config = tmp_path / "rules.toml"
    config.write_text(
        '[tool.importlinter]\nroot_packages = ["upper"]\n'
        '[[tool.importlinter.contracts]]\nname = "down"\ntype = "layers"\n'
        'layers = ["upper.top", "upper.low"]\n',
        encoding="utf-8",
    )

    assert lint(tmp_path, config).returncode == code


NOT_FIGURES = {
    ("cautions.py", "on_this_car"),  # which cautions hold for a fuel: a rule, no figure
    ("work_sheet.py", "on_this_car"),
    ("diagnosis_page.py", "family"),  # what the letters of a code stand for
    ("diagnosis_page.py", "unlisted"),  # what to do with a code that has no entry
}


def test_no_report_calls_the_engine() -> None:
    """Reports may know what a result is made of (types, constants), and work nothing out."""
    called = {
        (file.name, name.name)
        for file in (ROOT / "appraise" / "reports").glob("*.py")
        for one in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(one, ast.ImportFrom) and (one.module or "").startswith("appraise.engine")
        for name in one.names
        if not name.name[0].isupper()
    }

    assert called == NOT_FIGURES
