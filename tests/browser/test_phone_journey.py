"""A whole appraisal on a phone, beside the car: every press is one of a finger."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

Settle = Callable[[Page], None]

SIDEWAYS = """
[document.documentElement, ...document.querySelectorAll(
    '[data-testid=stMain], [data-testid=stMainBlockContainer]'
)].map(it => it.scrollWidth - it.clientWidth)
"""
OUT_OF_REACH = """
main => {
    const amiss = [];
    const pressed = 'button, a[href], input, textarea, summary, [role=slider]';
    for (const it of main.querySelectorAll(pressed)) {
        if (!it.checkVisibility({visibilityProperty: true, opacityProperty: true})) continue;
        it.scrollIntoView({block: 'center', inline: 'nearest'});
        const box = it.getBoundingClientRect();
        if (box.width < 2 || box.height < 2) continue;  // its label is pressed instead
        const name = it.ariaLabel || it.innerText || it.tagName;
        if (box.left < 0 || box.right > innerWidth) {
            amiss.push(`${name} reaches over the edge: ${box.left} to ${box.right}`);
            continue;
        }
        const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
        const label = it.closest('label');
        const free = top && (it.contains(top) || top.contains(it) || label?.contains(top));
        if (!free) amiss.push(`${name} lies under ${top?.outerHTML.slice(0, 120)}`);
    }
    for (const it of main.querySelectorAll('[data-testid=stMetricValue], button p, summary p'))
        if (it.scrollWidth > it.clientWidth + 1 && getComputedStyle(it).overflowX === 'hidden')
            amiss.push(`${it.innerText} is cut off`);
    return amiss;
}
"""
"""What a finger cannot press, or an eye cannot read to its end."""


@pytest.fixture
def phone(windows: Callable[..., Page]) -> Page:
    return windows(phone=True)


@pytest.fixture
def press(settle: Settle) -> Callable[[Locator], None]:
    """Press once, as a finger does: what does not take the first press is not found here."""

    def go(it: Locator) -> None:
        it.tap()
        settle(it.page)

    return go


def fits(page: Page) -> None:
    """Nothing scrolls sideways, and nothing lies under anything else."""
    assert max(page.evaluate(SIDEWAYS)) <= 0
    main = page.get_by_test_id("stMain")
    top = main.evaluate("it => it.scrollTop")
    assert main.evaluate(OUT_OF_REACH) == []
    main.evaluate("(it, top) => it.scrollTo(0, top)", top)


def test_a_new_car_is_judged_beside_it_from_the_first_look_to_the_bid(
    phone: Page, press: Callable[[Locator], None], settle: Settle, walk_away: Callable[[Page], str]
) -> None:
    page = phone

    def turn(name: str) -> None:
        press(page.get_by_role("link", name=name, exact=True))
        page.get_by_role("heading", level=1, name=name, exact=True).wait_for()
        settle(page)
        fits(page)

    fits(page)
    press(page.get_by_text("Add a car", exact=True).first)
    for label, text in (
        ("Make", "Brasquell"),
        ("Model", "Tivvick"),
        ("Model year", "2014"),
        ("Odometer, mi", "120000"),
    ):
        page.get_by_label(label, exact=True).tap()
        page.keyboard.type(text)
    fits(page)
    press(page.get_by_role("button", name="Add this car"))
    page.get_by_role("heading", level=1, name="Inspect").wait_for()
    settle(page)
    fits(page)

    look_round(page, press, settle)
    turn("Prices")
    box = page.get_by_role("textbox", name="One car a line")
    box.tap()
    box.fill("2014\t118,000\t7,450\n2013, 126k, 6690, sold\n2015, 90k, 8,200")
    box.blur()
    press(page.get_by_role("button", name="Add 3 cars"))
    expect(page.get_by_text("Added 3.")).to_be_visible()
    fits(page)

    turn("Bid")
    assert re.fullmatch(r"[\d,]+ USD", walk_away(page))
    asking = page.get_by_label("Asking price", exact=True)
    asking.tap()
    page.keyboard.type("2500")
    asking.press("Enter")
    expect(page.get_by_role("heading", name="At the asking price of 2,500 USD")).to_be_visible()
    settle(page)
    fits(page)


def look_round(page: Page, press: Callable[[Locator], None], settle: Settle) -> None:
    """Find the body and the engine fine, and the front pads worn."""
    for area in ("Engine", "Transmission and clutch"):  # the one that comes next by itself
        press(page.get_by_role("button", name="Fine", exact=True))
        expect(page.get_by_label("Area", exact=True)).to_have_value(area)
    expect(page.get_by_text("2 of 20 areas inspected")).to_be_visible()
    press(page.get_by_label("Area", exact=True))
    press(page.get_by_role("option", name="Brakes"))
    press(page.get_by_role("button", name="Something wrong"))
    page.get_by_label("What was seen, heard, felt or smelt").tap()
    page.keyboard.type("Pads down to the metal")
    jobs: Any = page.get_by_label("Jobs that repair it")
    jobs.tap()
    page.keyboard.type("Front brake pads, both")
    page.get_by_role("option", name="Front brake pads, both sides").tap()
    page.keyboard.press("Escape")
    settle(page)
    fits(page)
    press(page.get_by_role("button", name="Add this finding"))
    expect(page.get_by_role("button", name="Add this finding")).to_have_count(0)
    expect(page.get_by_text("Pads down to the metal")).to_be_visible()
    fits(page)
