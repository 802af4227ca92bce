"""The history of a car on its page, and cars taken off the list."""

from __future__ import annotations

from typing import Any

from streamlit.testing.v1 import AppTest

from ui.session import cached

CAR = "auction-engine-light"


def opened(screens: Any) -> AppTest:
    window: AppTest = screens.window("inspect", CAR)
    window.session_state["car-history"] = True
    return window.run()


def test_a_change_is_told_and_can_be_gone_back_from(screens: Any, said: Any) -> None:
    before = screens.kept(CAR)
    screens.put(before.model_copy(update={"title": "Spoilt by mistake"}))
    window = opened(screens)
    assert "Changed" in said(window)

    back = next(one for one in window.button if one.label == "Go back to this")
    back.click().run()
    assert not window.exception
    assert screens.kept(CAR).title == before.title

    window = opened(screens)
    assert "Gone back to an earlier one" in said(window)


def test_a_car_taken_off_the_list_can_be_put_back_later(screens: Any) -> None:
    store = cached.workspace().cases
    store.remove(CAR, screens.version(CAR))
    window = screens.window("cars")
    window.session_state["taken-off"] = True
    window.run()
    next(one for one in window.button if one.key == f"back:{CAR}").click().run()

    assert not window.exception
    assert screens.kept(CAR).id == CAR
