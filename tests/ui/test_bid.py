"""The page of the bid: what is typed is saved at once and moves the walk-away price."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from appraise import services
from appraise.models.jobs import DoneBy
from appraise.reports.tables_lists import values_table
from appraise.reports.wording import sentence
from appraise.services.output.telling import told_of
from ui.session import cached

CAR = "auction-engine-light"


def money(shown: str) -> int:
    return int(shown.removesuffix(" USD").replace(",", ""))


def test_a_higher_margin_wanted_is_saved_and_lowers_the_walk_away_price(
    screens: Any, widget: Any, walk_away: Any
) -> None:
    window = screens.window("bid", CAR)
    before = money(walk_away(window))
    widget(window, "number_input", "deal.target_margin").set_value(2000.0).run()

    assert not window.exception
    assert screens.kept(CAR).deal.target_margin == 2000
    assert money(walk_away(window)) < before


def test_more_confidence_is_saved_and_lowers_the_walk_away_price(
    screens: Any, widget: Any, walk_away: Any
) -> None:
    window = screens.window("bid", CAR)
    before = money(walk_away(window))
    widget(window, "slider", "deal.confidence").set_value(95).run()

    assert screens.kept(CAR).deal.confidence == Decimal("0.95")
    assert money(walk_away(window)) < before


def test_the_asking_price_is_saved_and_judged_and_leaves_the_walk_away_price(
    screens: Any, widget: Any, walk_away: Any
) -> None:
    """What somebody asks does not change what the car is worth to the buyer."""
    window = screens.window("bid", CAR)
    before = walk_away(window)
    widget(window, "number_input", "deal.asking_price").set_value(3000.0).run()

    assert screens.kept(CAR).deal.asking_price == 3000
    assert "At the asking price of 3,000 USD" in [one.value for one in window.subheader]
    assert walk_away(window) == before


def test_without_an_asking_price_the_page_judges_the_walk_away_price(
    screens: Any, walk_away: Any
) -> None:
    case = screens.kept(CAR)
    deal = case.deal.model_copy(update={"asking_price": None})
    screens.put(case.model_copy(update={"deal": deal}))
    window = screens.window("bid", CAR)

    assert not window.exception
    assert f"At the walk-away price of {walk_away(window)}" in [
        one.value for one in window.subheader
    ]


def test_who_mends_it_is_saved_and_moves_the_walk_away_price(
    screens: Any, widget: Any, walk_away: Any
) -> None:
    window = screens.window("bid", CAR)
    before = money(walk_away(window))
    widget(window, "selectbox", "deal.done_by").set_value(DoneBy.SHOP).run()

    assert screens.kept(CAR).deal.done_by is DoneBy.SHOP
    assert money(walk_away(window)) < before


def test_a_cost_under_its_fold_is_saved_and_lowers_the_walk_away_price(
    screens: Any, widget: Any, walk_away: Any
) -> None:
    window = screens.window("bid", CAR)
    before = money(walk_away(window))
    window.session_state["costs"] = True
    window.run()
    cost = widget(window, "number_input", "deal.transport")
    cost.set_value(float(cost.value) + 400).run()

    assert screens.kept(CAR).deal.transport == Decimal(str(cost.value))
    assert money(walk_away(window)) < before


def test_a_fee_of_the_venue_is_saved_and_lowers_the_walk_away_price(
    screens: Any, key: Any, edits: Any, button: Any, walk_away: Any
) -> None:
    """A fee of 300 whatever the bid takes 300 off, give or take the unit that prices go in."""
    window = screens.window("bid", CAR)
    before, fees = money(walk_away(window)), screens.kept(CAR).deal.fees
    window.session_state["costs"] = True
    window.run()
    row = {"fee": "Gate", "from": 0, "flat": 300, "percent": 0, "cap": None}
    window.session_state[key(window, "fees")] = edits(added=[row])
    button(window, "Save the fees").click().run()

    assert not window.exception
    kept = screens.kept(CAR).deal.fees
    assert kept[: len(fees)] == fees
    assert [(one.name, one.steps[0].flat) for one in kept[len(fees) :]] == [("Gate", Decimal(300))]
    assert 250 <= before - money(walk_away(window)) <= 350  # tax and interest on it move it too


def test_a_fee_that_leaves_a_gap_is_refused_in_words(
    screens: Any, key: Any, edits: Any, button: Any
) -> None:
    window = screens.window("bid", CAR)
    window.session_state["costs"] = True
    window.run()
    version = screens.version(CAR)
    row = {"fee": "Gate", "from": 500, "flat": 300, "percent": 0, "cap": None}
    window.session_state[key(window, "fees")] = edits(added=[row])
    button(window, "Save the fees").click().run()

    assert screens.version(CAR) == version
    assert any("a gap" in one.value for one in window.error)


@pytest.mark.parametrize(
    ("ending", "wrong", "words"),
    [
        ("deal.target_margin", 2e8, "must be 100,000,000 or less"),
        ("deal.asking_price", 1e9, "must be 100,000,000 or less"),
    ],
)
def test_an_amount_that_cannot_be_is_said_beside_its_field_and_not_saved(
    screens: Any, widget: Any, walk_away: Any, ending: str, wrong: float, words: str
) -> None:
    window = screens.window("bid", CAR)
    before, version = walk_away(window), screens.version(CAR)
    widget(window, "number_input", ending).set_value(wrong).run()

    assert not window.exception
    beside = following(window, ending)
    assert words in beside
    assert ":red[" in beside
    assert screens.version(CAR) == version
    assert walk_away(window) == before


def following(window: Any, ending: str) -> str:
    """Return what is said right after the widget whose key ends so."""
    found = list(window.main)
    place = next(i for i, one in enumerate(found) if str(one.key).endswith(ending))
    after = found[place + 1]
    return str(after.value) if after.type == "caption" else ""


def test_what_was_wrong_is_no_longer_said_once_it_is_put_right(screens: Any, widget: Any) -> None:
    window = screens.window("bid", CAR)
    widget(window, "number_input", "deal.asking_price").set_value(-5.0).run()
    widget(window, "number_input", "deal.asking_price").set_value(1500.0).run()

    assert following(window, "deal.asking_price") == ""
    assert screens.kept(CAR).deal.asking_price == 1500


def test_a_car_that_is_owned_has_no_asking_price_to_fill_in(screens: Any) -> None:
    window = screens.window("bid", "farm-truck-owned")

    assert not [one for one in window.number_input if str(one.key).endswith("deal.asking_price")]
    assert "Most it was worth paying" in [one.label for one in window.metric]


def test_warnings_come_before_the_price(screens: Any) -> None:
    case = screens.kept(CAR)
    market = case.market.model_copy(update={"comparables": case.market.comparables[:1]})
    screens.put(case.model_copy(update={"market": market}))
    kinds = [one.type for one in screens.window("bid", CAR).main]

    assert "warning" in kinds[: kinds.index("metric")]


def test_every_chart_is_said_in_words_too(screens: Any) -> None:
    window = screens.window("bid", CAR)
    charts = window.get("plotly_chart")

    assert len(charts) == 3
    assert all(len(one.proto.alt) > 40 for one in charts)


def test_a_known_venue_s_fees_and_tax_are_taken_over(
    screens: Any, widget: Any, button: Any, said: Any
) -> None:
    settings = screens.window("settings")
    next(one for one in settings.text_input if one.label == "New venue").set_value("Hexwarren yard")
    button(settings, "Add the venue").click().run()
    assert [one.name for one in screens.preferences().venues] == ["Hexwarren yard"]

    window = screens.window("bid", CAR)
    window.session_state["costs"] = True
    window.run()
    pick = widget(window, "selectbox", "venue-pick")
    pick.set_value(next(iter(screens.preferences().venues))).run()
    button(window, "Take them").click().run()

    assert not window.exception, said(window)
    assert screens.kept(CAR).deal.venue == "Hexwarren yard"
    assert screens.kept(CAR).deal.fees == ()


def test_an_open_lien_stops_the_page_first_and_laws_stand_last(screens: Any, bare: Any) -> None:
    """The same words as the command and the bid sheet have."""
    case = screens.kept(CAR)
    title = {"id": "t", "kind": "title", "in_name": "A. Seller", "lien": "open"}
    screens.put(services.changed(case, ("papers",), [title]))
    window = screens.window("bid", CAR)

    assert not window.exception
    found = told_of(screens.kept(CAR), cached.reference(), cached.appraisal(screens.kept(CAR)))
    assert any("a lien is not released" in one.message for one in found.stops)
    stopped = bare("\n".join(one.value for one in window.error))
    assert all(sentence(one.words) in stopped for one in found.stops)
    kinds = [one.type for one in window.main]
    assert kinds.index("error") < kinds.index("metric")
    noted = bare("\n".join(one.value for one in window.info))
    assert found.laws
    assert all(sentence(one.words) in noted for one in found.laws)
    assert [one.value for one in window.subheader][-1] == "Law"


def test_a_car_without_a_price_still_shows_its_stops(screens: Any) -> None:
    case = screens.kept(CAR)
    title = {"id": "t", "kind": "title", "in_name": "A. Seller", "lien": "open"}
    with_lien = services.changed(case, ("papers",), [title])
    screens.put(services.changed(with_lien, ("market", "comparables"), []))
    window = screens.window("bid", CAR)

    assert not window.exception
    assert any("lien is not released" in one.value for one in window.error)


def test_the_values_used_show_their_figures_unrounded(screens: Any) -> None:
    window = screens.window("bid", CAR)
    window.session_state["sources"] = True
    window.run()
    reference = cached.reference()
    used = cached.appraisal(screens.kept(CAR)).values_used
    (shown,) = [one.value for one in window.dataframe if "Published source" in one.value]
    rows = values_table(reference, used).only("Likely, or the value").rows

    assert len(shown) == len(used)
    for text, (value,) in zip(shown["Likely, or the value"], rows, strict=True):
        assert value is None or Decimal(text.replace(",", "")) == value
    assert any(value is not None and 0 < value < Decimal("0.1") for (value,) in rows)


def test_a_finding_without_words_is_listed_by_its_area(screens: Any) -> None:
    case = screens.kept(CAR)
    raw = [one.model_dump() for one in case.findings]
    first = next(one for one in raw if one["state"] == "faulty")
    first["label"] = ""
    screens.put(services.changed(case, ("findings",), raw))
    window = screens.window("bid", CAR)
    window.session_state["by-finding"] = True
    window.run()
    (shown,) = [one.value for one in window.dataframe if "What was seen" in one.value]

    assert first["area"].value.replace("_", " ").capitalize() in list(shown["What was seen"])
    assert list(shown)[2] == "Repaired alone, USD: on average"
