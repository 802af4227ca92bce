"""A cell typed and the page left right after it, in a real browser."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

TYPED = "(document.activeElement.value || '').replace(/[^0-9]/g, '') === '8123'"


def type_price(page: Page) -> None:
    """Type a price into the first row; the table takes no press before it is ready."""
    table = page.get_by_test_id("stDataFrame").last
    for _ in range(10):
        table.scroll_into_view_if_needed()
        box = table.bounding_box()
        assert box is not None
        page.mouse.dblclick(box["x"] + 300, box["y"] + 52)
        page.wait_for_timeout(500)
        page.keyboard.press("Control+a")
        page.keyboard.type("8123", delay=30)
        if page.evaluate(TYPED):
            break
        page.keyboard.press("Escape")
    assert page.evaluate(TYPED)


@pytest.mark.parametrize("entered", [True, False], ids=["Enter, then a link", "a link"])
def test_a_cell_is_there_after_the_page_was_left(
    windows: Callable[..., Page], settle: Callable[[Page], None], server: Any, *, entered: bool
) -> None:
    """The table hands a cell over a moment after it is entered; a press takes as long."""
    page = windows(f"prices?car={server.add('auction-engine-light')}")
    settle(page)
    type_price(page)
    if entered:
        page.keyboard.press("Enter")
        expect(page.get_by_text("1 unsaved row")).to_be_visible()
    page.get_by_role("link", name="Bid", exact=True).click(delay=100)
    page.get_by_role("heading", level=1, name="Bid", exact=True).wait_for()
    settle(page)
    expect(page.get_by_text("Not saved yet, and kept: Comparable cars on Prices.")).to_be_visible()


@pytest.mark.parametrize(
    ("path", "label", "told"),
    [
        ("cars?car={}", "Make", "a car half entered on Cars"),
        ("prices?car={}", "One car a line", "a pasted list on Prices"),
    ],
)
def test_what_is_typed_into_a_form_is_told_elsewhere(
    windows: Callable[..., Page],
    settle: Callable[[Page], None],
    server: Any,
    path: str,
    label: str,
    told: str,
) -> None:
    """A field is filled in and the page left by a link; the list of cars opens its form again."""
    page = windows(path.format(server.add("farm-truck-owned")))
    if label == "Make":
        page.get_by_text("Add a car", exact=True).first.click()
    elif "Prices" in told:
        page.get_by_text("Paste from a spreadsheet or a list").click()
    settle(page)
    page.get_by_role("textbox", name=label).fill("Orrik")
    page.get_by_role("link", name="Bid", exact=True).click(delay=100)
    page.get_by_role("heading", level=1, name="Bid", exact=True).wait_for()
    settle(page)
    expect(page.get_by_text(f"Not saved yet, and kept: {told}.")).to_be_visible()
    page.go_back()
    settle(page)
    expect(page.get_by_role("textbox", name=label)).to_have_value("Orrik")


def test_the_browser_asks_before_rows_that_are_not_saved_are_lost(
    windows: Callable[..., Page], settle: Callable[[Page], None], server: Any
) -> None:
    page = windows(f"prices?car={server.add('auction-engine-light')}")
    asked: list[str] = []
    page.on("dialog", lambda one: asked.append(one.type))
    settle(page)
    type_price(page)
    page.keyboard.press("Enter")
    expect(page.get_by_text("1 unsaved row")).to_be_visible()
    settle(page)
    page.reload()
    page.get_by_role("heading", level=1, name="Prices", exact=True).wait_for()
    settle(page)
    assert asked == ["beforeunload"]
    page.get_by_text("How this price comes about").click()
    settle(page)
    page.reload()
    page.get_by_role("heading", level=1, name="Prices", exact=True).wait_for()
    assert asked == ["beforeunload"]


def test_a_finding_half_typed_is_told_elsewhere(
    windows: Callable[..., Page], settle: Callable[[Page], None], server: Any
) -> None:
    """With the request for another page a browser sends nothing of the widgets of this one."""
    page = windows(f"inspect?car={server.add('auction-engine-light')}")
    page.get_by_role("button", name="Something wrong").click()
    settle(page)
    page.get_by_label("What was seen, heard, felt or smelt").fill("Squeals")
    page.get_by_role("link", name="Bid", exact=True).click(delay=100)
    page.get_by_role("heading", level=1, name="Bid", exact=True).wait_for()
    settle(page)
    expect(page.get_by_text("Not saved yet, and kept: what you typed on Inspect.")).to_be_visible()
