"""What each finding was expected to be, and what it is settled as."""

from __future__ import annotations

from typing import Any

from streamlit.testing.v1 import AppTest

from appraise.services import changed, finding_from_symptom, possible_causes, today
from ui.session import cached
from ui.words import money

CAR = "farm-truck-owned"


def truth(screens: Any, name: str) -> Any:
    return next(one.truth for one in screens.kept(CAR).findings if one.id == name)


def settle(window: AppTest, widget: Any, name: str, choice: str) -> AppTest:
    widget(window, "selectbox", f"truth.{name}").set_value(choice).run()
    assert not window.exception
    return window


def test_each_finding_says_what_was_expected_of_it_then(screens: Any, desk: Any, said: Any) -> None:
    expected = screens.kept(CAR).purchase.expected
    whine = next(one for one in expected.findings if one.id == "axle-whine")
    text = said(desk.section("Faults"))

    assert f"Expected on {expected.on}: anything to repair 90 %" in text
    assert f"{money(whine.money.mean)} USD and {whine.own_hours:.1f} h on average" in text
    assert "New: not known on the day of the purchase." in text
    assert "Of 2 settled so far 2 came true" in text


def test_a_finding_is_settled_on_a_cause_and_the_count_follows(
    screens: Any, desk: Any, said: Any, widget: Any
) -> None:
    window = settle(desk.section("Faults"), widget, "axle-whine", "cause differential.oil_low")

    found = truth(screens, "axle-whine")
    assert (found.fault, found.cause, found.on) == (True, "differential.oil_low", today())
    assert "Of 3 settled so far 3 came true" in said(window)
    assert "No job is planned for it yet" in said(window)
    (table,) = window.dataframe
    row = table.value.set_index("Finding").loc["Rear axle whines from 40 mph"]
    assert row["Turned out"] == "Came true"
    assert row["What it was"] == "Old or low oil"
    assert row["Expected now, on average, USD"] < row["Expected then, on average, USD"]


def test_a_finding_that_came_to_nothing_says_what_of_its_job_and_can_be_undone(
    screens: Any, desk: Any, said: Any, widget: Any
) -> None:
    window = settle(desk.section("Faults"), widget, "tailgate", "nothing")

    assert truth(screens, "tailgate").fault is False
    assert "Nothing was wrong: drop it under Jobs if it is not needed." in said(window)
    desk.click(window, "undo-button")
    assert truth(screens, "tailgate") is None
    settle(window, widget, "rear-brakes", "open")
    assert truth(screens, "rear-brakes") is None


def test_without_what_was_expected_nothing_is_called_new(
    screens: Any, desk: Any, said: Any
) -> None:
    screens.put(changed(screens.kept(CAR), ("purchase", "expected"), None))
    window = desk.section("Faults")

    assert "was not kept for this car" in said(window)
    assert "New:" not in said(window)
    (table,) = window.dataframe
    assert "Turned out" not in table.value


def test_a_car_without_faults_leads_to_look(screens: Any, desk: Any, said: Any) -> None:
    case = desk.bare()
    screens.put(changed(case, ("findings",), []))
    window = desk.section("Faults")

    assert "Nothing suspect or faulty is noted yet." in said(window)


def test_a_finding_that_names_a_symptom_offers_the_faults_that_may_be_behind_it(
    screens: Any, desk: Any, widget: Any
) -> None:
    reference = cached.reference()
    case = screens.put(finding_from_symptom(screens.kept(CAR), "cooling.runs_hot", reference))
    finding = case.findings[-1]
    possible = possible_causes(finding, case.vehicle, reference)
    window = desk.section("Faults")
    box = widget(window, "selectbox", f"truth.{finding.id}")
    assert set(possible.values()) < set(box.options)
    assert "Something else" in box.options

    settle(window, widget, finding.id, "cause cooling.thermostat")
    assert truth(screens, finding.id).cause == "cooling.thermostat"
    (table,) = window.dataframe
    row = table.value.set_index("Finding").loc[finding.label]
    assert row["What it was"] == possible["cooling.thermostat"]
    settle(window, widget, finding.id, "fault")
    assert (truth(screens, finding.id).fault, truth(screens, finding.id).cause) == (True, None)
