"""Logs, lists of cars, codes and answers that were made to hurt.

Elsewhere: logs that are broken, packed, of several encodings or hold NUL (unit/services/test_logs);
answers that cannot be (unit/engine/test_codes, test_live_data); measurements of more than sixty
characters (unit/services/test_units).
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import pytest

from appraise import services
from appraise.errors import AppraiseError
from appraise.intake.logs.layout import LONGEST_CELL, MOST_COLUMNS, find_layout
from appraise.intake.logs.read import BadLog, read_log
from appraise.intake.units import parse_measure
from appraise.services.inspection.log_views import log_view
from appraise.services.inspection.pasting import (
    LONGEST_LINE,
    MOST_LINES,
    SHOWN,
    Pasted,
    paste_comparables,
)
from appraise.services.inspection.scanning import read_scan

SECONDS = 3.0
"""Of the processor; without the bounds most of these took minutes, some days."""
HEAD = b"time,rpm,map\n"
ROWS = b"".join(b"%d,3000,100\n" % at for at in range(50))
CAR = services.load_case_file("demo").vehicle
REFERENCE = services.reference_values()


def pasted(text: str) -> Pasted:
    return paste_comparables(text, REFERENCE, unit="mi", currency="USD", on=date(2026, 6, 1))


@contextmanager
def soon() -> Iterator[None]:
    started = time.process_time()
    yield
    assert time.process_time() - started < SECONDS


# --- logs -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("heading", [b"a", b"", b"boost", b"%d"])
@pytest.mark.parametrize("columns", [MOST_COLUMNS + 1, 30_000, 1_000_000])
def test_a_log_of_very_many_columns_is_refused(columns: int, heading: bytes) -> None:
    names = [heading % at if b"%" in heading else heading for at in range(columns)]
    row = b",".join([b"1"] * columns) + b"\n"
    data = b",".join(names) + b"\n" + row * 3
    with soon(), pytest.raises(BadLog, match="more than 500 columns"):
        read_log(data)


@pytest.mark.parametrize("heading", [b"a", b"", b"a (2)"])
def test_a_log_of_as_many_columns_as_may_be_is_read(heading: bytes) -> None:
    data = b",".join([heading] * MOST_COLUMNS) + b"\n" + b",".join([b"1"] * MOST_COLUMNS) + b"\n"
    with soon():
        log = read_log(data * 2)

    assert len(find_layout((data * 2).decode()).headings) == MOST_COLUMNS
    assert len(log.other) == 100


@pytest.mark.parametrize(
    "heading",
    [
        "a" + " " * 100_000 + "b",
        "(" * 100_000,
        "x(" * 50_000 + "kPa",
        "[" + "(" * 50_000 + ")]",
        "_ ." * 40_000,
        "boost " * 30_000,
        "target " * 30_000 + "map",
        "map (" + "kPa*" * 30_000 + ")",
        "map (kPa**" + "9" * 1_000 + ")",
    ],
    ids=lambda given: given[:8],
)
def test_a_heading_that_is_slow_to_take_apart_is_cut(heading: str) -> None:
    data = f"time,{heading},rpm\n".encode() + ROWS
    with soon():
        log = read_log(data)

    assert log.rows == 50
    assert all(len(one) <= LONGEST_CELL + 8 for one in (*log.columns, *log.other))


@pytest.mark.parametrize("heading", ["boost target ", "( [", "a  b ", "kpa_"])
def test_five_hundred_headings_that_are_slow_are_read_in_good_time(heading: str) -> None:
    longest = (heading * LONGEST_CELL)[: LONGEST_CELL - 6]
    names = [f"{longest}{at}" for at in range(MOST_COLUMNS)]
    data = ",".join(names) + "\n" + (",".join(["1"] * MOST_COLUMNS) + "\n") * 2
    with soon():
        read_log(data.encode())


@pytest.mark.parametrize(
    "cell",
    [
        "9" * 100_000,
        "1:1:1" * 20_000,
        "2020-01-01T10:10" + " " * 50_000 + "x",
        "1e999999999",
        "1999-01-01T00:00:00" + "0" * 50_000,
        "999:99:99." + "9" * 50_000,
        "x" * 100_000,
        '"' + "x" * 100_000 + '"',
    ],
    ids=lambda given: given[:8],
)
@pytest.mark.parametrize("place", [0, 1])
def test_a_cell_of_any_length_is_a_gap_or_a_number(cell: str, place: int) -> None:
    line = ",".join((cell, "3000") if place == 0 else ("1", cell))
    with soon():
        log = read_log(HEAD + f"{line},100\n".encode() * 2 + ROWS)

    assert 50 <= log.rows <= 52


def test_very_many_lines_of_nothing_end() -> None:
    started = time.process_time()
    log = read_log(b"a,b\n1,2\n" + b",\n" * 4_500_000)

    assert time.process_time() - started < 10
    assert any("only the first" in one.message for one in log.problems)


def test_a_heading_that_moves_the_cursor_is_told_without(tmp_path: Path) -> None:
    from appraise.engine.measure.logged import logged_pulls  # noqa: PLC0415 - only here
    from appraise.reports.log_page import log_page  # noqa: PLC0415 - only here

    place = tmp_path / "a\x1b[2Jb\u202egnp.csv"
    head = "time,rpm,map,odd \x1b[2J\u202e\x9b heading,words\x1b]8;;x\x07\n"
    place.write_text(head + "".join(f"{at},3000,100,7,x\n" for at in range(50)))
    page = log_page(logged_pulls(log_view(place), 3000, 5000))

    assert all(one.isprintable() or one == "\n" for one in page)


# --- like cars ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "line",
    [
        "2015 x " + "1" * 300_000,
        "a 2015; x; " + "1," * 300_000,
        "2015" + " " * 300_000 + "x",
        "9" * 300_000 + "; 5; 5",
        "1, " * 300_000,
        "2015, 100000, " + "k" * 10_000_000,
    ],
    ids=lambda given: given[:12],
)
def test_a_line_of_any_length_is_told_with_its_beginning(line: str) -> None:
    with soon():
        found = pasted(line)

    (row,) = found.rows
    assert row.problem == "is longer than 400 characters"
    assert len(row.text) <= SHOWN


def test_a_line_as_long_as_may_be_is_read() -> None:
    line = "2015; 100000; 5000; " + "x" * 1_000
    assert pasted(line[:LONGEST_LINE]).comparables
    with soon():
        pasted("\n".join(["2015 x " + "1," * 190] * 100))


@pytest.mark.parametrize(
    "piece", ["1,", "$", "$ ", "1 000 ", "12,", "km ", "1-", "€1", " ", "1.1."]
)
def test_lists_of_lines_that_are_slow_to_take_apart_are_read_in_good_time(piece: str) -> None:
    line = ("2015 " + piece * LONGEST_LINE)[:LONGEST_LINE]
    with soon():
        pasted("\n".join([line] * 100))


def test_lines_beyond_the_last_that_is_read_are_told() -> None:
    with soon():
        found = pasted("2015; 100000; 5000\n" * 1_000_000)

    assert len(found.comparables) == MOST_LINES
    assert [one.where for one in found.problems] == ["line 501"]
    exact = pasted("2015; 100000; 5000\n" * MOST_LINES)
    assert (len(exact.comparables), exact.problems) == (MOST_LINES, ())


# --- codes, answers and measurements --------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    ["P0300 " * 1_000_000, "P" * 5_000_000, "43 01 03 " * 500_000, "\n" * 5_000_000 + "P0300"],
    ids=lambda given: given[:8],
)
def test_codes_without_end_are_refused(text: str) -> None:
    with soon(), pytest.raises(AppraiseError, match="no list of codes is") as caught:
        services.codes_in(text)

    assert len(str(caught.value)) < 200


@pytest.mark.parametrize(
    "text",
    [
        "41 0C 0A 00\n" * 700_000,
        "F" * 8_000_000,
        " " * 8_000_000 + "41",
        "0: 49 02 01\n" + "1: 00 00 00 00 00 00 00\n" * 200_000,
        "41 0\x1b[2J\u202e",
    ],
    ids=lambda given: repr(given[:8]),
)
def test_answers_without_end_are_refused(text: str) -> None:
    with soon(), pytest.raises(AppraiseError) as caught:
        read_scan(text, CAR, REFERENCE)

    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 1_100


@pytest.mark.parametrize(
    "text",
    ["1e999999999 kPa", "9**9**9 kPa", "1/0", "9" * 60, "1 kPa**9", "1 __import__", "9" * 10_000],
    ids=lambda given: given[:12],
)
@pytest.mark.parametrize("read", [lambda text: parse_measure(text, "kPa")])
def test_a_measurement_is_read_and_never_reckoned_out(
    text: str, read: Callable[[str], object]
) -> None:
    with soon(), pytest.raises(AppraiseError):
        read(text)
