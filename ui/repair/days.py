"""The open jobs day by day: what is done when, what it waits for, when all is done."""

from __future__ import annotations

from itertools import groupby

import streamlit as st

from appraise.engine.work.schedule import DayPlan, Step
from appraise.errors import AppraiseError
from appraise.models.case import Case
from appraise.reference.load import Reference
from appraise.reports.cautions import cautions_ahead
from appraise.reports.parts_page import LEAST_HOURS, wait_words
from appraise.reports.tables_work import slots_table
from appraise.reports.wording import sentence
from appraise.services.ownership.deciding import day_plan_of
from ui.repair.common import job_names
from ui.widgets import fields, show
from ui.widgets.sheets import table_button

__all__ = ["days"]

MOST_LINES = 30
Line = tuple[str, str]


def days(case: Case, reference: Reference) -> None:
    """Show the day plan with the two figures that it hangs on."""
    with st.grid(3, min_column_width=150, vertical_alignment="bottom"):
        fields.day("work", "start_on")
        fields.amount("deal", "hours_per_day", step=0.5, digits=1)
    if not any(one.open for one in case.work.jobs):
        st.write("No open jobs, so there is nothing to plan. Plan jobs under Jobs.")
        return
    try:
        found = day_plan_of(case, reference)
    except AppraiseError as error:
        st.error(f"No day plan: {show.plain(str(error))}")
        return
    plan = found.plan
    if plan.problem:
        st.warning(show.plain(plan.problem.capitalize()), icon=":material/warning:")
        return
    worked = sum(bool(one.steps) for one in plan.days)
    st.markdown(
        f"### All done on {plan.finish}: {plan.hours:.1f} hours of your own on {worked} of "
        f"{len(plan.days)} days"
    )
    show.cautions(cautions_ahead(case, reference), case.vehicle, reference)
    lines = _lines(found)
    shown = lines
    if len(lines) > MOST_LINES and not st.toggle(f"Show all {len(lines)} lines", key="all-days"):
        shown = lines[:MOST_LINES]
    st.markdown("\n".join(f"- **{when}**{what}" for when, what in shown))
    if len(shown) < len(lines):
        st.caption(f"and {len(lines) - len(shown)} more.")
    _by_job(case, found, reference)
    st.caption(
        "Middle hours, at what the jobs done have taught. A good order, not one proved the "
        "shortest; parts that are not ordered yet are taken as ordered today."
    )


def _lines(found: DayPlan) -> list[Line]:
    """Return the days in words, days on which nothing changes together."""
    said = [(f"{day.on:%a} {day.on}", _day(found, at)) for at, day in enumerate(found.plan.days)]
    out: list[Line] = []
    for words, group in groupby(said, key=lambda one: one[1]):
        same = [when for when, _ in group]
        out.append((same[0] if len(same) == 1 else f"{same[0]} to {same[-1]}", words))
    return out


def _day(found: DayPlan, at: int) -> str:
    """Return a day as items below its date: each job with its hours, then why hours are left."""
    day = found.plan.days[at]
    items = []
    for task, steps in groupby(day.steps, key=lambda one: one.task):
        pieces = [_piece(found, one) for one in steps if one.hours >= LEAST_HOURS or not one.access]
        if pieces:
            items.append(f"{found.jobs.get(task, task)}, {', then '.join(pieces)}")
    items += [f"At a shop, {found.jobs.get(one, one)}" for one in day.at_shop]
    items += [sentence(wait_words(one, found.jobs)) for one in day.waits]
    hours = f", {day.hours:.1f} h" if day.steps else ""
    return show.plain(hours) + "".join(f"\n    - {show.plain(one)}" for one in items)


def _piece(found: DayPlan, step: Step) -> str:
    if step.access:
        label = found.access.get(step.access, step.access)
        label = label[:1].lower() + label[1:]
        return f"first {label}, {step.hours:.1f} h"
    return f"{step.hours:.1f} h" if step.hours >= LEAST_HOURS else "a moment"


def _by_job(case: Case, found: DayPlan, reference: Reference) -> None:
    names = job_names(case, reference)
    st.subheader("Job by job")
    show.table(
        slots_table(case, found.plan, names), "Jobs with the day on which each begins and ends"
    )
    table_button(case, "Days of each job", "Days")
