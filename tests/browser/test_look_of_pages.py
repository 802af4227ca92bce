"""Narrow and wide, light and dark, and what a screen reader meets."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

PAGES = ("cars", "look", "prices", "bid", "settings")
CAR = "auction-engine-lamp"
Windows = Callable[..., Page]

STREAMLIT_FAULTS: dict[tuple[str, str], str] = {}
"""Faults of Streamlit's own widgets that no setting mends: rule and part of the selector."""


def unfold(page: Page, settle: Callable[[Page], None]) -> None:
    """Open every fold of a page."""
    for fold in page.locator("details:not([open]) > summary").all():
        fold.click()
        settle(page)


@pytest.mark.parametrize("name", PAGES)
def test_a_phone_never_scrolls_sideways(
    windows: Windows, settle: Callable[[Page], None], name: str
) -> None:
    """At 390 pixels, with every fold open."""
    page = windows(f"{name}?car={CAR}", width=390)
    unfold(page, settle)
    wide = page.evaluate(
        "[document.documentElement, ...document.querySelectorAll('[data-testid=stMain],"
        " [data-testid=stMainBlockContainer]')].map(it => it.scrollWidth - it.clientWidth)"
    )

    assert len(wide) == 3
    assert max(wide) <= 0


@pytest.mark.parametrize("name", PAGES)
def test_what_is_pressed_on_a_phone_is_large_enough(windows: Windows, name: str) -> None:
    """WCAG 2.2, criterion 2.5.8 (level AA): targets of at least 24 by 24 CSS pixels."""
    page = windows(f"{name}?car={CAR}", width=390)
    small = [
        f"{one.inner_text()!r} {box['width']:.0f} x {box['height']:.0f}"
        for one in page.get_by_test_id("stMain").get_by_role("button").all()
        if (box := one.bounding_box()) and box["width"] and min(box["width"], box["height"]) < 24
    ]

    assert small == []


def test_light_and_dark_differ_and_follow_the_browser(windows: Windows) -> None:
    def shade(scheme: str) -> float:
        page = windows(f"bid?car={CAR}", scheme=scheme)
        colour = page.evaluate(
            "getComputedStyle(document.querySelector('[data-testid=stApp]')).backgroundColor"
        )
        parts = [float(one) for one in colour.split("(")[1].rstrip(")").split(",")[:3]]
        return sum(parts) / 3

    assert shade("light") > 200
    assert shade("dark") < 60


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", PAGES)
def test_no_page_has_a_grave_fault_for_those_who_see_or_move_little(
    windows: Windows, settle: Callable[[Page], None], name: str, scheme: str
) -> None:
    """What axe-core calls critical or serious, with every fold open."""
    page = windows(f"{name}?car={CAR}", scheme=scheme)
    unfold(page, settle)

    assert grave(page) == []


def test_the_forms_have_no_grave_fault_either(
    windows: Windows, settle: Callable[[Page], None]
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
        if not any(
            rule == fault["id"] and part in str(node["target"]) + node["html"]
            for rule, part in STREAMLIT_FAULTS
        )
    ]
