"""The form for a new car: the least that is needed to start."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import streamlit as st
from pydantic import ValidationError

from appraise.models.preferences import Preferences
from appraise.models.problems import problems_of
from appraise.models.vehicle import DriveWheels, Fuel, PriceClass, Transmission, Vehicle
from appraise.services import today
from ui.words import name

__all__ = ["new_car_form"]


def new_car_form(preferences: Preferences, add: Callable[[Vehicle], None]) -> None:
    """Show the form, and add the car once it is entered and can be."""
    with st.form("new-car", border=False):
        with st.grid(4, min_column_width=140):
            make = st.text_input("Make", max_chars=80)
            model = st.text_input("Model", max_chars=80)
            year = st.number_input("Model year", value=None, step=1, format="%d")
            odometer = st.number_input(
                f"Odometer, {preferences.distance_unit}", value=None, step=1000, format="%d"
            )
            price_class = st.selectbox("Price class", list(PriceClass), 1, format_func=name)
            fuel = st.selectbox("Fuel", list(Fuel), format_func=name)
            transmission = st.selectbox("Transmission", list(Transmission), 1, format_func=name)
            drive = st.selectbox("Driven wheels", list(DriveWheels), format_func=name)
        pressed = st.form_submit_button("Add this car", key="add-car", type="primary")
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
