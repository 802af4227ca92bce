"""Ways to add to the plan: from the catalog, while in there, a bypass, sets that exclude."""

from __future__ import annotations

from typing import Any

import streamlit as st

from appraise.errors import AppraiseError, BadCase, Problem
from appraise.models.case import Case
from appraise.models.work import Bypass, PlannedJob, Purpose, Work
from appraise.reference.load import Reference
from appraise.services import changed, today
from appraise.services.ownership.sharing import Offer, while_in_there
from appraise.services.ownership.working import add_job, add_upgrade, put_job, start_bypass
from ui.repair.common import (
    FIRST_DAY,
    LAST_DAY,
    as_range,
    attempt,
    finding_names,
    job_with,
    range_fields,
    refusal,
    typed,
)
from ui.session import cached, state
from ui.widgets import show
from ui.widgets.picking import pick_several
from ui.words import money, name

__all__ = ["add_box", "bypass_box", "exclusive_box", "offers"]

KINDS = {
    Purpose.REPAIR: "Repair",
    Purpose.PREVENTIVE: "Preventive",
    Purpose.UPGRADE: "Upgrade",
}
HELP = (
    "A repair fixes what is wrong. Preventive is done before it fails; an upgrade makes the car "
    "better than it was. For those two say what they add to the price, if you know better."
)
TWO = 2


def add_box(case: Case, reference: Reference) -> None:
    """Show the form for a job of the catalog, or of the case's own list."""
    key = state.key_for(("add-job",))
    purpose = st.segmented_control(
        "What for",
        list(KINDS),
        default=Purpose.REPAIR,
        required=True,
        format_func=lambda one: KINDS[one],
        key=f"{key}:purpose",
        help=HELP,
    )
    labels = _catalog(case, reference)
    st.selectbox(
        "Job",
        list(labels),
        None,
        format_func=lambda one: labels[one],
        placeholder="type to search",
        key=f"{key}:job",
    )
    if purpose is Purpose.REPAIR:
        names = finding_names(case)
        st.selectbox(
            "Finding that it repairs",
            list(names),
            None,
            format_func=lambda one: names[one],
            placeholder="none of those noted",
            key=f"{key}:finding",
        )
        st.toggle("Must be done before a private buyer drives it away", key=f"{key}:must")
    else:
        words = f"What it adds to the price, {case.currency}"
        range_fields(words, None, f"{key}:adds", "estimate")
    st.button(
        "Add this job",
        type="primary",
        icon=":material/add:",
        key=f"{key}:add",
        on_click=_add,
        args=(key,),
    )
    refusal(key)


def _add(key: str) -> None:
    given, reference = typed(key), cached.reference()
    label = _catalog(state.case(), reference).get(given["job"], "")

    def change(case: Case) -> Case:
        if given["job"] is None:
            raise BadCase((Problem("", "choose a job first", "stop"),))
        if given["purpose"] is Purpose.REPAIR:
            new = add_job(
                case, given["job"], reference, finding=given["finding"], must=given["must"]
            )
        else:
            new = _upgraded(case, given, reference)
        if new == case:
            raise BadCase((Problem("", f"{label} is planned already", "stop"),))
        return new

    attempt(key, change, undo="Added a job", said=f"Planned: {label}.", names=(PlannedJob,))


def _catalog(case: Case, reference: Reference) -> dict[str, str]:
    """Return the jobs that can be one for this car by id with their names."""
    jobs = [*case.own_jobs, *(one.job for one in reference.jobs.values())]
    labels = {
        one.id: f"{one.label} ({name(one.system)})" for one in jobs if one.allows(case.vehicle)
    }
    return dict(sorted(labels.items(), key=lambda one: one[1]))


def _upgraded(case: Case, given: dict[str, Any], reference: Reference) -> Case:
    worth = as_range(given, "adds", None)
    new = add_upgrade(case, given["job"], given["purpose"], reference)
    before = {one.id for one in case.work.jobs}
    added = [one for one in new.work.jobs if one.id not in before and one.job == given["job"]]
    if not added or worth is None:
        return new
    return put_job(new, job_with(added[0], {"adds": worth}))


def offers(case: Case, reference: Reference) -> None:
    """Show what else may be done while the car is apart, with what that saves."""
    try:
        found = while_in_there(case, reference)
    except AppraiseError as error:
        st.caption(show.plain(str(error)))
        return
    if not found:
        return
    st.subheader("While in there")
    st.caption("What has to come off for these is off anyway; done later it would come off again.")
    with st.grid(3, min_column_width=260):
        for one in found:
            _offer(one, case.currency)


def _offer(one: Offer, currency: str) -> None:
    with st.container(border=True):
        why = f" Possible cause of: {one.why}." if one.why else ""
        worth = f", worth {money(one.saved)} {currency}" if one.saved else ""
        st.markdown(
            f"**{show.plain(one.label)}**  \n"
            + show.plain(
                f"{one.hours:.1f} h now; saves {one.saved_hours:.1f} h{worth}. "
                f"Open for: {one.opened_for}.{why}"
            )
        )
        st.button(
            "Add it",
            icon=":material/add:",
            key=f"offer:{one.job}",
            on_click=_take,
            args=(one,),
        )
        refusal(f"offer:{one.job}")


def _take(offer: Offer) -> None:
    """Plan what was offered; it is preventive as long as no finding is known to need it."""
    reference = cached.reference()
    attempt(
        f"offer:{offer.job}",
        lambda case: add_upgrade(case, offer.job, Purpose.PREVENTIVE, reference),
        undo=f"Added: {offer.label}",
        said=f"Planned: {offer.label}.",
    )


def bypass_box(reference: Reference) -> None:
    """Show the form for a control put out of action for a time."""
    st.warning(
        "A bypass is no repair. It stands open on this page until the control is put back, and a "
        "buyer has to be told of it in writing. "
        + show.plain(reference.cautions["emission_control"].text),
        icon=":material/warning:",
    )
    key = state.key_for(("bypass",))
    with st.form(key):
        st.text_input("What is bypassed", max_chars=200, key=f"{key}:what")
        st.text_input("Why", max_chars=200, key=f"{key}:reason")
        st.text_input("What has to be done to restore it", max_chars=200, key=f"{key}:restore")
        st.date_input("Since", today(), min_value=FIRST_DAY, max_value=LAST_DAY, key=f"{key}:since")
        st.form_submit_button(
            "Enter this bypass", icon=":material/save:", on_click=_bypass, args=(key,)
        )
        refusal(key)


def _bypass(key: str) -> None:
    given, reference = typed(key), cached.reference()
    attempt(
        key,
        lambda case: start_bypass(
            case, given["what"], given["reason"], given["restore"], given["since"], reference
        ),
        undo="Entered a bypass",
        names=(Bypass,),
    )


def exclusive_box(case: Case, names: dict[str, str]) -> None:
    """Show the sets of jobs of which at most one is done, and the form for another."""
    st.caption("Jobs that stand in for each other, such as repairing a unit or fitting a used one.")
    for place, group in enumerate(case.work.at_most_one):
        with st.container(horizontal=True, vertical_alignment="center"):
            st.markdown(show.plain("; ".join(names[one] for one in group)))
            st.button(
                "Remove",
                icon=":material/delete:",
                key=f"one-of:{place}",
                on_click=_let,
                args=(place,),
            )
    key = state.key_for(("one-of",))
    with st.form(key):
        pick_several(
            "At most one of these jobs is done",
            names,
            placeholder="choose two or more",
            key=f"{key}:jobs",
        )
        st.form_submit_button(
            "Keep this set", icon=":material/save:", on_click=_exclude, args=(key,)
        )
        refusal(key)


def _exclude(key: str) -> None:
    picked = tuple(typed(key)["jobs"])

    def change(case: Case) -> Case:
        if len(picked) < TWO:
            raise BadCase((Problem("", "choose two jobs or more", "stop"),))
        groups: list[Any] = [*case.work.at_most_one, picked]
        return changed(case, ("work", "at_most_one"), groups)

    attempt(key, change, undo="Added a set of which at most one is done", names=(Work,))


def _let(place: int) -> None:
    def change(case: Case) -> Case:
        groups = list(case.work.at_most_one)
        del groups[place]
        return changed(case, ("work", "at_most_one"), groups)

    attempt("one-of", change, undo="Removed: a set of which at most one is done")
