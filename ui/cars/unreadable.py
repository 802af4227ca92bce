"""A car of the list that cannot be read: why, and what can be done about it."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import streamlit as st

from appraise.errors import AppraiseError
from appraise.intake.file_names import name_to_save
from appraise.services.records.changes import as_it_was, readable_versions
from appraise.store.cases import CaseSummary
from ui.session import cached, state
from ui.widgets import show

__all__ = ["unreadable_row"]


def unreadable_row(summary: CaseSummary, wrong: str, remove: Callable[[CaseSummary], None]) -> None:
    """Show a car that cannot be read; every other car is as it was."""
    with st.container(border=True):
        st.markdown(f"**{show.plain(summary.title)}**")
        st.error(f"This car cannot be read: {show.plain(wrong)}", icon=":material/block:")
        with st.container(horizontal=True):
            st.download_button(
                "Save as a file",
                data=partial(cached.workspace().cases.raw_text, summary.id),
                file_name=name_to_save(summary.id, ".json"),
                mime="application/json",
                on_click="ignore",
                key=f"export:{summary.id}",
                help="What is kept of it, as it is.",
            )
            st.button("Remove", key=f"remove:{summary.id}", on_click=remove, args=(summary,))
        box = st.expander("Put back from its history", on_change="rerun", key=f"old:{summary.id}")
        if box.open:
            with box:
                _versions(summary)


def _versions(summary: CaseSummary) -> None:
    found = readable_versions(cached.workspace(), summary.id)
    if not found:
        st.caption("No version of it can be read.")
    for one in found:
        who = f", by {show.plain(one.who)}" if one.who else ""
        st.button(
            f"As it was on {one.saved_at.astimezone():%Y-%m-%d %H:%M:%S}{who}",
            key=f"old:{summary.id}:{one.version}",
            icon=":material/history:",
            on_click=_go_back,
            args=(summary, one.version),
        )


def _go_back(summary: CaseSummary, version: int) -> None:
    try:
        old = as_it_was(cached.workspace(), summary.id, version)
        cached.workspace().cases.save(
            old, summary.version, what="gone back", read_at=summary.updated_at
        )
    except AppraiseError as error:
        state.notice(str(error), bad=True)
