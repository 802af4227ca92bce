"""The page of a number: what is wrong first, then its positions."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from appraise.engine.papers.vin import read_vin
from appraise.engine.papers.vin_compare import compare
from appraise.errors import one_line
from appraise.reports.vin_page import CLEAN, WIDTH
from appraise.reports.vin_page import compare_page as compared
from appraise.reports.vin_page import vin_page as shown

GOOD = "1G4AH59H45G118341"


def vin_page(text: str, model_year: int | None = None) -> str:
    return shown(read_vin(text, model_year))


def compare_page(first: str, second: str) -> str:
    return compared(compare(first, second))


def rows(page: str) -> dict[str, str]:
    """Return the labeled rows of a page."""
    lines = [line for line in page.splitlines() if line.startswith("  ")]
    return {line[2:17].strip(): line[17:].strip() for line in lines}


def test_a_good_number_is_taken_apart() -> None:
    """49 CFR 565.15: positions 1-3, 4-8, 9, 10, 11 and 12-17."""
    page = vin_page("1g4 ah59h 45g118341", 2005)

    assert page.splitlines()[:3] == [GOOD, "=" * WIDTH, CLEAN]
    assert rows(page) == {
        "maker": "1G4",
        "maker's place": "North America, United States",
        "described by": "AH59H",
        "check digit": "4: holds (411 modulo 11); required",
        "model year": "2005 (position 10 is 5, position 7 is 9)",
        "plant": "G",
        "serial": "118341",
    }


def test_a_wrong_number_is_not_called_clean_and_says_so_first() -> None:
    page = vin_page("1G4AH59H4SG118341", 2005).splitlines()

    assert page[2].startswith("! position 9 is 4 and the check digit would be X")
    assert page[3].startswith("! the number says model year 1995, the papers say 2005")
    assert CLEAN not in page
    assert rows("\n".join(page))["check digit"].startswith("4: does not hold, X would (384")


def test_notes_stand_below_warnings() -> None:
    """A maker of few vehicles (position 3 is 9) is a note."""
    marks = [line[0] for line in vin_page("1J9RP1A36A1644345", 2011).splitlines()[2:4]]

    assert marks == ["!", "-"]


def test_a_foreign_number_whose_check_digit_fails_is_neither_blamed_nor_called_clean() -> None:
    page = vin_page("WXXZZZ1AZ6A000001")

    assert "!" not in page
    assert CLEAN not in page
    assert rows(page)["model year"].startswith("2006 or 2036 ")
    assert rows(page)["check digit"].endswith("required only if sold new in the United States")


def test_a_proposed_reading_is_shown_beside_what_was_written() -> None:
    page = vin_page("1XXZA05AXKAO42788")

    assert page.startswith("1XXZA05AXKAO42788\n")
    assert rows(page)["read from"] == "1XXZA05AXKA042788"
    assert "read from" not in rows(vin_page(GOOD))


def test_an_unknown_year_is_unknown() -> None:
    assert rows(vin_page("WXXZZZ1AZ0A000001"))["model year"].startswith("unknown (position 10 is 0")


def test_what_is_no_number_has_no_rows() -> None:
    for text in ("", "1G4", "x" * 500, "\u0410" * 17):
        page = vin_page(text).splitlines()
        assert len(page) == 3
        assert page[2].startswith("! ")
        assert len(page[0]) <= WIDTH
    assert vin_page("").startswith("no number\n")


def test_two_papers_stand_under_each_other_with_marks() -> None:
    page = compare_page(GOOD, "1G4AH59H4SG118341").splitlines()

    assert page[:4] == [GOOD, "1G4AH59H4SG118341", " " * 9 + "^", "result: one differs"]
    assert page[4].startswith("! 5 against S at position 10")


def test_the_same_number_twice_has_no_marks() -> None:
    assert compare_page(GOOD, GOOD.lower()).splitlines() == [GOOD, GOOD, "result: same"]
    assert compare_page("", "").splitlines()[:3] == [
        "no number",
        "no number",
        "result: cannot tell",
    ]


@given(first=st.text(alphabet=st.characters(exclude_categories=())), second=st.text())
def test_no_text_moves_a_terminal_s_cursor(first: str, second: str) -> None:
    for page in (vin_page(first), compare_page(first, second)):
        assert all(one_line(line) == line for line in page.split("\n"))
