"""Tables that leave the program through a real browser: by our button alone, and as text."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest
from playwright.sync_api import Download, Page

HOSTILE = ('=HYPERLINK("http://x","y")', "+1+1", "-2+3", "@SUM(A1)", "\N{FULLWIDTH EQUALS SIGN}1+1")
CAR = "dusk-curbside"


@pytest.fixture
def prices(windows: Callable[..., Page], settle: Callable[[Page], None]) -> Page:
    """Return the page of the prices with a car whose note is hostile for each of these texts."""
    page = windows(f"prices?car={CAR}")
    page.get_by_text("Paste from a spreadsheet or a list").click()
    lines = [f"2014\t{110 + at}000\t70{at}0\t{text}" for at, text in enumerate(HOSTILE)]
    page.get_by_role("textbox", name="One car a line").fill("\n".join(lines))
    page.get_by_role("textbox", name="One car a line").blur()
    page.get_by_role("button", name=f"Add {len(HOSTILE)} cars").click()
    page.get_by_text(f"Added {len(HOSTILE)}.").wait_for()
    settle(page)
    return page


def read(got: Download) -> openpyxl.Workbook:
    return openpyxl.load_workbook(BytesIO(Path(got.path()).read_bytes()))


def tools(page: Page, table: str) -> list[str]:
    """Return what the bar above a table offers."""
    grid = page.get_by_test_id("stDataFrame").last
    grid.scroll_into_view_if_needed()
    grid.hover()
    search = page.get_by_role("button", name=f"Search: {table}")
    search.wait_for()
    bar = page.get_by_test_id("stElementToolbar").filter(has=search)
    return [str(one.get_attribute("aria-label")) for one in bar.get_by_role("button").all()]


def test_the_bar_of_an_editor_offers_no_csv(prices: Page) -> None:
    offered = tools(prices, "Comparable cars")

    assert any("Fullscreen" in one for one in offered)  # it is the bar
    assert not any("ownload" in one or "CSV" in one for one in offered)


def test_the_bar_of_a_table_offers_no_csv_and_its_cells_are_not_copied(
    windows: Callable[..., Page], settle: Callable[[Page], None]
) -> None:
    page = windows("bid?car=auction-engine-light")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.get_by_text("Repair, finding by finding", exact=True).click()
    settle(page)
    offered = tools(page, "Repair cost of each finding repaired alone")
    assert any("Fullscreen" in one for one in offered)
    assert not any("ownload" in one or "CSV" in one for one in offered)

    page.evaluate("navigator.clipboard.writeText('before')")
    page.get_by_test_id("stDataFrame").last.click(position={"x": 100, "y": 55})
    page.keyboard.press("Control+c")
    page.wait_for_timeout(400)  # for a copy to be made
    assert page.evaluate("navigator.clipboard.readText()") == "before"


def test_our_button_gives_a_file_in_which_every_text_is_text(prices: Page) -> None:
    with prices.expect_download() as coming:
        prices.get_by_role("button", name="As a spreadsheet").click()

    assert coming.value.suggested_filename == f"{CAR}-comparable-cars.xlsx"
    book = read(coming.value)
    notes = {
        row[-1].value: row[-1] for row in book["Comparable cars"].iter_rows(min_row=2) if row[-1]
    }
    for text in HOSTILE:
        cell = notes[text]
        assert cell.data_type == "s"
        assert cell.quotePrefix
        assert cell.hyperlink is None


def test_a_car_and_all_cars_come_as_files(windows: Callable[..., Page]) -> None:
    page = windows("cars")
    with page.expect_download() as coming:
        page.get_by_role("button", name="All cars as a spreadsheet").click()
    assert coming.value.suggested_filename == "cars.xlsx"
    page.get_by_role("button", name="More").first.click()
    with page.expect_download() as coming:
        page.get_by_role("button", name="All its tables as a spreadsheet").click()
    assert coming.value.suggested_filename.endswith("-all-tables.xlsx")
    assert "Findings" in read(coming.value).sheetnames
