"""How a log's text is laid out: what parts its fields, where its heading and its numbers begin."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import mode
from typing import NamedTuple

from appraise.errors import AppraiseError, Problem
from appraise.intake.logs.columns import is_unit

__all__ = ["GAPS", "BadLog", "Layout", "find_layout"]

SEPARATORS = "\t;|,"
"""In the order of how seldom they stand within a field."""
GAPS = ["-", "--", "---", "?", "n/a", "N/A", "na", "NA", "nan", "NaN", "null", "NULL"]
GAPS += ["no data", "No Data", "NO DATA"]
LINES = 400
MOST_COLUMNS = 500
LONGEST_CELL = 80
"""Characters of a heading or number that are looked at; the time for each grows with its square."""
LONG = 200_000
"""A sample this long may end within a line."""
NEAR = 0.9
"""A separator this close to the best one is taken if it is rarer within fields."""
NUMBER = re.compile(r"[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?")
WHEN = re.compile(
    r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}(?:[T ]+\d{1,2}:\d{2}.*)?|\d{1,3}:\d{1,2}(?::\d{1,2})?"
    r"(?:[.,]\d+)?(?: ?[AaPp][Mm])?"
)


class BadLog(AppraiseError):
    """A file that cannot be read as a log."""


@dataclass(frozen=True, slots=True)
class Layout:
    """How a log's text is laid out.

    Attributes
    ----------
    start : lines before the first line of numbers.
    headings : heading, unique, to the unit in a row below it or to an empty string.
    """

    separator: str
    decimal: str
    start: int
    headings: dict[str, str]
    problems: list[Problem]


class _Parted(NamedTuple):
    """The sample as one separator parts it; `numeric` are its lines of numbers of one width."""

    separator: str
    rows: list[list[str]]
    numeric: list[int]
    width: int


def find_layout(sample: str) -> Layout:
    """Return the layout of a text from its beginning; BadLog if it has none."""
    lines = sample.split("\n")[: LINES + 1]
    if len(lines) > LINES or (len(lines) > 1 and len(sample) >= LONG):
        lines.pop()
    filled = [at for at, line in enumerate(lines) if line.strip()]
    parted = [_part([lines[at] for at in filled], separator) for separator in SEPARATORS]
    best = max(len(one.numeric) for one in parted)
    found = next(one for one in parted if len(one.numeric) >= NEAR * best)
    first = (len(cells) for one in parted for cells in one.rows[:1])
    if (found.width if best else max(first, default=0)) > MOST_COLUMNS:
        raise BadLog(f"the lines hold more than {MOST_COLUMNS:,} columns")
    if not best:
        raise BadLog("no line of numbers: this is text only")
    decimal, problems = _decimal(cell for at in found.numeric for cell in found.rows[at])
    headings = _headings(found)
    if not headings:
        problems.append(Problem("columns", "no heading: columns are named by their number"))
        headings = {f"column {at}": "" for at in range(1, found.width + 1)}
    return Layout(found.separator, decimal, filled[found.numeric[0]], headings, problems)


def _part(lines: list[str], separator: str) -> _Parted:
    rows = [
        [cell.strip()[:LONGEST_CELL].strip() for cell in _fields(one, separator)] for one in lines
    ]
    numeric = [at for at, cells in enumerate(rows) if _is_numeric(cells)]
    width = mode(len(rows[at]) for at in numeric) if numeric else 0
    if width == 1 and separator != ",":
        numeric = []
    return _Parted(separator, rows, [at for at in numeric if len(rows[at]) == width], width)


def _fields(line: str, separator: str) -> list[str]:
    try:
        fields = next(csv.reader([line], delimiter=separator, skipinitialspace=True))
    except csv.Error:
        return [line]
    return fields[: MOST_COLUMNS + 1]


def _is_numeric(cells: list[str]) -> bool:
    filled = [one for one in cells if one and one not in GAPS]
    good = sum(bool(NUMBER.fullmatch(one) or WHEN.fullmatch(one)) for one in filled)
    return good > 0 and 2 * good >= len(filled)


def _headings(found: _Parted) -> dict[str, str]:
    """Return the headings right above the numbers, each with the unit below it; empty if none."""
    above = found.rows[max(0, found.numeric[0] - 2) : found.numeric[0]]
    fits = [abs(len(one) - found.width) <= 1 for one in above]
    if not fits or not fits[-1]:
        if found.separator == "," and above and 1 < len(above[-1]) < found.width:
            raise BadLog(
                f"the lines hold {found.width} fields and the heading {len(above[-1])}: commas "
                "within numbers and between columns cannot be told apart; export with semicolons "
                "or tabs"
            )
        return {}
    words, units = above[-1], [one.strip(" ()[]{}") for one in above[-1]]
    named = [one for one in units if one.strip("-")]
    known = sum(is_unit(one) for one in named)
    if all(fits) and len(fits) > 1 and known and 2 * known >= len(named):
        words = above[0]
    else:
        units = []
    out: dict[str, str] = {}
    for at in range(max(found.width, len(words))):
        text = words[at] if at < len(words) else ""
        name = base = (text if at else text.lstrip("#/ ")) or f"column {at + 1}"
        number = 1
        while name in out:
            number += 1
            name = f"{base} ({number})"
        out[name] = units[at] if at < len(units) else ""
    return out


def _decimal(cells: Iterable[str]) -> tuple[str, list[Problem]]:
    marks = [found[1] for one in cells if (found := re.fullmatch(r"[-+]?\d*([.,])\d+", one))]
    commas, points = marks.count(","), marks.count(".")
    if commas and points:
        mark = "," if commas > points else "."
        lost = "points" if mark == "," else "commas"
        message = f"numbers with commas and with points; those with {lost} become gaps"
        return mark, [Problem("columns", message)]
    return ("," if commas else "."), []
