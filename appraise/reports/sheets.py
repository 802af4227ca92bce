"""Parts, cores and days as a spreadsheet; what a person wrote stays text, come what may."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal
from io import BytesIO
from typing import TYPE_CHECKING, Any

from appraise.errors import one_line
from appraise.models.case import Case
from appraise.reports.parts_page import (
    LEAST_HOURS,
    CoreLine,
    DayLines,
    PartLine,
    PartsLists,
    wait_words,
)

if TYPE_CHECKING:
    from xlsxwriter import Workbook  # type: ignore[import-untyped]
    from xlsxwriter.format import Format  # type: ignore[import-untyped]

__all__ = ["cell_text", "parts_sheet"]

MOST_UNITS = 32_767
"""UTF-16 units that a cell holds (ECMA-376, part 1, section 18.3.1.4 and its makers' limits)."""
ASTRAL = 0xFFFF
FIRST_YEAR = 1900
"""A spreadsheet counts days from here; an earlier day is kept as text."""
FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\n")
LETTER, A4 = 1, 9
"""Numbers of paper sizes (ECMA-376, part 1, section 18.3.1.63)."""

Value = str | int | float | Decimal | date | None


@dataclass(frozen=True, slots=True)
class _Column:
    """A column: its head, its width in letters, and what its cells are."""

    head: str
    width: int
    kind: str = "text"


def cell_text(text: str) -> str:
    """Return a text as a cell can hold it: line feeds alone, what XML carries, cut to what fits."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    kept = "".join(one if one.isprintable() or one in "\t\n" else one_line(one) for one in text)
    used = 0
    for place, letter in enumerate(kept):
        used += 2 if ord(letter) > ASTRAL else 1
        if used > MOST_UNITS:
            return _cut(kept[:place])
    return kept


def _cut(text: str) -> str:
    """Return a text that fills a cell with its end replaced by a mark."""
    short = text[:-1]
    return f"{short}…"


def parts_sheet(case: Case, lists: PartsLists) -> bytes:
    """Return a workbook (xlsx) with the sheets Parts, Cores and Days.

    Amounts are numbers with two places, days are dates; nothing is a formula or a link. The same
    lists give the same bytes.
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
    made = datetime.combine(lists.on, time(), UTC).replace(tzinfo=None)
    book.set_properties({"title": cell_text(case.title)[:255], "created": made})
    writer = _Writer(book, LETTER if case.currency == "USD" else A4)
    money = case.currency
    writer.sheet("Parts", _part_columns(money), map(_part, lists.parts))
    writer.sheet("Cores", _core_columns(money), map(_core, lists.cores))
    writer.sheet("Days", _day_columns(), _days(lists.days))
    book.close()
    return out.getvalue()


class _Writer:
    """Writes tables into a workbook, each on a sheet of its own."""

    def __init__(self, book: Workbook, paper: int) -> None:
        self.book = book
        self.paper = paper
        top = {"valign": "top"}
        self.head: Format = book.add_format({**top, "bold": True, "bottom": 1, "text_wrap": True})
        self.formats: dict[str, Format] = {
            "text": book.add_format({**top, "text_wrap": True}),
            "formula-like": book.add_format({**top, "text_wrap": True, "quote_prefix": True}),
            "money": book.add_format({**top, "num_format": "#,##0.00"}),
            "hours": book.add_format({**top, "num_format": "0.0"}),
            "count": book.add_format({**top, "num_format": "0"}),
            "day": book.add_format({**top, "num_format": "yyyy-mm-dd", "align": "left"}),
        }

    def sheet(self, name: str, columns: Sequence[_Column], rows: Iterable[Sequence[Value]]) -> None:
        """Add a sheet: a head that stays in sight, and a row for each line."""
        sheet = self.book.add_worksheet(name)
        sheet.freeze_panes(1, 0)
        sheet.repeat_rows(0)
        sheet.set_landscape()
        sheet.set_paper(self.paper)
        sheet.fit_to_pages(1, 0)
        for place, column in enumerate(columns):
            sheet.set_column(place, place, column.width)
            sheet.write_string(0, place, column.head, self.head)
        last = 0
        for at, row in enumerate(rows, 1):
            last = at
            for place, (column, value) in enumerate(zip(columns, row, strict=True)):
                if value not in (None, ""):
                    self._cell(sheet, at, place, column.kind, value)
        sheet.autofilter(0, 0, last, len(columns) - 1)

    def _cell(self, sheet: Any, at: int, place: int, kind: str, value: Value) -> None:  # noqa: ANN401
        if isinstance(value, str):
            text = cell_text(value)
            look = "formula-like" if text.startswith(FORMULA_SIGNS) else "text"
            sheet.write_string(at, place, text, self.formats[look])
        elif isinstance(value, date):
            if value.year < FIRST_YEAR:
                sheet.write_string(at, place, str(value), self.formats["text"])
            else:
                sheet.write_datetime(at, place, value, self.formats[kind])
        elif value is not None:
            sheet.write_number(at, place, float(value), self.formats[kind])


def _part_columns(money: str) -> tuple[_Column, ...]:
    return (
        _Column("Job", 34),
        _Column("Part", 34),
        _Column("Where from", 13),
        _Column("Supplier", 24),
        _Column("Quantity", 9, "count"),
        _Column(f"Each, {money}", 12, "money"),
        _Column("Price is", 11),
        _Column(f"Shipping, {money}", 13, "money"),
        _Column(f"Tax, {money}", 11, "money"),
        _Column(f"Total, {money}", 12, "money"),
        _Column(f"Deposit each, {money}", 13, "money"),
        _Column("Warranty, months", 10, "count"),
        _Column("State", 10),
        _Column("Due or arrived", 14, "day"),
    )


def _part(one: PartLine) -> tuple[Value, ...]:
    price = "expected" if one.expected else "known"
    return (
        one.job_label,
        one.label,
        one.grade,
        one.supplier,
        one.quantity,
        one.each,
        "missing" if one.each is None else price,
        one.shipping,
        one.tax,
        one.total,
        one.core,
        one.warranty_months,
        one.state,
        one.due,
    )


def _core_columns(money: str) -> tuple[_Column, ...]:
    return (
        _Column("Job", 40),
        _Column("Old units", 40),
        _Column(f"Deposit paid, {money}", 16, "money"),
        _Column(f"Given back, {money}", 16, "money"),
        _Column(f"Still to claim, {money}", 16, "money"),
    )


def _core(one: CoreLine) -> tuple[Value, ...]:
    return (one.job_label, ", ".join(one.parts), one.paid, one.back, one.left)


def _day_columns() -> tuple[_Column, ...]:
    return (
        _Column("Day", 12, "day"),
        _Column("Job", 44),
        _Column("Work", 34),
        _Column("Own hours", 10, "hours"),
        _Column("Waits for", 60),
    )


def _days(days: DayLines) -> list[tuple[Value, ...]]:
    """Return a row for each step, each job at a shop, and each day that only waits."""
    names: Callable[[str], str] = lambda name: days.jobs.get(name, name)  # noqa: E731
    rows: list[tuple[Value, ...]] = []
    for day in days.plan.days:
        waits = "; ".join(wait_words(one, days.jobs) for one in day.waits)
        mine: list[tuple[Value, ...]] = [
            (
                day.on,
                names(step.task),
                f"{days.access.get(step.access, step.access)}, and back" if step.access else "",
                step.hours,
                None,
            )
            for step in day.steps
            if step.hours >= LEAST_HOURS or not step.access
        ]
        mine += [(day.on, names(name), "at the shop", None, None) for name in day.at_shop]
        if waits or not mine:
            mine.append((day.on, None, None, None, waits))
        rows += mine
    return rows
