"""Narrow and wide, light and dark, and what a screen reader meets."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

PAGES = (
    "cars",
    "look",
    "causes",
    "papers",
    "prices",
    "bid",
    "work",
    "proof",
    "choose",
    "settings",
)
CAR = "auction-engine-lamp"
Standing = Callable[[str], Page]
PHONE: Any = {"width": 390, "height": 844}

STREAMLIT_FAULTS: dict[tuple[str, str], str] = {
    ("color-contrast", "[data-testid=stSliderThumbValue]"): (
        "the figure over a slider takes the primary colour; in the dark no blue is light enough "
        "for it and dark enough for white words on a button (4.5 times 4.5 is above 18)"
    ),
    ("color-contrast", "button[data-variant=segmented_control]"): (
        "the chosen segment takes the primary colour for its words: the same in the dark"
    ),
}
"""Faults of Streamlit's own widgets that no setting mends: rule and where, with the reason."""
KNOWN = tuple(STREAMLIT_FAULTS)
SMALL_BUT_SPARE = ("Help", "Clear", "Open", "Choose date")
"""Names of Streamlit's small buttons: with space around (2.5.8, spacing), or doing what a press on
the field they stand in does as well (2.5.8, equivalent)."""


@pytest.mark.parametrize("name", PAGES)
def test_a_phone_never_scrolls_sideways(standing: Standing, name: str) -> None:
    """At 390 pixels, with every fold open."""
    page = standing(name)
    page.set_viewport_size(PHONE)
    page.wait_for_timeout(300)  # for charts to follow
    wide = page.evaluate(
        "[document.documentElement, ...document.querySelectorAll('[data-testid=stMain],"
        " [data-testid=stMainBlockContainer]')].map(it => it.scrollWidth - it.clientWidth)"
    )

    assert len(wide) == 3
    assert max(wide) <= 0


@pytest.mark.parametrize("name", PAGES)
def test_what_is_pressed_on_a_phone_is_large_enough(standing: Standing, name: str) -> None:
    """WCAG 2.2, criterion 2.5.8 (level AA): targets of at least 24 by 24 CSS pixels."""
    page = standing(name)
    page.set_viewport_size(PHONE)
    small = page.get_by_test_id("stMain").evaluate(
        "(main, spare) => [...main.querySelectorAll('button')]"
        ".filter(it => !spare.some(name => (it.ariaLabel || '').startsWith(name)))"
        ".map(it => [it.ariaLabel || it.innerText, it.getBoundingClientRect()])"
        ".filter(([_, box]) => box.width && Math.min(box.width, box.height) < 24)"
        ".map(([text, box]) => `${text}: ${box.width} by ${box.height}`)",
        SMALL_BUT_SPARE,
    )

    assert small == []


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_has_a_grave_fault_for_those_who_see_or_move_little(
    standing: Standing, name: str, scheme: Any
) -> None:
    """What axe-core calls critical or serious, with every fold open."""
    page = standing(name)
    page.emulate_media(color_scheme=scheme)
    page.wait_for_timeout(900)  # for the colours to follow

    assert grave(page) == []


def test_light_and_dark_differ_and_follow_the_browser(standing: Standing) -> None:
    page = standing("settings")

    def shade(scheme: Any) -> float:
        page.emulate_media(color_scheme=scheme)
        page.wait_for_timeout(900)  # for the colours to follow
        colour = page.evaluate(
            "getComputedStyle(document.querySelector('[data-testid=stApp]')).backgroundColor"
        )
        parts = [float(one) for one in colour.split("(")[1].rstrip(")").split(",")[:3]]
        return sum(parts) / 3

    assert shade("light") > 200
    assert shade("dark") < 60


def test_the_forms_have_no_grave_fault_either(
    windows: Callable[..., Page], settle: Callable[[Page], None]
) -> None:
    look = windows(f"look?car={CAR}")
    look.get_by_role("button", name="Something wrong").click()
    look.get_by_label("What was seen, heard, felt or smelt").wait_for()
    settle(look)
    cars = windows()
    cars.get_by_role("button", name="Copy an example").click()
    cars.get_by_role("dialog").wait_for()

    assert grave(look) + grave(cars) == []


def grave(page: Page) -> list[str]:
    """Return what axe-core finds critical or serious, but for Streamlit's own known faults."""
    found: list[dict[str, Any]] = Axe().run(page).response["violations"]
    return [
        f"{fault['id']}: {node['target']} {node['html'][:160]} {node['failureSummary'][:200]}"
        for fault in found
        if fault["impact"] in ("critical", "serious")
        for node in fault["nodes"]
        if not any(rule == fault["id"] and within(page, node, where) for rule, where in KNOWN)
    ]


def within(page: Page, node: dict[str, Any], where: str) -> bool:
    """Return whether what axe-core points at lies in what a selector names."""
    inside: bool = page.evaluate(
        "([it, where]) => Boolean(document.querySelector(it)?.closest(where))",
        [node["target"][0], where],
    )
    return inside
