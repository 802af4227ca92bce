"""Nothing is lost: a change gone back from, and a car taken off the list put back."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

CAR = "dusk-curbside"
Windows = Callable[..., Page]
Settle = Callable[[Page], None]
Turn = Callable[[Page, str], None]


def test_a_change_is_gone_back_from_and_that_too_is_kept(
    windows: Windows, server: Any, settle: Settle, turn: Turn
) -> None:
    """The margin was 5,000 by a slip of the finger; an hour and a reload later it is found."""
    car = server.add(CAR)
    before = server.kept(car)
    page = windows(f"bid?car={car}")
    for wrong in ("1500", "5000"):
        margin = page.get_by_label(re.compile("^Profit wanted")).first
        margin.fill(wrong)
        margin.press("Enter")
        settle(page)
    page.reload()
    page.get_by_role("heading", level=1, name="Bid").wait_for()
    turn(page, "Inspect")
    page.get_by_text("What was changed, and when", exact=True).click()
    backs = page.get_by_role("button", name="Go back to this")
    expect(backs).to_have_count(2)  # two changes and how it was added; the newest is now
    settle(page)
    cells = page.locator("[role=gridcell]")
    expect(cells.filter(has_text="target margin")).to_have_count(2)
    backs.last.click()
    expect(page.get_by_text("Gone back to an earlier one")).to_be_visible()
    settle(page)

    assert server.kept(car) == before
    turn(page, "Bid")
    expect(page.get_by_label(re.compile("^Profit wanted")).first).to_have_value(
        f"{before.deal.target_margin:.0f}"
    )
    turn(page, "Inspect")
    page.get_by_text("What was changed, and when", exact=True).click()
    expect(backs).to_have_count(3)
    settle(page)
    backs.first.click()
    expect(page.get_by_text("Gone back to an earlier one")).to_have_count(2)
    assert server.kept(car).deal.target_margin == 5000


def test_a_car_taken_off_the_list_is_put_back_after_a_reload(
    windows: Windows, server: Any, settle: Settle
) -> None:
    """The undo beside it is gone by then; the list of those taken off is not."""
    car = server.add(CAR)
    before = server.kept(car)
    page = windows("cars")
    title = page.get_by_text(before.title, exact=True)
    card = page.get_by_test_id("stVerticalBlock").filter(has=title).last
    card.get_by_role("button", name="More").click()
    page.get_by_role("button", name="Remove", exact=True).click()
    expect(page.get_by_text(f"Removed: {before.title}")).to_be_visible()
    settle(page)
    page.reload()
    page.get_by_role("heading", level=1, name="Cars").wait_for()
    settle(page)
    expect(title).to_have_count(0)

    page.get_by_text("Taken off the list", exact=True).click()
    expect(title).to_be_visible()
    settle(page)
    row = page.get_by_test_id("stHorizontalBlock").filter(has=title).last
    row.get_by_role("button", name="Put back").click()
    expect(page.get_by_role("button", name="Put back")).to_have_count(0)
    settle(page)
    expect(title).to_be_visible()
    assert server.kept(car) == before
