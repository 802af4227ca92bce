"""The page of the prices: comparable cars edited, pasted and taken away."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from appraise.models.case import Case
from appraise.models.market import Comparable, Market, PriceKind, SoldBy
from appraise.models.vehicle import Distance

CAR = "auction-engine-light"


def comparables(screens: Any, car: str = CAR) -> tuple[Comparable, ...]:
    kept: Case = screens.kept(car)
    return kept.market.comparables


def test_a_price_changed_in_the_table_is_saved_and_the_rest_stays(
    screens: Any, key: Any, edits: Any, button: Any
) -> None:
    window = screens.window("prices", CAR)
    before = comparables(screens)
    window.session_state[key(window, "comparables")] = edits({0: {"price": 8000.0}})
    button(window, "Save the table").click().run()

    assert not window.exception
    after = comparables(screens)
    assert after[0] == before[0].model_copy(update={"price": Decimal("8000.00")})
    assert after[1:] == before[1:]


def test_the_table_saved_unchanged_changes_nothing(screens: Any, button: Any) -> None:
    """Readings are shown whole and in one unit; that must not round what is kept."""
    case = screens.kept(CAR)
    exact = Distance(value=Decimal("190001.7"), unit="km")
    first = case.market.comparables[0].model_copy(update={"odometer": exact})
    market = Market(comparables=(first, *case.market.comparables[1:]))
    screens.put(case.model_copy(update={"market": market}))
    version = screens.version(CAR)
    window = screens.window("prices", CAR)
    button(window, "Save the table").click().run()

    assert comparables(screens)[0].odometer == exact
    assert screens.version(CAR) == version


def test_a_row_is_added_to_the_table(screens: Any, key: Any, edits: Any, button: Any) -> None:
    window = screens.window("prices", CAR)
    before = comparables(screens)
    row = {"year": 2014, "odometer": 99_000, "price": 7100, "kind": "sold"}
    window.session_state[key(window, "comparables")] = edits(added=[row])
    button(window, "Save the table").click().run()

    new = comparables(screens)[-1]
    assert len(comparables(screens)) == len(before) + 1
    assert (new.model_year, new.odometer.value, new.price, new.kind.value) == (
        2014,
        99_000,
        7100,
        "sold",
    )
    assert new.odometer.unit == "mi"


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"year": 2014, "odometer": 99_000}, "price"),
        ({"year": 1700, "odometer": 99_000, "price": 7100}, "model_year"),
        ({"odometer": 99_000, "price": 7100}, "model_year"),
        ({"year": 2014, "odometer": 99_000, "price": -5}, "price"),
    ],
    ids=["no price", "impossible year", "no year", "price below nothing"],
)
def test_a_row_that_cannot_be_is_refused_naming_its_field(
    screens: Any, key: Any, edits: Any, button: Any, bare: Any, row: dict[str, int], words: str
) -> None:
    window = screens.window("prices", CAR)
    version = screens.version(CAR)
    window.session_state[key(window, "comparables")] = edits(added=[row])
    button(window, "Save the table").click().run()

    assert not window.exception
    assert words in " ".join(bare(one.value) for one in window.error)
    assert screens.version(CAR) == version


def test_a_row_without_an_odometer_is_refused_not_taken_for_new(
    screens: Any, key: Any, edits: Any, button: Any
) -> None:
    window = screens.window("prices", CAR)
    version = screens.version(CAR)
    window.session_state[key(window, "comparables")] = edits(added=[{"year": 2014, "price": 7100}])
    button(window, "Save the table").click().run()

    assert "odometer" in " ".join(one.value for one in window.error)
    assert screens.version(CAR) == version


def test_rows_taken_away_can_be_brought_back(
    screens: Any, key: Any, edits: Any, button: Any
) -> None:
    window = screens.window("prices", CAR)
    before = comparables(screens)
    window.session_state[key(window, "comparables")] = edits(deleted=[0, 1])
    button(window, "Save the table").click().run()
    assert comparables(screens) == before[2:]

    window.button(key="undo-button").click().run()
    assert comparables(screens) == before


def test_with_all_comparables_gone_there_is_no_price_and_it_says_what_to_enter(
    screens: Any, key: Any, edits: Any, button: Any
) -> None:
    window = screens.window("prices", CAR)
    every = list(range(len(comparables(screens))))
    window.session_state[key(window, "comparables")] = edits(deleted=every)
    button(window, "Save the table").click().run()

    assert comparables(screens) == ()
    for page in ("prices", "bid"):
        screens.turn(window, page)
        assert not window.exception
        (told,) = [one.value for one in window.info if one.value.startswith("No price yet:")]
        assert all(word in told for word in ("price", "model year", "odometer"))
        assert not window.metric


def paste(window: Any, widget: Any, text: str) -> None:
    widget(window, "text_area", "paste").set_value(text).run()
    assert not window.exception


def add(window: Any) -> None:
    (found,) = [one for one in window.button if one.label.startswith("Add ")]
    found.click().run()
    assert not window.exception


def test_pasted_lines_are_shown_first_and_then_added(screens: Any, widget: Any) -> None:
    window = screens.window("prices", CAR)
    before, version = comparables(screens), screens.version(CAR)
    lines = (
        "2010, $4,150, 121,000 mi\n2011 $3,950 139,000 mi\n2014\t118,000\t7,450\n"
        "2013, 126k, 6690, sold, dealer\n2015; 90 000 km; 8.200; tidier; garaged"
    )
    paste(window, widget, lines)
    (shown,) = [one.value for one in window.dataframe if "To check" in one.value.columns]
    assert list(shown["Car"]) == [
        "1: 2010, 121,000 mi",
        "2: 2011, 139,000 mi",
        "3: 2014, 118,000 mi",
        "4: 2013, 126,000 mi",
        "5: 2015, 90,000 km",
    ]
    assert list(shown["Price"]) == ["4,150", "3,950", "7,450", "6,690", "8,200"]
    assert screens.version(CAR) == version
    add(window)

    new = comparables(screens)[len(before) :]
    assert [(one.model_year, one.price, one.kind.value) for one in new] == [
        (2010, 4150, "asked"),
        (2011, 3950, "asked"),
        (2014, 7450, "asked"),
        (2013, 6690, "sold"),
        (2015, 8200, "asked"),
    ]
    assert (new[3].sold_by, new[0].sold_by) == (SoldBy.DEALER, None)
    assert (new[4].odometer.unit, new[4].condition.value, new[4].note) == (
        "km",
        "tidier",
        "garaged",
    )
    assert any("Added 5" in one.value for one in window.success)
    assert widget(window, "text_area", "paste").value == ""


def test_of_pasted_lines_the_bad_ones_are_named_and_left_in_the_box(
    screens: Any, widget: Any, bare: Any
) -> None:
    window = screens.window("prices", CAR)
    before = comparables(screens)
    lines = "2014 118000 7450\nnineteen 5 6\n2013, 126k\n2012 1 abc"
    paste(window, widget, lines)
    told = [bare(one.value) for one in window.error]
    assert [one.split(":")[0] for one in told] == ["Line 2", "Line 3", "Line 4"]
    add(window)

    assert len(comparables(screens)) == len(before) + 1
    assert bare(window.error[0].value) == "Added 1. Still in the box: 3 lines."
    assert widget(window, "text_area", "paste").value.splitlines() == lines.splitlines()[1:]


def test_only_bad_lines_cannot_be_added_and_stay_in_the_box(screens: Any, widget: Any) -> None:
    window = screens.window("prices", CAR)
    paste(window, widget, "2013, 126k")

    assert not [one for one in window.button if one.label.startswith("Add ")]
    assert widget(window, "text_area", "paste").value == "2013, 126k"


def test_two_readings_of_a_line_are_put_to_the_person_who_chooses(
    screens: Any, widget: Any, bare: Any
) -> None:
    window = screens.window("prices", CAR)
    paste(window, widget, "2024, 12,000, 28,000")
    (told,) = [bare(one.value) for one in window.error]
    assert "which is the price, 12,000 or 28,000?" in told
    widget(window, "selectbox", "paste:order").set_value("price").run()
    add(window)

    new = comparables(screens)[-1]
    assert (new.price, new.odometer.value) == (12_000, 28_000)


def test_a_row_ten_times_too_high_is_marked_before_it_is_added(
    screens: Any, widget: Any, bare: Any
) -> None:
    window = screens.window("prices", CAR)
    paste(window, widget, "2014, 118,000 mi, $74,500\n2014, 118,000 mi, $7,450")

    (told,) = [bare(one.value) for one in window.warning if "fit the others" in one.value]
    assert told.startswith("Line 1: does not fit the others, which point to about")


def test_one_choice_says_who_offers_all_pasted_cars(screens: Any, widget: Any) -> None:
    window = screens.window("prices", CAR)
    paste(window, widget, "2014, 118,000 mi, $7,450\n2013, 120,000 mi, $7,150, private")
    widget(window, "selectbox", "paste:by").set_value(SoldBy.AUCTION).run()
    widget(window, "selectbox", "paste:kind").set_value(PriceKind.SOLD).run()
    add(window)

    new = comparables(screens)[-2:]
    assert [one.sold_by for one in new] == [SoldBy.AUCTION, SoldBy.PRIVATE]
    assert [one.kind for one in new] == [PriceKind.SOLD, PriceKind.SOLD]


def test_a_list_changed_after_it_was_shown_is_shown_again_before_it_is_added(
    screens: Any, widget: Any, bare: Any
) -> None:
    """The box hands over what is in it as the button is pressed."""
    window = screens.window("prices", CAR)
    version = screens.version(CAR)
    paste(window, widget, "2014, 118,000 mi, $7,450")
    widget(window, "text_area", "paste").set_value("2014, 118,000 mi, $74,500")
    add(window)

    assert screens.version(CAR) == version
    assert "The list was changed" in bare(window.error[0].value)
    add(window)
    assert comparables(screens)[-1].price == 74_500


def test_who_offers_a_car_is_set_in_the_table(
    screens: Any, key: Any, edits: Any, button: Any
) -> None:
    window = screens.window("prices", CAR)
    window.session_state[key(window, "comparables")] = edits({0: {"offered by": "dealer"}})
    button(window, "Save the table").click().run()

    assert comparables(screens)[0].sold_by is SoldBy.DEALER


def test_a_range_is_saved_once_all_three_figures_are_there(screens: Any, widget: Any) -> None:
    window = screens.window("prices", CAR)
    for place, figure in (("low", 10.0), ("likely", 20.0)):
        widget(window, "number_input", f"days_to_sell.{place}").set_value(figure).run()
        assert screens.kept(CAR).market.days_to_sell is None
    widget(window, "number_input", "days_to_sell.high").set_value(40.0).run()

    assert not window.exception
    kept = screens.kept(CAR).market.days_to_sell
    assert (kept.low, kept.likely, kept.high) == (10, 20, 40)


def test_a_range_out_of_order_is_said_and_not_saved(screens: Any, widget: Any, said: Any) -> None:
    window = screens.window("prices", CAR)
    for place, figure in (("low", 30.0), ("likely", 20.0), ("high", 40.0)):
        widget(window, "number_input", f"days_to_sell.{place}").set_value(figure).run()

    assert screens.kept(CAR).market.days_to_sell is None
    assert "is above likely" in said(window)


def test_a_sold_share_above_two_is_said_and_not_saved(screens: Any, widget: Any, said: Any) -> None:
    """It is a factor such as 0.93; 93 is meant as percent and must not pass."""
    window = screens.window("prices", CAR)
    for place, figure in (("low", 90.0), ("likely", 93.0), ("high", 97.0)):
        widget(window, "number_input", f"asked_to_sold.{place}").set_value(figure).run()

    assert screens.kept(CAR).market.asked_to_sold is None
    assert "factor between" in said(window)


def test_the_price_mended_is_above_the_price_as_it_stands(screens: Any) -> None:
    window = screens.window("prices", CAR)
    shown = {one.label.split(",")[0]: int(one.value.replace(",", "")) for one in window.metric}

    assert shown["Price after repair"] > shown["Price as is"] > 0
