"""The planned jobs: planned, begun, changed, dropped, taken out; what is refused."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.work import Purpose, Stage
from appraise.services import today
from appraise.services.ownership.sharing import while_in_there
from appraise.services.ownership.working import add_job, plan_from_findings, put_job
from ui.session import cached
from ui.words import money

CAR = "farm-truck-owned"
BYPASSED = "wagon-half-repaired"


def test_jobs_are_planned_from_the_findings_and_the_unclear_ones_named(
    screens: Any, desk: Any, said: Any
) -> None:
    before = desk.bare()
    window = desk.press(desk.section("Jobs"), "Plan jobs from the findings")

    planned = plan_from_findings(before, cached.reference())
    assert screens.kept(CAR).work.jobs == planned.case.work.jobs
    assert len(planned.added) > 5
    assert f"Jobs planned: {len(planned.added)}." in said(window)
    assert "The cause is not clear enough for: Rear axle whines from 40 mph." in said(window)
    assert "No job yet: Rear axle whines from 40 mph." in said(window)
    assert "Diagnose it" in [one.value for one in window.get("page_link")]
    desk.click(window, "undo-button")
    assert screens.kept(CAR).work.jobs == ()


def test_a_job_says_what_it_takes_its_cautions_its_tools_and_what_it_waits_for(
    desk: Any, said: Any
) -> None:
    case = desk.planned()
    forecast = cached.forecast(case)
    reference = cached.reference()
    text = said(desk.section("Jobs"))

    first = forecast.jobs[0]
    assert first.label in text
    assert f"About {money(first.money.p50)} USD" in text
    assert f"{first.hours.p50:.1f} h" in text
    known = reference.jobs["brakes.lines_to_rear"].job
    assert known.cautions
    for name in known.cautions:
        assert reference.cautions[name].text in text
    assert reference.tools[known.tools[0]].label in text
    assert f"Waits for: {reference.jobs['brakes.lines_to_rear'].job.label}" in text
    assert "must be done before a private buyer drives it away" in text


def test_jobs_stand_in_an_order_in_which_they_can_be_done(
    screens: Any, desk: Any, said: Any
) -> None:
    case = desk.bare()
    reference = cached.reference()
    for name in ("brakes.bleed", "brakes.lines_to_rear"):
        case = add_job(case, name, reference)
    bleed = desk.job(case, "bleed").model_copy(update={"after": ("lines-to-rear",)})
    screens.put(put_job(case, bleed))
    text = said(desk.section("Jobs"))

    labels = [
        f"**{reference.jobs[one].job.label}**" for one in ("brakes.lines_to_rear", "brakes.bleed")
    ]
    assert text.index(labels[0]) < text.index(labels[1])


def test_a_job_is_begun_set_back_dropped_planned_again_and_undone(screens: Any, desk: Any) -> None:
    desk.planned()
    window = desk.section("Jobs")
    name = "liftgate-used-and-painted"

    desk.click(window, f"job-begin:{name}")
    begun = desk.job(screens.kept(CAR), name)
    assert (begun.stage, begun.started_on) == (Stage.STARTED, today())
    desk.click(window, f"job-not:{name}")
    assert desk.job(screens.kept(CAR), name).stage is Stage.PLANNED
    assert desk.job(screens.kept(CAR), name).started_on is None
    desk.click(window, f"job-drop:{name}")
    assert desk.job(screens.kept(CAR), name).stage is Stage.DROPPED
    window.session_state[f"{CAR}:jobs-page"] = 2  # those dropped stand last
    desk.click(window.run(), f"job-plan:{name}")
    assert desk.job(screens.kept(CAR), name).stage is Stage.PLANNED
    desk.click(window, "undo-button")
    assert desk.job(screens.kept(CAR), name).stage is Stage.DROPPED


def test_a_job_without_entries_is_taken_out_and_comes_back(screens: Any, desk: Any) -> None:
    before = desk.planned().work
    window = desk.click(desk.section("Jobs"), "job-take:lines-to-rear")

    kept = screens.kept(CAR).work
    assert kept.job("lines-to-rear") is None
    assert kept.job("bleed").after == ()
    desk.click(window, "undo-button")
    assert screens.kept(CAR).work == before


def test_a_job_with_receipts_is_not_taken_out_and_says_what_to_do(screens: Any, desk: Any) -> None:
    before = screens.kept(CAR).work
    window = desk.click(desk.section("Jobs"), "job-take:lines-to-rear")

    assert "which would belong to no job" in desk.errors(window)
    assert "Drop it instead" in desk.errors(window)
    assert screens.kept(CAR).work == before
    desk.click(window, "job-drop:lines-to-rear")
    assert not window.error
    assert screens.kept(CAR).work.entries == before.entries


def test_a_refusal_stands_beside_its_job_only_and_goes_with_the_section(
    desk: Any,
) -> None:
    window = desk.click(desk.section("Jobs"), "job-take:lines-to-rear")
    assert len(window.error) == 1

    window.get("button_group")[0].set_value("Days").run()
    window.get("button_group")[0].set_value("Jobs").run()
    assert not window.error


def fill(desk: Any, window: AppTest, widget: Any, name: str, **given: Any) -> AppTest:
    """Open a job's form, fill it in and save it."""
    if not [one for one in window.get("button") if one.label == "Close without saving"]:
        desk.click(window, f"job-change:{name}")
    kinds = {"quantity": "number_input", "must": "toggle", "note": "text_area"}
    kinds |= dict.fromkeys(("after", "findings"), "multiselect")
    for field, value in given.items():
        if isinstance(value, tuple):
            for place, one in zip(("low", "likely", "high"), value, strict=True):
                widget(window, "number_input", f"job.{name}:{field}:{place}").set_value(one)
        else:
            kind = kinds.get(field, "selectbox")
            widget(window, kind, f"job.{name}:{field}").set_value(value)
    desk.only(window, "button", "Save").click()
    window.run()
    assert not window.exception
    return window


def test_the_form_of_a_job_changes_it_and_closes(screens: Any, desk: Any, widget: Any) -> None:
    desk.planned()
    window = fill(
        desk,
        desk.section("Jobs"),
        widget,
        "rear-pads-and-rotors",
        must=False,
        after=["bleed"],
        hours=(1.0, 1.5, 2.5),
        money=(90.0, 120.5, 180.0),
        note="Ask for coated discs",
        done_by="shop",
    )

    kept = desk.job(screens.kept(CAR), "rear-pads-and-rotors")
    assert (kept.must, kept.after, kept.done_by) == (False, ("bleed",), "shop")
    assert kept.hours is not None
    assert (kept.hours.low, kept.hours.likely, kept.hours.high) == (
        1,
        Decimal("1.5"),
        Decimal("2.5"),
    )
    assert kept.money is not None
    assert kept.money.likely == Decimal("120.50")
    assert kept.note == "Ask for coated discs"
    assert not [one for one in window.get("button") if one.label == "Close without saving"]
    desk.click(window, "undo-button")
    assert desk.job(screens.kept(CAR), "rear-pads-and-rotors").must is True


def test_a_form_saved_as_it_is_changes_nothing(screens: Any, desk: Any, widget: Any) -> None:
    before = screens.kept(BYPASSED).work
    window = desk.section("Jobs", BYPASSED)
    for one in before.jobs:
        if one.open:
            fill(desk, window, widget, one.id)

    assert screens.kept(BYPASSED).work == before


def test_more_times_take_more_parts_but_for_those_ordered(
    screens: Any, desk: Any, widget: Any
) -> None:
    case = desk.planned()
    pads = desk.job(case, "rear-pads-and-rotors")
    ordered = pads.parts[0].model_copy(update={"ordered_on": date(2026, 11, 20)})
    screens.put(put_job(case, pads.model_copy(update={"parts": (ordered, *pads.parts[1:])})))
    fill(desk, desk.section("Jobs"), widget, "rear-pads-and-rotors", quantity=2)

    kept = desk.job(screens.kept(CAR), "rear-pads-and-rotors")
    assert [one.quantity for one in pads.parts] == [1, 2]
    assert [one.quantity for one in kept.parts] == [1, 4]


def test_jobs_that_would_wait_for_each_other_are_refused_and_the_form_keeps_it(
    screens: Any, desk: Any, widget: Any
) -> None:
    before = desk.planned().work
    window = fill(
        desk, desk.section("Jobs"), widget, "lines-to-rear", after=["bleed"], note="Long way round"
    )

    assert "jobs wait for each other in a ring" in desk.errors(window).lower()
    assert screens.kept(CAR).work == before
    assert widget(window, "multiselect", "job.lines-to-rear:after").value == ["bleed"]
    assert widget(window, "text_area", "job.lines-to-rear:note").value == "Long way round"


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ((5.0, None, None), "enter low, likely and high, or leave all three empty"),
        ((9.0, 5.0, 12.0), "low (9.00) is above likely (5.00)"),
        ((0.0, 5.0, 12.0), "low is 0"),
    ],
)
def test_a_range_that_cannot_be_names_its_field(
    screens: Any, desk: Any, widget: Any, typed: Any, words: str
) -> None:
    before = desk.planned().work
    window = fill(desk, desk.section("Jobs"), widget, "bleed", hours=typed)

    assert words in desk.errors(window)
    assert "Own figure for its hours" in desk.errors(window)
    assert screens.kept(CAR).work == before


def add(
    desk: Any, window: AppTest, widget: Any, name: str, purpose: Purpose, **given: Any
) -> AppTest:
    widget(window, "button_group", "add-job:purpose").set_value(purpose).run()
    widget(window, "selectbox", "add-job:job").set_value(name)
    if "finding" in given:
        widget(window, "selectbox", "add-job:finding").set_value(given["finding"])
    for place, one in zip(("low", "likely", "high"), given.get("adds", ()), strict=False):
        widget(window, "number_input", f"add-job:adds:{place}").set_value(one)
    return desk.press(window, "Add this job")


def test_a_job_of_the_catalog_is_added_with_its_finding_and_what_follows(
    screens: Any, desk: Any, widget: Any, said: Any
) -> None:
    desk.bare()
    window = desk.section("Jobs", folds=("work-add",))
    add(desk, window, widget, "differential.oil_change", Purpose.REPAIR, finding="axle-whine")

    kept = screens.kept(CAR).work.jobs
    assert [(one.job, one.findings, one.purpose) for one in kept] == [
        ("differential.oil_change", ("axle-whine",), Purpose.REPAIR)
    ]
    assert "Planned: " in said(window)


def test_an_upgrade_is_added_with_what_it_adds_to_the_price(
    screens: Any, desk: Any, widget: Any
) -> None:
    desk.bare()
    window = desk.section("Jobs", folds=("work-add",))
    name = "fluids_and_service.wiper_blades"
    add(desk, window, widget, name, Purpose.UPGRADE, adds=(20.0, 40.0, 90.0))

    (kept,) = screens.kept(CAR).work.jobs
    assert kept.purpose is Purpose.UPGRADE
    assert kept.adds is not None
    assert (kept.adds.low, kept.adds.likely, kept.adds.high) == (20, 40, 90)


def test_adding_without_a_job_or_one_planned_already_is_refused(
    screens: Any, desk: Any, widget: Any
) -> None:
    before = desk.planned().work
    window = desk.section("Jobs", folds=("work-add",))
    desk.press(window, "Add this job")
    assert "Choose a job first" in desk.errors(window)
    add(desk, window, widget, "brakes.lines_to_rear", Purpose.PREVENTIVE)

    assert "is planned already" in desk.errors(window)
    assert screens.kept(CAR).work == before


def test_only_jobs_that_fit_the_car_are_offered(desk: Any, widget: Any) -> None:
    window = desk.section("Jobs", folds=("work-add",))
    offered = " ".join(widget(window, "selectbox", "add-job:job").options)
    reference = cached.reference()
    electric = [one.job for one in reference.jobs.values() if one.job.fuels == ("electric",)]

    assert electric
    assert not [one.label for one in electric if f"{one.label} (" in offered]


def test_what_is_offered_while_in_there_is_added_with_one_click(
    screens: Any, desk: Any, said: Any
) -> None:
    case = desk.planned()
    found = while_in_there(case, cached.reference())
    assert found
    window = desk.section("Jobs")
    assert f"saves {found[0].saved_hours:.1f} h" in said(window)
    desk.click(window, f"offer:{found[0].job}")

    new = [one for one in screens.kept(CAR).work.jobs if one.job == found[0].job]
    assert [one.purpose for one in new] == [Purpose.PREVENTIVE]
    assert f"offer:{found[0].job}" not in [one.key for one in window.button]


BYPASS = {
    "what": "Oxygen sensor heater",
    "reason": "Fuse blows, part on order",
    "restore": "Fit the sensor, take the bridge out",
}


def test_a_bypass_is_entered_with_its_caution_and_becomes_a_job_that_restores(
    screens: Any, desk: Any, widget: Any, bare: Any
) -> None:
    desk.bare()
    window = desk.section("Jobs", folds=("work-bypass",))
    assert "no repair" in bare("\n".join(one.value for one in window.warning))
    assert "42 U.S.C. 7522(a)(3)" in bare("\n".join(one.value for one in window.warning))
    for field, value in BYPASS.items():
        widget(window, "text_input", f"bypass:{field}").set_value(value)
    desk.press(window, "Enter this bypass")

    (kept,) = screens.kept(CAR).work.jobs
    assert kept.purpose is Purpose.BYPASS
    assert kept.bypass is not None
    assert {name: getattr(kept.bypass, name) for name in BYPASS} == BYPASS
    assert kept.bypass.started_on == today()
    assert f"job-drop:{kept.id}" not in [one.key for one in window.button]


def test_a_bypass_without_a_reason_is_refused_by_field_and_keeps_what_was_typed(
    screens: Any, desk: Any, widget: Any
) -> None:
    desk.bare()
    window = desk.section("Jobs", folds=("work-bypass",))
    widget(window, "text_input", "bypass:what").set_value("Heater")
    desk.press(window, "Enter this bypass")

    assert "Why: is empty" in desk.errors(window)
    assert widget(window, "text_input", "bypass:what").value == "Heater"
    assert screens.kept(CAR).work.jobs == ()


def test_sets_that_exclude_each_other_are_kept_shown_and_removed(
    screens: Any, desk: Any, widget: Any, said: Any
) -> None:
    desk.planned()
    window = desk.section("Jobs", folds=("work-one-of",))
    widget(window, "multiselect", "one-of:jobs").set_value(["bleed"])
    desk.press(window, "Keep this set")
    assert "Choose two jobs or more" in desk.errors(window)
    widget(window, "multiselect", "one-of:jobs").set_value(["bleed", "lines-to-rear"])
    desk.press(window, "Keep this set")

    assert screens.kept(CAR).work.at_most_one == (("bleed", "lines-to-rear"),)
    assert "Instead of: " in said(window)
    desk.click(window, "one-of:0")
    assert screens.kept(CAR).work.at_most_one == ()
