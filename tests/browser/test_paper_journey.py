"""Papers that came with the car: one that proves nothing, and one that does, in a real browser."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from playwright.sync_api import Error as PlaywrightError
from playwright.sync_api import Locator, Page, expect

from appraise.engine.bid.simulation import work_out
from appraise.models.case import Case
from appraise.reference.load import load_reference

CAR = "auction-engine-light"
NUMBER = "AS1CL5BE6EA104417"
FINDING = "Runs on three cylinders"
CAUSE = "valve"
"""The dear one of its causes, and the one that the seller says was put right."""
TYPING = 20  # milliseconds a key: a table takes no keys faster than any hand
TYPES = "['INPUT', 'TEXTAREA'].includes(document.activeElement.tagName)"
"""Whether there is something to type into."""
Settle = Callable[[Page], None]


COLUMNS = (100, 450, 900)  # pixels from the left edge of the table
TOP, ROW = 52, 35


def fill_lines(page: Page, settle: Settle, rows: list[tuple[str, str, str]]) -> None:
    """Type the lines of a paper into its table: text, what for, amount."""
    table = page.get_by_test_id("stDataFrame").first
    table.scroll_into_view_if_needed()
    for place, row in enumerate(rows):
        for column, text in enumerate(row):
            cell = table.locator(f"#glide-cell-{column + 1}-{place}")
            for _ in range(5):  # the table loses keys that come before it is ready; a person looks
                type_cell(page, settle, table, (column, place), text)
                if cell.count() and cell.inner_text() == text:
                    break
            expect(cell).to_have_text(text)


def type_cell(
    page: Page, settle: Settle, table: Locator, where: tuple[int, int], text: str
) -> None:
    box = table.bounding_box()
    assert box is not None
    column, place = where
    page.mouse.click(box["x"] + COLUMNS[column], box["y"] + TOP + ROW * place)
    settle(page)
    if not page.evaluate(TYPES):  # the row that adds one opens by itself
        page.keyboard.press("Enter")
        with suppress(PlaywrightError):
            page.wait_for_function(TYPES, timeout=2000)
    page.wait_for_timeout(200)
    page.keyboard.type(text, delay=TYPING)
    page.keyboard.press("Enter")
    settle(page)


def limit(case: Case) -> int:
    """Return the walk-away price before it is brought down to a printed step."""
    found = work_out(case, load_reference()).limit
    assert found is not None
    return found


def claim(page: Page, pick: Callable[..., None]) -> None:
    """Say what the paper is to prove."""
    pick(page.get_by_label("Findings that it is to speak to").last, re.compile(FINDING))
    pick(page.get_by_label(re.compile("^Which causes of")).last, re.compile(CAUSE, re.IGNORECASE))


def test_a_slip_proves_nothing_and_a_paid_invoice_with_labor_does(
    windows: Callable[..., Page],
    server: Any,
    settle: Settle,
    turn: Callable[[Page, str], None],
    dollars: Callable[[Page], int],
    pick: Callable[..., None],
) -> None:
    """A slip for the old unit says in words what it lacks and leaves the price where it was."""
    car = server.add(CAR, papers=())
    page = windows(f"bid?car={car}")
    before, limit_before = dollars(page), limit(server.kept(car))

    turn(page, "Papers")
    page.get_by_role("button", name="Add a paper").click()
    page.get_by_label("Issued by", exact=True).wait_for()
    pick(page.get_by_label(re.compile("^Kind of paper")), "Core return slip")
    page.get_by_label("Issued by", exact=True).fill("Parts counter")
    claim(page, pick)
    page.get_by_role("button", name="Add this paper").click()
    told = page.get_by_test_id("stAlert").filter(has_text="Core return slip")
    expect(told).to_contain_text("proves nothing about the repair")
    expect(told).to_contain_text("no proof that a new one was fitted")
    expect(told).to_contain_text("Ask for a paid invoice with this car's number")
    settle(page)
    assert [one.kind.value for one in server.kept(car).papers] == ["core_return_slip"]

    turn(page, "Bid")
    with_slip, limit_with_slip = dollars(page), limit(server.kept(car))
    assert with_slip <= before  # a slip never adds
    assert limit_before - 25 <= limit_with_slip <= limit_before

    turn(page, "Papers")
    page.get_by_role("button", name="Add a paper").click()
    page.get_by_label("Issued by", exact=True).wait_for()
    for label, text in (
        ("Date on it", "2026-09-01"),
        ("Issued by", "Corner garage"),
        ("How to reach them", "555 0100"),
        ("Number of the car on it", NUMBER),
    ):
        page.get_by_label(label, exact=True).fill(text)
    pick(page.get_by_label(re.compile("^Paid")), "Card")
    fill_lines(page, settle, [("Valve, new", "part", "70"), ("Head off and on", "labor", "480")])
    claim(page, pick)
    page.get_by_role("button", name="Add this paper").click()
    expect(page.get_by_text("it names this car, the part and the labor")).to_be_visible()
    settle(page)
    invoice = server.kept(car).papers[1]
    assert [(one.label, one.kind.value, one.amount) for one in invoice.lines] == [
        ("Valve, new", "part", 70),
        ("Head off and on", "labor", 480),
    ]

    turn(page, "Bid")
    assert dollars(page) >= with_slip
    assert limit(server.kept(car)) > limit_with_slip
