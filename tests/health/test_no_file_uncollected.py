"""A test that is never run proves nothing: every one has a name that pytest collects."""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Iterator
from fnmatch import fnmatch
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SETTINGS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["pytest"]
FILES = tuple(SETTINGS.get("python_files", ("test_*.py", "*_test.py")))
CLASSES = tuple(SETTINGS.get("python_classes", ("Test",)))
SKIPPED = ("*.egg", ".*", "_darcs", "build", "CVS", "dist", "node_modules", "venv", "{arch}")
"""Defaults of pytest 9 for python_files, python_classes and norecursedirs (its reference)."""
Function = ast.FunctionDef | ast.AsyncFunctionDef


def uncollected(folder: Path) -> Iterator[str]:
    """Yield every test function under `folder` that pytest would pass over."""
    for path in sorted(folder.rglob("*.py")):
        name = path.relative_to(folder)
        tree = ast.parse(path.read_text(encoding="utf-8"))
        tests = list(_tests(tree.body, within=""))
        if not tests:
            continue
        if not any(fnmatch(path.name, pattern) for pattern in FILES):
            yield f"{name}: its name"
        if any(fnmatch(part, pattern) for part in name.parts[:-1] for pattern in SKIPPED):
            yield f"{name}: its folder"
        yield from (f"{name}: {owner}" for owner, found in tests if not found)
        names = [one.name for one in tree.body if isinstance(one, Function)]
        yield from (f"{name}: {one} twice" for one in set(names) if names.count(one) > 1)


def _tests(body: list[ast.stmt], within: str) -> Iterator[tuple[str, bool]]:
    """Yield each class or module that holds a test, and whether it is looked into."""
    for one in body:
        if isinstance(one, Function) and one.name.startswith("test_"):
            yield within, not within or within.startswith(CLASSES)
        elif isinstance(one, ast.ClassDef):
            yield from _tests(one.body, one.name)


def test_every_file_with_a_test_is_collected() -> None:
    assert list(uncollected(ROOT / "tests")) == []


def test_the_folder_of_tests_is_where_pytest_looks() -> None:
    assert SETTINGS["testpaths"] == ["tests"]
    assert len(list((ROOT / "tests").rglob("test_*.py"))) > 10


@pytest.mark.parametrize(
    ("name", "text", "why"),
    [
        ("parameters.py", "def test_a(): pass", "its name"),
        ("build/test_a.py", "def test_a(): pass", "its folder"),
        ("test_a.py", "class Checks:\n    def test_a(self): pass", "Checks"),
        ("test_a.py", "def test_a(): pass\ndef test_a(): pass", "twice"),
        ("more/checks.py", "async def test_a(): pass", "its name"),
    ],
)
def test_one_that_is_passed_over_is_found(tmp_path: Path, name: str, text: str, why: str) -> None:
    path = tmp_path / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8")

    (found,) = uncollected(tmp_path)
    assert why in found


def test_what_holds_no_test_may_have_any_name(tmp_path: Path) -> None:
    (tmp_path / "conftest.py").write_text("def make(): pass", encoding="utf-8")
    (tmp_path / "test_a.py").write_text(
        "class TestA:\n    def test_a(self): pass", encoding="utf-8"
    )

    assert list(uncollected(tmp_path)) == []
