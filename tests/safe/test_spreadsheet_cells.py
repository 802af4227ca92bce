"""Words of somebody's own values, and of who did what, stay words in a spreadsheet.

A car's own words are in unit/services/test_tables_hostile.py; these come from a file over the
catalog, and from the list of what was done.
"""

from __future__ import annotations

import re
import tomllib
import zipfile
from datetime import date
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest
import tomli_w

from appraise import services
from appraise.reference.load import Reference
from appraise.reports.table import Column, Table
from appraise.services.output.table_lists import catalog_sheet, sheet_of
from appraise.services.output.tables import table_sheet
from appraise.services.records.own_values import own_entry

ON = date(2026, 11, 27)
FORMULAS = (
    '=HYPERLINK("http://e.example","y")',
    "+cmd|' /C calc'!A0",
    "@SUM(A1)",
    "\N{FULLWIDTH EQUALS SIGN}1+1",
    "http://e.example/x",
    "internal:Sheet1!A1",
    "{=1+1}",
)
"""What a program may take for a formula (OWASP, CSV injection; from memory) or a link."""
QUOTED = ("=", "+", "-", "@", "\N{FULLWIDTH EQUALS SIGN}")


def hostile(path: Path, text: str) -> Reference:
    """Return the catalog with every label, note and word from a file of own values."""
    found = services.reference_values()
    both = {"label": text, "note": text}
    values = [tomllib.loads(own_entry(found, one))["value"][0] for one in found.values]
    tables = {
        "value": [one | both for one in values],
        "area": [{"id": one.value, "label": text} for one in found.areas],
        "job": [{"id": one} | both for one in found.jobs],
        "limit": [{"id": one, "label": text} for one in found.limits],
    }
    for name in ("causes", "checks", "tools"):
        tables[name.removesuffix("s")] = [
            {"id": one, "label": text} for one in getattr(found, name)
        ]
    path.write_text(tomli_w.dumps(tables), encoding="utf-8")
    return services.reference_values(path)


def words_alone(content: bytes, text: str) -> int:
    """Return how many cells hold a text, in a workbook where nothing is reckoned out or linked."""
    with zipfile.ZipFile(BytesIO(content)) as packed:
        assert not [one for one in packed.namelist() if "external" in one or "Macro" in one]
        for name in packed.namelist():
            assert not re.search(rb"<f[ />]|<hyperlink|<ddeLink|<oleLink", packed.read(name)), name
    count = 0
    for sheet in openpyxl.load_workbook(BytesIO(content)):
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type in "snd", cell
                assert cell.hyperlink is None
                if isinstance(cell.value, str) and cell.value.startswith(QUOTED):
                    assert cell.quotePrefix, cell
                count += isinstance(cell.value, str) and text in cell.value
    return count


@pytest.mark.parametrize("text", FORMULAS)
def test_own_values_stay_words_in_every_table(text: str, tmp_path: Path) -> None:
    reference = hostile(tmp_path / "own.toml", text)

    assert words_alone(catalog_sheet(reference), text) > 300
    for car in ("wagon-half-repaired", "auction-engine-light"):
        case = services.load_case_file(car).model_copy(update={"draws": 1000})
        assert words_alone(table_sheet(case, reference, on=ON), text) > 30


@pytest.mark.parametrize("text", FORMULAS)
def test_who_did_what_stays_words(text: str) -> None:
    """Names of people and titles of cars, in a table that a page shows."""
    columns = (Column("Who", 34), Column("What", 34), Column("Car", 34))
    doings = Table("Doings", columns, ((text, "changed a car", text),))

    assert words_alone(sheet_of(doings, text), text) == 2


def test_a_formula_or_a_link_would_be_found() -> None:
    book, out = openpyxl.Workbook(), BytesIO()
    book.active["A1"] = "=1+1"
    book.save(out)
    with pytest.raises(AssertionError):
        words_alone(out.getvalue(), "x")
    book, out = openpyxl.Workbook(), BytesIO()
    book.active["A1"].hyperlink = "http://e.example"
    book.save(out)
    with pytest.raises(AssertionError):
        words_alone(out.getvalue(), "x")
