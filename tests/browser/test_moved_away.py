"""A press while the page moves under the pointer, in a real browser."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

LINE = "2014\t110000\t7000"


@pytest.fixture
def pressed_down(
    windows: Callable[..., Page], settle: Callable[[Page], None], server: Any
) -> tuple[Page, str, int]:
    """Return a page where the pointer went down on a button that has moved since, and the car.

    A list is pasted and shown; one line more is typed, and handed over as the pointer goes down.
    """
    car = server.add("dusk-curbside")
    page = windows(f"prices?car={car}")
    page.get_by_text("Paste from a spreadsheet or a list").click()
    box = page.get_by_role("textbox", name="One car a line")
    box.fill(LINE)
    box.blur()
    button = page.get_by_role("button", name="Add 1 car", exact=True)
    button.wait_for()
    settle(page)
    button.scroll_into_view_if_needed()
    box.press("End")
    box.press_sequentially("\n2014, $7,000")
    button.scroll_into_view_if_needed()
    page.wait_for_timeout(300)
    before = button.bounding_box()
    assert before is not None
    page.mouse.move(before["x"] + 40, before["y"] + 4)
    page.mouse.down()
    moved = page.get_by_role("button", name="Add 1 car, leave 1 to correct")
    moved.wait_for()
    settle(page)
    after = moved.bounding_box()
    assert after is not None
    assert after["y"] > before["y"] + 4
    return page, car, len(server.kept(car).market.comparables)


def test_what_moved_from_under_a_press_is_pressed(
    pressed_down: tuple[Page, str, int], settle: Callable[[Page], None], server: Any
) -> None:
    page, car, before = pressed_down
    page.mouse.up()
    expect(page.get_by_text("Added 1.")).to_be_visible()
    settle(page)
    assert len(server.kept(car).market.comparables) == before + 1


def test_a_press_that_is_dragged_away_is_none(
    pressed_down: tuple[Page, str, int], settle: Callable[[Page], None], server: Any
) -> None:
    page, car, before = pressed_down
    page.mouse.move(600, 300)
    page.mouse.up()
    settle(page)
    assert len(server.kept(car).market.comparables) == before


def test_a_form_that_is_half_typed_is_asked_about_before_its_page_is_left(
    windows: Callable[..., Page], settle: Callable[[Page], None], server: Any
) -> None:
    """What is typed in it reaches the program with its own button alone."""
    page = windows(f"repair?car={server.add('farm-truck-owned')}")
    page.get_by_text("Money and hours", exact=True).click()
    settle(page)
    note, away = page.get_by_label("Note", exact=True), page.get_by_role("link", name="Papers")
    note.fill("Half a line")
    away.click()
    settle(page)
    assert "/repair" in page.url
    assert note.input_value() == "Half a line"

    page.get_by_label("Amount, USD").fill("12.34")
    page.get_by_role("button", name="Enter", exact=True).click()
    settle(page)
    away.click()
    page.wait_for_url("**/papers*")
