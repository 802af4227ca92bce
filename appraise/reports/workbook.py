"""Tables written into one spreadsheet (xlsx); what a person wrote stays text, come what may.

Nothing is ever a formula or a link. The same tables give the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, time
from io import BytesIO
from typing import TYPE_CHECKING, Any

from appraise.errors import one_line
from appraise.reports.table import Column, Kind, Table, Value
from appraise.reports.wording import ESTIMATE

if TYPE_CHECKING:
    from xlsxwriter import Workbook  # type: ignore[import-untyped]
    from xlsxwriter.format import Format  # type: ignore[import-untyped]

__all__ = [
    "cell_text",
    "sheet_names",
    "workbook",
]

MOST_UNITS = 32_767
"""UTF-16 units that a cell holds (ECMA-376, part 1, section 18.3.1.4 and its makers' limits)."""
ASTRAL = 0xFFFF
FIRST_YEAR = 1900
"""A spreadsheet counts days from here; an earlier day is kept as text."""
FORMULA_SIGNS = (
    "=",
    "+",
    "-",
    "@",
    "\t",
    "\n",
    "\N{FULLWIDTH EQUALS SIGN}",
    "\N{FULLWIDTH PLUS SIGN}",
    "\N{FULLWIDTH HYPHEN-MINUS}",
    "\N{FULLWIDTH COMMERCIAL AT}",
)
"""What a program may take for a formula at the head of a cell (OWASP, CSV injection; from memory).

A carriage return is a line feed by then.
"""
MOST_NAME = 31
NO_NAME = "[]:*?/\\"
"""A sheet's name is no longer, and holds none of these (its makers' limits; from memory)."""
TAKEN = "history"
"""A name that is refused, kept for a list of changes."""
LETTER, A4 = 1, 9
"""Numbers of paper sizes (ECMA-376, part 1, section 18.3.1.63)."""
MOST_TITLE = 255


def cell_text(text: str) -> str:
    """Return a text as a cell can hold it: line feeds alone, what XML carries, cut to what fits."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return _cut("".join(map(_letter, text)), MOST_UNITS)


def _letter(one: str) -> str:
    return one if one in "\t\n" else one_line(one)


def _cut(text: str, most: int) -> str:
    """Return a text of at most so many UTF-16 units, what is cut off replaced by a mark."""
    used = 0
    for place, letter in enumerate(text):
        used += _units(letter)
        if used > most:
            return f"{text[: place - 1]}…"
    return text


def _units(letter: str) -> int:
    return 2 if ord(letter) > ASTRAL else 1


def sheet_names(names: Iterable[str]) -> tuple[str, ...]:
    """Return names that sheets may have, as near to those given as can be, no two alike.

    Examples
    --------
    >>> sheet_names(["Parts", "parts", "Money in/out"])
    ('Parts', 'parts 2', 'Money in out')
    """
    out: list[str] = []
    taken = {TAKEN}
    for name in names:
        free = "".join(" " if one in NO_NAME else one for one in one_line(name))
        base = _cut(" ".join(free.split()).strip("' "), MOST_NAME) or "Table"
        new, number = base, 2
        while new.casefold() in taken:
            new = _cut(base, MOST_NAME - 1 - len(str(number))) + f" {number}"
            number += 1
        taken.add(new.casefold())
        out.append(new)
    return tuple(out)


def workbook(tables: Sequence[Table], *, title: str, on: date, currency: str = "USD") -> bytes:
    """Return a workbook (xlsx) with a sheet for each table.

    Amounts are numbers with two places, days are dates; nothing is a formula or a link. The same
    tables give the same bytes.

    Parameters
    ----------
    tables : at least one.
    title : of the whole; a person's own text.
    on : the day that it says it was made on.
    currency : decides on the size of the paper that it prints on.
    """
    from xlsxwriter import Workbook  # noqa: PLC0415 - only when a sheet is asked for

    out = BytesIO()
    book = Workbook(
        out,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
        },
    )
    made = datetime.combine(on, time(), UTC).replace(tzinfo=None)
    book.set_properties({"title": cell_text(title)[:MOST_TITLE], "created": made})
    writer = _Writer(book, LETTER if currency == "USD" else A4)
    for name, table in zip(sheet_names(one.name for one in tables), tables, strict=True):
        writer.sheet(name, table)
    book.close()
    return out.getvalue()


class _Writer:
    """Writes tables into a workbook, each on a sheet of its own."""

    def __init__(self, book: Workbook, paper: int) -> None:
        self.book = book
        self.paper = paper
        looks: dict[str, dict[str, Any]] = {
            "text": {"text_wrap": True},
            "formula-like": {"text_wrap": True, "quote_prefix": True},
            "money": {"num_format": "#,##0.00"},
            "hours": {"num_format": "0.0"},
            "count": {"num_format": "#,##0"},
            "year": {"num_format": "0", "align": "left"},
            "share": {"num_format": "0.0%"},
            "number": {"num_format": "#,##0.####"},
            "day": {"num_format": "yyyy-mm-dd", "align": "left"},
        }
        top = {"valign": "top"}
        self.head: Format = book.add_format({**top, "bold": True, "bottom": 1, "text_wrap": True})
        self.rows: dict[str, Format] = {
            kind: book.add_format({**top, **look}) for kind, look in looks.items()
        }
        self.foot: dict[str, Format] = {
            kind: book.add_format({**top, **look, "bold": True, "top": 1})
            for kind, look in looks.items()
        }

    def sheet(self, name: str, table: Table) -> None:
        """Add a sheet: a head that stays in sight, a row for each line, sums at the foot."""
        sheet = self.book.add_worksheet(name)
        sheet.freeze_panes(1, 0)
        sheet.repeat_rows(0)
        sheet.set_landscape()
        sheet.set_paper(self.paper)
        sheet.set_footer(f"&L&8{ESTIMATE}")
        sheet.fit_to_pages(1, 0)
        for place, column in enumerate(table.columns):
            sheet.set_column(place, place, column.width)
            sheet.write_string(0, place, cell_text(column.head), self.head)
        for at, row in enumerate(table.rows, 1):
            self._row(sheet, at, table.columns, row, self.rows)
        sheet.autofilter(0, 0, len(table.rows), len(table.columns) - 1)
        if table.foot:
            self._row(sheet, len(table.rows) + 1, table.columns, table.foot, self.foot)

    @staticmethod
    def _row(
        sheet: Any,  # noqa: ANN401
        at: int,
        columns: Sequence[Column],
        row: Sequence[Value],
        formats: dict[str, Format],
    ) -> None:
        for place, (column, value) in enumerate(zip(columns, row, strict=True)):
            kind = _kind_of(value) if column.kind == "any" else column.kind
            if value is None or value == "":
                continue
            if isinstance(value, date) and value.year < FIRST_YEAR:
                sheet.write_string(at, place, str(value), formats["text"])
            elif isinstance(value, date):
                sheet.write_datetime(at, place, value, formats[kind])
            elif isinstance(value, str):
                text = cell_text(value)
                look = "formula-like" if text.startswith(FORMULA_SIGNS) else "text"
                sheet.write_string(at, place, text, formats[look])
            else:
                sheet.write_number(at, place, float(value), formats[kind])


def _kind_of(value: Value) -> Kind:
    if isinstance(value, date):
        return "day"
    if isinstance(value, int):
        return "count"
    return "text" if isinstance(value, str) else "money"
