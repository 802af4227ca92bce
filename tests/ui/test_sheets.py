"""Every table of a page can be had as a spreadsheet; none is made before its button is pressed."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from appraise.services import changed, today
from appraise.services.output import tables as service
from ui.session import cached

CONFIG = Path(__file__).parents[2] / "ui" / ".streamlit" / "config.toml"
LIGHT, HALF = "auction-engine-light", "wagon-half-repaired"
HOSTILE = '=HYPERLINK("http://x","y")'
Offer = dict[str, Callable[[], bytes]]

OFFERED: list[tuple[str, str | None, dict[str, Any], dict[str, list[str]]]] = [
    ("prices", LIGHT, {}, {"comparable-cars": ["Comparable cars", "Price by distance"]}),
    (
        "bid",
        LIGHT,
        dict.fromkeys(("costs", "by-finding", "by-area", "landed", "sources"), True),
        {
            "estimate": [
                "Estimate",
                "What each bid leads to",
                "From the sale to the profit",
                "What makes it uncertain",
            ],
            "findings": ["Findings"],
            "what-was-not-inspected": ["What was not inspected"],
            "cost-to-buy": ["Cost to buy"],
            "values-used": ["Values used"],
            "fees": ["Fees of the venue"],
        },
    ),
    (
        "diagnose",
        LIGHT,
        {"other-looks": True, "fold:All faults": True},
        {"faults": ["Faults"], "what-to-look-at-next": ["What to look at next"]},
    ),
    (
        "papers",
        LIGHT,
        {},
        {
            "papers": [
                "Papers",
                "Lines of the papers",
                "What the papers prove",
                "In hand before money moves",
                "Odometer by day",
            ]
        },
    ),
    (
        "decide",
        HALF,
        {},
        {
            "worth-of-each-job": ["Worth of each job", "Options", "How much to put in"],
            "parting-out": ["Parting out"],
            "earned": ["Earned", "Payments"],
        },
    ),
    ("settings", None, {"doings": True}, {"catalog": [], "doings": ["Doings"]}),
]


@pytest.fixture
def offers(monkeypatch: pytest.MonkeyPatch) -> Offer:
    """Return what makes each spreadsheet that is offered, by the end of the file's name."""
    found: Offer = {}
    drawn = st.download_button

    def spy(label: str, data: Any, **given: Any) -> bool:
        if given["file_name"].endswith(".xlsx"):
            assert "spreadsheet" in label
            assert given["type"] == "tertiary"
            assert callable(data)
            assert given["on_click"] == "ignore"
            name = given["file_name"].removesuffix(".xlsx")
            found[name.removeprefix(f"{LIGHT}-").removeprefix(f"{HALF}-")] = data
        return drawn(label, data, **given)

    monkeypatch.setattr(st, "download_button", spy)
    return found


def opened(screens: Any, page: str, car: str | None, folds: dict[str, Any]) -> AppTest:
    window: AppTest = screens.window(page, car)
    for key, value in folds.items():
        window.session_state[key] = value
    window.run()
    assert not window.exception
    return window


def book(content: bytes) -> openpyxl.Workbook:
    return openpyxl.load_workbook(BytesIO(content))


@pytest.mark.parametrize(("page", "car", "folds", "files"), OFFERED, ids=[o[0] for o in OFFERED])
def test_each_table_of_a_page_can_be_had_as_a_spreadsheet(
    screens: Any, offers: Offer, page: str, car: str | None, folds: Any, files: dict[str, list[str]]
) -> None:
    opened(screens, page, car, folds)

    assert set(offers) == set(files)
    for name, sheets in files.items():
        found = book(offers[name]())
        assert found.sheetnames == (sheets or ["Values", "Jobs of the catalog", "Sources"])
        assert all(sheet.max_row > 1 for sheet in found)


@pytest.mark.parametrize(
    ("section", "files"),
    [
        ("Faults", {"then-and-now": ["Then and now", "Findings"]}),
        ("Parts", {"parts": ["Parts", "Cores", "Days"]}),
        ("Days", {"days-of-each-job": ["Days of each job", "Days"]}),
        (
            "Money and hours",
            {"entries": ["Entries", "Money by kind"], "cost-to-buy": ["Cost to buy"]},
        ),
        ("Where it ends", {"where-it-ends": ["Where it ends", "Jobs", "Budget"]}),
    ],
)
def test_each_part_of_the_work_too(
    screens: Any, offers: Offer, section: str, files: dict[str, list[str]]
) -> None:
    window = screens.window("repair", HALF)
    offers.clear()  # of the part that is shown at first
    next(one for one in window.get("button_group") if one.options).set_value(section).run()

    assert not window.exception
    assert {name: book(make()).sheetnames for name, make in offers.items()} == files


def test_the_cars_give_each_car_whole_and_all_cars_in_one_list(screens: Any, offers: Offer) -> None:
    opened(screens, "cars", None, {})

    kept = {one.id: one.title for one in cached.workspace().cases.summaries()}
    assert set(offers) == {"cars", "all-tables"} | {f"{one}-all-tables" for one in kept} - {
        f"{LIGHT}-all-tables",
        f"{HALF}-all-tables",
    }
    whole = book(offers["farm-truck-owned-all-tables"]())
    assert {"Car", "Findings", "Jobs", "Entries", "Options"} <= set(whole.sheetnames)
    (listed,) = book(offers["cars"]())
    assert {row[0] for row in listed.iter_rows(min_row=2, values_only=True)} == set(kept.values())


def test_live_values_that_were_read_can_be_taken_along(
    screens: Any, offers: Offer, widget: Any
) -> None:
    window = opened(screens, "inspect", LIGHT, {"look-boxes": "Codes"})
    widget(window, "text_area", ":answers").set_value("41 0C 0B B8\n41 05 7B").run()

    assert not window.exception
    (sheet,) = book(offers["live-values"]())
    cells = list(sheet.iter_rows(values_only=True))
    assert cells[0] == ("Value", "Reading")
    assert any("750" in str(reading) for _, reading in cells[1:])  # 0x0BB8 / 4 rpm


def test_no_table_is_made_while_a_page_is_drawn(
    screens: Any, offers: Offer, monkeypatch: pytest.MonkeyPatch
) -> None:
    def made(*given: Any, **more: Any) -> Any:
        del given, more
        raise AssertionError

    monkeypatch.setattr(service, "car_tables", made)
    monkeypatch.setattr(service, "workbook", made)
    monkeypatch.setattr("appraise.services.output.table_lists.workbook", made)
    for page, car, folds, _ in OFFERED:
        opened(screens, page, car, folds)
    opened(screens, "cars", None, {})

    assert len(offers) > 10
    for make in offers.values():
        with pytest.raises(AssertionError):
            make()


def test_what_a_person_typed_comes_out_of_a_page_as_text(screens: Any, offers: Offer) -> None:
    case = screens.kept(LIGHT)
    rows = [one.model_dump() | {"note": HOSTILE} for one in case.market.comparables]
    screens.put(changed(case, ("market", "comparables"), rows))
    opened(screens, "prices", LIGHT, {})

    sheet = book(offers["comparable-cars"]())["Comparable cars"]
    notes = [row[-1] for row in sheet.iter_rows(min_row=2)]
    assert [one.value for one in notes] == [HOSTILE] * len(rows)
    assert all(one.data_type == "s" and one.quotePrefix for one in notes)


def test_it_is_what_is_saved_and_at_today_s_date(screens: Any, offers: Offer) -> None:
    opened(screens, "prices", LIGHT, {})
    made = book(offers["comparable-cars"]())

    assert made.properties.title == screens.kept(LIGHT).title
    assert made.properties.created.date() == today()


def test_a_car_without_prices_offers_no_table_of_them(screens: Any, offers: Offer) -> None:
    screens.put(changed(screens.kept(LIGHT), ("market", "comparables"), []))
    opened(screens, "prices", LIGHT, {})
    assert not offers
    opened(screens, "bid", LIGHT, {})
    assert not offers


def test_own_values_that_cannot_be_read_leave_the_page_without_the_buttons(
    screens: Any, offers: Offer
) -> None:
    screens.own().save("[[value]\n")
    window = opened(screens, "cars", None, {})

    assert not offers
    assert [one.value for one in window.title] == ["Cars"]


def test_the_grid_s_own_export_is_off() -> None:
    """Its CSV holds cells as they are, a text that begins like a formula among them."""
    assert tomllib.loads(CONFIG.read_text(encoding="utf-8"))["client"]["disableDataExport"] is True
