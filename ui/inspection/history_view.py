"""What was changed in the open car, when and by whom, and going back."""

from __future__ import annotations

from datetime import datetime

import pandas as pd
import streamlit as st

from appraise.errors import AppraiseError
from appraise.models.case import Case
from appraise.services.records.changes import Change, as_it_was, changes_of
from ui.session import cached, state
from ui.widgets import show

__all__ = ["history_view"]

WHAT = {
    "added": "Added",
    "saved": "Changed",
    "gone back": "Gone back to an earlier one",
    "removed": "Taken off the list",
    "put back": "Put back on the list",
    "kept": "As it was when its history began",
}
MOST_FIELDS = 12


def _when(moment: datetime) -> str:
    return f"{moment.astimezone():%Y-%m-%d %H:%M:%S}"


def _go_back(case: Case, version: int) -> None:
    try:
        old = as_it_was(cached.workspace(), case.id, version)
    except AppraiseError as error:
        state.notice(str(error), bad=True)
        return
    state.remember("Gone back to an earlier version")
    state.save(old, fresh_widgets=True, what="gone back")


def history_view(case: Case) -> None:
    """Show the last saves of the open car, the newest first."""
    changes = changes_of(cached.workspace(), case.id)
    st.caption(
        "Every change is kept, and nothing is lost by going back: that is a change of its own."
    )
    for place, one in enumerate(changes):
        with st.container(border=True):
            who = f", by {show.plain(one.who)}" if one.who else ""
            st.markdown(f"**{WHAT.get(one.what, one.what)}** {_when(one.saved_at)}{who}")
            _fields(one)
            if place:
                st.button(
                    "Go back to this",
                    key=f"history:{one.version}",
                    icon=":material/history:",
                    on_click=_go_back,
                    args=(case, one.version),
                )


def _fields(change: Change) -> None:
    if change.fields is None:
        return
    if not change.fields:
        st.caption("No field changed.")
        return
    rows = [
        {"field": path, "before": before, "after": after}
        for path, before, after in change.fields[:MOST_FIELDS]
    ]
    st.dataframe(pd.DataFrame(rows), hide_index=True, alt="Fields that this change changed")
    more = len(change.fields) - MOST_FIELDS
    if more > 0:
        st.caption(f"And {more} more.")
