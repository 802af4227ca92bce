"""The car itself: every field of it, and the step from prospect to owned."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import streamlit as st

from appraise.errors import BadCase
from appraise.models.case import Case, Standing
from appraise.models.vehicle import (
    Aspiration,
    DriveWheels,
    Fuel,
    PriceClass,
    TitleBrand,
    Transmission,
    ValveDrive,
)
from appraise.reports.wording import STANDINGS
from appraise.services import today
from appraise.services.ownership.owning import buy
from ui.inspection.vin_photo import vin_field
from ui.session import cached, state
from ui.widgets import fields, show

__all__ = ["car_fields", "standing_fields"]

INTAKE = {Aspiration.NATURAL: "Without turbo or supercharger"}
BOUGHT = (Standing.OWNED, Standing.ON_SALE, Standing.SOLD)


def car_fields(case: Case) -> None:
    """Show every field of the car; each is saved as it is changed."""
    fields.text("title")
    with st.grid(3, min_column_width=150):
        fields.text("vehicle", "make", most=80)
        fields.text("vehicle", "model", most=80)
        fields.whole("vehicle", "model_year")
        fields.amount("vehicle", "odometer", "value", step=1000.0, label="Odometer")
        fields.pick(("mi", "km"), "vehicle", "odometer", "unit")
        fields.choice(list(TitleBrand), "vehicle", "title_brand", label="Title brand")
        fields.choice(list(PriceClass), "vehicle", "price_class", label="Price class")
        fields.choice(list(Fuel), "vehicle", "fuel")
        fields.choice(list(Transmission), "vehicle", "transmission")
        fields.choice(list(DriveWheels), "vehicle", "drive")
        fields.amount("vehicle", "engine_liters", step=0.1, digits=1)
        fields.whole("vehicle", "cylinders")
        unknown = "Not known"
        if case.vehicle.fuel is not Fuel.ELECTRIC:
            fields.choice(
                list(Aspiration),
                "vehicle",
                "aspiration",
                label="Air intake",
                words=INTAKE,
                empty=unknown,
            )
            fields.choice(
                list(ValveDrive),
                "vehicle",
                "valve_drive",
                label="Camshafts driven by",
                empty=unknown,
            )
        fields.choice(
            [True, False],
            "vehicle",
            "salted_roads",
            label="Driven on salted roads",
            words={True: "Yes", False: "No"},
            empty=unknown,
        )
        vin_field(case)
        fields.text("vehicle", "plate", most=20)
        fields.day("appraised_on", label="Day of the appraisal")
        fields.text("currency", most=3)
    fields.note("note")
    if case.story:
        st.caption(show.plain(case.story))


def standing_fields(case: Case) -> None:
    """Show where the car stands, and record its purchase."""
    if case.purchase is None:
        st.caption(
            "Once it is yours, enter what was paid: everything is then judged from there, and what "
            "is expected of it today is kept, to be compared with what it turns out to be."
        )
        # A form, so that price and press come as one: a press while the price is on its way counts.
        with (
            st.form("bought", border=False),
            st.grid(3, min_column_width=150, vertical_alignment="bottom"),
        ):
            paid = st.number_input(
                f"Price paid, {case.currency}",
                value=None,
                min_value=0.0,
                step=50.0,
                format="%.0f",
                key=state.key_for(("paid",)),
            )
            on = st.date_input("Bought on", today(), key=state.key_for(("paid-on",)))
            pressed = st.form_submit_button("It is mine now", key="mine", icon=":material/key:")
        if pressed and paid is None:
            st.error("Enter what was paid.")
        elif pressed:
            _buy(case, Decimal(f"{paid:.2f}"), on)
        return
    with st.grid(3, min_column_width=150):
        fields.choice(list(BOUGHT), "standing", words=STANDINGS)
        if not case.purchase.paid:
            fields.amount("purchase", "bid", label="Price paid")
        fields.day("purchase", "bought_on")
    if case.purchase.paid:
        st.caption("What was paid stands line by line on the page Repair.")
    if case.work.entries:
        st.caption("It has receipts or hours, so the purchase can no longer be taken back.")
    else:
        st.button("It was not bought after all", on_click=_not_bought)


def _not_bought() -> None:
    raw = state.case().model_copy(update={"purchase": None, "standing": Standing.PROSPECT})
    state.remember("The purchase was taken back")
    state.save(raw, fresh_widgets=True)


def _buy(case: Case, paid: Decimal, on: date) -> None:
    try:
        new = buy(case, paid, on, cached.reference())
    except BadCase as error:
        st.error(show.plain(error.message))
        return
    if state.save(new, fresh_widgets=True):
        st.rerun()
