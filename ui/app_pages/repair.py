from __future__ import annotations

import streamlit as st

from appraise.errors import AppraiseError
from appraise.models.case import Case
from appraise.models.forecast import Forecast
from appraise.services.ownership.proving import unproved
from ui.pages import REPAIR_SECTIONS
from ui.repair.common import forget_refusal, link
from ui.repair.days import days
from ui.repair.faults import faults
from ui.repair.forecast import where_it_ends
from ui.repair.jobs import jobs
from ui.repair.ledger import books
from ui.repair.parts import parts
from ui.session import cached
from ui.widgets import show


def reckoned(case: Case) -> Forecast | None:
    try:
        return cached.forecast(case)
    except AppraiseError as error:
        st.error(f"Not worked out: {show.plain(str(error))}")
        return None


case = show.need_car("Repair")
if case is not None and case.purchase is None:
    st.write(
        "This car is not owned yet. Once it is bought, enter what was paid on Inspect, under "
        '"Bought, on sale, sold": then the work is planned and tracked here.'
    )
    link("inspect", "Enter the purchase on Inspect", ":material/visibility:")
elif case is not None:
    reference = cached.reference()
    forecast = reckoned(case)
    show.problems((*unproved(case, reference), *(forecast.problems if forecast else ())))
    section = st.segmented_control(
        "Section",
        REPAIR_SECTIONS,
        default=REPAIR_SECTIONS[0],
        required=True,
        key="section",
        bind="query-params",
        on_change=forget_refusal,
        label_visibility="collapsed",
    )
    if section == "Faults":
        faults(case, reference)
    elif section == "Jobs":
        jobs(case, forecast, reference)
    elif section == "Parts":
        parts(case, reference)
    elif section == "Days":
        days(case, reference)
    elif section == "Money and hours":
        books(case, forecast, reference)
    elif forecast is not None:
        where_it_ends(case, forecast)
