"""No file speaks of one machine or of how it came about; no string falls back into old words."""

from __future__ import annotations

import ast
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
GONE = (
    # spelled as in Britain, or said there
    r"colours?|grey|centres?|labour|catalogues?|kerb(?:s|side)?|licences?|aluminium|litres?"
    r"|(?:kilo|milli)?metres?|programmes?|cheques?|behaviour|neighbour\w*|favour\w*|odours?|mould\w*"
    r"|(?:organ|recogn|summar|normal|minim|maxim|author)is(?:e|es|ed|ing|ation)|analys(?:e|es|ed)"
    r"|tyres?|windscreens?|bonnets?|petrol|gearbox(?:es)?|(?:head)?lamps?|spanners?|number plates?"
    r"|handbrakes?|silencers?|whilst"
    # not the trade's word
    r"|mend(?:s|ed|ing)?|unmended|as it stands|margins?|landed|own hours?|own rate|what an own"
    r"|(?:8|eight) times in (?:10|ten)|not looked at|like cars?|marks? on (?:the |its )?title"
    r"|break(?:ing)?(?: it)? for parts|buyer's sheet|tidier|rougher|reckon(?:s|ed)?|how sure of it"
    r"|amiss|in the yard|(?:greater|less) than or equal"
)
"""Words that have gone from what a person reads: spelled as in Britain, or not the trade's."""
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


def read_by_people(source: str, *, docstrings: bool) -> Iterator[tuple[int, str]]:
    """Return the strings of a module that hold words, with their lines; no names and no patterns.

    Docstrings of the command line are its help.
    """
    tree = ast.parse(source)
    silent: set[ast.AST] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            silent.update(node.values)
            parts = (one.value if isinstance(one, ast.Constant) else "{}" for one in node.values)
            yield node.lineno, "".join(map(str, parts))
        elif isinstance(node, ast.Expr) and not docstrings:
            silent.add(node.value)
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node not in silent:
            text = node.value
            if "(?" not in text and (" " in text or re.match(r"[A-Z][a-z]+$", text)):
                yield node.lineno, text


def old_words(source: str, *, docstrings: bool = False) -> list[str]:
    """Return the words of a module that must not come back, with their lines."""
    return [
        f"line {line}: {found[0]!r} in {text!r}"
        for line, text in read_by_people(source, docstrings=docstrings)
        for found in re.finditer(rf"(?i)(?<![\w-])(?:{GONE})(?![\w-])", text)
    ]


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


BOTH_SIDES = {
    "appraise/intake/units.py",
    "appraise/reference/elsewhere.py",
    "appraise/store/renamed.py",
}
"""What reads the other side's words and so has to hold them."""


def test_no_string_that_a_person_reads_holds_a_word_that_has_gone() -> None:
    modules = [*(ROOT / "appraise").rglob("*.py"), *(ROOT / "ui").rglob("*.py")]
    found = {
        str(path.relative_to(ROOT)): wrong
        for path in modules
        if str(path.relative_to(ROOT)) not in BOTH_SIDES
        and (
            wrong := old_words(
                path.read_text(encoding="utf-8"), docstrings=path.parent.name == "cli"
            )
        )
    }

    assert found == {}
    assert len(modules) > 200


@pytest.mark.parametrize(
    "code",
    [
        'x = "Price men" "ded"',
        'x = f"The col{a}, a gr" f"ey one"',
        'x = "Own hours"',
        'x = "Landed"',
        'x = f"{low}, 8 times in 10 between"',
    ],
)
def test_an_old_word_is_found(code: str) -> None:
    assert len(old_words(code)) == 1


@pytest.mark.parametrize(
    "code", ['x = "margin"', '"""Return the margin."""', 'x = case["mended"]', 'x = "a paragraph"']
)
def test_a_name_in_the_code_is_no_word(code: str) -> None:
    assert old_words(code) == []
