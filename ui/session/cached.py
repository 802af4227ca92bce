"""What is kept between the runs of a page; every cache is bounded."""

from __future__ import annotations

from contextlib import suppress
from datetime import date
from threading import Thread

import streamlit as st

from appraise import services
from appraise.errors import Problem
from appraise.models.appraisal import Appraisal
from appraise.models.case import Case
from appraise.models.choices import Choices
from appraise.models.diagnosis import Diagnosis
from appraise.models.forecast import Forecast
from appraise.reference.load import Reference, check_own_values
from appraise.services.ownership.deciding import choose_case, forecast_case
from appraise.services.records.backup import daily_backup
from appraise.services.records.workspace import Workspace
from appraise.settings import Settings
from ui.session import signed_in
from ui.session.opened import opened

__all__ = [
    "appraisal",
    "choices",
    "daily_backup_problems",
    "diagnosis",
    "first_cars",
    "forecast",
    "own_text",
    "reference",
    "what_stays",
    "workspace",
]


def workspace() -> Workspace:
    """Return where this person's cars are kept, guarded for the one who is signed in.

    Raises
    ------
    AppraiseError
        Nobody is signed in who has to be.
    """
    settings = Settings()
    return signed_in.guard(opened(settings), settings)


def what_stays() -> None:
    """Open the store and read the catalog, for whoever asks for them first.

    Raises
    ------
    AppraiseError
        One of them cannot be read.
    """
    opened(Settings())
    reference()


def first_cars(most: int) -> None:
    """Work out the first cars of the list. Nothing is shown: who may see them is asked then.

    Raises
    ------
    AppraiseError
        The store or the catalog cannot be read.
    """
    cases = opened(Settings()).cases
    for one in cases.summaries()[:most]:
        with suppress(Exception):  # whatever it is, the list tells it beside the car
            appraisal(cases.load(one.id).case)


@st.cache_resource(max_entries=8, show_spinner=False)
def _backed_up(settings: Settings, day: date) -> list[Problem]:
    """Begin the day's backup in the background, once a day; the list fills if it goes wrong."""
    told: list[Problem] = []
    place = opened(settings)

    def work() -> None:
        found = daily_backup(place, day)
        if found is not None:
            told.append(found)

    Thread(target=work, name="daily backup", daemon=True).start()
    return told


def daily_backup_problems() -> tuple[Problem, ...]:
    """Return what went wrong with today's backup; begin it if nobody has today."""
    settings = Settings()
    if not settings.daily_backup:
        return ()
    return tuple(_backed_up(settings, services.today()))


@st.cache_resource(max_entries=4, show_spinner="Reading the catalog")
def _reference(own: str) -> Reference:
    return check_own_values(own)


def own_text() -> str:
    """Return the own values as they are kept."""
    return opened(Settings()).own_values.load()


def reference() -> Reference:
    """Return the reference values, the person's own over them."""
    return _reference(own_text())


@st.cache_data(max_entries=64, show_spinner=False)
def _appraisal(case: Case, own: str) -> Appraisal:
    return services.appraise_case(case, _reference(own))


@st.cache_data(max_entries=64, show_spinner="Weighing what was seen")
def _diagnosis(
    case: Case,
    minutes: float | None,
    tools: tuple[str, ...] | None,
    drive: bool,  # noqa: FBT001 - a part of the cache's key
    own: str,
) -> Diagnosis:
    return services.diagnose_case(case, _reference(own), minutes, tools, drive=drive)


def diagnosis(
    case: Case,
    minutes: float | None = None,
    tools: tuple[str, ...] | None = None,
    *,
    drive: bool = True,
) -> Diagnosis:
    """Return what is wrong with a car, and what to look at next with what is at hand.

    Raises
    ------
    AppraiseError
        It cannot be worked out; the message says what is missing.
    """
    return _diagnosis(case, minutes, tools, drive, own_text())


def appraisal(case: Case) -> Appraisal:
    """Return what the estimate says of a case.

    Raises
    ------
    AppraiseError
        It cannot be worked out; the message says what is missing.
    """
    return _appraisal(case, own_text())


@st.cache_data(max_entries=32, show_spinner=False)
def _forecast(case: Case, on: date, own: str) -> Forecast:
    return forecast_case(case, _reference(own), on)


def forecast(case: Case) -> Forecast:
    """Return budget, actual and forecast of an owned car, as of today.

    Raises
    ------
    AppraiseError
        It cannot be worked out; the message says what is missing.
    """
    return _forecast(case, services.today(), own_text())


@st.cache_data(max_entries=32, show_spinner=False)
def _choices(case: Case, on: date, own: str) -> Choices:
    return choose_case(case, _reference(own), on)


def choices(case: Case) -> Choices:
    """Return the options of an owned car from today on.

    Raises
    ------
    AppraiseError
        It cannot be worked out; the message says what is missing.
    """
    return _choices(case, services.today(), own_text())
