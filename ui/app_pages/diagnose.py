from __future__ import annotations

import streamlit as st

from appraise.errors import AppraiseError, BadCase
from appraise.models.diagnosis import CheckWorth, Diagnosis, FindingDiagnosis
from appraise.reports.wording import NEEDS
from appraise.services import enter_result, today, without_result
from ui.plots import bid as charts
from ui.session import cached, state
from ui.widgets import show
from ui.widgets.refusals import refuse, refused, settled
from ui.widgets.sheets import table_button
from ui.words import money


def enter(finding_id: str, check_id: str, key: str) -> None:
    outcome = st.session_state.get(key)
    if outcome is None:
        refuse(key, "Choose what the check showed first.")
        return
    try:
        new = enter_result(state.case(), finding_id, check_id, outcome, cached.reference(), today())
    except BadCase as error:
        refuse(key, error.message)
        return
    settled(key)
    state.save(new)


def take_back(finding_id: str, check_id: str, label: str) -> None:
    state.remember(f"Taken back: {label}")
    state.save(without_result(state.case(), finding_id, check_id))


def one_check(found: FindingDiagnosis, check: CheckWorth, currency: str) -> None:
    with st.container(border=True):
        st.markdown(f"**{show.plain(check.label)}**")
        st.caption(
            f"{NEEDS[check.needs].capitalize()}, {check.minutes:.0f} min; costs "
            f"{money(check.cost)} {currency}, worth {money(check.worth)} on average."
        )
        st.write(show.plain(check.how))
        show.cautions(check.cautions, state.case().vehicle, cached.reference())
        key = state.key_for(("outcome", found.id, check.id))
        views = {one.outcome: one for one in check.outcomes}
        reference = cached.reference().checks[check.id]

        def says(outcome: str) -> str:
            view = views.get(outcome)
            if view is None:
                return show.plain(outcome)
            price = view.walk_away_price
            bid = "no bid works" if price is None else f"walk away above {money(price)}"
            return show.plain(f"{outcome} ({view.chance:.0%}: {bid})")

        st.radio("What did it show?", list(reference.outcomes), None, format_func=says, key=key)
        st.button(
            "Enter this result",
            key=f"{key}:enter",
            type="primary",
            on_click=enter,
            args=(found.id, check.id, key),
        )
        refused(key)


def done(found: FindingDiagnosis) -> None:
    finished = [one for one in found.checks if one.done]
    if not finished:
        return
    st.subheader("Checked so far")
    for one in finished:
        with st.container(horizontal=True, vertical_alignment="center"):
            st.markdown(f"{show.plain(one.label)}: **{show.plain(one.done)}**")
            st.button(
                "Take it back",
                icon=":material/undo:",
                key=f"back:{found.id}:{one.id}",
                on_click=take_back,
                args=(found.id, one.id, one.label),
            )


def ranked(found: FindingDiagnosis, currency: str) -> None:
    todo = [one for one in found.checks if not one.done]
    if not todo:
        return
    st.subheader("Which check next")
    picked = st.selectbox(
        "Check",
        [one.id for one in todo],
        format_func=lambda one: next(
            f"{check.label}: worth {money(check.worth)}, costs {money(check.cost)}"
            for check in todo
            if check.id == one
        ),
        key=state.key_for(("check", found.id)),
    )
    one_check(found, next(one for one in todo if one.id == picked), currency)
    every = st.expander("All checks, the most worth first", on_change="rerun", key="all-checks")
    if every.open:
        with every:
            rows: list[dict[str, object]] = [
                {
                    "check": one.label,
                    "where": NEEDS[one.needs],
                    "minutes": float(one.minutes),
                    f"worth, {currency}": float(one.worth),
                    f"costs, {currency}": float(one.cost),
                }
                for one in todo
            ]
            show.frame(rows, "Checks with what they are worth and cost")
            table_button(state.case(), "Checks", only=found.id)


def trials(found: FindingDiagnosis, currency: str) -> None:
    if len(found.trials) < 2:  # noqa: PLR2004
        return
    box = st.expander("In which order to try repairs", on_change="rerun", key="trials")
    if not box.open:
        return
    with box:
        rows: list[dict[str, object]] = [
            {
                "cause": one.label,
                "chance": f"{one.chance:.0%}",
                f"costs, {currency}": float(one.cost),
            }
            for one in found.trials
        ]
        show.frame(rows, "Repairs in the order to try them")
        table_button(state.case(), "Repairs to try", only=found.id)
        how = (
            "highest chance over cost first"
            if found.trials_method == "ratio"
            else "every order was tried"
        )
        st.caption(
            f"Tried in this order until it is cured: {money(found.trials_cost)} {currency} on "
            f"average ({how})."
        )


def weighed(diagnosis: Diagnosis, found: FindingDiagnosis, currency: str) -> str:
    """Say for which decision checks are weighed, and what certainty would be worth."""
    most = f"Knowing the cause for certain would be worth {money(found.most)}."
    if diagnosis.decision == "which repair first":
        return f"Weighed for: which repair first. {most}"
    limit = diagnosis.walk_away_price
    now = "no bid works" if limit is None else f"{money(limit)} {currency}"
    words = f"Weighed for: how high to bid. Walk-away price now: {now}. {most}"
    if diagnosis.short_counts is None:
        return f"{words} Enter the asking price, or the price it may go for, to weigh checks."
    return (
        f"{words} A check is worth the average gain of bidding up to the walk-away price after "
        "its result. The car is taken to go for about the asking price. The certainty wanted "
        f"makes each {currency} short of the profit wanted count as much as "
        f"{diagnosis.short_counts:.1f} above it."
    )


case = show.need_car("Diagnose")
if case is not None:
    trouble = [one for one in case.findings if one.trouble]
    if not trouble:
        st.write("Nothing suspect or faulty is noted yet. Note what you find on Inspect.")
        st.page_link("app_pages/inspect.py", label="Inspect", icon=":material/visibility:")
    else:
        names = {one.id: one.label or one.id for one in trouble}
        picked = st.selectbox(
            "Finding",
            list(names),
            format_func=lambda one: names[one],
            key=f"{case.id}:causes-finding",
        )
        try:
            diagnosis = cached.diagnosis(case, picked)
        except AppraiseError as error:
            st.info(f"No price yet: {show.plain(str(error))}")
        else:
            found = diagnosis.findings[0]
            if found.problem:
                st.warning(show.plain(found.problem), icon=":material/warning:")
            st.caption(weighed(diagnosis, found, case.currency))
            show.chart(charts.odds(found), "odds")
            st.markdown(f"**{show.plain(found.advice)}**")
            done(found)
            ranked(found, case.currency)
            trials(found, case.currency)
