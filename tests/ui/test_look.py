"""The page of the look: areas marked, findings added, changed and removed."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.findings import Area, Finding, Look, Severity, State
from appraise.models.vehicle import Aspiration, ValveDrive
from appraise.reports.wording import percent
from appraise.services import finding_from_symptom
from ui.session import cached

CAR = "dusk-curbside"
PADS, DISCS, CALIPER = (
    "brakes.front_pads",
    "brakes.front_pads_and_rotors",
    "brakes.front_caliper",
)


def findings(case: Any, area: Area) -> list[Finding]:
    return [one for one in case.findings if one.area is area]


def empty_area(case: Any) -> Area:
    """Return an area with nothing said of it yet."""
    return next(area for area in Area if area is not Area.ROAD_TEST and not findings(case, area))


@pytest.fixture
def window(screens: Any) -> AppTest:
    opened: AppTest = screens.window("inspect", CAR)
    return opened


@pytest.fixture
def area(screens: Any, window: AppTest) -> Iterator[Area]:
    """Turn to an area with nothing said of it yet."""
    found = empty_area(screens.kept(CAR))
    window.selectbox(key="area").set_value(found).run()
    yield found
    assert not window.exception


def test_an_area_marked_fine_is_kept_and_the_next_one_comes(
    screens: Any, window: AppTest, area: Area, button: Any
) -> None:
    button(window, "Fine").click().run()

    (kept,) = findings(screens.kept(CAR), area)
    assert (kept.state, kept.look) == (State.FINE, Look.GLANCE)
    following = list(Area)[list(Area).index(area) + 1]
    assert window.selectbox(key="area").value == following


def looks(case: Any) -> list[Look | None]:
    return [one.look for one in case.findings if one.state is State.FINE]


def test_quick_presses_claim_no_more_than_a_glance(
    screens: Any, window: AppTest, button: Any
) -> None:
    before = len(looks(screens.kept(CAR)))
    window.selectbox(key="area").set_value(next(iter(Area))).run()
    for _ in Area:
        button(window, "Fine").click().run()

    case = screens.kept(CAR)
    claimed = looks(case)
    assert len(claimed) > before + 10
    assert claimed.count(Look.GLANCE) >= len(claimed) - before


def test_how_an_area_was_looked_at_is_kept_for_the_next_ones_of_this_car_only(
    screens: Any, window: AppTest, area: Area, widget: Any, button: Any
) -> None:
    widget(window, "button_group", f"how.{area.value}").set_value(Look.UNDERNEATH)
    button(window, "Fine").click().run()
    following = empty_area(screens.kept(CAR))
    window.selectbox(key="area").set_value(following).run()

    assert [one.look for one in findings(screens.kept(CAR), area)] == [Look.UNDERNEATH]
    assert widget(window, "button_group", f"how.{following.value}").value == Look.UNDERNEATH
    other = screens.window("inspect", "auction-engine-light")
    free = empty_area(screens.kept("auction-engine-light"))
    other.selectbox(key="area").set_value(free).run()
    assert widget(other, "button_group", f"how.{free.value}").value == Look.GLANCE


def test_fine_takes_doubt_away_and_not_looked_at_brings_it_back(
    screens: Any, window: AppTest, area: Area, button: Any
) -> None:
    def looked() -> str:
        return str(window.get("progress")[0].proto.text)

    before = looked()
    button(window, "Fine").click().run()
    after = looked()
    window.selectbox(key="area").set_value(area).run()
    button(window, "Not inspected").click().run()

    assert after != before
    assert looked() == before
    assert [one.state for one in findings(screens.kept(CAR), area)] == [State.NOT_LOOKED_AT]


def test_the_areas_can_be_gone_through_both_ways(window: AppTest, button: Any) -> None:
    seen = []
    for label in ("Next area", "Next area", "Area before"):
        button(window, label).click().run()
        seen.append(window.selectbox(key="area").value)

    assert seen == [Area.ENGINE, Area.TRANSMISSION, Area.ENGINE]


def form(window: AppTest, area: Area, name: str = "new") -> dict[str, Any]:
    """Return the widgets of the form of a finding by the last part of their keys."""
    middle = f":finding.{area.value}.{name}:"
    kinds = ("text_input", "selectbox", "number_input", "multiselect", "toggle", "text_area")
    found = [one for kind in kinds for one in window.get(kind) if middle in str(one.key)]
    return {str(one.key).split(middle, 1)[1]: one for one in found}


def test_a_fault_with_its_job_is_added(
    screens: Any, window: AppTest, area: Area, button: Any
) -> None:
    button(window, "Something wrong").click().run()
    fields = form(window, area)
    fields["label"].set_value("Pads down to the metal")
    fields["severity"].set_value(Severity.MAJOR)
    fields["look"].set_value(Look.CLOSE)
    fields["jobs"].set_value([PADS])
    fields["note"].set_value("scored discs")
    button(window, "Add this finding").click().run()

    (kept,) = findings(screens.kept(CAR), area)
    assert (kept.state, kept.label, kept.severity, kept.look, kept.note) == (
        State.FAULTY,
        "Pads down to the metal",
        Severity.MAJOR,
        Look.CLOSE,
        "scored discs",
    )
    assert [one.job for one in kept.jobs] == [PADS]
    assert form(window, area) == {}


def open_causes(window: AppTest, area: Area, button: Any, *chances: float) -> dict[str, Any]:
    """Open the form for several causes, the first with a job, and fill in their chances."""
    button(window, "Something wrong").click().run()
    fields = form(window, area)
    fields["label"].set_value("Pulls to the left")
    fields["state"].set_value(State.SUSPECT)
    fields["several"].set_value(True).run()
    fields = form(window, area)
    fields["cause:0:jobs"].set_value([CALIPER])
    for place, chance in enumerate(chances):
        fields[f"cause:{place}"].set_value(f"Cause {place}")
        fields[f"cause:{place}:chance"].set_value(chance)
    return fields


def test_a_suspicion_with_causes_is_added_and_priced(
    screens: Any, window: AppTest, area: Area, button: Any
) -> None:
    open_causes(window, area, button, 60.0, 25.0)["chance"].set_value(70)
    button(window, "Add this finding").click().run()

    (kept,) = findings(screens.kept(CAR), area)
    assert (kept.state, kept.chance, kept.jobs) == (State.SUSPECT, Decimal("0.7"), ())
    assert [(one.label, one.chance, len(one.jobs)) for one in kept.causes] == [
        ("Cause 0", Decimal("0.6"), 1),
        ("Cause 1", Decimal("0.25"), 0),
    ]
    spent = screens.window("bid", CAR)
    spent.session_state["by-finding"] = True
    spent.run()
    assert [
        one.value.iloc[:, 0].tolist().count("Pulls to the left") for one in spent.dataframe
    ] == [1]


def test_a_further_cause_can_be_added(
    screens: Any, window: AppTest, area: Area, button: Any
) -> None:
    open_causes(window, area, button, 30.0, 20.0)
    button(window, "Add a cause").click().run()
    fields = form(window, area)
    fields["cause:2"].set_value("Cause 2")
    fields["cause:2:chance"].set_value(10.0)
    button(window, "Add this finding").click().run()

    (kept,) = findings(screens.kept(CAR), area)
    assert [one.chance for one in kept.causes] == [Decimal(x) / 100 for x in (30, 20, 10)]


def test_causes_above_certainty_are_refused_in_words(
    screens: Any, window: AppTest, area: Area, button: Any
) -> None:
    open_causes(window, area, button, 60.0, 50.0)
    button(window, "Add this finding").click().run()

    assert any("above 1" in one.value for one in window.error)
    assert findings(screens.kept(CAR), area) == []
    assert form(window, area)["label"].value == "Pulls to the left"


def test_the_form_asks_for_jobs_or_for_causes_never_both(
    window: AppTest, area: Area, button: Any
) -> None:
    assert "jobs" not in open_causes(window, area, button, 10.0)
    fields = form(window, area)
    fields["several"].set_value(False).run()
    again = form(window, area)

    assert "jobs" in again
    assert not [one for one in again if one.startswith("cause:")]


def put(screens: Any, window: AppTest, area: Area, **more: Any) -> Finding:
    """Keep a finding in the area and turn the window to it."""
    finding = Finding(id="mine", area=area, label="Squeals", **more)
    case = screens.kept(CAR)
    screens.put(case.model_copy(update={"findings": (*case.findings, finding)}))
    window.run()
    return finding


def test_a_finding_is_changed_in_place_and_keeps_its_own_figures(
    screens: Any, window: AppTest, area: Area
) -> None:
    figures = {"job": PADS, "parts": {"low": 5, "likely": 6, "high": 7}}
    put(screens, window, area, state=State.FAULTY, jobs=[figures])
    window.button(key="change:mine").click().run()
    fields = form(window, area, "mine")
    assert fields["label"].value == "Squeals"
    fields["label"].set_value("Squeals when cold")
    fields["jobs"].set_value([PADS, DISCS])
    next(one for one in window.button if one.label == "Save").click().run()

    (kept,) = findings(screens.kept(CAR), area)
    assert (kept.id, kept.label) == ("mine", "Squeals when cold")
    assert [one.job for one in kept.jobs] == [PADS, DISCS]
    assert kept.jobs[0].parts is not None
    assert kept.jobs[0].parts.likely == 6


def test_a_finding_that_is_removed_can_be_brought_back(
    screens: Any, window: AppTest, area: Area, said: Any
) -> None:
    put(screens, window, area, state=State.FAULTY)
    before = screens.kept(CAR)
    window.button(key="drop:mine").click().run()

    assert findings(screens.kept(CAR), area) == []
    assert "Removed: Squeals" in said(window)
    window.button(key="undo-button").click().run()
    assert screens.kept(CAR) == before
    assert "undo-button" not in [one.key for one in window.button]


def test_a_form_closed_without_saving_keeps_nothing(
    screens: Any, window: AppTest, area: Area, button: Any
) -> None:
    version = screens.version(CAR)
    button(window, "Something wrong").click().run()
    button(window, "Close without saving").click().run()

    assert form(window, area) == {}
    assert screens.version(CAR) == version


def test_a_finding_without_jobs_or_causes_says_that_it_is_not_priced_yet(
    screens: Any, window: AppTest, area: Area, said: Any
) -> None:
    put(screens, window, area, state=State.FAULTY)

    assert "Not priced yet" in said(window)


def test_the_mark_fine_does_not_take_a_fault_away(
    screens: Any, window: AppTest, area: Area, button: Any
) -> None:
    fault = put(screens, window, area, state=State.FAULTY)
    button(window, "Fine").click().run()

    assert fault in findings(screens.kept(CAR), area)


def test_the_title_and_the_note_are_saved_as_they_are_typed(
    screens: Any, window: AppTest, widget: Any
) -> None:
    window.session_state["car-details"] = True
    window.run()
    widget(window, "text_input", "vehicle.plate").set_value("AB 12").run()
    widget(window, "text_input", ":title").set_value("The blue one").run()

    kept = screens.kept(CAR)
    assert (kept.vehicle.plate, kept.title) == ("AB 12", "The blue one")


def test_an_empty_title_is_said_beside_the_field_and_not_saved(
    screens: Any, window: AppTest, widget: Any, said: Any
) -> None:
    window.session_state["car-details"] = True
    window.run()
    before = screens.kept(CAR).title
    widget(window, "text_input", ":title").set_value("").run()

    assert "is empty" in said(window)
    assert screens.kept(CAR).title == before


def test_a_cause_without_a_name_is_refused_not_dropped(
    screens: Any, window: AppTest, area: Area, button: Any
) -> None:
    button(window, "Something wrong").click().run()
    form(window, area)["label"].set_value("Squeals")
    form(window, area)["several"].set_value(True).run()
    form(window, area)["cause:0:chance"].set_value(40.0)
    button(window, "Add this finding").click().run()

    assert not findings(screens.kept(CAR), area)
    assert any("no name" in one.value for one in window.error)


def test_the_likeliest_faults_stand_under_a_finding_that_names_a_symptom(
    screens: Any, said: Any
) -> None:
    case = screens.kept(CAR).model_copy(update={"findings": (), "papers": ()})
    case = screens.put(finding_from_symptom(case, "cooling.runs_hot", cached.reference()))
    window = screens.window("inspect", CAR)
    window.session_state["area"] = Area.COOLING
    window.run()
    (cost,) = cached.appraisal(case).repair.by_finding

    assert not window.exception
    assert len(cost.behind) == 3
    words = "; ".join(f"{percent(one.chance)} {one.label}" for one in cost.behind)
    assert words in said(window)


def test_how_the_engine_breathes_and_salted_roads_can_be_said_and_left_open_again(
    screens: Any, key: Any
) -> None:
    window = screens.window("inspect", CAR)
    window.session_state["car-details"] = True
    window.run()

    def say(field: str, place: int) -> object:
        window.selectbox(key=key(window, "vehicle", field)).select_index(place).run()
        assert not window.exception
        return getattr(screens.kept(CAR).vehicle, field)

    assert say("aspiration", 2) is Aspiration.TURBO
    assert say("valve_drive", 2) is ValveDrive.CHAIN
    assert say("salted_roads", 1) is True
    assert say("salted_roads", 2) is False
    assert say("salted_roads", 0) is None
    assert say("aspiration", 0) is None
