"""A car that cannot be read, or not worked out, is a row of the list like any other."""

from __future__ import annotations

import json
from io import BytesIO
from typing import Any
from zipfile import ZipFile

import pytest
from sqlalchemy import update
from streamlit.testing.v1 import AppTest

from appraise import services
from appraise.services.output.table_lists import cars_sheet
from appraise.store.database import transaction
from appraise.store.raw import RawText
from appraise.store.tables import CaseRow, HistoryRow
from ui.session import cached

CAR = "auction-engine-light"
WAYS = {
    "cut short": lambda doc: RawText(json.dumps(doc)[:500]),
    "newer layout": lambda doc: doc | {"schema_version": 99},
    "one unknown field": lambda doc: doc | {"color": "red"},
}


@pytest.fixture(params=WAYS)
def spoilt(request: pytest.FixtureRequest, screens: Any) -> Any:
    """Return the screens with one car saved twice, its last version unreadable."""
    before = screens.kept(CAR)
    screens.put(before.model_copy(update={"title": "Spoilt since"}))
    store = cached.workspace().cases
    doc = WAYS[request.param](json.loads(store.raw_text(CAR)))
    with transaction(store.engine) as connection:
        connection.execute(update(CaseRow).where(CaseRow.id == CAR).values(doc=doc))
        last = (HistoryRow.case_id == CAR, HistoryRow.version == 2)
        connection.execute(update(HistoryRow).where(*last).values(doc=doc))
    return screens


def opened(window: AppTest) -> set[str]:
    keys = [str(one.key) for one in window.button if one.key]
    return {one.removeprefix("open:") for one in keys if one.startswith("open:")}


EXAMPLES = {one.id for one in services.example_cases()}


def test_the_list_shows_every_other_car_with_its_figures(spoilt: Any, said: Any) -> None:
    window = spoilt.window("cars")

    assert not window.exception
    assert opened(window) == EXAMPLES - {CAR}
    assert "Spoilt since" in said(window)
    assert [one.value for one in window.error if "This car cannot be read" in one.value]
    assert "…" not in [one.value for one in window.markdown]


def test_it_is_put_back_from_its_history(spoilt: Any) -> None:
    window = spoilt.window("cars")
    window.session_state[f"old:{CAR}"] = True
    window.run()
    offered = [one for one in window.button if str(one.key).startswith(f"old:{CAR}:")]
    assert [str(one.key) for one in offered] == [f"old:{CAR}:1"]
    offered[0].click().run()

    assert not window.exception
    assert opened(window) == EXAMPLES
    assert spoilt.kept(CAR) == next(one for one in services.example_cases() if one.id == CAR)
    assert spoilt.version(CAR) == 3


def test_it_is_removed_and_put_back_as_it_was(spoilt: Any, button: Any) -> None:
    before = cached.workspace().cases.raw_text(CAR)
    window = spoilt.window("cars")
    window.button(key=f"remove:{CAR}").click().run()
    assert spoilt.removed() == {CAR}
    assert not window.error
    button(window, "Undo").click().run()

    assert not window.exception
    assert spoilt.removed() == set()
    assert cached.workspace().cases.raw_text(CAR) == before


@pytest.mark.parametrize("page", ["cars", "inspect", "bid", "settings"])
def test_a_window_that_has_it_open_says_so_and_goes_on(spoilt: Any, page: str, said: Any) -> None:
    window = spoilt.window(page, CAR)

    assert not window.exception
    if page != "inspect":
        return
    spoilt.turn(window, "cars")
    assert "That car cannot be read" in said(window)


def test_the_spreadsheet_of_all_cars_names_it(spoilt: Any) -> None:
    assert spoilt.folder
    sheet = cars_sheet(cached.workspace(), cached.reference())
    with ZipFile(BytesIO(sheet)) as archive:
        words = archive.read("xl/sharedStrings.xml").decode()

    assert "Spoilt since" in words
    assert "Cannot be read: " in words
    assert all(one.title in words for one in services.example_cases() if one.id != CAR)


def test_a_car_whose_figures_come_to_an_error_stops_no_other(
    screens: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = services.appraise_case

    def failing(case: Any, *rest: Any) -> Any:
        if case.id == CAR:
            raise ZeroDivisionError("float division by zero")
        return real(case, *rest)

    cached._appraisal.clear()
    monkeypatch.setattr(services, "appraise_case", failing)
    cached.first_cars(20)
    window = screens.window("cars")
    cached._appraisal.clear()

    assert not window.exception
    assert opened(window) == EXAMPLES
    told = [one.value for one in window.error]
    assert [one for one in told if "cannot be worked out (ZeroDivisionError)" in one]
    assert sum("Walk-away price" in one.value for one in window.markdown) >= 2


def test_settings_that_cannot_be_read_are_told_and_replaced(screens: Any, widget: Any) -> None:
    store = cached.workspace().preferences
    store.save(screens.preferences(), 0)
    with transaction(store._engine) as connection:
        connection.exec_driver_sql(
            "UPDATE preferences SET doc = json_set(doc, '$.deal.confidence', '0.9999')"
        )
    window = screens.window("settings")
    assert not window.exception
    assert any("Your settings cannot be read" in one.value for one in window.warning)
    widget(window, "number_input", "deal.target_margin").set_value(1500.0).run()

    assert not window.exception
    assert not window.warning
    assert screens.preferences().deal.target_margin == 1500
