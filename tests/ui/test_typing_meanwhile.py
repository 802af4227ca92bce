"""What is typed into a form and not saved yet stays when another window saves the same car."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.findings import Area

CAR = "auction-engine-light"
AREA = Area.BRAKES


def elsewhere(screens: Any) -> None:
    """Save something else of the car, as another window does."""
    case = screens.kept(CAR)
    deal = case.deal.model_copy(update={"transport": Decimal(333)})
    screens.put(case.model_copy(update={"deal": deal}))


def label(window: AppTest) -> Any:
    return next(one for one in window.text_input if str(one.key).endswith(":label"))


def note(window: AppTest) -> Any:
    return next(one for one in window.text_area if str(one.key).endswith("new:note"))


@pytest.fixture
def typing(screens: Any, button: Any) -> AppTest:
    """Return a window with a new finding half typed when another window saves."""
    window: AppTest = screens.window("inspect", CAR)
    window.selectbox(key="area").set_value(AREA).run()
    button(window, "Something wrong").click().run()
    label(window).set_value("Squeals when cold").run()
    elsewhere(screens)
    note(window).set_value("from the left").run()
    return window


def test_it_stays_and_the_other_save_is_told(typing: AppTest) -> None:
    assert not typing.exception
    assert label(typing).value == "Squeals when cold"
    assert note(typing).value == "from the left"
    assert any("saved in another window meanwhile" in one.value for one in typing.info)


def test_saved_then_it_is_kept_with_the_other_change(
    screens: Any, typing: AppTest, button: Any
) -> None:
    button(typing, "Add this finding").click().run()
    assert any("Your change is not saved yet" in one.value for one in typing.warning)
    button(typing, "Keep both changes").click().run()

    assert not typing.exception
    kept = screens.kept(CAR)
    assert kept.deal.transport == 333
    assert [(one.area, one.note) for one in kept.findings if one.label == "Squeals when cold"] == [
        (AREA, "from the left")
    ]
    assert not typing.info


def test_pressed_at_once_it_is_not_thrown_away(screens: Any, button: Any) -> None:
    """The page was not drawn between the other window's save and this one's button."""
    window: AppTest = screens.window("inspect", CAR)
    window.selectbox(key="area").set_value(AREA).run()
    button(window, "Something wrong").click().run()
    label(window).set_value("Squeals when cold").run()
    elsewhere(screens)
    button(window, "Add this finding").click().run()
    button(window, "Keep both changes").click().run()

    assert "Squeals when cold" in [one.label for one in screens.kept(CAR).findings]


def test_it_is_shown_as_it_is_now_when_asked(screens: Any, typing: AppTest, button: Any) -> None:
    button(typing, "Show it as it is now, without what I typed").click().run()

    assert not typing.info
    assert label(typing).value == ""
    label(typing).set_value("Squeals when hot").run()
    button(typing, "Add this finding").click().run()
    kept = screens.kept(CAR)
    assert kept.deal.transport == 333
    assert "Squeals when hot" in [one.label for one in kept.findings]


def test_a_form_closed_without_saving_shows_the_car_as_it_is_now(
    typing: AppTest, button: Any
) -> None:
    button(typing, "Close without saving").click().run()
    typing.run()

    assert not typing.info


def test_a_form_in_which_nothing_was_typed_holds_nothing_back(screens: Any, button: Any) -> None:
    window: AppTest = screens.window("inspect", CAR)
    window.selectbox(key="area").set_value(AREA).run()
    button(window, "Something wrong").click().run()
    elsewhere(screens)
    window.run()

    assert not window.info
    label(window).set_value("Squeals").run()
    button(window, "Add this finding").click().run()
    assert not window.warning
    assert "Squeals" in [one.label for one in screens.kept(CAR).findings]


def test_rows_of_a_table_that_are_not_saved_yet_stay_too(
    screens: Any, button: Any, key: Any, edits: Any
) -> None:
    window: AppTest = screens.window("prices", CAR)
    row = {"year": 2014, "odometer": 100_000, "price": 7100}
    window.session_state[key(window, "comparables")] = edits(added=[row])
    window.run()
    elsewhere(screens)
    before = len(screens.kept(CAR).market.comparables)
    button(window, "Save the table").click().run()
    button(window, "Keep both changes").click().run()

    kept = screens.kept(CAR)
    assert len(kept.market.comparables) == before + 1
    assert kept.deal.transport == 333


def test_changes_of_the_same_field_are_not_offered_together(
    screens: Any, widget: Any, button: Any
) -> None:
    first, later = screens.window("bid", CAR), screens.window("bid", CAR)
    widget(first, "number_input", "deal.asking_price").set_value(1500.0).run()
    widget(later, "number_input", "deal.asking_price").set_value(1900.0).run()

    assert [one.label for one in later.button if one.label.startswith("Keep")] == [
        "Keep the one saved elsewhere",
        "Keep mine instead",
    ]
    button(later, "Keep mine instead").click().run()
    assert screens.kept(CAR).deal.asking_price == 1900
