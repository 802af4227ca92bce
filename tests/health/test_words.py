"""Nothing in the files speaks of one machine or of how they came about."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fnmatch import fnmatch
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FORBIDDEN = {
    "a path of one machine": r"(?<![\w.])/(?:w[o]rk|r[o]ot|h[o]me/\w+|U[s]ers/\w+)(?=/|\b)",
    "a scratch path of one machine": r"(?<![\w.])/t[m]p/(?:v|b[r]iefs|p[r]obe)\b",
    "a path of one machine, Windows": r"(?i)\b[a-z]:\\u[s]ers\\",
    "how the text came about": r"(?i)\bt[r]anscripts?\b|\bs[e]ed[ -]documents?\b",
    "a written conversation": r"(?i)\bc[h]at (?:log|history)\b|\bl[a]nguage models?\b",
    "an issue by its number": r"(?i)\bi[s]sue #?\d+\b|\bp[u]ll request #?\d+\b",
}
"""Each is written so that it does not match itself."""
BINARY = {".png", ".jpg", ".pdf", ".woff2", ".ico", ".sqlite", ".gz"}


def ignored() -> list[str]:
    lines = (ROOT / ".gitignore").read_text(encoding="utf-8").splitlines()
    return [line.strip().rstrip("/") for line in lines if line.strip()]


def files() -> list[Path]:
    """Return every file that is kept: all but what .gitignore names, and git's own."""
    skipped = [".git", *ignored()]

    def walk(folder: Path) -> Iterator[Path]:
        for path in sorted(folder.iterdir()):
            if any(fnmatch(path.name, pattern) for pattern in skipped):
                continue
            if path.is_dir():
                yield from walk(path)
            elif path.suffix not in BINARY:
                yield path

    return list(walk(ROOT))


def slips(text: str) -> list[str]:
    """Return what a text should not hold, with its line."""
    return [
        f"line {text.count(chr(10), 0, found.start()) + 1}: {found[0]!r}, {why}"
        for why, pattern in FORBIDDEN.items()
        for found in re.finditer(pattern, text)
    ]


def test_no_file_holds_a_forbidden_word_or_a_path_of_a_machine() -> None:
    found = {
        str(path.relative_to(ROOT)): wrong
        for path in files()
        if (wrong := slips(path.read_text(encoding="utf-8")))
    }

    assert found == {}


def test_the_files_looked_at_are_the_project_s() -> None:
    names = {str(path.relative_to(ROOT)) for path in files()}

    assert {"README.md", "pyproject.toml", "appraise/cli/__init__.py"} <= names
    assert "tests/health/test_words.py" in names
    assert not any("__pycache__" in name for name in names)


@pytest.mark.parametrize(
    "parts",
    [
        ("see /wo", "rk/shared"),
        ("in /ho", "me/anna/cars"),
        ("in /ro", "ot/x"),
        ("C:\\Us", "ers\\anna"),
        ("the trans", "cript says"),
        ("a seed", " document"),
        ("fixes Issue ", "#12"),
        ("/tm", "p/v/bin"),
    ],
    ids="".join,
)
def test_a_slip_is_found(parts: tuple[str, str]) -> None:
    assert len(slips("first\n" + "".join(parts))) == 1
    assert slips("first\n" + "".join(parts))[0].startswith("line 2: ")


@pytest.mark.parametrize(
    "text",
    [
        "hours of work/rest",
        "the network/work split",
        "appraise/reference/data",
        "https://example.org/work",
        "a database session",
        "the seed of the draws",
        "#56B4E9",
        "$HOME/cars",
    ],
)
def test_an_honest_word_is_let_be(text: str) -> None:
    assert slips(text) == []
