"""What to look at next, with what each outcome would mean, and the results so far."""

from __future__ import annotations

from dataclasses import dataclass

import streamlit as st

from appraise.engine.bid.looks import EVERYDAY
from appraise.errors import AppraiseError
from appraise.models.case import Case
from appraise.models.diagnosis import Diagnosis, NextLook, OutcomeView
from appraise.models.findings import Area, Look
from appraise.reference.load import Reference
from appraise.reports.wording import NEEDS, limit_words
from appraise.services import (
    enter_absent,
    enter_result,
    finding_from_symptom,
    today,
    tool_names,
    without_absent,
    without_result,
)
from ui.session import cached, state
from ui.widgets import show
from ui.widgets.areas import turn_to
from ui.widgets.picking import pick_several
from ui.widgets.refusals import refuse, refused, settled
from ui.widgets.sheets import table_button
from ui.words import money, percent

__all__ = ["AtHand", "ask_at_hand", "at_hand", "looks", "results"]

MOST_MINUTES, SHOWN = 600, 5
KEPT = "at-hand"
"""What is at hand for looking, by car, for as long as the window is open."""


@dataclass(frozen=True, slots=True)
class AtHand:
    """What there is for looking at a car."""

    minutes: int | None
    tools: tuple[str, ...]
    drive: bool


def at_hand(case: Case) -> AtHand:
    """Return what there is for looking at a car: as said last, else the tools owned."""
    kept: dict[str, AtHand] = st.session_state.get(KEPT, {})
    owned = case.deal.tools_owned
    return kept.get(case.id) or AtHand(None, (*owned, *EVERYDAY) if owned else (), drive=True)


def ask_at_hand(case: Case, reference: Reference) -> None:
    """Ask for the minutes left, the tools at hand and whether the car may be driven."""
    known = at_hand(case)
    keys = [state.key_for(("at-hand", one)) for one in ("minutes", "tools", "drive")]
    with st.grid(3, min_column_width=180, vertical_alignment="bottom"):
        st.number_input(
            "Minutes left",
            min_value=1,
            max_value=MOST_MINUTES,
            value=known.minutes,
            step=5,
            placeholder="as many as it takes",
            key=keys[0],
            on_change=_keep,
            args=(case.id, *keys),
        )
        pick_several(
            "Tools at hand",
            tool_names(reference),
            known.tools,
            key=keys[1],
            placeholder="any, each at its price",
            on_change=_keep,
            args=(case.id, *keys),
        )
        st.toggle(
            "It may be driven",
            known.drive,
            key=keys[2],
            on_change=_keep,
            args=(case.id, *keys),
        )


def _keep(car: str, minutes: str, tools: str, drive: str) -> None:
    here = st.session_state
    kept = AtHand(here[minutes], tuple(here[tools]), drive=here[drive])
    here.setdefault(KEPT, {})[car] = kept


def looks(found: Diagnosis, case: Case, reference: Reference) -> None:
    """Show the first looks that pay, in order, one of them open; the others in a table."""
    paying = [one for one in found.next if one.net > 0][:SHOWN]
    others = [one for one in found.next if one not in paying]
    for place, one in enumerate(paying):
        if place == 0:
            with st.container(border=True):
                st.markdown(f"**{show.plain(one.label)}**")
                _look(one, found, case, reference)
            continue
        words = f"{show.plain(one.label)}: worth {money(one.worth)}, costs {money(one.cost)}"
        box = st.expander(words, on_change="rerun", key=f"look:{one.check}")
        if box.open:
            with box:
                _look(one, found, case, reference)
    if others:
        box = st.expander("Looks worth less", on_change="rerun", key="other-looks")
        if box.open:
            with box:
                _table(others, case)
    box = st.expander("Enter another check", on_change="rerun", key="another-check")
    if box.open:
        with box:
            _another(case, reference)


def _look(one: NextLook, found: Diagnosis, case: Case, reference: Reference) -> None:
    names = tool_names(reference)
    tools = ", ".join(names[each].lower() for each in one.tools)
    takes = f", with {show.plain(tools)}" if tools else ""
    st.caption(
        f"{NEEDS[one.needs].capitalize()}{takes}, {one.minutes:.0f} min; worth {money(one.worth)} "
        f"{case.currency} on average, costs {money(one.cost)}."
    )
    st.write(show.plain(one.how))
    show.cautions(one.cautions, case.vehicle, reference)
    bids = found.decision == "how high to bid"
    views = {view.label: _means(view, bids=bids) for view in one.outcomes}
    if one.kind == "check":
        _enter_check(one.check, views, reference)
        return
    st.caption(show.plain("; ".join(f"{label}: {means}" for label, means in views.items())))
    if one.kind == "symptom":
        _enter_symptom(one)
        return
    area, look = one.check.split(":")
    go = f"Inspect {reference.areas[Area(area)].label.lower()}"
    if st.button(show.plain(go), key=f"go:{one.check}", icon=":material/visibility:"):
        turn_to(case.id, Area(area), Look(look))


def _means(view: OutcomeView, *, bids: bool) -> str:
    chance = percent(view.chance)
    return f"{chance}, {limit_words(view.walk_away_price)}" if bids else chance


def _enter_check(check: str, means: dict[str, str], reference: Reference) -> None:
    key = state.key_for(("outcome", check))

    def says(outcome: str) -> str:
        more = f" ({means[outcome]})" if outcome in means else ""
        return show.plain(f"{outcome}{more}")

    outcomes = list(reference.checks[check].outcomes)
    st.radio("What did it show?", outcomes, None, format_func=says, key=key)
    st.button(
        "Enter this result", key=f"{key}:enter", type="primary", on_click=_enter, args=(check, key)
    )
    refused(key)


def _enter(check: str, key: str) -> None:
    outcome = st.session_state.get(key)
    if outcome is None:
        refuse(key, "Choose what the check showed first.")
        return
    try:
        new = enter_result(state.case(), check, outcome, cached.reference(), today())
    except AppraiseError as error:
        refuse(key, error.message)
        return
    settled(key)
    state.save(new, fresh_widgets=True)


def _enter_symptom(one: NextLook) -> None:
    with st.container(horizontal=True):
        for words, there, icon in (("There", True, "add"), ("Not there", False, "block")):
            st.button(
                words,
                key=f"symptom:{one.check}:{there}",
                icon=f":material/{icon}:",
                on_click=_symptom,
                args=(one.check, there, one.label),
            )


def _symptom(symptom: str, there: bool, label: str) -> None:  # noqa: FBT001 - from a button
    reference = cached.reference()
    if there:
        new = finding_from_symptom(state.case(), symptom, reference)
        state.remember(f"Noted: {label}")
    else:
        new = enter_absent(state.case(), symptom, reference)
        state.remember(f"Not there: {label}")
    state.save(new, fresh_widgets=True)


def _another(case: Case, reference: Reference) -> None:
    """Enter the result of a check that is not among those advised."""
    done = {one.check for one in case.results}
    names = {one.id: one.label for one in reference.checks.values() if one.id not in done}
    picked = st.selectbox(
        "Check",
        sorted(names, key=lambda one: names[one]),
        None,
        format_func=lambda one: names[one],
        placeholder="type to search",
        key=state.key_for(("another-check",)),
    )
    if picked is not None:
        show.cautions(reference.checks[picked].cautions, case.vehicle, reference)
        _enter_check(picked, {}, reference)


def _table(listed: list[NextLook], case: Case) -> None:
    rows: list[dict[str, object]] = [
        {
            "look": one.label,
            f"worth, {case.currency}": float(one.worth),
            f"costs, {case.currency}": float(one.cost),
            "minutes": float(one.minutes),
            "where": NEEDS[one.needs],
        }
        for one in listed
    ]
    show.frame(rows, "Looks worth less, with what they cost")
    table_button(case, "What to look at next")


def results(case: Case, reference: Reference) -> None:
    """Show the results so far, each with a button that takes it back."""
    checks, symptoms = reference.checks, reference.symptoms
    rows = [
        (one.check, checks[one.check].label if one.check in checks else one.check, one.outcome)
        for one in case.results
    ]
    absent = [
        (one, symptoms[one].label if one in symptoms else one, "not there") for one in case.not_seen
    ]
    if not rows and not absent:
        return
    st.subheader("Results so far")
    for name, label, outcome in (*rows, *absent):
        with st.container(horizontal=True, vertical_alignment="center"):
            st.markdown(f"{show.plain(label)}: **{show.plain(outcome)}**")
            st.button(
                "Take it back",
                icon=":material/undo:",
                key=f"back:{name}",
                on_click=_take_back,
                args=(name, label),
            )


def _take_back(name: str, label: str) -> None:
    case = state.case()
    state.remember(f"Taken back: {label}")
    state.save(without_absent(without_result(case, name), name), fresh_widgets=True)
