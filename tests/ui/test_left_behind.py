"""What was typed and not saved stays when a page is left, is told, and is never doubled."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest
from streamlit.proto.WidgetStates_pb2 import WidgetState
from streamlit.testing.v1 import AppTest

from appraise.services import changed
from ui.widgets.tables import _applied

CAR = "auction-engine-light"
AREA = "brakes"


def unsaved(window: AppTest, bare: Any) -> list[str]:
    return [bare(one.value) for one in window.caption if "nsaved row" in one.value]


def told(window: AppTest, bare: Any) -> str:
    return " ".join(bare(one.value) for one in window.caption if "Not saved yet" in one.value)


def shown(window: AppTest, what: str) -> pd.DataFrame:
    (found,) = [one.value for one in window.dataframe if one.proto.alt == what]
    return found


@pytest.fixture
def prices(screens: Any) -> AppTest:
    window: AppTest = screens.window("prices", CAR)
    return window


def type_price(window: AppTest, key: Any, edits: Any) -> None:
    row = {"year": 2014, "odometer": 99_000}
    window.session_state[key(window, "comparables")] = edits({0: {"price": 8000.0}}, [row])
    window.run()
    assert not window.exception


def test_an_edited_cell_and_a_half_typed_row_are_there_when_the_page_is_come_back_to(
    screens: Any, prices: AppTest, key: Any, edits: Any, button: Any, bare: Any
) -> None:
    before = screens.kept(CAR).market.comparables
    type_price(prices, key, edits)
    assert unsaved(prices, bare)[0].startswith(":material/edit: 2 unsaved rows")

    screens.turn(prices, "bid")
    assert "Comparable cars on Prices" in told(prices, bare)
    assert screens.kept(CAR).market.comparables == before
    screens.turn(prices, "prices")
    assert not told(prices, bare)
    table = shown(prices, "Comparable cars")
    assert (len(table), table["price"].iloc[0]) == (len(before) + 1, 8000)
    assert table["year"].iloc[-1] == 2014

    prices.session_state[key(prices, "comparables")] = edits({len(before): {"price": 7100.0}})
    button(prices, "Save the table").click().run()
    after = screens.kept(CAR).market.comparables
    assert [(one.price, one.model_year) for one in (after[0], after[-1])] == [
        (8000, before[0].model_year),
        (7100, 2014),
    ]
    assert not unsaved(prices, bare)
    screens.turn(prices, "bid")
    assert not told(prices, bare)


def test_rows_pasted_meanwhile_stand_beside_those_that_are_not_saved(
    screens: Any, prices: AppTest, key: Any, edits: Any, widget: Any, button: Any, bare: Any
) -> None:
    before = screens.kept(CAR).market.comparables
    type_price(prices, key, edits)
    widget(prices, "text_area", "paste").set_value("2013, 120,000 mi, $7,150").run()
    button(prices, "Add 1 car").click().run()

    assert len(screens.kept(CAR).market.comparables) == len(before) + 1
    table = shown(prices, "Comparable cars")
    assert (len(table), table["price"].iloc[0]) == (len(before) + 2, 8000)
    assert unsaved(prices, bare)[0].startswith(":material/edit: 2 unsaved rows")


def test_a_cell_typed_just_before_the_page_is_left_is_kept(
    screens: Any, prices: AppTest, edits: Any, bare: Any
) -> None:
    """What the browser sends as the page is left: the edit, and the other page in one request."""
    import json  # noqa: PLC0415 - only here

    (editor,) = [one for one in prices.dataframe if one.proto.alt == "Comparable cars"]
    states = prices._tree.get_widget_states()
    given = json.dumps(edits({0: {"price": 8000.0}}))
    states.widgets.append(WidgetState(id=editor.proto.id, string_value=given))
    prices.switch_page("app_pages/bid.py")
    prices._run(states)
    assert not prices.exception
    assert "Comparable cars on Prices" in told(prices, bare)

    screens.turn(prices, "prices")
    assert shown(prices, "Comparable cars")["price"].iloc[0] == 8000


def test_what_was_typed_into_a_form_is_there_when_the_page_is_come_back_to(
    screens: Any, widget: Any, button: Any, bare: Any
) -> None:
    window = screens.window("inspect", CAR)
    window.selectbox(key="area").set_value(AREA).run()
    button(window, "Something wrong").click().run()
    widget(window, "text_input", "new:label").set_value("Squeals").run()
    screens.turn(window, "prices")
    assert "what you typed on Inspect" in told(window, bare)
    widget(window, "text_area", "paste").set_value("2013, 120,000 mi, $7,150").run()
    button(window, "Add 1 car").click().run()

    screens.turn(window, "inspect")
    assert not window.exception
    assert not told(window, bare)
    assert not [one for one in window.warning if "Session State" in one.value]
    window.selectbox(key="area").set_value(AREA).run()
    assert widget(window, "text_input", "new:label").value == "Squeals"
    button(window, "Add this finding").click().run()
    assert "Squeals" in [one.label for one in screens.kept(CAR).findings]
    screens.turn(window, "bid")
    assert not told(window, bare)


def test_a_form_closed_without_saving_is_empty_again(
    screens: Any, widget: Any, button: Any, bare: Any
) -> None:
    window = screens.window("inspect", CAR)
    window.selectbox(key="area").set_value(AREA).run()
    button(window, "Something wrong").click().run()
    widget(window, "text_input", "new:label").set_value("Squeals").run()
    screens.turn(window, "prices")
    screens.turn(window, "inspect")
    window.selectbox(key="area").set_value(AREA).run()
    button(window, "Close without saving").click().run()
    button(window, "Something wrong").click().run()

    assert widget(window, "text_input", "new:label").value == ""
    button(window, "Close without saving").click().run()
    screens.turn(window, "bid")
    assert not told(window, bare)


def test_a_range_with_a_figure_missing_is_told_and_stays(
    screens: Any, prices: AppTest, widget: Any, bare: Any
) -> None:
    widget(prices, "number_input", "days_to_sell.low").set_value(10.0).run()
    assert any("enter low, likely and high" in bare(one.value) for one in prices.caption)
    screens.turn(prices, "bid")
    assert "what you typed on Prices" in told(prices, bare)
    screens.turn(prices, "prices")

    assert widget(prices, "number_input", "days_to_sell.low").value == 10
    widget(prices, "number_input", "days_to_sell.likely").set_value(20.0).run()
    widget(prices, "number_input", "days_to_sell.high").set_value(40.0).run()
    assert screens.kept(CAR).market.days_to_sell.low == 10
    screens.turn(prices, "bid")
    assert not told(prices, bare)


def test_what_is_typed_of_one_car_is_not_told_of_another(
    screens: Any, prices: AppTest, key: Any, edits: Any, bare: Any
) -> None:
    type_price(prices, key, edits)
    prices.session_state["car"] = "dusk-curbside"
    prices.query_params["car"] = "dusk-curbside"
    screens.turn(prices, "bid")

    assert not told(prices, bare)


def test_a_row_of_fees_without_a_name_is_refused_not_dropped(
    screens: Any, key: Any, edits: Any, button: Any, bare: Any
) -> None:
    window = screens.window("bid", CAR)
    window.session_state["costs"] = True
    window.run()
    version = screens.version(CAR)
    row = {"fee": None, "from": 0, "flat": 300, "percent": 0, "cap": None}
    window.session_state[key(window, "fees")] = edits(added=[row])
    button(window, "Save the fees").click().run()

    assert screens.version(CAR) == version
    assert any("has no name" in bare(one.value) for one in window.error)


def test_what_another_window_saved_is_shown_with_what_is_typed_here(
    screens: Any, prices: AppTest, key: Any, edits: Any
) -> None:
    type_price(prices, key, edits)
    screens.turn(prices, "bid")
    case = screens.kept(CAR)
    rows = [one.model_dump() for one in case.market.comparables]
    rows[1]["note"] = "seen twice"
    screens.put(changed(case, ("market", "comparables"), rows[:-1]))
    screens.turn(prices, "prices")

    table = shown(prices, "Comparable cars")
    assert (len(table), table["price"].iloc[0], table["note"].iloc[1]) == (
        len(rows),
        8000,
        "seen twice",
    )


def test_edits_are_applied_as_the_table_applies_them() -> None:
    begin = pd.DataFrame(
        {"id": ["a", "b"], "amount": [1.0, 2.0], "on": pd.to_datetime(["2026-01-01", None])}
    )
    edits = {
        "edited_rows": {0: {"amount": 5, "on": "2026-02-03"}},
        "deleted_rows": [1],
        "added_rows": [{"amount": 7}],
    }
    after = _applied(begin, edits)

    assert list(after.index) == [0, 2]
    assert after["amount"].tolist() == [5.0, 7.0]
    assert after["on"].iloc[0] == pd.Timestamp("2026-02-03")
    assert pd.isna(after["id"].iloc[1])


def test_a_car_half_entered_is_there_when_the_list_is_come_back_to(
    screens: Any, button: Any, bare: Any
) -> None:
    def field(window: AppTest, label: str) -> Any:
        return next(one for one in (*window.text_input, *window.number_input) if one.label == label)

    window = screens.window("cars")
    window.session_state["add"] = True
    window.run()
    field(window, "Make").set_value("Orrik").run()
    field(window, "Model year").set_value(2014).run()
    assert not told(window, bare)
    screens.turn(window, "settings")
    assert "a car half entered on Cars" in told(window, bare)

    screens.turn(window, "cars")
    assert not window.exception
    assert not told(window, bare)
    assert (field(window, "Make").value, field(window, "Model year").value) == ("Orrik", 2014)
    button(window, "Empty the form").click().run()
    assert (field(window, "Make").value, field(window, "Model year").value) == ("", None)
    screens.turn(window, "settings")
    assert not told(window, bare)


def test_a_car_that_is_added_is_no_longer_told(screens: Any, button: Any, bare: Any) -> None:
    window = screens.window("cars")
    window.session_state["add"] = True
    window.run()
    for one in (*window.text_input, *window.number_input):
        typed = {"Make": "Orrik", "Model": "Tivvick", "Model year": 2014, "Odometer, mi": 90_000}
        if one.label in typed:
            one.set_value(typed[one.label])
    button(window, "Add this car").click().run()
    assert [one.value for one in window.title] == ["Inspect"]
    assert not told(window, bare)


def test_a_venue_half_entered_is_told_and_stays(screens: Any, bare: Any) -> None:
    def venue(window: AppTest) -> Any:
        return next(one for one in window.text_input if one.label == "New venue")

    window = screens.window("settings", CAR)
    venue(window).set_value("Hexwarren yard").run()
    screens.turn(window, "bid")
    assert "a venue on Settings" in told(window, bare)
    screens.turn(window, "settings")
    assert venue(window).value == "Hexwarren yard"


@pytest.mark.parametrize("by", ["Next area", "Fine"])
def test_a_finding_half_typed_is_there_when_its_area_is_come_back_to(
    screens: Any, widget: Any, button: Any, bare: Any, by: str
) -> None:
    window = screens.window("inspect", CAR)
    window.selectbox(key="area").set_value(AREA).run()
    button(window, "Something wrong").click().run()
    widget(window, "text_input", "new:label").set_value("Squeals").run()
    assert not told(window, bare)
    button(window, by).click().run()
    assert window.selectbox(key="area").value != AREA
    assert told(window, bare).endswith("kept: a finding of Brakes.")

    window.selectbox(key="area").set_value(AREA).run()
    assert not window.exception
    assert not [one for one in window.warning if "Session State" in one.value]
    assert not told(window, bare)
    assert widget(window, "text_input", "new:label").value == "Squeals"
    button(window, "Next area").click().run()
    screens.turn(window, "bid")
    assert "what you typed on Inspect" in told(window, bare)
    screens.turn(window, "inspect")
    button(window, "Drop it").click().run()
    assert not told(window, bare)
    window.selectbox(key="area").set_value(AREA).run()
    button(window, "Something wrong").click().run()
    assert widget(window, "text_input", "new:label").value == ""


def test_rows_that_are_not_saved_can_be_dropped(
    screens: Any, prices: AppTest, key: Any, edits: Any, button: Any, bare: Any
) -> None:
    before = shown(prices, "Comparable cars")
    type_price(prices, key, edits)
    button(prices, "Drop them").click().run()
    assert not unsaved(prices, bare)
    pd.testing.assert_frame_equal(shown(prices, "Comparable cars"), before)
    screens.turn(prices, "bid")
    assert not told(prices, bare)
