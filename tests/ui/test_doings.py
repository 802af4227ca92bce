"""The list of who did what, on the page of the settings."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.accounts.people import add_person
from appraise.errors import StoreUnavailable
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings
from ui.session import signed_in
from ui.session.opened import opened
from ui.session.signed_in import Door

ADA, BO = "four words are long", "some other long words"


@pytest.fixture
def settings(screens: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[Settings]:
    """Return a place where Ada may edit and Bo may look."""
    del screens
    monkeypatch.setattr(signed_in, "DOOR", Door())
    add_person(opened(Settings()).people, "Ada", "edit", ADA)
    add_person(opened(Settings()).people, "Bo", "look", BO)
    with monkeypatch.context() as asked:
        asked.setenv("APPRAISE_SIGN_IN", "people")
        yield Settings()


def enter(screens: Any, name: str, password: str) -> AppTest:
    window: AppTest = screens.window("settings")
    by_label = {one.label: one for one in window.text_input}
    by_label["Name"].set_value(name)
    by_label["Password"].set_value(password)
    next(one for one in window.button if one.label == "Sign in").click().run()
    return window


def listed(window: AppTest) -> Any:
    """Return the table in the fold, opened."""
    window.session_state["doings"] = True
    window.run()
    assert not window.exception
    (table,) = window.dataframe
    return table.value


def test_without_sign_in_it_says_what_and_when(screens: Any, widget: Any) -> None:
    window = screens.window("settings")
    assert not window.dataframe
    found = listed(window)

    assert list(found.columns) == ["When", "What", "Car"]
    assert set(found["What"]) <= {"added a car", "history of a car began"}
    widget(window, "number_input", "deal.own_rate").set_value(31.0).run()
    assert opened(Settings()).people.noted(1) == ()


def test_settings_and_backups_are_in_the_name_of_who_did_it(
    settings: Settings, screens: Any, widget: Any, button: Any
) -> None:
    window = enter(screens, "Ada", ADA)
    widget(window, "number_input", "deal.own_rate").set_value(31.0).run()
    button(window, "Back up now").click().run()
    window.text_area(key="own-draft").set_value("# nothing of my own").run()
    button(window, "Check and save").click().run()
    found = listed(window)

    said = ["own values saved", "backup made", "settings saved", "signed in"]
    mine = found[found["Who"] == "Ada"]
    assert sorted(mine["What"]) == sorted([*said, "put on the list of people"])
    assert [one.what for one in opened(settings).people.noted(4)] == said


def test_what_is_refused_is_not_said_to_be_done_and_lookers_see_no_list(
    settings: Settings, screens: Any, widget: Any, button: Any
) -> None:
    window = enter(screens, "Bo", BO)
    widget(window, "number_input", "deal.own_rate").set_value(31.0).run()
    button(window, "Back up now").click().run()

    assert [one.what for one in opened(settings).people.noted(2)] == ["signed in", "added"]
    assert not any("Who did what" in one.label for one in window.expander)


def test_a_log_that_cannot_be_written_is_said_and_the_settings_are_saved(
    settings: Settings, screens: Any, widget: Any, bare: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = enter(screens, "Ada", ADA)

    def full(what: str) -> None:
        raise StoreUnavailable("cannot be written: No space left on device", where=what)

    monkeypatch.setattr(signed_in, "noted", full)
    widget(window, "number_input", "deal.own_rate").set_value(31.0).run()

    assert "Saved, but not written into the log" in bare(window.error[0].value)
    assert open_workspace(settings).preferences.load().preferences.deal.own_rate == 31
