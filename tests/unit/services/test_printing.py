"""Lists gathered for paper and sheet, and files that are written whole or not at all."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from appraise import services
from appraise.errors import AppraiseError, BadCase
from appraise.services.cases.casework import today
from appraise.services.output import printing
from appraise.services.ownership.deciding import day_plan_of
from appraise.services.ownership.shopping import cores_to_return, part_rows

REFERENCE = services.reference_values()
HALF = services.load_case_file("wagon-half-repaired")
DAY = date(2026, 11, 22)


def test_the_lists_are_those_of_shopping_and_of_the_day_plan() -> None:
    found = printing.parts_lists(HALF, REFERENCE, DAY)

    assert found.on == DAY
    assert found.parts == part_rows(HALF, REFERENCE, DAY)
    assert found.cores == cores_to_return(HALF, REFERENCE)
    assert found.days == day_plan_of(HALF, REFERENCE, DAY)
    assert printing.parts_lists(HALF, REFERENCE).on == today()


@pytest.mark.parametrize("make", [printing.parts_lists, printing.parts_sheet, printing.parts_paper])
def test_a_car_that_is_not_owned_has_none(make: object) -> None:
    prospect = services.load_case_file("dusk-curbside")

    with pytest.raises(BadCase, match="purchase: the car is not bought yet"):
        make(prospect, REFERENCE)  # type: ignore[operator]


def test_files_are_written_whole_and_leave_nothing_beside_them(tmp_path: Path) -> None:
    printing.write_files({tmp_path / "a": b"one", tmp_path / "b": b"two"})

    assert {one.name: one.read_bytes() for one in tmp_path.iterdir()} == {"a": b"one", "b": b"two"}


def test_a_write_that_fails_leaves_what_was_there(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"mine")

    with pytest.raises(AppraiseError, match="cannot be written"):
        printing.write_files({tmp_path / "a": b"new", tmp_path / "gone" / "b": b"two"})

    assert {one.name: one.read_bytes() for one in tmp_path.iterdir()} == {"a": b"mine"}


def test_a_link_to_nowhere_is_not_written_through(tmp_path: Path) -> None:
    (tmp_path / "a.pdf").symlink_to(tmp_path / "elsewhere.pdf")

    with pytest.raises(AppraiseError, match="there already"):
        printing.free_place(tmp_path / "a.pdf", ".pdf", "--paper", force=True)
