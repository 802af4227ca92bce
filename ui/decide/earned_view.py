"""What a car earned, or would if it were sold today: margin, per hour, a year, by date."""

from __future__ import annotations

from decimal import Decimal
from functools import partial

import streamlit as st

from appraise.errors import AppraiseError
from appraise.models.case import Case
from appraise.models.earned import Earned
from appraise.reports.tables_choose import payments_table
from appraise.services import today
from appraise.services.output.tables import earned_sheet
from appraise.services.ownership.deciding import earned_by
from ui.session import state
from ui.widgets import show
from ui.widgets.sheets import sheet_button
from ui.words import money

__all__ = ["earned_view"]

SHORT = 30


def earned_view(case: Case, supposed: Decimal) -> None:
    """Show the return of a car that is sold, or at a price that is supposed.

    Parameters
    ----------
    supposed : price that the field starts from.
    """
    sold = case.sale is not None and case.sale.price is not None
    st.subheader("What it earned" if sold else "What it would earn")
    price = supposed
    if not sold:
        given = st.number_input(
            f"Sold today for, {case.currency}",
            min_value=0.0,
            value=float(round(supposed, -1)),
            step=50.0,
            format="%.0f",
            key=state.key_for(("earned", "price")),
        )
        price = Decimal(f"{given:.2f}")
    try:
        found = earned_by(case, today(), price)
    except AppraiseError as error:
        st.error(show.plain(str(error)))
        return
    _figures(found)
    st.write(show.plain(" ".join(_sentences(found))))
    with st.expander("The payments, day by day"):
        show.table(
            payments_table(found.flows, found.currency),
            "Payments by day, money out below nothing",
        )
        sheet_button(
            partial(earned_sheet, case, price), f"{case.id}-earned", f"sheet:{case.id}:earned"
        )


def _figures(found: Earned) -> None:
    with st.grid(4, min_column_width=150):
        for label, value, caption in (
            ("Profit before your time", money(found.margin), found.currency),
            (
                "Profit (your time paid)",
                money(found.margin_paid),
                f"{found.currency}, {found.hours:g} h",
            ),
            (
                "Each of your hours earns",
                "-" if found.per_hour is None else money(found.per_hour),
                found.currency if found.per_hour is not None else "no hours entered",
            ),
            ("Comes back at", money(found.break_even), f"{found.currency}, the money put in"),
        ):
            show.box(label, value, caption)


def _sentences(found: Earned) -> list[str]:
    money_in = found.landed + found.repair
    went_in = (
        f"{money(money_in)} {found.currency} went in over {found.days} days "
        f"({money(found.landed)} for the car, {money(found.repair)} for the repair)."
    )
    out = [went_in]
    if found.days < SHORT:
        out.append("That is too short a time for a yearly figure to mean much.")
    if found.simple_annual is not None:
        yearly = f"A year that is {100 * found.simple_annual:.0f} % without earning on earnings"
        if found.annualized is not None:
            yearly += f", {100 * found.annualized:.0f} % compounded"
        out.append(yearly + ".")
    out.append(f"By the days of the payments: {_lower(found.rates_words)}")
    if found.break_even_hours != found.break_even:
        out.append(f"Your hours are paid too from {money(found.break_even_hours)} on.")
    return out


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]
