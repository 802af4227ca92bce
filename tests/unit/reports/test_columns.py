"""Columns of text: what a letter takes up, where a text is cut and folded."""

from __future__ import annotations

import doctest
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appraise import services
from appraise.errors import Problem, one_line
from appraise.models.appraisal import Quantiles
from appraise.reports import columns
from appraise.reports.columns import (
    WIDTH,
    amount,
    cells,
    clip,
    folded,
    left,
    problem_lines,
    right,
    spread,
    title_lines,
)

CASE = next(one for one in services.example_cases() if one.id == "farm-truck-owned")


def test_the_examples_in_the_module_hold() -> None:
    done = doctest.testmod(columns)

    assert (done.failed, done.attempted) == (0, 4)


@pytest.mark.parametrize(
    ("text", "width"),
    [
        ("axle", 4),
        ("", 0),
        # Unicode Standard Annex 11: W and F take two columns, all else one
        ("車軸", 4),
        ("\N{FULLWIDTH LATIN CAPITAL LETTER A}", 2),
        ("ｱｲ", 2),
        ("é", 1),
        # combining marks stand on the letter before
        ("e\u0301", 1),
    ],
)
def test_a_text_takes_up_what_its_letters_do(text: str, width: int) -> None:
    assert cells(text) == width


@given(st.text(max_size=60), st.integers(1, 40))
def test_a_cut_text_fits_and_a_padded_one_fills(text: str, width: int) -> None:
    assert cells(clip(text, width)) <= width
    assert cells(left(text, width)) == width
    assert one_line(clip(text, width)) == clip(text, width)


@given(st.text(alphabet="ab 車e\u0301", max_size=400), st.integers(0, 30))
def test_a_folded_text_keeps_its_letters_and_fits(text: str, indent: int) -> None:
    lines = folded(text, " " * indent)

    assert all(cells(line) <= WIDTH for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


def test_folded_lines_hang_under_the_first() -> None:
    words = " ".join(["word"] * 40)
    lines = folded(words, "! ")

    assert len(lines) > 1
    assert lines[0].startswith("! word")
    assert all(line.startswith("  word") for line in lines[1:])
    assert folded("short", "- ", "....") == ["- short"]
    assert folded(words, "- ", "....")[1].startswith("....word")


def test_control_characters_are_written_out() -> None:
    assert clip("a\x1b[2Jb\n", 20) == "a\\x1b[2Jb\\n"
    assert folded("a\x1bb\u202e", "") == ["a\\x1bb\\u202e"]


def test_figures_are_never_cut() -> None:
    assert right("1,234", 8) == "   1,234"
    assert right("123,456,789", 4) == "123,456,789"


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        ("1234567.891", 2, "1,234,567.89"),
        ("-0.4", 0, "0"),
        ("-0.5", 0, "0"),
        ("-0.6", 0, "-1"),
        ("-0.004", 2, "0.00"),
        ("-12", 1, "-12.0"),
        ("0", 0, "0"),
    ],
)
def test_an_amount_has_thousands_apart_and_nought_no_sign(
    value: str, places: int, text: str
) -> None:
    assert amount(Decimal(value), places) == text


def test_a_number_with_doubt_shows_its_middle_low_and_high() -> None:
    ten, twenty, thirty, zero = Decimal(10), Decimal(20), Decimal(30), Decimal(0)
    found = Quantiles(
        mean=Decimal(21), p10=ten, p50=twenty, p90=thirty, mean_error=zero, p50_error=zero
    )

    assert spread(found) == "20   (10 to 30)"


def test_the_head_names_case_day_currency_and_car() -> None:
    first, second, rule = title_lines(CASE, date(2026, 11, 22))

    assert first.startswith(CASE.title)
    assert first.endswith("2026-11-22, USD")
    assert second == "2011 Stockvarrow Drayhock 4x4, 163,700 mi"
    assert cells(first) == len(rule) == WIDTH


def test_a_long_title_leaves_the_day_in_sight() -> None:
    first = title_lines(CASE.model_copy(update={"title": "車" * 100}), date(2026, 11, 22))[0]

    assert first.endswith(("…  2026-11-22, USD", "…   2026-11-22, USD"))
    assert cells(first) == WIDTH


def test_problems_stand_gravest_first_and_notes_are_marked_apart() -> None:
    told = (Problem("a", "Note", "note"), Problem("b", "Warned", "warning", "Do this."))
    stop = (Problem("c", "Stopped", "stop"),)

    assert problem_lines((*told, *stop)) == ["! Stopped", "! Warned. Do this.", "- Note"]
    assert problem_lines(()) == []
