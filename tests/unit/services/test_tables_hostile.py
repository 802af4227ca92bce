"""Whatever a person wrote comes out of every table as text: no formula, no link, no number."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from appraise import services
from appraise.models.case import Case
from appraise.models.deal import FeeSchedule
from appraise.reports.table import Column, Table
from appraise.reports.tables_bid import fees_table
from appraise.services.output import table_lists, tables
from appraise.services.output.printing import parts_sheet
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings

REFERENCE = services.reference_values()
DAY = date(2026, 11, 22)
ONE_LINE = (
    '=HYPERLINK("http://x","y")',
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "\N{FULLWIDTH EQUALS SIGN}1+1",
)
"""What a spreadsheet program may take for a formula (OWASP, CSV injection; from memory)."""
LINES = (*ONE_LINE, "\n\t=1", "x\r=1")
"""Blanks at the head of a note are taken off by the models; what is left must still be text."""
HEADS = ("=", "+", "-", "@", "\N{FULLWIDTH EQUALS SIGN}")
FIELDS = {
    *("title", "label", "issuer", "reach", "supplier", "number", "make", "model", "in_name"),
    *("signed_to", "place", "seller", "venue", "name", "what", "reason", "restore", "why_none"),
}
NOTES = {"note", "story", "disclosure"}


def hostile(raw: Any, text: str) -> Any:
    """Return a document with every text that a person wrote replaced."""
    if isinstance(raw, dict):
        return {
            key: text
            if key in NOTES or (key in FIELDS and isinstance(value, str) and text.isprintable())
            else hostile(value, text)
            for key, value in raw.items()
        }
    return [hostile(one, text) for one in raw] if isinstance(raw, list) else raw


def made(name: str, text: str) -> Case:
    case = services.load_case_file(name)
    raw = case.model_dump(mode="json")
    raw["draws"] = 1000  # the figures do not matter here
    raw["deal"]["fees"] = [{"name": "Premium", "steps": [{"starts_at": 0, "flat": 10}]}]
    return Case.model_validate(hostile(raw, text))


def cells(content: bytes) -> Iterator[Any]:
    """Yield the cells of a workbook that holds nothing but texts, numbers and days."""
    with zipfile.ZipFile(BytesIO(content)) as packed:
        for name in packed.namelist():
            inside = packed.read(name)
            assert not re.search(rb"<f[ />]", inside), name
            assert b"<hyperlink" not in inside, name
            assert b"externalLink" not in inside, name
    for sheet in openpyxl.load_workbook(BytesIO(content)):
        for row in sheet.iter_rows():
            yield from row


def all_text(content: bytes, text: str) -> int:
    """Return how many cells hold a hostile text, each found to be text with a quote before it."""
    count = 0
    for cell in cells(content):
        assert cell.data_type in "snd", cell
        assert cell.hyperlink is None
        if isinstance(cell.value, str) and cell.value.startswith(HEADS):
            assert cell.data_type == "s", cell
            assert cell.quotePrefix, cell
        count += cell.value == text
    return count


@pytest.mark.parametrize("text", ONE_LINE)
@pytest.mark.parametrize("name", ["wagon-half-repaired", "auction-engine-light"])
def test_every_table_of_a_car_keeps_a_person_s_words_text(name: str, text: str) -> None:
    case = made(name, text)
    content = tables.table_sheet(case, REFERENCE, on=DAY)

    # labels, suppliers, notes: all over the workbook
    assert all_text(content, text) > 50
    book = openpyxl.load_workbook(BytesIO(content))
    assert book["Findings"].cell(2, 2).value == text
    assert book["Fees of the venue"].cell(2, 1).value == text
    for title in ("Entries", "Parting out") if case.work.entries else ("Papers",):
        assert any(cell.value == text for row in book[title] for cell in row)


@pytest.mark.parametrize("text", LINES)
def test_a_note_of_several_lines_is_text(text: str) -> None:
    case = made("wagon-half-repaired", text)

    kept = case.note.replace("\r", "\n")
    assert all_text(tables.table_sheet(case, REFERENCE, ["Car", "Entries"], DAY), kept) > 2


@pytest.mark.parametrize("text", ONE_LINE)
def test_every_other_way_out_keeps_it_text_too(text: str, tmp_path: Path) -> None:
    """The parts, what a car earned, a venue's fees, plain rows, the list of cars."""
    case = made("wagon-half-repaired", text)
    assert all_text(parts_sheet(case, REFERENCE, DAY), text) > 5
    assert all_text(tables.earned_sheet(case, Decimal(4000), DAY), text) == 0
    fees = FeeSchedule.model_validate({"name": text, "steps": [{"starts_at": 0, "flat": 10}]})
    assert all_text(table_lists.sheet_of(fees_table([fees], "USD"), text), text) == 1
    live = Table("Live", (Column("Value", 34), Column("Reading", 34)), ((text, "3 V"),))
    assert all_text(table_lists.sheet_of(live, text), text) == 1
    workspace = open_workspace(Settings(data_folder=tmp_path))
    workspace.cases.add(case.model_copy(update={"id": "hostile"}))
    content = table_lists.cars_sheet(workspace, REFERENCE)
    workspace.cases.engine.dispose()
    assert all_text(content, text) == 3  # title, make, model


def test_the_title_of_the_workbook_is_a_person_s_own_and_no_more_than_that() -> None:
    case = made("dusk-curbside", ONE_LINE[0])
    content = tables.table_sheet(case, REFERENCE, ["Findings"], DAY)

    assert openpyxl.load_workbook(BytesIO(content)).properties.title == ONE_LINE[0]
