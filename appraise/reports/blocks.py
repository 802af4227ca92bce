"""Blocks that a paper is made of: plain texts for the layout `sheet`, whatever a person wrote."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from appraise.errors import one_line

__all__ = [
    "TICK",
    "Block",
    "Cell",
    "bold",
    "figure",
    "item",
    "listed",
    "sums",
    "table",
    "under",
    "words",
]

Block = dict[str, Any]
Cell = str | dict[str, Any]

TICK: Cell = {"tick": True}
"""A box to tick with a pencil."""
LARGE = 30


def figure(label: str, value: str, said: str, size: int = LARGE) -> Block:
    """Return a large figure in a frame, with what it is and what it means beside it."""
    return {
        "kind": "figure",
        "label": one_line(label),
        "value": one_line(value),
        "words": one_line(said),
        "size": size,
    }


def item(text: str, about: str = "") -> dict[str, str]:
    """Return an entry of a list, with what belongs to it in smaller print."""
    return {"text": one_line(text), "about": one_line(about)}


def listed(title: str, items: Iterable[dict[str, str]], *, tick: bool = False) -> Block:
    """Return a list, each entry with a point or a box to tick."""
    return {"kind": "list", "title": one_line(title), "items": list(items), "tick": tick}


def under(text: str, about: str) -> Cell:
    """Return a cell with smaller print beneath."""
    return {"text": one_line(text), "about": one_line(about)}


def bold(text: str) -> Cell:
    """Return a cell in bold."""
    return {"text": one_line(text), "about": "", "strong": True}


def table(
    title: str,
    head: Sequence[str],
    rows: Iterable[Sequence[Cell]],
    *,
    widths: Sequence[float | str],
    align: Sequence[str],
    foot: Sequence[str] = (),
    below: str = "",
) -> Block:
    """Return a table.

    Parameters
    ----------
    widths : a share of the page for each column, a text of so many millimeters, or `auto`.
    align : `left` or `right` for each column.
    foot : sums as its last row, or nothing.
    below : a smaller title beneath the title.
    """
    return {
        "kind": "table",
        "title": one_line(title),
        "head": [one_line(one) for one in head],
        "rows": [[one if isinstance(one, dict) else one_line(one) for one in row] for row in rows],
        "widths": list(widths),
        "align": list(align),
        "foot": list(foot),
        "below": one_line(below),
    }


def sums(title: str, rows: Iterable[tuple[str, str]]) -> Block:
    """Return sums, one to a line: what each is, and itself."""
    lines = [{"label": one_line(label), "value": value} for label, value in rows]
    return {"kind": "sums", "title": one_line(title), "rows": lines}


def words(title: str, lines: Iterable[str]) -> Block:
    """Return paragraphs; each line of a note is one."""
    kept = [one_line(part) for line in lines for part in line.splitlines() if part.strip()]
    return {"kind": "text", "title": one_line(title), "lines": kept}
