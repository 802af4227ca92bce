"""The page of the prices: comparable cars edited, pasted and taken away."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from appraise.models.case import Case
from appraise.models.market import Comparable, Market
from appraise.models.vehicle import Distance

CAR = "auction-engine-lamp"


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
        (told,) = [one.value for one in window.info]
        assert told.startswith("No price yet:")
        assert all(word in told for word in ("price", "model year", "odometer"))
        assert not window.metric


def test_pasted_lines_are_added(screens: Any, widget: Any, button: Any) -> None:
    window = screens.window("prices", CAR)
    before = comparables(screens)
    lines = "2014\t118,000\t7,450\n2013, 126k, 6690, sold\n2015; 90 000 km; 8.200; tidier; garaged"
    widget(window, "text_area", "paste").set_value(lines).run()
    button(window, "Add these").click().run()

    assert not window.exception
    new = comparables(screens)[len(before) :]
    assert [(one.model_year, one.price, one.kind.value) for one in new] == [
        (2014, 7450, "asked"),
        (2013, 6690, "sold"),
        (2015, 8200, "asked"),
    ]
    assert (new[2].odometer.unit, new[2].condition.value, new[2].note) == (
        "km",
        "tidier",
        "garaged",
    )
    assert any("Added 3" in one.value for one in window.success)


def test_of_pasted_lines_the_bad_ones_are_named_and_left_in_the_box(
    screens: Any, widget: Any, button: Any, bare: Any
) -> None:
    window = screens.window("prices", CAR)
    before = comparables(screens)
    lines = "2014 118000 7450\nnineteen 5 6\n2013, 126k\n2012 1 abc"
    widget(window, "text_area", "paste").set_value(lines).run()
    button(window, "Add these").click().run()

    assert len(comparables(screens)) == len(before) + 1
    first, *told = [bare(one.value) for one in window.error]
    assert first == "Added 1. 3 could not be read: see below."
    assert [one.split(":")[0] for one in told] == ["line 2", "line 3", "line 4"]
    assert widget(window, "text_area", "paste").value.splitlines() == lines.splitlines()[1:]


def test_only_bad_lines_add_nothing_and_stay_in_the_box(
    screens: Any, widget: Any, button: Any, bare: Any
) -> None:
    window = screens.window("prices", CAR)
    version = screens.version(CAR)
    widget(window, "text_area", "paste").set_value("2013, 126k").run()
    button(window, "Add these").click().run()

    first, *told = [bare(one.value) for one in window.error]
    assert first.startswith("Added 0. 1 could not be read")
    assert [one.split(":")[0] for one in told] == ["line 1"]
    assert screens.version(CAR) == version
    assert widget(window, "text_area", "paste").value == "2013, 126k"


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

    assert shown["Mended"] > shown["As it stands"] > 0
