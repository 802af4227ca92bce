"""What the parts of the work page share: changes and their refusals, names of jobs, pages."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any, TypeVar

import streamlit as st
from pydantic import BaseModel, ValidationError

from appraise.errors import AppraiseError, BadCase, Problem
from appraise.models.case import Case
from appraise.models.problems import problems_of
from appraise.models.ranges import Range
from appraise.models.work import PlannedJob
from appraise.reference.jobs import job_label
from appraise.reference.load import Reference
from appraise.reports.wording import STAGES
from ui.session import state
from ui.widgets import show
from ui.widgets.files_form import forget_drafts
from ui.widgets.typed import number

__all__ = [
    "FIRST_DAY",
    "FORM",
    "LAST_DAY",
    "STAGES",
    "as_range",
    "attempt",
    "decimal_of",
    "drawn_anew",
    "finding_names",
    "forget_refusal",
    "job_names",
    "job_with",
    "link",
    "open_form",
    "page_of",
    "range_fields",
    "refusal",
    "typed",
]

Item = TypeVar("Item")
FORM = "work-form"
REFUSED = "work-refused"
A_PAGE = 8
"""Pixels of a row; above 64 the table wraps its text."""
FIRST_DAY, LAST_DAY = date(1990, 1, 1), date(2100, 12, 31)
PLACES = ("low", "likely", "high")


def attempt(
    key: str,
    change: Callable[[Case], Case],
    *,
    undo: str = "",
    said: str = "",
    names: Sequence[type[BaseModel]] = (),
    fresh_widgets: bool = True,
) -> bool:
    """Save what a change makes of the open car; return whether it is kept.

    What cannot be is said by `refusal` beside whatever has that key, and nothing is saved.

    Parameters
    ----------
    undo : what was changed, in words, if it is to be offered to be brought back.
    said : what to say once it is kept.
    names : models whose fields the change was about; their descriptions name what is wrong.
    fresh_widgets : let every widget start anew; without it what is typed elsewhere stays.
    """
    forget_refusal()
    case = state.case()
    try:
        new = change(case)
    except AppraiseError as error:
        st.session_state[REFUSED] = (key, _lines(error, names))
        return False
    if undo:
        state.remember(undo)
    if not state.save(new, fresh_widgets=fresh_widgets):
        return False
    if said:
        state.notice(said)
    return True


def drawn_anew() -> None:
    """Draw the page anew after an attempt that was no callback, but to tell of a refusal.

    What was typed then stays beside the refusal; another window's change is told at once.
    """
    if REFUSED not in st.session_state:
        st.rerun()


def typed(key: str) -> dict[str, Any]:
    """Return what the widgets of a form hold, by what follows the form's key in theirs."""
    start = f"{key}:"
    return {
        str(name).removeprefix(start): value
        for name, value in st.session_state.items()
        if str(name).startswith(start)
    }


def forget_refusal() -> None:
    """Forget what was refused."""
    st.session_state.pop(REFUSED, None)


def refusal(key: str) -> None:
    """Say here what was refused under this key, if anything was."""
    refused, lines = st.session_state.get(REFUSED, ("", ()))
    if refused == key:
        st.error("\n\n".join(show.plain(one) for one in lines))


def _lines(error: AppraiseError, names: Sequence[type[BaseModel]]) -> list[str]:
    """Return one line for each thing that is wrong, with the field as the form calls it."""
    if not isinstance(error, BadCase):
        return [str(error)]
    fields = {
        name: field.description or name
        for model in names
        for name, field in model.model_fields.items()
    }
    out = []
    for one in error.problems:
        steps = [step.split("[")[0] for step in one.where.split(".")]
        known = [fields[step] for step in steps if step in fields]
        words = f"{known[-1]}: {one.words}" if known else one.words
        out.append(words[:1].upper() + words[1:])
    return out


def open_form(name: str | None) -> None:
    """Open a form of this page, or close the open one; photos of it not saved are not named."""
    forget_refusal()
    if st.session_state.get(FORM) != name:
        forget_drafts(FORM)
    st.session_state[FORM] = name


def job_names(case: Case, reference: Reference) -> dict[str, str]:
    """Return the planned jobs by id with their names; of two alike each says its id too."""
    labels = {}
    for one in case.work.jobs:
        label = job_label(case, one.job, reference)
        labels[one.id] = f"{label}: {one.bypass.what}" if one.bypass else label
    counts = Counter(labels.values())
    return {
        name: label if counts[label] == 1 else f"{label} ({name})" for name, label in labels.items()
    }


def finding_names(case: Case) -> dict[str, str]:
    """Return the findings that are suspect or faulty by id with their names."""
    return {one.id: one.called for one in case.findings if one.trouble}


def job_with(job: PlannedJob, changes: Mapping[str, Any]) -> PlannedJob:
    """Return a planned job with fields changed.

    Raises
    ------
    BadCase
        It cannot be so.
    """
    try:
        return PlannedJob.model_validate({**job.model_dump(), **changes})
    except ValidationError as error:
        raise BadCase(problems_of(error)) from error


def decimal_of(given: float | None, digits: int = 2) -> Decimal | None:
    """Return what a number's widget holds, to so many places."""
    return None if given is None else Decimal(f"{given:.{digits}f}")


def range_fields(label: str, value: Range | None, key: str, usual: str = "catalog") -> None:
    """Show low, likely and high of a form's field; `as_range` reads them."""
    st.markdown(label)
    with st.grid(3, min_column_width=140):
        for place in PLACES:
            st.number_input(
                place.capitalize(),
                value=None if value is None else float(getattr(value, place)),
                min_value=0.0,
                format="%.2f",
                placeholder=usual,
                key=f"{key}:{place}",
            )


def as_range(given: Mapping[str, Any], field: str, old: Range | None) -> dict[str, Any] | None:
    """Return a range of what was typed into a form; None where all three are empty.

    Raises
    ------
    BadCase
        One or two of them are missing.
    """
    three = {
        place: None if one is None else number(one, getattr(old, place, None))
        for place in PLACES
        for one in [given[f"{field}:{place}"]]
    }
    if all(one is None for one in three.values()):
        return None
    if any(one is None for one in three.values()):
        message = "enter low, likely and high, or leave all three empty"
        raise BadCase((Problem(field, message, "stop"),))
    return {**three, "reads_as": old.reads_as if old else "tenths"}


def page_of(items: Sequence[Item], key: str, size: int = A_PAGE) -> Sequence[Item]:
    """Show which page of a long list is shown, if it is long; return what is on it."""
    pages = -(-len(items) // size)
    if pages <= 1:
        return items
    at = st.pagination(pages, key=f"{state.case().id}:{key}")
    return items[(at - 1) * size : at * size]


def link(page: str, label: str, icon: str) -> None:
    """Show a link to another page of the same car."""
    st.page_link(
        f"app_pages/{page}.py", label=label, icon=icon, query_params={"car": state.case().id}
    )
