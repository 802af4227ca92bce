"""The page of the settings: defaults of every new car, venues, own values."""

from __future__ import annotations

from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

CAR = "auction-engine-light"


@pytest.fixture
def window(screens: Any) -> AppTest:
    opened: AppTest = screens.window("settings")
    return opened


def draft(window: AppTest) -> Any:
    return window.text_area(key="own-draft")


def test_a_default_is_saved_and_a_new_car_starts_with_it(
    screens: Any, window: AppTest, widget: Any
) -> None:
    widget(window, "number_input", "deal.own_rate").set_value(28.0).run()
    widget(window, "text_input", "currency").set_value("EUR").run()
    widget(window, "selectbox", "distance_unit").set_value("km").run()
    cars = screens.window("cars")
    cars.session_state["add"] = True
    cars.run()
    for label, value in (("Make", "Eluquine"), ("Model", "Ion")):
        next(one for one in cars.text_input if one.label == label).set_value(value)
    for label, number in (("Model year", 2015), ("Odometer, km", 150_000)):
        next(one for one in cars.number_input if one.label == label).set_value(number)
    next(one for one in cars.button if one.label == "Add this car").click().run()

    made = screens.kept("2015-eluquine-ion")
    assert (made.currency, made.deal.own_rate) == ("EUR", 28)
    assert (made.vehicle.odometer.value, made.vehicle.odometer.unit) == (150_000, "km")


def test_a_default_leaves_the_cars_that_are_there_alone(
    screens: Any, window: AppTest, widget: Any
) -> None:
    before = screens.kept(CAR)
    widget(window, "number_input", "deal.own_rate").set_value(28.0).run()

    assert screens.kept(CAR) == before


@pytest.mark.parametrize(
    ("kind", "ending", "wrong", "words"),
    [
        ("text_input", "currency", "usd", "three capital letters"),
        ("text_input", "currency", "", "three capital letters"),
        ("number_input", "deal.target_margin", 2e8, "must be 100,000,000 or less"),
        ("number_input", "deal.tax_percent", 120.0, "must be 100 or less"),
        ("number_input", "deal.hours_per_day", 25.0, "must be 24 or less"),
        ("number_input", "deal.price_level", 0.0, "001 or more"),
    ],
    ids=["usd", "no currency", "margin", "tax", "hours", "level"],
)
def test_a_default_that_cannot_be_is_said_beside_its_field_and_not_saved(
    screens: Any, window: AppTest, widget: Any, kind: str, ending: str, wrong: Any, words: str
) -> None:
    before = screens.preferences()
    widget(window, kind, ending).set_value(wrong).run()

    assert not window.exception
    found = list(window.main)
    place = next(i for i, one in enumerate(found) if str(one.key).endswith(ending))
    assert words in str(found[place + 1].value)
    assert screens.preferences() == before


def add_venue(window: AppTest, name: str, button: Any) -> AppTest:
    next(one for one in window.text_input if one.label == "New venue").set_value(name)
    button(window, "Add the venue").click().run()
    return window


def test_a_venue_gets_its_fees_and_can_be_removed(
    screens: Any, window: AppTest, button: Any, edits: Any
) -> None:
    add_venue(window, "Hexwarren yard", button)
    window.session_state["venue:0"] = True
    window.run()
    rows = [
        {"fee": "Premium", "from": 0, "flat": 100, "percent": 5, "cap": None},
        {"fee": "Premium", "from": 2000, "flat": 0, "percent": 10, "cap": 900},
    ]
    window.session_state["venue-fees:0"] = edits(added=rows)
    button(window, "Save the fees").click().run()

    assert not window.exception
    (venue,) = screens.preferences().venues
    assert [[step.starts_at for step in fee.steps] for fee in venue.fees] == [[0, 2000]]
    button(window, "Remove this venue").click().run()
    assert screens.preferences().venues == ()


def test_a_second_venue_of_the_same_name_is_refused_in_words(
    screens: Any, window: AppTest, button: Any
) -> None:
    add_venue(window, "Hexwarren yard", button)
    add_venue(window, "Hexwarren yard", button)

    assert any("share one name" in one.value for one in window.error)
    assert len(screens.preferences().venues) == 1


def test_a_venue_without_a_name_is_refused(screens: Any, window: AppTest, button: Any) -> None:
    add_venue(window, "", button)

    assert any("is empty" in one.value for one in window.error)
    assert screens.preferences().venues == ()


def test_own_values_are_saved_and_move_the_walk_away_price(
    screens: Any, window: AppTest, button: Any, walk_away: Any
) -> None:
    before = walk_away(screens.window("bid", CAR))
    job = next(one.jobs for one in screens.kept(CAR).findings if one.jobs)
    text = f'[[job]]\nid = "{job[0].job}"\nhours = {{ low = 60, likely = 80, high = 99 }}\n'
    draft(window).set_value(text)
    button(window, "Check and save").click().run()

    assert not window.exception
    assert [one.value.split(".")[0] for one in window.success] == ["Saved"]
    assert screens.own().load() == text
    assert walk_away(screens.window("bid", CAR)) != before


def test_own_values_that_do_not_hold_together_are_refused_and_not_saved(
    screens: Any, window: AppTest, button: Any, said: Any
) -> None:
    for text, words in (
        ("[[value]]\nid = 'no.such'\nvalue = 1\n", "no.such"),
        ("[[value", "not TOML"),
    ):
        draft(window).set_value(text)
        button(window, "Check and save").click().run()

        assert not window.exception
        assert words in said(window)
        assert "Nothing was saved." in [one.value for one in window.caption]
    assert screens.own().load() == ""


def test_a_value_is_put_into_the_draft_to_be_changed_there(
    screens: Any, window: AppTest, button: Any
) -> None:
    window.selectbox(key="own-pick").set_value("suspect.chance").run()
    button(window, "Put it into mine").click().run()
    assert 'id = "suspect.chance"' in draft(window).value

    button(window, "Check and save").click().run()
    assert not window.error
    assert "suspect.chance" in screens.own().load()


def test_a_draft_that_is_not_saved_yet_outlives_a_look_at_another_page(
    screens: Any, window: AppTest
) -> None:
    draft(window).set_value("# mine").run()
    screens.turn(window, "cars")
    screens.turn(window, "settings")

    assert draft(window).value == "# mine"


def test_own_values_that_are_broken_are_said_and_can_be_mended(screens: Any, button: Any) -> None:
    screens.own().save("[[value")
    window = screens.window("settings")

    assert not window.exception
    draft(window).set_value("")
    button(window, "Check and save").click().run()
    assert [one.value.split(".")[0] for one in window.success] == ["Saved"]
