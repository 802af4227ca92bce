"""A decision from the list of cars to the price, with no hand on a mouse."""

from __future__ import annotations

import re
from collections.abc import Callable
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Page, expect

CAR = "dusk-curbside"
SEEN = "auction-engine-light"
ROUND = 8  # pixels around what has the focus, where its ring is drawn
LEAST = 40  # pixels that have to change; the smallest target's ring has more
Windows = Callable[..., Page]
Settle = Callable[[Page], None]

NAME = """
() => {
    const it = document.activeElement;
    const named = (it.getAttribute('aria-labelledby') || '').split(' ')
        .map(id => document.getElementById(id)?.innerText || '').join(' ').trim();
    const label = it.labels?.length ? it.labels[0].innerText : '';
    return it.ariaLabel || named || label || it.innerText || '';
}
"""
STOP = """
() => {
    const it = document.activeElement;
    it.dataset.times = Number(it.dataset.times || 0) + 1;
    return [it.tagName, Number(it.dataset.times)];
}
"""
PLACE = """
() => {
    const it = document.activeElement;
    const box = it.getBoundingClientRect();
    const seen = box.width > 2 && getComputedStyle(it).opacity !== '0' ? it : it.closest('label');
    const {x, y, width, height} = (seen || it).getBoundingClientRect();
    return {x, y, width, height};
}
"""


def reach(page: Page, name: str, most: int = 120) -> None:
    """Press Tab until what has this name has the focus, and see that it has."""
    for _ in range(most):
        page.keyboard.press("Tab")
        here = page.evaluate(NAME)
        if here.split("\n")[-1].strip() == name or here.strip() == name:
            assert changed_by_focus(page) >= LEAST, f"nothing shows that {name} has the focus"
            return
    raise AssertionError(f"{name} cannot be reached with Tab")


def changed_by_focus(page: Page) -> int:
    """Return how many pixels at what has the focus look different without it."""
    box = page.evaluate(PLACE)
    clip: Any = {
        "x": max(0, box["x"] - ROUND),
        "y": max(0, box["y"] - ROUND),
        "width": box["width"] + 2 * ROUND,
        "height": box["height"] + 2 * ROUND,
    }

    def picture() -> Any:
        shot = page.screenshot(clip=clip, animations="disabled")
        return np.asarray(Image.open(BytesIO(shot)).convert("RGB"), dtype=np.int16)

    with_it = picture()
    page.evaluate("window.held = document.activeElement, window.held.blur()")
    without = picture()
    page.evaluate("window.held.focus({preventScroll: true})")
    return int((np.abs(with_it - without).max(axis=2) > 16).sum())


def test_a_car_is_added_with_the_keyboard_alone(windows: Windows) -> None:
    page = windows()
    reach(page, "Add a car")
    page.keyboard.press("Enter")
    page.get_by_label("Make", exact=True).wait_for()
    for label, text in (
        ("Make", "Orstwelt"),
        ("Model", "Wandelau"),
        ("Model year", "2012"),
        ("Odometer, mi", "98000"),
    ):
        reach(page, label)
        page.keyboard.type(text)
    reach(page, "Add this car")
    page.keyboard.press("Enter")

    page.get_by_role("heading", level=1, name="Inspect").wait_for()
    expect(page.get_by_text("2012 Orstwelt Wandelau").first).to_be_visible()


def test_a_decision_is_made_with_the_keyboard_alone(
    windows: Windows, server: Any, settle: Settle, dollars: Callable[[Page], int]
) -> None:
    """A symptom noted, what its check showed, and what the asking price then leads to."""
    car = server.add(CAR)
    page = windows(f"inspect?car={car}")

    def turn(name: str) -> None:
        reach(page, name)
        page.keyboard.press("Enter")
        page.get_by_role("heading", level=1, name=name, exact=True).wait_for()
        settle(page)

    def pick(label: str, words: str) -> None:
        reach(page, label)
        page.keyboard.type(words)
        page.get_by_role("option").first.wait_for()
        page.keyboard.press("Enter")
        settle(page)

    turn("Bid")
    before = dollars(page)
    turn("Cars")
    page.get_by_role("heading", level=1, name="Cars").wait_for()
    open_the_newest(page, settle)

    pick("Area", "Engine")
    pick("Something a person sees, hears, feels or smells", "runs on")
    reach(page, "Note it")
    page.keyboard.press("Enter")
    expect(page.get_by_text(re.compile("Noted")).first).to_be_visible()
    settle(page)

    turn("Diagnose")
    reach(page, "Enter another check")
    page.keyboard.press("Enter")
    settle(page)
    pick("Check", "Cylinders cut out")
    outcome = page.get_by_role("radio").first
    reach(page, outcome.evaluate("it => it.closest('label').innerText").split("\n")[-1].strip())
    page.keyboard.press("Space")
    settle(page)
    expect(outcome).to_be_checked()
    reach(page, "Enter this result")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Results so far")).to_be_visible()
    settle(page)

    turn("Bid")
    assert dollars(page) < before
    reach(page, "Asking price")
    page.keyboard.press("ControlOrMeta+A")
    page.keyboard.type("2750")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="At the asking price of 2,750 USD")).to_be_visible()
    assert server.kept(car).deal.asking_price == 2750


@pytest.mark.parametrize("place", ["bid", "prices", "inspect"])
def test_every_stop_of_the_keyboard_can_be_seen(windows: Windows, server: Any, place: str) -> None:
    """Also the small buttons over a table, which hide while nobody points at it."""
    page = windows(f"{place}?car={server.add(SEEN)}")
    unseen, stops = [], 0
    for _ in range(200):
        page.keyboard.press("Tab")
        tag, times = page.evaluate(STOP)
        if tag == "BODY" or times > 1:
            break
        stops += 1
        if tag != "TD" and changed_by_focus(page) < LEAST:  # a cell is drawn, with its own frame
            unseen.append(page.evaluate(NAME))

    assert stops > 20
    assert unseen == []


def open_the_newest(page: Page, settle: Settle) -> None:
    """Open the car at the top of the list."""
    reach(page, "Open")
    page.keyboard.press("Enter")
    page.get_by_role("heading", level=1, name="Inspect").wait_for()
    settle(page)
