"""Signing in: nothing before it, in one's own name after it, and looking only where that is all."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.accounts.people import add_person, remove_person, set_password, set_role
from appraise.errors import AppraiseError
from appraise.services.records.workspace import Workspace, open_workspace
from appraise.settings import Settings
from ui.pages import PAGES
from ui.session import cached, signed_in
from ui.session.opened import opened
from ui.session.signed_in import LONGEST, Door

CAR = "auction-engine-light"
ADA, BO = "four words are long", "some other long words"


@pytest.fixture
def settings(screens: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[Settings]:
    """Return a place where Ada may edit and Bo may look, with sign-in asked for."""
    del screens
    monkeypatch.setattr(signed_in, "DOOR", Door())
    found = Settings()
    add_person(opened(found).people, "Ada", "edit", ADA)
    add_person(opened(found).people, "Bo", "look", BO)
    with monkeypatch.context() as asked:
        asked.setenv("APPRAISE_SIGN_IN", "people")
        yield Settings()


@pytest.fixture
def kept(settings: Settings) -> Iterator[Workspace]:
    """Return what is kept, as another program sees it."""
    found = open_workspace(settings)
    yield found
    found.cases._engine.dispose()


def enter(window: AppTest, name: str, password: str) -> AppTest:
    """Fill in the form and press its button."""
    by_label = {one.label: one for one in window.text_input}
    by_label["Name"].set_value(name)
    by_label["Password"].set_value(password)
    return next(one for one in window.button if one.label == "Sign in").click().run()


def test_files_are_taken_from_a_window_while_somebody_is_signed_in_there(
    screens: Any, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    del settings
    told: list[bool] = []
    monkeypatch.setattr(signed_in.WINDOWS, "note", lambda _, signed_in: told.append(signed_in))
    window = screens.window("cars")
    assert set(told) == {False}
    told.clear()
    enter(window, "Ada", ADA)
    assert told[-1]
    told.clear()
    next(one for one in window.button if one.label == "Sign out").click().run()
    assert not told[-1]


def left_in(window: AppTest) -> dict[str, Any]:
    """Return all that a window's state holds, also of fields without a name."""
    state = window._session_state._state
    return {key: state[key] for key in state._keys()}


def asked(window: AppTest) -> bool:
    return [one.value for one in window.title] == ["Sign in"]


@pytest.fixture
def within(screens: Any, settings: Settings) -> Callable[..., AppTest]:
    """Open a window and sign in."""

    def go(name: str, page: str = "bid") -> AppTest:
        window = enter(screens.window(page, CAR), name, {"Ada": ADA, "Bo": BO}[name])
        assert not window.exception
        assert not asked(window)
        return window

    assert settings.sign_in == "people"
    return go


@pytest.mark.parametrize("place", PAGES)
def test_no_page_shows_anything_before_somebody_is_signed_in(
    screens: Any, settings: Settings, said: Callable[[AppTest], str], place: str
) -> None:
    window = screens.window(place, CAR)

    assert settings.sign_in
    assert asked(window)
    assert not window.exception
    assert [one.label for one in window.text_input] == ["Name", "Password"]
    assert [one.label for one in window.button] == ["Sign in"]
    for kind in ("metric", "dataframe", "number_input", "selectbox", "expander"):
        assert not window.get(kind), kind
    assert "Tivvick" not in said(window)
    assert "stored" not in window.session_state


def test_by_itself_nobody_is_asked(screens: Any) -> None:
    """Also where there is a list of people."""
    add_person(opened(Settings()).people, "Ada", "edit", None)
    window = screens.window("bid", CAR)

    assert not asked(window)
    assert "Sign out" not in [one.label for one in window.button]
    assert window.metric


def test_the_right_password_shows_the_page_that_was_asked_for_and_whose_it_is(
    within: Callable[..., AppTest],
) -> None:
    window = within("Ada")

    assert [one.value for one in window.title] == ["Bid"]
    assert "Ada" in [one.value for one in window.text]
    assert "Sign out" in [one.label for one in window.button]


def test_who_may_only_look_is_told_so(within: Callable[..., AppTest]) -> None:
    assert "Bo (may look, not change)" in [one.value for one in within("Bo").text]


@pytest.mark.parametrize(
    ("name", "password"),
    [("Ada", BO), ("Nobody", ADA), ("", ""), ("Ada", ""), ("' OR 1=1 --", "x")],
)
def test_whatever_is_wrong_is_said_in_the_same_words(
    screens: Any, bare: Any, settings: Settings, name: str, password: str
) -> None:
    window = enter(screens.window("bid", CAR), name, password)

    assert settings.sign_in
    assert [bare(one.value) for one in window.error] == ["Name or password is wrong."]
    assert asked(window)


def test_once_it_was_right_the_password_is_kept_nowhere_in_the_window(
    screens: Any, within: Callable[..., AppTest]
) -> None:
    refused = enter(screens.window("bid", CAR), "Ada", BO)
    assert BO in left_in(refused).values()  # as typed in the form that is still there
    window = within("Ada")

    assert ADA not in repr(left_in(window))
    assert "Password" not in [one.label for one in window.text_input]


def test_wrong_tries_slow_down_in_every_window_of_the_process(
    screens: Any, settings: Settings
) -> None:
    for _ in range(5):
        enter(screens.window("bid", CAR), "Ada", BO)
    window = enter(screens.window("bid", CAR), "Ada", ADA)

    assert settings.sign_in
    assert "Too many wrong tries" in window.error[0].value
    assert asked(window)


def test_what_is_saved_bears_the_name_of_who_saved_it(
    within: Callable[..., AppTest], kept: Workspace, widget: Any
) -> None:
    window = within("Ada")
    widget(window, "number_input", "deal.target_margin").set_value(1500.0).run()

    assert not window.exception
    assert kept.cases.load(CAR).case.deal.target_margin == 1500
    assert next((one.who, one.what) for one in kept.history.versions(CAR)) == ("Ada", "saved")


def test_a_field_changed_by_who_may_look_is_not_saved_and_said_so(
    within: Callable[..., AppTest], kept: Workspace, widget: Any, said: Callable[[AppTest], str]
) -> None:
    before = kept.cases.load(CAR)
    window = within("Bo")
    widget(window, "number_input", "deal.target_margin").set_value(1500.0).run()

    assert not window.exception
    assert "Not saved: you may look, not change" in said(window)
    assert kept.cases.load(CAR) == before


def test_a_default_changed_by_who_may_look_is_not_saved(
    within: Callable[..., AppTest], kept: Workspace, widget: Any, said: Callable[[AppTest], str]
) -> None:
    window = within("Bo", "settings")
    widget(window, "number_input", "deal.own_rate").set_value(99.0).run()

    assert "Not saved: you may look, not change" in said(window)
    assert kept.preferences.load().version == 0


def test_own_values_changed_by_who_may_look_are_not_saved(
    within: Callable[..., AppTest], kept: Workspace, button: Any
) -> None:
    window = within("Bo", "settings")
    window.text_area(key="own-draft").set_value("# my own file").run()
    button(window, "Check and save").click().run()

    assert kept.own_values.load() == ""
    assert "look, not change" in "".join(one.value for one in window.error)


@pytest.mark.parametrize("key", [f"copy:{CAR}", f"remove:{CAR}", f"example:{CAR}"])
def test_no_button_among_the_cars_changes_anything_for_who_may_look(
    within: Callable[..., AppTest], kept: Workspace, key: str
) -> None:
    before = kept.cases.summaries()
    window = within("Bo", "cars")
    window.button(key=key).click().run()

    assert kept.cases.summaries() == before
    assert kept.cases.removed() == ()
    assert "look, not change" in "".join(one.value for one in (*window.error, *window.exception))


def test_a_role_taken_away_counts_at_the_very_next_change(
    within: Callable[..., AppTest], settings: Settings, kept: Workspace, widget: Any
) -> None:
    """The page still shows the field; what is typed there must not be saved."""
    window = within("Ada")
    set_role(opened(settings).people, "Ada", "look")
    widget(window, "number_input", "deal.target_margin").set_value(1500.0).run()

    assert kept.cases.load(CAR).version == 1
    assert "Ada (may look, not change)" in [one.value for one in window.text]


@pytest.mark.parametrize("change", ["removed", "password"])
def test_somebody_taken_off_the_list_or_given_another_password_is_out_and_saves_nothing(
    within: Callable[..., AppTest], settings: Settings, kept: Workspace, widget: Any, change: str
) -> None:
    window = within("Ada")
    if change == "removed":
        remove_person(opened(settings).people, "Ada")
    else:
        set_password(opened(settings).people, "Ada", BO)
    widget(window, "number_input", "deal.target_margin").set_value(1500.0).run()

    assert kept.cases.load(CAR).version == 1
    assert asked(window.run())
    assert not window.metric


def test_a_name_given_to_somebody_else_does_not_let_the_old_one_in(
    within: Callable[..., AppTest], settings: Settings
) -> None:
    window = within("Ada")
    remove_person(opened(settings).people, "Ada")
    add_person(opened(settings).people, "Ada", "edit", ADA)  # the same words, another salt

    assert asked(window.run())


def test_after_half_a_day_the_password_is_asked_for_again(
    within: Callable[..., AppTest], monkeypatch: pytest.MonkeyPatch
) -> None:
    window = within("Ada")
    now = signed_in.time.monotonic()
    monkeypatch.setattr(signed_in.time, "monotonic", lambda: now + LONGEST - 60)
    assert not asked(window.run())
    monkeypatch.setattr(signed_in.time, "monotonic", lambda: now + LONGEST + 60)
    assert asked(window.run())


def test_signing_out_leaves_nothing_for_the_next_one(
    within: Callable[..., AppTest], settings: Settings, button: Any
) -> None:
    window = within("Ada")
    window.session_state["notice"] = ("a word for Ada alone", False)
    button(window, "Sign out").click().run()

    assert asked(window)
    assert not {"stored", "notice", "undo", "signed-in"} & set(left_in(window))
    assert [(one.what, one.who) for one in opened(settings).people.noted(2)] == [
        ("signed out", "Ada"),
        ("signed in", "Ada"),
    ]


def test_one_window_signed_in_lets_no_other_one_in(
    screens: Any, within: Callable[..., AppTest]
) -> None:
    within("Ada")

    assert asked(screens.window("bid", CAR))


def test_two_people_in_two_windows_save_each_in_their_own_name(
    within: Callable[..., AppTest], settings: Settings, kept: Workspace, widget: Any
) -> None:
    set_role(opened(settings).people, "Bo", "edit")
    one, other = within("Ada"), within("Bo")
    widget(one, "number_input", "deal.target_margin").set_value(1500.0).run()
    other.run()
    widget(other, "number_input", "deal.target_margin").set_value(1600.0).run()

    saved = {found.version: found.who for found in kept.history.versions(CAR)}
    assert (saved[2], saved[3]) == ("Ada", "Bo")


def test_a_name_with_markup_is_shown_as_it_is(screens: Any, settings: Settings) -> None:
    name = "**Zeno** [x](http://example.org) <b>"
    add_person(opened(settings).people, name, "edit", ADA)
    window = enter(screens.window("bid", CAR), name, ADA)

    assert name in [one.value for one in window.text]
    assert not any("Zeno" in one.value for one in (*window.markdown, *window.caption))


def test_outside_a_window_nobody_is_signed_in_and_nothing_is_handed_out(
    settings: Settings,
) -> None:
    assert settings.sign_in
    assert signed_in.name() == ""
    assert not signed_in.may_edit()
    with pytest.raises(AppraiseError, match="nobody is signed in"):
        cached.workspace()
    with pytest.raises(AppraiseError, match="nobody is signed in"):
        signed_in.need_edit()


def test_without_sign_in_everybody_may_edit_under_no_name(screens: Any) -> None:
    del screens
    assert signed_in.may_edit()
    assert signed_in.name() == ""
    signed_in.need_edit()


def test_a_person_who_is_not_as_kept_here_lets_nobody_in(
    screens: Any, settings: Settings, kept: Workspace
) -> None:
    window = screens.window("bid", CAR)
    with kept.cases.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE people SET role = 'owner'")
    enter(window, "Ada", ADA)

    assert settings.sign_in
    shown = "".join(one.value for one in (*window.error, *window.exception))
    assert "must be 'look' or 'edit'" in shown
    assert not window.metric


@pytest.mark.parametrize("address", ["0.0.0.0", "192.0.2.1"])  # noqa: S104
def test_a_server_that_others_reach_shows_nothing_where_nobody_has_to_sign_in(
    screens: Any, monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    """However it was started, such as with the server's own command."""
    monkeypatch.setattr(signed_in.st, "get_option", lambda _: address)
    window = screens.window("bid", CAR)

    assert "nobody is asked to sign in" in window.error[0].value
    assert not window.metric
    assert not window.title


def test_a_password_ticket_is_worth_nothing_with_a_provider(
    within: Callable[..., AppTest], monkeypatch: pytest.MonkeyPatch
) -> None:
    window = within("Ada")
    with monkeypatch.context() as through_it:
        through_it.setenv("APPRAISE_SIGN_IN", "provider")
        assert asked(window.run())


def test_the_data_folder_holds_no_password_in_any_file(
    within: Callable[..., AppTest], settings: Settings, widget: Any
) -> None:
    window = within("Ada")
    widget(window, "number_input", "deal.target_margin").set_value(1500.0).run()

    for path in (one for one in Path(settings.data_folder).rglob("*") if one.is_file()):
        with contextlib.suppress(FileNotFoundError):  # the database's own passing files
            assert ADA.encode() not in path.read_bytes(), path
