"""Two windows on one car: nothing is written over unseen, and both versions can be looked at."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

OWNED = "farm-truck-owned"
Windows = Callable[..., Page]
Settle = Callable[[Page], None]


def test_the_second_window_to_save_is_told_and_chooses(
    windows: Windows, server: Any, settle: Settle
) -> None:
    car = server.add("dusk-curbside")
    first, second = windows(f"bid?car={car}"), windows(f"bid?car={car}")
    for page, price in ((first, "3100"), (second, "3200")):
        field = page.get_by_label("Asking price", exact=True)
        field.fill(price)
        field.press("Enter")
        settle(page)
    expect(second.get_by_text("saved in another window")).to_be_visible()
    second.get_by_role("button", name="Keep mine instead").click()
    settle(second)
    expect(second.get_by_text("saved in another window")).to_have_count(0)
    first.reload()
    first.get_by_role("heading", level=1, name="Bid").wait_for()

    expect(first.get_by_label("Asking price", exact=True)).to_have_value("3200")


@pytest.fixture(scope="session")
def on_postgresql(fresh_server: Callable[..., Any], postgresql_server: Any) -> Any:
    """Return screens that keep everything on a PostgreSQL server."""
    return fresh_server(database=postgresql_server.new_database())


@pytest.fixture(params=["server", pytest.param("on_postgresql", marks=pytest.mark.server)])
def place(request: pytest.FixtureRequest) -> Any:
    """Return the screens, once for each kind of database."""
    return request.getfixturevalue(request.param)


@pytest.fixture
def books(windows: Windows, place: Any, settle: Settle) -> Callable[[str], Page]:
    """Return an opener of windows on the money and hours of a car."""

    def opened(car: str) -> Page:
        page = windows(f"repair?car={car}&section=Money+and+hours", at=place)
        page.get_by_label("Amount, USD").wait_for()
        settle(page)
        return page

    return opened


def enter(page: Page, amount: str, supplier: str) -> None:
    page.get_by_label("Amount, USD").fill(amount)
    page.get_by_label("Paid to").fill(supplier)
    page.get_by_role("button", name="Enter", exact=True).click()


def sums(place: Any, car: str) -> list[tuple[str, str]]:
    """Return the last entries of a car as they are kept."""
    return [(str(one.amount), one.supplier) for one in place.kept(car).work.entries[-2:]]


@pytest.mark.parametrize(
    ("button", "kept"),
    [
        ("Keep the one saved elsewhere", ("11.00", "First window")),
        ("Keep mine instead", ("22.00", "Second window")),
    ],
)
def test_two_windows_on_the_books_of_an_owned_car(
    books: Callable[[str], Page], place: Any, settle: Settle, button: str, kept: tuple[str, str]
) -> None:
    """Both enter a receipt; the second sees both, field by field, and says which to keep."""
    car = place.add(OWNED)
    before = len(place.kept(car).work.entries)
    first, second = books(car), books(car)
    enter(first, "11", "First window")
    expect(first.get_by_text(re.compile("Entered.*11.00 USD"))).to_be_visible()
    enter(second, "22", "Second window")
    expect(second.get_by_text("saved in another window")).to_be_visible()
    assert sums(place, car)[-1] == ("11.00", "First window")

    cells = second.locator("[role=gridcell]")
    expect(cells.filter(has_text="Second window")).to_have_count(1)
    shown = cells.all_inner_texts()
    rows = [tuple(shown[at + 1 : at + 3]) for at in range(0, len(shown), 3)]
    assert ("22.00", "11.00") in rows
    assert ("Second window", "First window") in rows
    expect(second.get_by_label("Amount, USD")).to_have_count(0)

    second.get_by_role("button", name=button).click()
    expect(second.get_by_text("saved in another window")).to_have_count(0)
    settle(second)
    assert len(place.kept(car).work.entries) == before + 1
    assert sums(place, car)[-1] == kept
    expect(second.get_by_text(re.compile(f"^{kept[1]}|; {kept[1]}"))).to_have_count(1)

    enter(second, "33", "Second window again")
    expect(second.get_by_text(re.compile("Entered.*33.00 USD"))).to_be_visible()
    assert sums(place, car) == [kept, ("33.00", "Second window again")]
