"""How a log's text is laid out: what parts its fields, where its heading and its numbers begin."""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass

from appraise.errors import Problem
from appraise.intake.logs.columns import is_unit

__all__ = ["GAPS", "Layout", "find_layout"]

SEPARATORS = ("\t", ";", "|", ",")
"""In the order of how seldom they stand within a field."""
GAPS = (
    "-",
    "--",
    "---",
    "?",
    "n/a",
    "N/A",
    "na",
    "NA",
    "nan",
    "NaN",
    "null",
    "NULL",
    "no data",
    "No Data",
    "NO DATA",
)
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


@dataclass(frozen=True, slots=True)
class Layout:
    """How a log's text is laid out.

    Attributes
    ----------
    start : lines before the first line of numbers.
    headings : one a column, unique.
    units : units in a row of their own below the headings, or nothing.
    """

    separator: str
    decimal: str
    start: int
    headings: tuple[str, ...]
    units: tuple[str, ...]
    problems: tuple[Problem, ...] = ()

    @property
    def width(self) -> int:
        """Number of columns."""
        return len(self.headings)


@dataclass(frozen=True, slots=True)
class _Reading:
    """The sample as one separator parts it."""

    separator: str
    rows: list[tuple[int, list[str]]]
    numeric: list[int]
    width: int
    count: int


def find_layout(sample: str) -> Layout | str:
    """Return the layout of a text from its beginning, or why it has none."""
    lines = sample.split("\n")[: LINES + 1]
    if len(lines) > LINES or (len(lines) > 1 and len(sample) >= LONG):
        lines = lines[:-1]
    readings = [_parted(lines, separator) for separator in SEPARATORS]
    best = max(one.count for one in readings)
    found = next(one for one in readings if one.count >= NEAR * best)
    first = [len(cells) for one in readings for _, cells in one.rows[:1]]
    if found.width > MOST_COLUMNS or (best == 0 and max(first, default=0) > MOST_COLUMNS):
        return f"the lines hold more than {MOST_COLUMNS:,} columns"
    if best == 0:
        return "no line of numbers: this is text only"
    return _with_heading(found)


def _parted(lines: list[str], separator: str) -> _Reading:
    rows = [
        (at, [cell.strip()[:LONGEST_CELL].strip() for cell in _fields(line, separator)])
        for at, line in enumerate(lines)
        if line.strip()
    ]
    numeric = [at for at, (_, cells) in enumerate(rows) if _is_numeric(cells)]
    widths = Counter(len(rows[at][1]) for at in numeric)
    width, count = widths.most_common(1)[0] if widths else (0, 0)
    if width == 1 and separator != ",":
        count = 0
    return _Reading(separator, rows, numeric, width, count)


def _fields(line: str, separator: str) -> list[str]:
    if line.count(separator) > MOST_COLUMNS and '"' not in line:
        return line.split(separator, MOST_COLUMNS + 1)[: MOST_COLUMNS + 1]
    try:
        return next(csv.reader([line], delimiter=separator, skipinitialspace=True))
    except csv.Error:
        return [line]


def _is_numeric(cells: list[str]) -> bool:
    filled = [one for one in cells if one and one not in GAPS]
    good = sum(bool(NUMBER.fullmatch(one) or WHEN.fullmatch(one)) for one in filled)
    return good > 0 and 2 * good >= len(filled)


def _with_heading(found: _Reading) -> Layout | str:
    first = next(at for at in found.numeric if len(found.rows[at][1]) == found.width)
    start = found.rows[first][0]
    cells = [found.rows[at][1] for at in found.numeric if len(found.rows[at][1]) == found.width]
    decimal, problems = _decimal(cells)
    above = [found.rows[at][1] for at in range(first)]
    fitting = [one for one in above if abs(len(one) - found.width) <= 1]
    if not fitting or fitting[-1] is not above[-1]:
        parted = above[-1] if above else []
        if found.separator == "," and 1 < len(parted) < found.width:
            return (
                f"the lines hold {found.width} fields and the heading {len(parted)}: commas within "
                "numbers and between columns cannot be told apart; export with semicolons or tabs"
            )
        problems.append(Problem("columns", "no heading: columns are named by their number"))
        names = [f"column {at}" for at in range(1, found.width + 1)]
        return Layout(found.separator, decimal, start, tuple(names), (), tuple(problems))
    heading, units = fitting[-1], []
    if len(fitting) > 1 and above[-2] is fitting[-2] and _is_unit_row(heading):
        heading, units = fitting[-2], heading
    width = max(found.width, len(heading))
    heading = [heading[0].lstrip("#/ "), *heading[1:]] + [""] * (width - len(heading))
    headings = _unique(heading)
    return Layout(found.separator, decimal, start, tuple(headings), tuple(units), tuple(problems))


def _is_unit_row(cells: list[str]) -> bool:
    filled = [one.strip(" ()[]{}") for one in cells if one.strip(" ()[]{}-")]
    known = sum(is_unit(one) for one in filled)
    return known > 0 and 2 * known >= len(filled)


def _decimal(rows: list[list[str]]) -> tuple[str, list[Problem]]:
    cells = [one for row in rows for one in row]
    commas = sum(bool(re.fullmatch(r"[-+]?\d*,\d+", one)) for one in cells)
    points = sum(bool(re.fullmatch(r"[-+]?\d*\.\d+", one)) for one in cells)
    if commas and points:
        mark = "," if commas > points else "."
        lost = "points" if mark == "," else "commas"
        message = f"numbers with commas and with points; those with {lost} become gaps"
        return mark, [Problem("columns", message)]
    return ("," if commas else "."), []


def _unique(headings: list[str]) -> list[str]:
    out: dict[str, None] = {}
    last: Counter[str] = Counter()
    for at, heading in enumerate(headings, start=1):
        name = base = heading or f"column {at}"
        while name in out:
            last[base] = max(1, last[base]) + 1
            name = f"{base} ({last[base]})"
        out[name] = None
    return list(out)
