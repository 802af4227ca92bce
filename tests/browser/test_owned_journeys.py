"""An owned car from its faults to the choice what to do with it, in a real browser."""

from __future__ import annotations

import re
from collections.abc import Callable

from playwright.sync_api import Page, expect

CAR = "dusk-kerbside"
Windows = Callable[..., Page]


def to(page: Page, name: str, settle: Callable[[Page], None]) -> None:
    """Turn to a page by its link."""
    page.get_by_role("link", name=name, exact=True).click()
    page.get_by_role("heading", level=1, name=name).wait_for()
    settle(page)


def test_a_car_goes_from_prospect_through_jobs_and_proof_to_the_choice(
    windows: Windows, settle: Callable[[Page], None]
) -> None:
    """Bought, a fault found at teardown planned and done with its proof, then weighed."""
    page = windows(f"look?car={CAR}")
    page.get_by_text("Bought, on sale, sold", exact=True).click()
    settle(page)
    price = page.get_by_label(re.compile("Price paid"))
    price.fill("1500")
    price.press("Tab")
    settle(page)
    page.get_by_role("button", name="It is mine now").click()
    expect(page.get_by_text(re.compile(r"mi, owned"))).to_be_visible(timeout=15_000)
    settle(page)

    to(page, "Work", settle)
    page.get_by_role("radio", name="Jobs").click()
    settle(page)
    page.get_by_text("Add a job", exact=True).click()
    settle(page)
    page.get_by_label("Job", exact=True).click()
    page.keyboard.type("Front brake pads")
    page.get_by_role("option").first.click()
    settle(page)
    page.get_by_role("button", name="Add this job").click()
    settle(page)
    expect(page.get_by_text(re.compile("Front brake pads")).first).to_be_visible()

    to(page, "Proof", settle)
    page.get_by_role("button", name="Prove it").first.click()
    settle(page)
    reason = page.get_by_label(re.compile("Why there is no proof"))
    reason.fill("Driven for a week, nothing to measure")
    reason.press("Tab")
    settle(page)
    page.get_by_role("button", name="Done", exact=True).first.click()
    settle(page)
    expect(page.get_by_text(re.compile("Done on")).first).to_be_visible()

    to(page, "Choose", settle)
    expect(page.get_by_text("Sell it as it stands").first).to_be_visible()
    expect(page.get_by_text(re.compile("left out of every option"))).to_be_visible()

    page.reload()
    page.get_by_role("heading", level=1, name="Choose").wait_for()
    settle(page)
    expect(page.get_by_text("Sell it as it stands").first).to_be_visible()


def test_what_a_check_shows_moves_the_walk_away_price(
    windows: Windows, settle: Callable[[Page], None], walk_away: Callable[[Page], str]
) -> None:
    """A new plug or coil on the dead cylinder: the dear cause falls away, the price rises."""
    page = windows("bid?car=auction-engine-lamp")
    settle(page)
    before = int(walk_away(page).split()[0].replace(",", ""))
    to(page, "Causes", settle)
    page.get_by_test_id("stRadio").locator("label").nth(1).click()
    settle(page)
    page.get_by_role("button", name="Enter this result").click()
    settle(page)
    to(page, "Bid", settle)

    assert int(walk_away(page).split()[0].replace(",", "")) != before
