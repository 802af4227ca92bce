"""The spreadsheet, read back by another library: text stays text, amounts numbers, days days."""

from __future__ import annotations

import re
import zipfile
from datetime import date, datetime, timedelta
from decimal import Decimal
from io import BytesIO
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st

from appraise import services
from appraise.engine.work.schedule import Day, DayPlan, Plan, Step
from appraise.models.parts import CoreRow, PartRow
from appraise.reports.parts_page import PartsLists
from appraise.reports.workbook import cell_text
from appraise.services.output.printing import parts_lists
from appraise.services.output.printing import parts_sheet_of as parts_sheet

REFERENCE = services.reference_values()
HALF = next(one for one in services.example_cases() if one.id == "wagon-half-repaired")
DAY = date(2026, 11, 22)
FULL = 32_767
"""Characters that a cell holds: Microsoft, Excel specifications and limits (from memory)."""
HOSTILE = (
    "=cmd|' /C calc'!A0",
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "\n=1",
    "two\nlines\tand a tab",
    "https://example.com",
    "mailto:a@example.com",
    "internal:Cores!A1",
    "1234",
    "1e9",
    "2026-11-22",
    "TRUE",
    "#REF!",
    "'quoted",
    "_x0041_",
    "<b>&amp;</b>",
    "]]>",
    "  blanks around  ",
    "車軸 \N{WRENCH} e\u0301",
)
"""The first signs are those that OWASP names for CSV injection (from memory)."""


def part(label: str, **changes: Any) -> PartRow:
    given: dict[str, Any] = {
        "job": "brakes",
        "job_label": "Front brakes",
        "part": "disc",
        "label": label,
        "grade": "aftermarket",
        "supplier": "",
        "quantity": 2,
        "each": Decimal("45.10"),
        "expected": False,
        "shipping": Decimal("5.25"),
        "tax": Decimal(0),
        "total": Decimal("95.45"),
        "core": Decimal(12),
        "warranty_months": 24,
        "state": "ordered",
        "due": DAY + timedelta(3),
    }
    return PartRow(**given | changes)


def planned(*days: Day) -> DayPlan:
    plan = Plan(days, (), (), 0.0, days[-1].on if days else None)
    return DayPlan(plan, {"a-job": "Front brakes"}, {"wheels": "Wheels off"})


def lists(
    *parts: PartRow, cores: tuple[CoreRow, ...] = (), days: DayPlan | None = None
) -> PartsLists:
    return PartsLists(DAY, parts, cores, days or planned())


def read(content: bytes) -> openpyxl.Workbook:
    return openpyxl.load_workbook(BytesIO(content))


def rows(content: bytes, sheet: str = "Parts") -> list[dict[str, Any]]:
    """Return the rows of a sheet by their heads."""
    head, *body = read(content)[sheet].iter_rows(values_only=True)
    return [dict(zip(map(str, head), row, strict=True)) for row in body]


def test_there_are_three_sheets_each_with_a_head_that_stays() -> None:
    book = read(parts_sheet(HALF, parts_lists(HALF, REFERENCE, DAY)))

    assert book.sheetnames == ["Parts", "Cores", "Days"]
    for sheet in book:
        assert sheet.freeze_panes == "A2"
        assert sheet.print_title_rows == "$1:$1"
        assert all(cell.font.bold for cell in sheet[1])
        assert all(
            8 <= sheet.column_dimensions[cell.column_letter].width <= 61 for cell in sheet[1]
        )
        assert sheet.max_row > 1


def test_amounts_are_numbers_with_two_places_and_days_are_days() -> None:
    sheet = read(parts_sheet(HALF, lists(part("disc"))))["Parts"]
    cells = {str(head.value): cell for head, cell in zip(sheet[1], sheet[2], strict=True)}

    for head, value in (
        ("Each, USD", 45.10),
        ("Shipping, USD", 5.25),
        ("Tax, USD", 0),
        ("Total, USD", 95.45),
        ("Deposit each, USD", 12),
    ):
        assert cells[head].data_type == "n"
        assert cells[head].value == value
        assert cells[head].number_format == "#,##0.00"
    assert cells["Due or arrived"].value == datetime(2026, 11, 25)  # noqa: DTZ001 - no zone there
    assert cells["Due or arrived"].number_format == "yyyy-mm-dd"
    assert (cells["Quantity"].value, cells["Warranty, months"].value) == (2, 24)


@pytest.mark.parametrize("name", ["farm-truck-owned", "wagon-half-repaired"])
def test_every_part_of_an_example_is_in_the_sheet(name: str) -> None:
    case = services.load_case_file(name)
    found = parts_lists(case, REFERENCE, DAY)
    content = parts_sheet(case, found)
    listed = rows(content)

    assert [one["Part"] for one in listed] == [one.label for one in found.parts]
    assert [one["Supplier"] or "" for one in listed] == [one.supplier for one in found.parts]
    assert sum(Decimal(str(one["Total, USD"])) for one in listed) == sum(
        one.total or 0 for one in found.parts
    )
    assert len(rows(content, "Cores")) == len(found.cores)
    hours = sum(one["Your hours"] or 0 for one in rows(content, "Days"))
    # steps of less than 0.05 h of teardown are left out, as on the page
    assert hours == pytest.approx(sum(day.hours for day in found.days.plan.days), abs=0.05)


def test_a_price_that_is_missing_is_an_empty_cell_and_is_said_to_be_missing() -> None:
    (row,) = rows(parts_sheet(HALF, lists(part("disc", each=None, total=None, due=None))))

    assert (row["Each, USD"], row["Total, USD"], row["Due or arrived"]) == (None, None, None)
    assert row["Price is"] == "missing"
    assert rows(parts_sheet(HALF, lists(part("disc", expected=True))))[0]["Price is"] == "expected"


@pytest.mark.parametrize("text", HOSTILE)
def test_what_looks_like_a_formula_a_link_or_a_number_stays_text(text: str) -> None:
    core = CoreRow("a", text, (text,), Decimal(1), Decimal(0), Decimal(1))
    content = parts_sheet(
        HALF, lists(part(text, supplier=text, job_label=text, grade=text), cores=(core,))
    )
    book = read(content)
    for sheet, places in (("Parts", (1, 2, 3, 4)), ("Cores", (1, 2))):
        for place in places:
            cell = book[sheet].cell(2, place)
            assert cell.data_type == "s"
            assert cell.hyperlink is None
            # a cell breaks its lines by line feeds alone
            assert cell.value == text.replace("\r", "\n")
    with zipfile.ZipFile(BytesIO(content)) as packed:
        for name in packed.namelist():
            inside = packed.read(name)
            assert b"<f>" not in inside
            assert b"hyperlink" not in inside
            assert b"externalLink" not in inside


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t", "\r", "\n"])
def test_a_text_that_begins_like_a_formula_stays_text_when_it_is_edited(sign: str) -> None:
    """The cell carries the quote that a person would type before it (quotePrefix)."""
    content = parts_sheet(HALF, lists(part(f"{sign}1"), part("plain")))
    sheet = read(content)["Parts"]

    assert sheet.cell(2, 2).quotePrefix
    assert not sheet.cell(3, 2).quotePrefix


def test_a_text_longer_than_a_cell_is_cut_with_a_mark() -> None:
    just, over, wide = "a" * FULL, "a" * (FULL + 1), "\N{WRENCH}" * FULL

    assert cell_text(just) == just
    assert cell_text(over) == "a" * (FULL - 1) + "…"
    # a wrench is two UTF-16 units
    assert len(cell_text(wide).encode("utf-16-le")) // 2 <= FULL
    assert cell_text(wide).endswith("\N{WRENCH}…")
    (row,) = rows(parts_sheet(HALF, lists(part(over))))
    assert row["Part"] == "a" * (FULL - 1) + "…"


@given(st.text(max_size=200))
@examples(max_examples=60, deadline=None)
def test_any_text_gives_a_workbook_that_can_be_read(text: str) -> None:
    (row,) = rows(parts_sheet(HALF, lists(part(text or "x"))))

    assert row["Part"] == cell_text(text or "x")


def test_a_day_before_the_calendar_of_spreadsheets_is_kept_as_text() -> None:
    (row,) = rows(parts_sheet(HALF, lists(part("disc", due=date(1899, 12, 31)))))

    assert row["Due or arrived"] == "1899-12-31"


def test_days_have_a_row_for_each_step_shop_and_wait() -> None:
    days = planned(
        Day(
            DAY,
            (Step("a-job", 0.5, "wheels"), Step("a-job", 1.2), Step("a-job", 0.01, "wheels")),
            ("a-job",),
            (),
        ),
        Day(DAY + timedelta(1), (), (), ("waits for parts: a-job",)),
    )
    found = rows(parts_sheet(HALF, lists(days=days)), "Days")

    assert [(one["Work"], one["Your hours"], one["Waits for"]) for one in found] == [
        ("Wheels off, and back", 0.5, None),
        (None, 1.2, None),
        ("at the shop", None, None),
        (None, None, "waits for parts: Front brakes"),
    ]
    assert [one["Job"] for one in found] == ["Front brakes"] * 3 + [None]


def test_an_empty_plan_gives_heads_alone() -> None:
    content = parts_sheet(HALF, lists())

    assert rows(content) == rows(content, "Cores") == rows(content, "Days") == []


def test_the_same_lists_give_the_same_bytes() -> None:
    found = parts_lists(HALF, REFERENCE, DAY)

    assert parts_sheet(HALF, found) == parts_sheet(HALF, found)


@pytest.mark.parametrize(("currency", "paper"), [("USD", 1), ("EUR", 9)])
def test_it_prints_on_the_paper_of_the_place(currency: str, paper: int) -> None:
    """Numbers of paper sizes: 1 Letter, 9 A4 (ECMA-376, part 1, 18.3.1.63)."""
    case = HALF.model_copy(update={"currency": currency})
    sheet = read(parts_sheet(case, lists(part("disc"))))["Parts"]

    assert sheet.page_setup.paperSize == paper
    assert sheet.page_setup.orientation == "landscape"
    assert any(re.fullmatch(f"Each, {currency}", str(cell.value)) for cell in sheet[1])
