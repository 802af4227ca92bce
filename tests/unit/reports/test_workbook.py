"""Tables as a spreadsheet, read back by another library: text stays text, sums stay at the foot."""

from __future__ import annotations

import re
import zipfile
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st

from appraise.models.appraisal import Quantiles
from appraise.models.ranges import Range
from appraise.reports.table import Column, Table, Value, table_of
from appraise.reports.workbook import sheet_names, workbook

DAY = date(2026, 11, 22)
LONGEST = 31
"""Letters in a sheet's name: Microsoft, Excel specifications and limits (from memory)."""
FORMULA_LIKE = (
    '=HYPERLINK("http://x","y")',
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "\n=1",
    "\N{FULLWIDTH EQUALS SIGN}1+1",
    "\N{FULLWIDTH PLUS SIGN}1",
    "\N{FULLWIDTH HYPHEN-MINUS}1",
    "\N{FULLWIDTH COMMERCIAL AT}SUM(A1)",
)
"""Heads that a spreadsheet program may take for a formula (OWASP, CSV injection; from memory)."""


def table(*values: Value, name: str = "One", **changes: Any) -> Table:
    columns = (Column("What", 20), Column("Amount, USD", 12, "money"))
    return Table(name, columns, tuple((value, None) for value in values), **changes)


def written(*tables: Table, title: str = "A car", currency: str = "USD") -> bytes:
    return workbook(tables, title=title, on=DAY, currency=currency)


def read(content: bytes) -> openpyxl.Workbook:
    return openpyxl.load_workbook(BytesIO(content))


@pytest.mark.parametrize("text", FORMULA_LIKE)
def test_a_text_like_a_formula_comes_out_as_text_with_the_quote_before_it(text: str) -> None:
    """In the rows and at the foot; `quotePrefix` keeps it text when it is edited."""
    content = written(table(text, foot=(text, None)), title=text)
    sheet = read(content).active
    assert sheet is not None
    for row in (2, 3):
        cell = sheet.cell(row, 1)
        assert cell.data_type == "s"
        assert cell.quotePrefix
        assert cell.hyperlink is None
        assert cell.value == text.replace("\r", "\n")
    with zipfile.ZipFile(BytesIO(content)) as packed:
        for name in packed.namelist():
            inside = packed.read(name)
            assert not re.search(rb"<f[ />]", inside), name
            assert b"<hyperlink" not in inside, name
            assert b"externalLink" not in inside, name


@given(st.text(max_size=60), st.text(max_size=60))
@examples(max_examples=60, deadline=None)
def test_any_text_is_text_and_any_name_a_sheet(text: str, name: str) -> None:
    book = read(written(table(text or "x", name=name), table(name=name)))

    assert book.worksheets[0].cell(2, 1).data_type == "s"
    assert len(set(book.sheetnames)) == 2


def test_values_are_written_as_what_they_are() -> None:
    kinds: tuple[tuple[Any, Value, str], ...] = (
        ("money", Decimal("1234.5"), "#,##0.00"),
        ("hours", Decimal("1.25"), "0.0"),
        ("count", 12, "#,##0"),
        ("year", 2014, "0"),
        ("share", Decimal("0.25"), "0.0%"),
        ("number", Decimal("0.125"), "#,##0.####"),
        ("day", DAY, "yyyy-mm-dd"),
        ("any", DAY, "yyyy-mm-dd"),
        ("any", 3, "#,##0"),
        ("any", Decimal("3.5"), "#,##0.00"),
    )
    columns = tuple(Column(f"{at}", 9, kind) for at, (kind, _, _) in enumerate(kinds))
    row = tuple(value for _, value, _ in kinds)
    sheet = read(written(Table("All", columns, (row,))))["All"]

    for cell, (_, value, look) in zip(sheet[2], kinds, strict=True):
        expected = datetime(2026, 11, 22) if value == DAY else float(value)  # type: ignore[arg-type] # noqa: DTZ001
        assert (cell.value, cell.number_format) == (expected, look)
        assert cell.data_type == ("d" if value == DAY else "n")


def test_nothing_and_an_empty_text_leave_their_cells_empty() -> None:
    sheet = read(written(table(None, "", "x")))["One"]

    assert [sheet.cell(row, 1).value for row in (2, 3, 4)] == [None, None, "x"]


def test_sums_at_the_foot_are_bold_and_outside_of_what_is_filtered() -> None:
    sheet = read(written(table("a", "b", foot=("Together", Decimal("3.10")))))["One"]

    assert [cell.value for cell in sheet[4]] == ["Together", 3.1]
    assert all(cell.font.bold for cell in sheet[4])
    assert not sheet.cell(3, 1).font.bold
    assert sheet.auto_filter.ref == "A1:B3"


def test_a_number_with_doubt_takes_three_columns_and_one_more_for_its_mean() -> None:
    drawn = Quantiles.model_validate(
        {"mean": 5, "p10": 1, "p50": 4, "p90": 9, "mean_error": 0, "p50_error": 0}
    )
    given_range = Range(low=Decimal(1), likely=Decimal(2), high=Decimal(3))

    found = table_of(
        "Doubt",
        (drawn, given_range, None),
        ("Cost", 13, "money spread", lambda one: one),
        ("Days", 9, "count range", lambda one: one),
        currency="USD",
    )

    assert [(one.head, one.kind) for one in found.columns] == [
        ("Cost, USD: low", "money"),
        ("Cost, USD: likely", "money"),
        ("Cost, USD: high", "money"),
        ("Cost, USD: on average", "money"),
        ("Days: low", "count"),
        ("Days: likely", "count"),
        ("Days: high", "count"),
    ]
    assert found.rows == (
        (1, 4, 9, 5, 1, 4, 9),
        (1, 2, 3, None, 1, 2, 3),
        (None,) * 7,
    )


def test_a_face_shows_the_columns_that_it_names() -> None:
    found = table_of(
        "Jobs",
        (("Brakes", 20, 3), ("Belt", 5, 1)),
        ("Job", 20, "text", lambda one: one[0]),
        ("Paid", 9, "money", lambda one: one[1]),
        ("Paid by whom", 9, "text", lambda _: "me"),
        ("Hours", 9, "hours", lambda one: one[2]),
        currency="USD",
        foot=("Together", 25, "", 4),
    )
    shown = found.only("Hours", "Paid")

    assert [one.head for one in shown.columns] == ["Hours", "Paid, USD"]
    assert (shown.rows, shown.foot) == (((3, 20), (1, 5)), (4, 25))
    with pytest.raises(KeyError, match="Spent"):
        found.only("Spent")


@pytest.mark.parametrize(
    ("given_names", "names"),
    [
        (["Parts", "parts", "PARTS"], ("Parts", "parts 2", "PARTS 3")),
        (["a[b]c:d*e?f/g\\h"], ("a b c d e f g h",)),
        (["", "'", "[]"], ("Table", "Table 2", "Table 3")),
        (["History"], ("History 2",)),
        (["'quoted'"], ("quoted",)),
        (["a\nb"], ("a nb",)),
        (["x" * 40, "x" * 40], ("x" * 30 + "…", "x" * 28 + "… 2")),
    ],
)
def test_sheets_have_names_that_they_may_have(
    given_names: list[str], names: tuple[str, ...]
) -> None:
    assert sheet_names(given_names) == names
    assert read(written(*(table(name=one) for one in given_names))).sheetnames == list(names)


@given(st.lists(st.text(max_size=45), min_size=1, max_size=12))
@examples(max_examples=100, deadline=None)
def test_names_are_short_enough_and_no_two_alike(given_names: list[str]) -> None:
    names = sheet_names(given_names)

    assert len({one.casefold() for one in names}) == len(given_names)
    for one in names:
        assert 1 <= len(one.encode("utf-16-le")) // 2 <= LONGEST
        assert not set(one) & set("[]:*?/\\")
        assert one.strip("' ") == one


def test_a_sheet_has_a_head_that_stays_on_the_paper_of_the_place() -> None:
    for currency, paper in (("USD", 1), ("EUR", 9)):
        sheet = read(written(table("a"), currency=currency))["One"]
        assert sheet.freeze_panes == "A2"
        assert sheet.print_title_rows == "$1:$1"
        assert sheet.page_setup.paperSize == paper
        assert all(cell.font.bold for cell in sheet[1])


def test_the_same_tables_give_the_same_bytes() -> None:
    assert written(table("a"), table("b")) == written(table("a"), table("b"))


def test_a_long_title_is_cut_and_the_day_is_the_one_given() -> None:
    found = read(written(table("a"), title="t" * 400)).properties

    assert found.title == "t" * 255
    assert (found.created.year, found.created.month, found.created.day) == (2026, 11, 22)
