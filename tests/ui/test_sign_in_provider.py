"""Signing in through a provider: only who is listed comes in, and only as far as the role goes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.accounts.people import add_person
from appraise.services.records.workspace import Workspace, open_workspace
from appraise.settings import Settings
from ui.session.opened import opened

CAR = "auction-engine-light"


@pytest.fixture
def kept(provided: Settings) -> Iterator[Workspace]:
    """Return what is kept, as another program sees it."""
    found = open_workspace(provided)
    yield found
    found.cases._engine.dispose()


@pytest.fixture
def provided(screens: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[Settings]:
    """Return a place where people come through a provider; one may edit, one may look."""
    del screens
    settings = Settings()
    add_person(opened(settings).people, "Ada", "edit", "four words are long")
    add_person(opened(settings).people, "cy@example.org", "edit", None)
    add_person(opened(settings).people, "dee@example.org", "look", None)
    with monkeypatch.context() as through_it:
        through_it.setenv("APPRAISE_SIGN_IN", "provider")
        yield Settings()


def noted(settings: Settings) -> list[tuple[str, str]]:
    """Return what is in the log since people were put on the list."""
    found = opened(settings).people.noted(9)
    return [(one.what, one.who) for one in found if one.what != "added"]


def through(window: AppTest, **claims: Any) -> AppTest:
    """Return a window as it is after the provider has vouched for somebody."""
    window.user = {"is_logged_in": True, **claims}
    return window.run()


def test_with_a_provider_its_log_in_is_offered_and_no_password_asked(
    screens: Any, provided: Settings
) -> None:
    window = screens.window("bid", CAR)

    assert provided.sign_in == "provider"
    assert [one.value for one in window.title] == ["Sign in"]
    assert [one.label for one in window.button] == ["Sign in"]
    assert not window.text_input


def test_who_the_provider_vouches_for_comes_in_and_is_noted_once(
    screens: Any, provided: Settings, kept: Workspace, widget: Any
) -> None:
    window = through(screens.window("bid", CAR), email="Cy@example.org", email_verified=True)
    widget(window, "number_input", "deal.target_margin").set_value(1500.0).run()

    assert "cy@example.org" in [one.value for one in window.text]
    assert kept.history.versions(CAR)[0].who == "cy@example.org"
    assert noted(provided) == [("signed in", "cy@example.org")]


def test_who_may_look_saves_nothing_through_a_provider_either(
    screens: Any, provided: Settings, kept: Workspace, widget: Any
) -> None:
    window = through(screens.window("bid", CAR), email="dee@example.org", email_verified=True)
    widget(window, "number_input", "deal.target_margin").set_value(1500.0).run()

    assert provided.sign_in == "provider"
    assert kept.cases.load(CAR).version == 1


@pytest.mark.parametrize(
    "claims",
    [
        {"email": "eve@example.org", "email_verified": True},
        {"email": "cy@example.org", "email_verified": False},
        {"email": "Ada", "email_verified": True},
        {},
    ],
)
def test_a_stranger_with_an_account_at_the_provider_sees_nothing(
    screens: Any, provided: Settings, claims: dict[str, Any]
) -> None:
    window = through(screens.window("bid", CAR), **claims)

    assert "not on the list" in window.error[0].value
    assert [one.label for one in window.button] == ["Sign out"]
    assert not window.metric
    window.run()
    assert noted(provided) == [("not on the list", "")]
