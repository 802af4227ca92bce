"""The form for a new car: the least that is needed to start."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from enum import StrEnum
from typing import Any

import streamlit as st
from pydantic import ValidationError

from appraise.models.preferences import Preferences
from appraise.models.problems import problems_of
from appraise.models.vehicle import DriveWheels, Fuel, PriceClass, Transmission, Vehicle
from appraise.services import today
from ui.session import state
from ui.words import name

__all__ = ["empty_form", "half_entered", "new_car_form"]

FORM = "new-car"
HALF = "a car half entered"


def new_car_form(preferences: Preferences, add: Callable[[Vehicle], None]) -> None:
    """Show the form, and add the car once it is entered and can be."""
    key = f"{FORM}:{st.session_state.get(FORM, 0)}"
    typed = [f"{key}:{one}" for one in ("make", "model", "year", "odometer")]
    state.stays(HALF, (None, "Cars"), typed)
    with st.grid(4, min_column_width=140):
        make = _field(st.text_input, "Make", typed[0], max_chars=80)
        model = _field(st.text_input, "Model", typed[1], max_chars=80)
        year = _field(st.number_input, "Model year", typed[2], value=None, step=1, format="%d")
        words = f"Odometer, {preferences.distance_unit}"
        odometer = _field(st.number_input, words, typed[3], value=None, step=1000, format="%d")
        price_class = _choice("Price class", PriceClass, 1, key)
        fuel = _choice("Fuel", Fuel, 0, key)
        transmission = _choice("Transmission", Transmission, 1, key)
        drive = _choice("Driven wheels", DriveWheels, 0, key)
    with st.container(horizontal=True):
        pressed = st.button("Add this car", key="add-car", type="primary")
        if half_entered():
            st.button("Empty the form", key="new-car-empty", type="tertiary", on_click=empty_form)
    if not pressed:
        return
    if year is None or odometer is None:
        st.error("The model year and the odometer are needed: age and distance set the price.")
        return
    if int(year) > today().year + 1:
        st.error(f"Model year: {int(year)} is still to come.")
        return
    try:
        entered = Vehicle.model_validate(
            {
                "make": make,
                "model": model,
                "model_year": int(year),
                "odometer": {
                    "value": Decimal(int(odometer)),
                    "unit": preferences.distance_unit,
                },
                "price_class": price_class,
                "fuel": fuel,
                "transmission": transmission,
                "drive": drive,
            }
        )
    except ValidationError as error:
        for problem in problems_of(error):
            st.error(f"{name(problem.where.split('.')[0])}: {problem.message}")
        return
    add(entered)


def half_entered() -> bool:
    """Whether anything is typed into the form; it stays until it is added or emptied."""
    return any(what == HALF for _, what in state.staying())


def empty_form() -> None:
    """Begin the form anew."""
    st.session_state[FORM] = st.session_state.get(FORM, 0) + 1
    state.stays(HALF, (None, "Cars"), ())


def _field(widget: Callable[..., Any], label: str, key: str, **more: Any) -> Any:  # noqa: ANN401
    return widget(label, key=key, persist_state="session", **more)


def _choice(label: str, options: type[StrEnum], first: int, key: str) -> Any:  # noqa: ANN401
    return st.selectbox(
        label,
        list(options),
        first,
        format_func=name,
        key=f"{key}:{label}",
        persist_state="session",
    )
