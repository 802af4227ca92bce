from __future__ import annotations

import streamlit as st

from appraise.errors import AppraiseError
from appraise.models.case import Case
from appraise.models.diagnosis import Diagnosis
from appraise.reference.load import Reference
from appraise.reports.wording import limit_words
from ui.diagnose.faults import explanation, faults
from ui.diagnose.looks import ask_at_hand, at_hand, looks, results
from ui.session import cached
from ui.widgets import show
from ui.words import money


def weighed(found: Diagnosis, currency: str) -> str:
    """Say for which decision looks are weighed, and what certainty would be worth."""
    most = f"Knowing every fault for certain would be worth {money(found.most)} {currency}."
    if found.decision == "which repair first":
        return f"Weighed for: which repair first. {most}"
    words = f"Weighed for: how high to bid; now {limit_words(found.walk_away_price)}. {most}"
    if found.short_counts is None:
        return f"{words} Enter the asking price, or the price it may go for, to weigh looks."
    return (
        f"{words} A look is worth the average gain of bidding up to the walk-away price after "
        "its result. The car is taken to go for about the asking price. The certainty wanted "
        f"makes each {currency} short of the profit wanted count as much as "
        f"{found.short_counts:.1f} above it."
    )


def page(case: Case, reference: Reference) -> None:
    trouble = any(one.trouble for one in case.findings)
    if not (trouble or case.results or case.not_seen):
        st.write("Nothing suspect or faulty is noted yet. Note what you find on Inspect.")
        st.page_link("app_pages/inspect.py", label="Inspect", icon=":material/visibility:")
        return
    hand = at_hand(case)
    try:
        found = cached.diagnosis(case, hand.minutes, hand.tools or None, drive=hand.drive)
    except AppraiseError as error:
        st.info(f"No diagnosis yet: {show.plain(str(error))}")
        results(case, reference)
        return
    show.problems(found.problems)
    faults(found, case.currency)
    st.markdown(f"**{show.plain(found.advice)}**")
    st.subheader("What to look at next")
    ask_at_hand(case, reference)
    looks(found, case, reference)
    st.caption(weighed(found, case.currency))
    results(case, reference)
    st.subheader("What explains it")
    explanation(found, case)


case = show.need_car("Diagnose")
if case is not None:
    page(case, cached.reference())
