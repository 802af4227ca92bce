"""The paper: what stands on it, its size, and that nothing a person wrote becomes part of it."""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import date, timedelta
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any

import pypdf
import pytest

from appraise import services
from appraise.engine.work.schedule import DayPlan, Plan
from appraise.models.case import Case
from appraise.models.parts import CoreRow, PartRow
from appraise.reports.paper import head_of, parts_paper, printed
from appraise.reports.parts_page import PartsLists
from appraise.services.output.printing import parts_lists

REFERENCE = services.reference_values()
HALF = next(one for one in services.example_cases() if one.id == "wagon-half-repaired")
TRUCK = next(one for one in services.example_cases() if one.id == "farm-truck-owned")
DAY = date(2026, 11, 22)
NO_DAYS = DayPlan(Plan((), (), (), 0.0, None), {}, {})
POINTS_TO_MM = 25.4 / 72
HOSTILE = (
    "#panic()",
    '#read("common.typ")',
    "*bold* _italic_ `code`",
    "$x^2$",
    "= Heading",
    "- item",
    "<label> @reference",
    "\\u{41} \\",
    "// gone",
    '"; #let x = 1',
    "[#data]",
    "]]} ) (",
)


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
        "shipping": Decimal(0),
        "tax": Decimal(0),
        "total": Decimal("90.20"),
        "core": Decimal(0),
        "warranty_months": None,
        "state": "to order",
        "due": None,
    }
    return PartRow(**given | changes)


def lists(*parts: PartRow, cores: tuple[CoreRow, ...] = ()) -> PartsLists:
    return PartsLists(DAY, parts, cores, NO_DAYS)


def reader(content: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(BytesIO(content))


def words(content: bytes) -> str:
    """Return the text of all pages, joined lines, without the breaks allowed inside words."""
    text = " ".join(page.extract_text() for page in reader(content).pages)
    return " ".join(text.replace("\u200b", "").split())


def test_it_names_the_case_the_car_the_number_and_the_day() -> None:
    text = words(parts_paper(HALF, parts_lists(HALF, REFERENCE, DAY)))

    for what in ("Parts to buy", HALF.title, HALF.vehicle.name, HALF.vehicle.vin, "2026-11-22"):
        assert what in text
    assert "108,300 mi" in text


@pytest.mark.parametrize("case", [HALF, TRUCK], ids=lambda one: one.id)
def test_what_to_buy_what_is_on_the_way_and_what_goes_back_stand_on_it(case: Case) -> None:
    found = parts_lists(case, REFERENCE, DAY)
    text = words(parts_paper(case, found))
    buy = [one for one in found.parts if one.state == "to order"]

    assert buy
    for one in found.parts:
        assert (one.label in text) == (one.state != "here")
    for one in buy:
        if one.total is not None:
            assert f"{one.total:,.2f}" in text
    assert f"{sum(one.total or 0 for one in buy):,.2f}" in text
    for one in found.cores:
        assert f"{one.left:,.2f}" in text
    assert ("Cores to give back" in text) == bool(found.cores)


def test_each_supplier_has_its_own_table_and_sum() -> None:
    """By hand: 2 x 90.20 and 30.00; deposits 2 x 11."""
    text = words(
        parts_paper(
            HALF,
            lists(
                part("a disc", supplier="Quennock Brakes"),
                part("a pad set", supplier="Quennock Brakes", core=Decimal(11)),
                part("a bulb", each=Decimal(30), total=Decimal(30), quantity=1, expected=True),
                part("a clip", each=None, total=None),
            ),
        )
    )

    assert text.index("Quennock Brakes") < text.index("Supplier not chosen")
    assert "Together 180.40 22.00" in text
    assert "Together, 1 without a price about 30.00" in text
    assert "To buy, 1 without a price about 210.40" in text
    assert "Deposits, to buy 22.00" in text
    assert "About: what the catalog expects" in text


def test_a_late_part_is_said_to_be_late() -> None:
    due = DAY - timedelta(3)
    text = words(parts_paper(HALF, lists(part("disc", state="late", due=due))))

    assert "2026-11-19 late" in text
    assert "To buy" not in text.replace("Parts to buy", "")


def test_a_car_that_needs_nothing_has_a_paper_that_says_so() -> None:
    text = words(parts_paper(HALF, lists()))

    assert "Nothing is to be bought, nothing is on the way" in text
    assert "All together" not in text


@pytest.mark.parametrize(
    ("currency", "size"),
    # US Letter 8.5 x 11 in (ANSI/ASME Y14.1); A4 210 x 297 mm (ISO 216); both from memory
    [("USD", (215.9, 279.4)), ("EUR", (210.0, 297.0)), ("GBP", (210.0, 297.0))],
)
def test_the_size_of_the_paper_is_that_of_the_place(
    currency: str, size: tuple[float, float]
) -> None:
    page = reader(parts_paper(HALF.model_copy(update={"currency": currency}), lists())).pages[0]

    found = (float(page.mediabox.width), float(page.mediabox.height))
    assert [one * POINTS_TO_MM for one in found] == pytest.approx(size, abs=0.1)


@pytest.mark.parametrize("text", HOSTILE)
def test_what_a_person_wrote_is_printed_and_never_run(text: str) -> None:
    core = CoreRow("a", text, (text,), Decimal(1), Decimal(0), Decimal(1))
    case = HALF.model_copy(
        update={"title": text, "vehicle": HALF.vehicle.model_copy(update={"make": text})}
    )
    found = lists(
        part(text, supplier=text, job_label=text),
        part(text, supplier=text, state="ordered"),
        cores=(core,),
    )
    said = words(parts_paper(case, found))

    assert said.replace(" ", "").count(text.replace(" ", "")) >= 7


def test_a_word_longer_than_its_column_is_broken_and_stays_on_the_page() -> None:
    long = "W" * 200
    content = parts_paper(HALF, lists(part(long, supplier=long), part(long, state="ordered")))
    right = 0.0

    def seen(text: str, _: Any, at: list[float], *__: Any) -> None:
        nonlocal right
        if text.strip():
            right = max(right, at[4])

    page = reader(content).pages[0]
    page.extract_text(visitor_text=seen)
    assert words(content).replace(" ", "").count("W") == 3 * 200
    assert 0 < right < float(page.mediabox.width)


def test_many_parts_take_several_pages_each_with_the_head_of_the_table() -> None:
    content = parts_paper(HALF, lists(*(part(f"part {at}", supplier="Zed") for at in range(120))))
    pages = reader(content).pages

    assert len(pages) > 2
    for at, page in enumerate(pages, 1):
        text = page.extract_text()
        assert f"{at} / {len(pages)}" in text
        if at < len(pages):
            assert "Deposits" in text
    text = words(content)
    assert all(f"part {at} " in text for at in range(120))


def test_letters_that_no_font_has_are_told_and_stop_nothing() -> None:
    known, unknown = (
        parts_paper(HALF, lists(part("Größe café Ω"))),
        parts_paper(HALF, lists(part("車軸"))),
    )
    remark = "Boxes stand for letters that no font of this program has."

    assert "Größe café Ω" in words(known)
    assert remark not in words(known)
    assert remark in words(unknown)


def test_it_is_tagged_for_readers_that_speak() -> None:
    """PDF/UA-1 (ISO 14289-1): marked content, a language, a title that is shown."""
    found = reader(parts_paper(HALF, parts_lists(HALF, REFERENCE, DAY)))
    root = found.trailer["/Root"]

    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert "pdfuaid" in root["/Metadata"].get_data().decode()
    assert found.metadata is not None
    assert found.metadata.title == f"Parts to buy: {HALF.title}"


def test_only_fonts_of_the_layout_program_are_in_it() -> None:
    names = set()
    for page in reader(parts_paper(HALF, parts_lists(HALF, REFERENCE, DAY))).pages:
        for font in page["/Resources"]["/Font"].values():
            names.add(str(font.get_object()["/BaseFont"]))

    assert names
    assert all("Libertinus" in name for name in names)


def test_the_same_lists_give_the_same_bytes() -> None:
    found = parts_lists(HALF, REFERENCE, DAY)

    assert parts_paper(HALF, found) == parts_paper(HALF, found)


def test_a_layout_that_is_wrong_is_not_hidden() -> None:
    head = head_of(HALF, "Parts to buy", DAY)

    with pytest.raises(RuntimeError, match="dictionary does not contain key"):
        printed(head, [{"kind": "table", "title": "Parts"}], [], DAY)


def test_the_layouts_hold_no_text_of_a_case_and_ask_for_no_package() -> None:
    folder = Path(services.__file__).parents[1] / "reports" / "templates"
    layouts = sorted(folder.glob("*.typ"))

    assert {"common.typ", "sheet.typ"} <= {one.name for one in layouts}
    for one in layouts:
        text = one.read_text(encoding="utf-8")
        assert "@preview" not in text
        assert "eval(" not in text


def test_reading_the_module_does_not_load_the_layout_program() -> None:
    work = (
        "import sys; from appraise.reports import paper, workbook; "
        "print(sorted({'typst', 'xlsxwriter'} & set(sys.modules)))"
    )
    done = subprocess.run(  # noqa: S603 - our own words only
        [sys.executable, "-c", work], capture_output=True, text=True, check=True
    )

    assert done.stdout.strip() == "[]"
    assert json.dumps(head_of(HALF, "Any", DAY))
