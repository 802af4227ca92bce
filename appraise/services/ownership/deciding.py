"""Where the work stands, where it ends, and what to do from today on."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from appraise.errors import AppraiseError, BadCase, Problem
from appraise.models.case import Case
from appraise.models.choices import Choices
from appraise.models.earned import Earned
from appraise.models.forecast import Forecast
from appraise.reference.load import Reference
from appraise.services.cases.casework import today

if TYPE_CHECKING:
    from appraise.engine.work.schedule import DayPlan

__all__ = ["choose_case", "day_plan_of", "earned_by", "forecast_case"]


def forecast_case(case: Case, reference: Reference, on: date | None = None) -> Forecast:
    """Return budget, actual and forecast of an owned car; see `engine.forecast.forecast`.

    Raises
    ------
    BadCase
        It is not owned, or names what does not exist.
    """
    from appraise.engine.work.forecast import forecast  # noqa: PLC0415 - the engine only when needed

    _owned(case)
    return forecast(case, reference, on or today())


def choose_case(case: Case, reference: Reference, on: date | None = None) -> Choices:
    """Return the options of an owned car from today on; see `engine.choose.choices`.

    Raises
    ------
    BadCase
        It is not owned, or names what does not exist.
    CannotPrice
        There is no comparable to price it from.
    """
    from appraise.engine.decide.choose import choices  # noqa: PLC0415 - the engine only when needed

    _owned(case)
    return choices(case, reference, on or today())


def _owned(case: Case) -> None:
    if case.purchase is None:
        hint = "Enter the price paid and the day."
        raise BadCase((Problem("purchase", "the car is not bought yet", "stop", hint),))


def day_plan_of(case: Case, reference: Reference, on: date | None = None) -> DayPlan:
    """Return the open jobs day by day from today, or from the day on which work begins.

    Raises
    ------
    AppraiseError
        There is no plan: no hours a day, or a job is not known.
    """
    from appraise.engine.work.day_plan import day_plan  # noqa: PLC0415 - the engine only when needed
    from appraise.engine.work.forecast import outlook_of  # noqa: PLC0415
    from appraise.engine.work.schedule import DayPlan  # noqa: PLC0415

    found = outlook_of(case, reference)
    now = on or today()
    start = max(now, case.work.start_on or date.min)
    hours = {one.drawn.planned.id: one.bare_hours for one in found.jobs if one.drawn.planned.open}
    try:
        plan = day_plan(found.bench, start, hours, now)
    except ValueError as error:
        raise AppraiseError(str(error), where="work.jobs") from error
    return DayPlan(
        plan=plan,
        jobs={one.drawn.planned.id: one.drawn.label for one in found.jobs},
        access={name: one.label for name, one in reference.access.items()},
    )


def earned_by(case: Case, on: date, price: Decimal) -> Earned:
    """Return what a car earned, or would at a price on a day; see `engine.earned.earned`."""
    from appraise.engine.money.earned import earned  # noqa: PLC0415 - the engine only when needed

    return earned(case, on, price)
