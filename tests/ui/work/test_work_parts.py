"""The table of parts, written back into the jobs; deposits; what can be taken along."""

from __future__ import annotations

import io
from datetime import date
from decimal import Decimal
from typing import Any

import openpyxl
from streamlit.testing.v1 import AppTest

from appraise.models.case import Case
from appraise.models.parts import PartRow
from appraise.models.work import Grade, PlannedPart
from appraise.services import today
from appraise.services.output.printing import parts_sheet
from appraise.services.ownership.shopping import part_rows, parts_of
from ui.repair.parts import parts_frame, with_parts
from ui.session import cached
from ui.words import money

CAR = "farm-truck-owned"
BYPASSED = "wagon-half-repaired"


def edit(desk: Any, window: AppTest, key: Any, edits: Any, **given: Any) -> AppTest:
    window.session_state[key(window, "parts-table")] = edits(**given)
    return desk.click(window, "parts-save")


def row_of(case: Case, part: str) -> int:
    return [row.part for row in rows_of(case)].index(part)


def rows_of(case: Case) -> tuple[PartRow, ...]:
    return part_rows(case, cached.reference())


def test_the_table_of_parts_says_what_they_come_to(screens: Any, desk: Any, said: Any) -> None:
    rows = rows_of(screens.kept(CAR))
    window = desk.section("Parts")

    to_order = [one for one in rows if one.state == "to order"]
    label = f"To order ({len(to_order)}), USD"
    assert {one.label: one.value for one in window.metric}[label] == money(
        sum((one.total for one in to_order if one.total is not None), Decimal(0))
    )
    assert f"{len(rows)} parts." in said(window)


def test_what_is_typed_into_the_table_goes_into_the_parts(
    screens: Any, desk: Any, key: Any, edits: Any
) -> None:
    case = desk.planned()
    change = {
        "each": 44.9,
        "grade": "maker",
        "supplier": "Counter",
        "shipping": 5.0,
        "tax": 3.14,
        "core": 20.0,
        "days": 3,
        "warranty": 24,
        "ordered": "2026-11-20",
        "arrived": "2026-11-23",
    }
    window = desk.section("Parts")
    edit(desk, window, key, edits, changed={row_of(case, "pad-set-rear-axle"): change})

    kept = desk.job(screens.kept(CAR), "rear-pads-and-rotors").parts[0]
    assert kept == PlannedPart(
        id="pad-set-rear-axle",
        label="pad set, rear axle",
        grade=Grade.MAKER,
        supplier="Counter",
        price=Decimal("44.90"),
        shipping=Decimal("5.00"),
        tax=Decimal("3.14"),
        core=Decimal("20.00"),
        delivery_days=3,
        warranty_months=24,
        ordered_on=date(2026, 11, 20),
        arrived_on=date(2026, 11, 23),
    )
    untouched = [one for one in screens.kept(CAR).work.jobs if one.id != "rear-pads-and-rotors"]
    assert untouched == [one for one in case.work.jobs if one.id != "rear-pads-and-rotors"]
    desk.click(window, "undo-button")
    assert screens.kept(CAR).work == case.work


def test_a_part_that_comes_before_it_is_ordered_is_refused_and_stays_in_the_table(
    screens: Any, desk: Any, key: Any, edits: Any
) -> None:
    case = desk.planned()
    window = desk.section("Parts")
    change = {"ordered": "2026-11-20", "arrived": "2026-11-19"}
    edit(desk, window, key, edits, changed={0: change})

    assert "before it was ordered" in desk.errors(window)
    assert screens.kept(CAR).work == case.work
    assert window.session_state[key(window, "parts-table")]["edited_rows"] == {0: change}


def test_a_part_is_added_and_another_deleted(screens: Any, desk: Any, key: Any, edits: Any) -> None:
    case = desk.planned()
    window = desk.section("Parts")
    new = {"part": "slider pin", "job": "rear-pads-and-rotors", "quantity": 4}
    edit(desk, window, key, edits, added=[new], deleted=[row_of(case, "pad-set-rear-axle")])

    kept = desk.job(screens.kept(CAR), "rear-pads-and-rotors").parts
    assert [(one.label, one.quantity) for one in kept] == [("rotor", 2), ("slider pin", 4)]


def test_a_part_for_no_job_is_refused(screens: Any, desk: Any, key: Any, edits: Any) -> None:
    case = desk.planned()
    window = edit(desk, desk.section("Parts"), key, edits, added=[{"part": "slider pin"}])

    assert "Slider pin: choose the job that it is for" in desk.errors(window)
    assert screens.kept(CAR).work == case.work


def test_an_unchanged_table_changes_nothing(screens: Any, desk: Any) -> None:
    for car in (CAR, BYPASSED):
        before = screens.kept(car).work
        desk.click(desk.section("Parts", car), "parts-save")
        assert screens.kept(car).work == before


def test_a_job_without_a_list_of_its_own_gets_one_with_what_is_bought_in(desk: Any) -> None:
    """A shop's spraying of the liftgate is on no list of parts; it still has to be paid."""
    name = "body_and_paint.liftgate_used_and_painted"
    case = desk.bare(jobs=[{"id": "gate", "job": name}])
    reference = cached.reference()
    frame = parts_frame(rows_of(case), case, reference)
    assert with_parts(case, frame, reference) == case

    frame.loc[frame["part"] == "liftgate, used", "each"] = 165.0
    new = desk.job(with_parts(case, frame, reference), "gate")
    catalog = [one.label for one in reference.jobs[name].job.parts]
    assert [one.label for one in new.parts] == catalog
    assert len(catalog) > len(frame)
    assert new.parts == tuple(
        one.model_copy(update={"price": Decimal("165.00")})
        if one.label == "liftgate, used"
        else one
        for one in parts_of(case, desk.job(case, "gate"), reference)
    )


def test_parts_are_marked_as_ordered_and_here(screens: Any, desk: Any, widget: Any) -> None:
    desk.planned()
    window = desk.section("Parts")
    desk.press(window, "Here today")
    assert "Choose the parts first" in desk.errors(window)
    picked = ["bleed/brake-fluid-1-liter", "rear-pads-and-rotors/rotor"]
    widget(window, "multiselect", "parts-mark").set_value(picked)
    desk.press(window, "Ordered today")

    kept = screens.kept(CAR)
    assert desk.job(kept, "bleed").parts[0].ordered_on == today()
    assert [one.ordered_on for one in desk.job(kept, "rear-pads-and-rotors").parts] == [
        None,
        today(),
    ]
    widget(window, "multiselect", "parts-mark").set_value(picked[:1])
    desk.press(window, "Here today")
    assert desk.job(screens.kept(CAR), "bleed").parts[0].arrived_on == today()


def test_deposits_not_back_are_listed(desk: Any) -> None:
    window = desk.section("Parts", BYPASSED)
    tables = [one.value for one in window.dataframe if "Still to claim, USD" in one.value]

    assert [list(one["Still to claim, USD"]) for one in tables] == [[55.0]]


def test_the_lists_can_be_taken_along(screens: Any, desk: Any) -> None:
    window = desk.section("Parts", BYPASSED)

    offered = {one.label for one in window.get("download_button")}
    assert offered == {"As a spreadsheet", "On paper (PDF)"}
    book = openpyxl.load_workbook(
        io.BytesIO(parts_sheet(screens.kept(BYPASSED), cached.reference()))
    )
    texts = {str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row}
    assert "pad set, front axle" in texts
