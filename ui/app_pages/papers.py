from __future__ import annotations

import streamlit as st

from appraise.engine.papers.examined import Examined
from appraise.models.case import Case
from appraise.models.papers import Paper
from appraise.services.inspection.paperwork import examine, without_paper
from ui.papers.paper_form import paper_form
from ui.plots import bid as charts
from ui.session import cached, state
from ui.widgets import fields, show
from ui.widgets.files_form import forget_drafts
from ui.widgets.sheets import table_button
from ui.widgets.tables import forget_tables
from ui.words import money, name

FORM = "paper-form"
SAYS = {
    "strong": ":material/check: strong",
    "some": ":material/check: some",
    "nothing": ":material/remove: nothing",
    "speaks for the fault": ":material/close: speaks for the fault",
}

TABLES = (
    "Papers",
    "Lines of the papers",
    "What the papers prove",
    "In hand before money moves",
    "Odometer by day",
)


def open_form(key: str | None) -> None:
    if st.session_state.get(FORM) != key:
        forget_drafts()
    if key is None:
        forget_tables(f"{state.case().id}:paper.")
    st.session_state[FORM] = key


def drop(paper: Paper) -> None:
    state.remember(f"Removed: {name(paper.kind)}")
    state.save(without_paper(state.case(), paper.id), fresh_widgets=True)


def one_paper(case: Case, paper: Paper, found: Examined) -> None:
    with st.container(border=True):
        dated = f", {paper.dated}" if paper.dated else ""
        issuer = f", {paper.issuer}" if paper.issuer else ""
        total = f", {money(paper.total)} {case.currency}" if paper.total is not None else ""
        st.markdown(f"**{name(paper.kind)}**{show.plain(dated + issuer + total)}")
        labels = {one.id: one.called for one in case.findings}
        mine = [one for one in found.strengths if one.paper == paper.id]
        for one in mine:
            about = show.plain(labels.get(one.claim.finding, one.claim.finding))
            st.markdown(f"On *{about}*: **{SAYS[one.words]}** (factor {one.ratio:.1f})")
            st.caption(show.plain("; ".join(one.reasons).capitalize() + "."))
        if not mine:
            st.caption("Speaks to no finding so far.")
        if paper.attachments:
            names = ", ".join(one.name for one in paper.attachments)
            st.caption(f":material/attach_file: {show.plain(names)}")
        with st.container(horizontal=True):
            st.button(
                "Change",
                icon=":material/edit:",
                key=f"paper:{paper.id}",
                on_click=open_form,
                args=(paper.id,),
            )
            st.button(
                "Remove",
                icon=":material/delete:",
                key=f"paper-drop:{paper.id}",
                on_click=drop,
                args=(paper,),
            )
    if st.session_state.get(FORM) == paper.id:
        form_box(case, paper)


def form_box(case: Case, paper: Paper | None) -> None:
    with st.container(border=True):
        if paper_form(case, paper):
            open_form(None)
            st.rerun()
        st.button("Close without saving", on_click=open_form, args=(None,), type="tertiary")


case = show.need_car("Papers")
if case is not None:
    found = examine(case, cached.reference())
    show.problems(found.problems)
    st.button("Add a paper", icon=":material/add:", on_click=open_form, args=("new",))
    if st.session_state.get(FORM) == "new":
        form_box(case, None)
    if not case.papers:
        st.write(
            "No papers yet. Add the title, invoices, slips and certificates that came with the "
            "car: each is weighed for what it proves."
        )
    for paper in case.papers:
        one_paper(case, paper, found)
    if case.papers:
        table_button(case, *TABLES)
    st.subheader("In hand before money moves")
    fields.text("deal", "seller")
    for item in found.in_hand:
        icon = (
            ":material/check_box:" if item.state == "done" else ":material/check_box_outline_blank:"
        )
        st.markdown(f"{icon} **{item.label}**: {item.why} ({item.section})")
    st.caption("Check your State / country.")
    if len(found.odometer.readings) > 1:
        st.subheader("Odometer over time")
        unit = case.vehicle.odometer.unit
        show.chart(charts.odometer(found.odometer.readings, unit), "odometer")
