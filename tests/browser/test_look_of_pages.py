"""Narrow and wide, light and dark, and what a screen reader meets."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from ui.pages import PAGES, REPAIR_SECTIONS, WITHOUT_CAR

PROSPECT, OWNED = "auction-engine-light", "farm-truck-owned"
PLACES = [
    *(f"{name}?car={PROSPECT}" for name in PAGES),
    *(f"{name}?car={OWNED}" for name in PAGES if name not in (*WITHOUT_CAR, "repair")),
    *(f"repair?car={OWNED}&section={section.replace(' ', '+')}" for section in REPAIR_SECTIONS),
]
FORMS = {
    "inspect": "Something wrong",
    "papers": "Add a paper",
    "test": "Test it",
    "repair": "Change",
}
"""Buttons that open the longest form of a page, where there is one."""
WIDTHS = (1280, 390)
OPEN_FOLDS = "document.querySelectorAll('details:not([open]) > summary').forEach(it => it.click())"
"""All in one go: the page is then drawn anew once and not once for each."""
AT_ONCE = "*, *::before, *::after { transition: none !important; animation: none !important; }"
"""So that no color is looked at on its way to another."""
Windows = Callable[..., Page]
Settle = Callable[[Page], None]

TAGS = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa", "best-practice")
"""Named, for the rule on the size of targets (2.2, AA) is off by itself."""
COLORS = ("color-contrast", "link-in-text-block")
"""The rules of those tags whose answer hangs on light and dark: nothing else changes with them."""
KNOWN = {
    ("target-size", "[data-testid=stDateInput] [role=spinbutton]"): (
        "day, month and year of a date are narrower than 24 pixels; the calendar behind the button "
        "beside them does the same and is larger (2.5.8, equivalent)"
    ),
}
"""What Streamlit's own widgets lack and no setting mends: rule and where, with the reason."""


def grave(page: Page, rules: str = "all") -> list[str]:
    """Return what axe-core calls critical or serious, by all rules, of colors only, or the rest."""
    options: dict[str, Any] = {"runOnly": {"type": "tag", "values": TAGS}}
    if rules == "colors":
        options = {"runOnly": {"type": "rule", "values": COLORS}}
    elif rules == "no colors":
        options["rules"] = {one: {"enabled": False} for one in COLORS}
    options["resultTypes"] = ["violations"]
    found: list[dict[str, Any]] = Axe().run(page, options=options).response["violations"]
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


def sideways(page: Page) -> int:
    """Return by how many pixels the page scrolls sideways."""
    wide: list[int] = page.evaluate(
        "[document.documentElement, ...document.querySelectorAll('[data-testid=stMain],"
        " [data-testid=stMainBlockContainer]')].map(it => it.scrollWidth - it.clientWidth)"
    )
    assert len(wide) == 3
    return max(wide)


def seen(page: Page, width: int, scheme: Any) -> None:
    """Look at a page on a screen of a width, in the light or in the dark."""
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=scheme)
    page.wait_for_timeout(300)  # for charts to follow


@pytest.mark.parametrize("place", PLACES)
def test_no_page_shuts_out_who_sees_or_moves_little_or_holds_a_phone(
    windows: Windows, settle: Settle, place: str
) -> None:
    """With every fold and a form open: nothing grave, and a phone never scrolls sideways."""
    page = windows(place)
    page.add_style_tag(content=AT_ONCE)
    form = page.get_by_role("button", name=FORMS.get(place.split("?", maxsplit=1)[0], "none"))
    if form.count():
        form.first.click()
        settle(page)
    page.evaluate(OPEN_FOLDS)
    settle(page)
    expect(page.locator("details:not([open])")).to_have_count(0)
    amiss = []
    seen(page, WIDTHS[0], "dark")  # a color is the same at any width
    amiss += [f"dark: {one}" for one in grave(page, "colors")]
    for width, rules in zip(WIDTHS, ("all", "no colors"), strict=True):
        seen(page, width, "light")
        amiss += [f"{width}: {one}" for one in grave(page, rules)]
        if sideways(page) > 0:
            amiss.append(f"{width}: scrolls sideways by {sideways(page)}")
    for tab in page.get_by_role("tab", selected=False).all():
        tab.click()
        settle(page)
        amiss += [f"{tab.inner_text()}: {one}" for one in grave(page)]
        if sideways(page) > 0:
            amiss.append(f"{tab.inner_text()}: scrolls sideways by {sideways(page)}")

    assert amiss == []


@pytest.mark.parametrize("name", ["Open a file", "Copy an example", "More"])
def test_what_opens_over_the_list_of_cars_shuts_out_nobody_either(
    windows: Windows, settle: Settle, name: str
) -> None:
    page = windows("cars")
    page.add_style_tag(content=AT_ONCE)
    page.set_viewport_size({"width": 390, "height": 900})
    page.get_by_role("button", name=name).first.click()
    page.get_by_role("dialog").wait_for()
    settle(page)
    amiss = grave(page)
    seen(page, 390, "dark")

    assert amiss + grave(page) == []
    assert sideways(page) <= 0


def test_the_choice_between_two_versions_shuts_out_nobody_either(
    windows: Windows, server: Any, settle: Settle
) -> None:
    car = server.add(PROSPECT)
    page = windows(f"bid?car={car}")
    page.add_style_tag(content=AT_ONCE)
    kept = server.workspace.cases.load(car)
    other = kept.case.model_copy(update={"title": "Named in another window"})
    server.workspace.cases.save(other, kept.version)
    asking = page.get_by_label("Asking price", exact=True)
    asking.fill("1900")
    asking.press("Enter")
    expect(page.get_by_text("saved in another window")).to_be_visible()
    settle(page)
    amiss = grave(page)
    seen(page, 390, "dark")

    assert amiss + grave(page) == []
    assert sideways(page) <= 0


def test_light_and_dark_differ_and_follow_the_browser(windows: Windows) -> None:
    page = windows("settings")
    page.add_style_tag(content=AT_ONCE)

    def shade(scheme: Any) -> float:
        seen(page, 1280, scheme)
        color = page.evaluate(
            "getComputedStyle(document.querySelector('[data-testid=stApp]')).backgroundColor"
        )
        parts = [float(one) for one in color.split("(")[1].rstrip(")").split(",")[:3]]
        return sum(parts) / 3

    assert shade("light") > 200
    assert shade("dark") < 60
