"""What a car earned, on the page where its future is chosen."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from streamlit.testing.v1 import AppTest

from appraise.models.case import Case

CAR = "farm-truck-owned"


def margin(window: AppTest) -> float:
    (one,) = [one for one in window.metric if one.label == "Profit before your time"]
    return float(one.value.replace(",", ""))


def test_a_supposed_price_shows_what_it_would_earn(screens: Any, widget: Any) -> None:
    window = screens.window("decide", CAR)
    before = margin(window)
    field = widget(window, "number_input", "earned.price")
    field.set_value(field.value + 1000).run()
    after = margin(window)
    percent = screens.kept(CAR).deal.selling_percent

    assert after - before == 1000 * (1 - float(percent) / 100)
    assert not window.exception


def test_a_sold_car_shows_what_it_earned(screens: Any, said: Any) -> None:
    case = screens.kept(CAR)
    day = case.purchase.bought_on + timedelta(days=45)
    sale = {"price": "7000", "sold_on": day, "costs": "100"}
    screens.put(Case.model_validate(case.model_dump() | {"standing": "sold", "sale": sale}))
    window = screens.window("decide", CAR)

    assert "What it earned" in said(window)
    paid = sum(one.paid for one in case.work.entries)
    landed = case.purchase.landed
    assert margin(window) == round(float(7000 - 100 - landed - paid))
