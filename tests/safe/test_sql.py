"""SQL is made by SQLAlchemy alone: what a person writes is a value in it, never a part of it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from appraise.services import example_cases
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings
from appraise.store.cases import CaseStore

ROOT = Path(__file__).parents[2]
RUNS = {"exec_driver_sql", "text", "execute", "executemany", "executescript"}
MADE_HERE = {
    ("appraise/store/database.py", "tables"),  # names of the program's own tables
    ("appraise/store/database.py", "wait_seconds"),  # rounded to a whole number
    ("appraise/store/database.py", "LOCK_NUMBER"),
}
"""What may stand in a statement beside constants, by the names that it is made of."""
DRIVERS = {"sqlite3", "psycopg"}
THEIR_PLACE = "appraise/store/"
HOSTILE = (
    "'; DROP TABLE cases; --",
    '"; DELETE FROM history; --',
    "x' OR '1'='1",
    "%s %(id)s :id ? \\' \\",
)


def sources() -> Iterator[tuple[str, ast.Module]]:
    for folder in ("appraise", "ui"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            yield str(path.relative_to(ROOT)), ast.parse(path.read_text(encoding="utf-8"))


def made_up(place: str, tree: ast.Module) -> list[str]:
    """Return each statement that is put together from anything but constants of our own."""
    found = []
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Call) and node.args):
            continue
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        if ast.unparse(node.func) == "st.text":  # words on a page
            continue
        given = node.args[0]
        if name not in RUNS or not isinstance(given, (ast.JoinedStr, ast.BinOp, ast.Call)):
            continue
        if isinstance(given, ast.BinOp) and not isinstance(given.op, (ast.Add, ast.Mod)):
            continue
        if isinstance(given, ast.Call) and getattr(given.func, "attr", "") != "format":
            continue
        used = {one.id for one in ast.walk(given) if isinstance(one, ast.Name)} - {"round"}
        if not all((place, one) in MADE_HERE for one in used):
            found.append(f"{place}:{node.lineno}")
    return found


def test_no_statement_is_put_together_from_text() -> None:
    assert [one for place, tree in sources() for one in made_up(place, tree)] == []


@pytest.mark.parametrize(
    "line",
    [
        "c.exec_driver_sql(f'SELECT {title}')",
        "c.execute(text('SELECT ' + title))",
        "text('SELECT %s' % title)",
        "c.execute('SELECT {}'.format(title))",
    ],
)
def test_such_a_statement_would_be_seen(line: str) -> None:
    assert made_up("appraise/store/database.py", ast.parse(line))


def test_no_other_package_speaks_to_a_database() -> None:
    found = [
        place
        for place, tree in sources()
        for node in ast.walk(tree)
        for name in (
            [one.name for one in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else []
        )
        if name.split(".")[0] in DRIVERS and not place.startswith(THEIR_PLACE)
    ]
    assert found == []


@pytest.mark.parametrize("words", HOSTILE)
def test_words_like_sql_are_kept_as_words(words: str, tmp_path: Path) -> None:
    workspace = open_workspace(Settings(data_folder=tmp_path))
    before = len(workspace.cases.summaries())
    car = example_cases()[0].model_copy(update={"id": "hostile", "title": words, "note": words})
    stored = CaseStore(workspace.cases.engine, who=words).add(car)
    workspace.cases.save(stored.case.model_copy(update={"note": words * 2}), stored.version)

    assert workspace.cases.load("hostile").case.title == words
    assert workspace.cases.load("hostile").case.note == words * 2
    assert len(workspace.cases.summaries()) == before + 1
    assert [one.who for one in workspace.history.versions("hostile")] == ["", words]
    workspace.cases.engine.dispose()
