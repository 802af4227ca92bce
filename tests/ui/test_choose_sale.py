"""The sale, on the page of the choice: offered, sold, taken back, and what a buyer is told."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.case import Case, Standing
from appraise.services import changed, today
from appraise.services.ownership.working import start_bypass
from ui.session import cached

CAR = "farm-truck-owned"


def bare_car(screens: Any, *more: Callable[[Case], Case]) -> Case:
    """Keep the car with no work planned on it."""
    case = changed(screens.kept(CAR), ("work",), {})
    for change in more:
        case = change(case)
    kept: Case = screens.put(case)
    return kept


@pytest.fixture
def window(screens: Any) -> AppTest:
    bare_car(screens)
    opened: AppTest = screens.window("decide", CAR)
    assert not opened.exception
    return opened


def nets(window: AppTest) -> list[str]:
    return [str(one.value) for one in window.metric if one.label == "Net from today"]


@pytest.fixture
def offer(widget: Any, button: Any, key: Any) -> Callable[..., AppTest]:
    """Return what offers the car, or sells it."""

    def go(window: AppTest, opener: str, form: str, **given: Any) -> AppTest:
        button(window, opener).click().run()
        kinds = {"on": "date_input", "told": "text_area", "for-resale": "toggle"}
        for field, value in given.items():
            kind = "checkbox" if field.startswith("named") else kinds.get(field, "number_input")
            widget(window, kind, f"{key(window, form)}:{field}").set_value(value)
        window.button(key=f"{key(window, form)}:go").click().run()
        assert not window.exception
        return window

    return go


def test_it_is_offered_and_taken_off_again(
    screens: Any, window: AppTest, offer: Any, button: Any, said: Any
) -> None:
    offer(window, "Offer it for sale", "offer", asked=6900.0, least=6200.0, told="Axle whines.")

    case = screens.kept(CAR)
    assert case.standing is Standing.ON_SALE
    assert case.sale is not None
    assert (case.sale.offered_on, case.sale.asked, case.sale.least, case.sale.disclosure) == (
        today(),
        6900,
        6200,
        "Axle whines.",
    )
    assert "at 6,900 USD, not below 6,200" in said(window)
    button(window, "Take it off sale").click().run()
    assert screens.kept(CAR).standing is Standing.OWNED
    window.button(key="undo-button").click().run()
    assert screens.kept(CAR).standing is Standing.ON_SALE


def test_a_least_above_the_asking_price_is_refused_and_stays_typed(
    screens: Any, window: AppTest, offer: Any, widget: Any, key: Any, bare: Any
) -> None:
    version = screens.version(CAR)
    offer(window, "Offer it for sale", "offer", asked=5000.0, least=6000.0)

    assert "above the asking price" in bare(window.error[0].value)
    assert screens.version(CAR) == version
    assert widget(window, "number_input", f"{key(window, 'offer')}:least").value == 6000.0


def test_an_open_bypass_is_offered_only_once_it_is_named_in_writing(
    screens: Any, offer: Any, widget: Any, key: Any, bare: Any, said: Any
) -> None:
    def bypassed(case: Case) -> Case:
        return start_bypass(case, "Purge valve", "stuck", "fit it", today(), cached.reference())

    bare_car(screens, bypassed)
    window = screens.window("decide", CAR)
    offer(window, "Offer it for sale", "offer", asked=6900.0)
    assert "Purge valve is bypassed and not disclosed" in bare(window.error[0].value)
    assert screens.kept(CAR).standing is Standing.OWNED

    named = f"{key(window, 'offer')}:named:bypass-purge-valve"
    widget(window, "checkbox", named).check()
    window.button(key=f"{key(window, 'offer')}:go").click().run()
    case = screens.kept(CAR)
    assert (case.standing, case.work.disclosed) == (Standing.ON_SALE, ("bypass-purge-valve",))
    assert case.sale is not None
    assert case.sale.asked == 6900
    assert "Named to the buyer in writing: bypassed Purge valve" in said(window)


def test_it_is_sold_and_nothing_is_left_to_choose(
    screens: Any, window: AppTest, offer: Any, button: Any, said: Any
) -> None:
    more = {"price": 6500.0, "costs": 80.0, "for-resale": True}
    offer(window, "Sold", "sell", **more)

    case = screens.kept(CAR)
    assert case.standing is Standing.SOLD
    assert case.sale is not None
    assert (case.sale.price, case.sale.sold_on, case.sale.costs, case.sale.for_resale) == (
        6500,
        today(),
        80,
        True,
    )
    assert "nothing is left to choose" in said(window)
    assert not nets(window)
    button(window, "It was not sold after all").click().run()
    case = screens.kept(CAR)
    assert (case.standing, case.sale.price if case.sale else 0) == (Standing.OWNED, None)
    assert nets(window)


def test_sold_without_a_price_is_refused(
    screens: Any, window: AppTest, offer: Any, bare: Any
) -> None:
    version = screens.version(CAR)
    offer(window, "Sold", "sell", costs=80.0)

    assert "enter the price" in bare(window.error[0].value)
    assert screens.version(CAR) == version


def test_sold_before_it_was_offered_is_refused(
    screens: Any, window: AppTest, offer: Any, bare: Any
) -> None:
    bought = screens.kept(CAR).purchase.bought_on
    offer(window, "Offer it for sale", "offer", on=today() + timedelta(days=3))
    offer(window, "Sold", "sell", price=6500.0, on=max(bought, today() - timedelta(days=1)))

    assert "before it was offered" in bare(window.error[0].value)
    assert screens.kept(CAR).standing is Standing.ON_SALE


def test_when_another_window_saved_meanwhile_nothing_is_overwritten(
    screens: Any, window: AppTest, widget: Any, button: Any, key: Any
) -> None:
    button(window, "Offer it for sale").click().run()
    widget(window, "number_input", f"{key(window, 'offer')}:asked").set_value(6900.0)
    screens.put(changed(screens.kept(CAR), ("note",), "seen by another"))
    window.button(key=f"{key(window, 'offer')}:go").click().run()

    assert not window.exception
    assert screens.kept(CAR).standing is Standing.OWNED
    assert any("saved in another window" in one.value for one in window.warning)
    button(window, "Keep the one saved elsewhere").click().run()
    assert (screens.kept(CAR).standing, screens.kept(CAR).note) == (
        Standing.OWNED,
        "seen by another",
    )


def told(window: AppTest) -> str:
    return " ".join(one.value for kind in ("warning", "info") for one in window.get(kind))


def test_the_federal_count_of_cars_offered_stands_beside_the_sale(screens: Any, bare: Any) -> None:
    """Five cars offered before it: the next is the sixth, and 16 CFR 455.1(d)(3) applies."""
    case = bare_car(screens)
    assert "16 CFR 455" not in bare(told(screens.window("decide", CAR)))
    for at in range(5):
        sale = {"offered_on": today() - timedelta(days=at)}
        other = case.model_copy(update={"id": f"other-{at}", "title": f"Other {at}"})
        other = changed(other, ("sale",), sale)
        screens.add(changed(other, ("standing",), "on_sale"))

    assert "16 CFR 455" in bare(told(screens.window("decide", CAR)))
