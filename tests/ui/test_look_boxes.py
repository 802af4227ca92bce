"""The look page's symptoms, codes and measurements: each becomes a finding, wrong text is said."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.findings import Area, Finding, Look, State
from appraise.models.vehicle import Fuel
from ui.session import cached

CAR = "dusk-curbside"
PADS = "rule.pad_thickness"


@pytest.fixture
def window(screens: Any) -> AppTest:
    opened: AppTest = screens.window("inspect", CAR)
    return opened


def tab(window: AppTest, name: str) -> AppTest:
    window.session_state["look-boxes"] = name
    window.run()
    assert not window.exception
    return window


def turn(window: AppTest, area: Area) -> None:
    window.selectbox(key="area").set_value(area).run()


def found(screens: Any) -> tuple[Finding, ...]:
    """Return the findings that are trouble."""
    case = screens.kept(CAR)
    return tuple(one for one in case.findings if one.trouble)


def errors(window: AppTest, bare: Any) -> str:
    return bare("\n".join(one.value for one in window.error))


def note_symptom(window: AppTest, widget: Any, button: Any, area: Area, symptom: str) -> None:
    turn(window, area)
    tab(window, "Symptom")
    widget(window, "selectbox", f"symptom.{area.value}").set_value(symptom).run()
    button(window, "Note it").click().run()
    assert not window.exception


def note_codes(window: AppTest, widget: Any, button: Any, text: str) -> None:
    tab(window, "Codes")
    widget(window, "text_area", ":codes").set_value(text)
    button(window, "Note these codes").click().run()
    assert not window.exception


def measure(window: AppTest, widget: Any, limit: str, typed: str, **more: Any) -> None:
    """Choose a limit of the area shown, type a reading and hold it against the limit."""
    area = window.session_state["area"]
    tab(window, "Measure")
    widget(window, "selectbox", f"limit.{area.value}").set_value(limit).run()
    widget(window, more.pop("kind", "text_input"), f"measure.{limit}:typed").set_value(typed)
    for name, value in more.items():
        kind = "number_input" if name == "by" else "text_input"
        widget(window, kind, f"measure.{limit}:{name}").set_value(value)
    widget(window, "button", f"measure.{limit}:go").click().run()
    assert not window.exception


def test_a_symptom_is_noted_and_what_may_be_behind_it_is_priced(
    screens: Any, window: AppTest, widget: Any, button: Any, walk_away: Any
) -> None:
    before = walk_away(screens.window("bid", CAR))
    note_symptom(window, widget, button, Area.ENGINE, "engine.no_boost")
    (kept,) = found(screens)

    assert kept.symptom == "engine.no_boost"
    assert kept.state is State.FAULTY
    assert kept.causes == ()
    assert window.session_state["area"] is kept.area
    assert walk_away(screens.window("bid", CAR)) != before


def test_symptoms_are_found_by_other_words_for_them(window: AppTest, widget: Any) -> None:
    turn(window, Area.ENGINE)
    tab(window, "Symptom")
    symptom = cached.reference().symptoms["engine.no_boost"]
    assert symptom.ask

    options = widget(window, "selectbox", "symptom.engine").options
    (shown,) = (one for one in options if one.startswith(symptom.label))
    for words in symptom.ask:
        assert words in shown


def test_a_gasoline_car_is_offered_no_symptom_of_a_diesel(
    screens: Any, window: AppTest, widget: Any
) -> None:
    assert screens.kept(CAR).vehicle.fuel is Fuel.GASOLINE
    label = cached.reference().symptoms["exhaust.filter_light"].label
    turn(window, Area.EXHAUST)
    tab(window, "Symptom")

    options = widget(window, "selectbox", "symptom.exhaust").options
    assert len(options) > 20
    assert not any(one.startswith(label) for one in options)


def test_codes_are_noted_and_the_box_is_empty_again(
    screens: Any, window: AppTest, widget: Any, button: Any, said: Any
) -> None:
    note_codes(window, widget, button, "p0301, P0302 P0420")
    misfire, catalyst = found(screens)

    assert (misfire.codes, catalyst.codes) == (("P0301", "P0302"), ("P0420",))
    assert misfire.causes == ()
    assert widget(window, "text_area", ":codes").value in ("", None)
    assert "Noted P0301, P0302, P0420." in said(window)
    assert "Noted: P0301, P0302, P0420" in said(window)


def test_a_raw_answer_is_decoded(screens: Any, window: AppTest, widget: Any, button: Any) -> None:
    note_codes(window, widget, button, "43 02 03 02 01 71")

    assert [one.codes for one in found(screens)] == [("P0302",), ("P0171",)]


def test_an_unknown_code_is_noted_as_a_suspicion(
    screens: Any, window: AppTest, widget: Any, button: Any
) -> None:
    note_codes(window, widget, button, "P1234")
    (kept,) = found(screens)

    assert (kept.state, kept.codes, kept.causes) == (State.SUSPECT, ("P1234",), ())


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("P0G99", "'G' is not a digit of a code"),
        ("P0301 P0G99", "P0G99"),
        ("43 02 03 0", "odd number of hex digits"),
        ("HELLO", "HELLO is not a code; codes look like P0302"),
        ("P0301 hello", "HELLO is not a code; codes look like P0302"),
        ("", "Type a trouble code, or paste an answer."),
        ("   ", "Type a trouble code, or paste an answer."),
    ],
)
def test_what_is_no_code_is_said_and_nothing_is_noted_or_lost(
    screens: Any, window: AppTest, widget: Any, button: Any, bare: Any, text: str, words: str
) -> None:
    version = screens.version(CAR)
    note_codes(window, widget, button, text)

    assert words in errors(window, bare)
    assert screens.version(CAR) == version
    assert (widget(window, "text_area", ":codes").value or "") == text
    tabs = [list(one) for one in window.tabs if one.label == "Codes"]
    (inside,) = ([one.type for one in kinds] for kinds in tabs)
    assert "error" in inside


def test_codes_typed_and_not_noted_stay_when_something_else_is_saved(
    window: AppTest, widget: Any, button: Any
) -> None:
    tab(window, "Codes")
    widget(window, "text_area", ":codes").set_value("P0302").run()
    button(window, "Fine").click().run()

    assert widget(window, "text_area", ":codes").value == "P0302"


def test_a_noted_finding_that_is_changed_keeps_its_codes_and_symptom(
    screens: Any, window: AppTest, widget: Any, button: Any
) -> None:
    note_codes(window, widget, button, "P0420")
    (before,) = found(screens)
    turn(window, before.area)
    window.button(key=f"change:{before.id}").click().run()
    widget(window, "text_input", f"{before.id}:label").set_value("Catalyst code")
    button(window, "Save").click().run()
    (after,) = found(screens)

    assert after.label == "Catalyst code"
    assert after.model_copy(update={"label": before.label}) == before


def test_a_reading_that_fails_is_noted_as_a_finding_and_said(
    screens: Any, window: AppTest, widget: Any, bare: Any
) -> None:
    turn(window, Area.BRAKES)
    measure(window, widget, PADS, "1 mm", place="left front")
    (kept,) = found(screens)
    limit = cached.reference().limits[PADS]

    assert (kept.severity, kept.look, kept.area) == (limit.severity, Look.MEASURED, Area.BRAKES)
    assert kept.label == f"{limit.failed}, left front"
    assert f"{limit.label}: fails." in errors(window, bare)
    (taken,) = screens.kept(CAR).measurements
    assert (taken.typed, taken.place, taken.value) == ("1 mm", "left front", Decimal(1))


def test_a_reading_that_passes_is_kept_without_a_finding(
    screens: Any, window: AppTest, widget: Any, said: Any
) -> None:
    turn(window, Area.BRAKES)
    measure(window, widget, PADS, "9")

    assert found(screens) == ()
    assert [one.value for one in screens.kept(CAR).measurements] == [Decimal(9)]
    assert not window.error
    assert ": passes." in said(window)


def test_a_question_is_answered_with_yes_or_no(screens: Any, window: AppTest, widget: Any) -> None:
    turn(window, Area.TIRES)
    measure(window, widget, "us_570.tire_condition", "no", kind="button_group")
    (kept,) = found(screens)

    assert kept.label == cached.reference().limits["us_570.tire_condition"].failed
    assert screens.kept(CAR).measurements[0].answer is False


def test_what_a_limit_hangs_on_is_asked_for(
    screens: Any, window: AppTest, widget: Any, said: Any
) -> None:
    """16 in wheel: 2 in of free play at most, 49 CFR 570.7(a), Table 1."""
    turn(window, Area.STEERING)
    measure(window, widget, "us_570.steering_lash", "2.1 in")
    assert found(screens) == ()
    assert "cannot tell" in said(window)
    measure(window, widget, "us_570.steering_lash", "2.1 in", by=16.0)

    assert len(found(screens)) == 1


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("thin", "'thin' is not a measurement"),
        ("", "nothing is given"),
        ("3 psi", "psi"),
        ("<b>3</b>", "is not a measurement"),
    ],
)
def test_what_is_no_measurement_is_said_and_stays_in_its_field(
    screens: Any, window: AppTest, widget: Any, bare: Any, typed: str, words: str
) -> None:
    version = screens.version(CAR)
    turn(window, Area.BRAKES)
    measure(window, widget, PADS, typed)

    assert words in errors(window, bare)
    assert screens.version(CAR) == version
    assert widget(window, "text_input", f"measure.{PADS}:typed").value == typed


def test_removing_a_measurement_removes_its_finding_and_can_be_undone(
    screens: Any, window: AppTest, widget: Any
) -> None:
    start = screens.kept(CAR)
    turn(window, Area.BRAKES)
    measure(window, widget, PADS, "1 mm")
    noted = screens.kept(CAR)
    window.button(key=f"measured:{noted.measurements[0].id}").click().run()

    assert screens.kept(CAR) == start
    window.button(key="undo-button").click().run()
    assert screens.kept(CAR) == noted


def test_an_area_with_nothing_to_measure_says_so(window: AppTest, said: Any) -> None:
    known = {one.area for one in cached.reference().limits.values()}
    turn(window, next(area for area in Area if area not in known))
    tab(window, "Measure")

    assert "Nothing to measure in this area." in said(window)
