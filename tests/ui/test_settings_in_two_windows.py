"""Two windows on the settings: neither takes away what the other saved, unseen."""

from __future__ import annotations

from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.preferences import Preferences, Venue
from ui.session import cached

NORTH, SOUTH = "North yard", "South yard"
MINE, THEIRS = "# mine\n", "# theirs\n"


def keep(**changes: Any) -> None:
    """Save other defaults, as another window does."""
    store = cached.workspace().preferences
    stored = store.load()
    raw = stored.preferences.model_dump() | changes
    store.save(Preferences.model_validate(raw), stored.version)


def venues(*names: str) -> list[dict[str, Any]]:
    return [Venue(name=one).model_dump() for one in names]


def named(screens: Any) -> list[str]:
    return [one.name for one in screens.preferences().venues]


@pytest.fixture
def window(screens: Any) -> AppTest:
    """Return a window in which both venues are open."""
    keep(venues=venues(NORTH, SOUTH))
    opened: AppTest = screens.window("settings")
    opened.session_state["venue:0"] = opened.session_state["venue:1"] = True
    return opened.run()


# --- defaults and venues --------------------------------------------------------------------------


def test_another_venue_that_moved_up_is_not_removed_in_its_place(
    screens: Any, window: AppTest, said: Any
) -> None:
    keep(venues=venues(SOUTH))
    window.button(key="venue-drop:0").click().run()

    assert not window.exception
    assert named(screens) == [SOUTH]
    assert "Not removed: it was changed in another window" in said(window)


def test_another_venue_that_moved_up_is_not_changed_in_its_place(
    screens: Any, window: AppTest, widget: Any, said: Any
) -> None:
    keep(venues=venues(SOUTH))
    widget(window, "number_input", "venues.0.tax_percent").set_value(7.5).run()

    assert not window.exception
    assert [one.tax_percent for one in screens.preferences().venues] == [0]
    assert "Not saved: it was changed in another window" in said(window)
    assert [one.label for one in window.get("expander") if "yard" in one.label] == [SOUTH]


def test_a_venue_that_is_there_no_longer_cannot_be_changed(
    screens: Any, window: AppTest, widget: Any, said: Any
) -> None:
    keep(venues=venues(NORTH))
    widget(window, "number_input", "venues.1.tax_percent").set_value(7.5).run()

    assert not window.exception
    assert named(screens) == [NORTH]
    assert "Not saved: it was changed in another window" in said(window)


def test_changes_of_two_windows_are_both_kept(screens: Any, window: AppTest, widget: Any) -> None:
    keep(currency="EUR")
    widget(window, "number_input", "venues.1.tax_percent").set_value(7.5).run()
    widget(window, "number_input", "deal.own_rate").set_value(28.0).run()

    kept = screens.preferences()
    assert (kept.currency, kept.deal.own_rate) == ("EUR", 28)
    assert [one.tax_percent for one in kept.venues] == [0, 7.5]
    assert widget(window, "text_input", "currency").value == "EUR", "it shows what is kept"


def test_a_venue_is_removed_where_nobody_changed_it(screens: Any, window: AppTest) -> None:
    keep(currency="EUR")
    window.button(key="venue-drop:0").click().run()

    assert named(screens) == [SOUTH]
    assert screens.preferences().currency == "EUR"


# --- own values -----------------------------------------------------------------------------------


@pytest.fixture
def typing(screens: Any) -> AppTest:
    """Return a window in which own values are typed when another window saves some."""
    window: AppTest = screens.window("settings")
    window.text_area(key="own-draft").set_value(MINE).run()
    screens.own().save(THEIRS)
    return window


def kept(screens: Any) -> str:
    found: str = screens.own().load()
    return found


def test_own_values_saved_elsewhere_are_not_overwritten_unseen(
    screens: Any, typing: AppTest, button: Any, said: Any
) -> None:
    button(typing, "Check and save").click().run()

    assert kept(screens) == THEIRS
    assert "saved elsewhere after they were opened here" in said(typing)
    assert "Nothing was saved." in said(typing)
    assert typing.text_area(key="own-draft").value == MINE
    assert THEIRS.strip() in [one.value.strip() for one in typing.code]


def test_theirs_can_be_taken(screens: Any, typing: AppTest, button: Any) -> None:
    typing.run()
    button(typing, "Take that one instead of mine").click().run()

    assert typing.text_area(key="own-draft").value == THEIRS
    assert not typing.warning
    assert kept(screens) == THEIRS


def test_mine_can_be_saved_over_them_once_they_were_seen(
    screens: Any, typing: AppTest, button: Any
) -> None:
    typing.run()
    button(typing, "Keep mine, to save it over that one").click().run()
    assert kept(screens) == THEIRS, "not before it is saved"
    button(typing, "Check and save").click().run()

    assert kept(screens) == MINE
    assert [one.value.split(".")[0] for one in typing.success] == ["Saved"]
    button(typing, "Check and save").click().run()
    assert not typing.error


def test_a_window_in_which_nothing_is_typed_shows_what_was_saved_elsewhere(screens: Any) -> None:
    window: AppTest = screens.window("settings")
    screens.own().save(THEIRS)
    window.run()

    assert window.text_area(key="own-draft").value == THEIRS
    assert not window.warning
