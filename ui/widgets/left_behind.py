"""What was typed into a form and not saved stays when its page is left, and is told elsewhere."""

from __future__ import annotations

from typing import Any

import streamlit as st

from ui.session import state
from ui.widgets.tables import unsaved_tables
from ui.words import plain

__all__ = ["carry_over"]

LEFT = "left-behind"
Typed = dict[str, tuple[Any, Any]]
"""What follows the start of a widget's key, to what it began with and what it holds."""


def carry_over(title: str) -> None:
    """Keep what was typed on the page that was left, put back what was on this one; say the rest.

    Parameters
    ----------
    title : of the page that is shown now.
    """
    left: dict[state.Page, Typed] = st.session_state.setdefault(LEFT, {})
    before, here = state.shown_page(), state.show_page(title)
    if before != here:
        typed = state.typed_in_forms() if before[0] == here[0] else {}
        if typed:
            left[before] = typed
        if here in left:
            state.type_again(left.pop(here))
            st.rerun()  # a widget with a value of its own must not be set in the run that makes it
    waiting = [f"what you typed on {title}" for (car, title) in left if car == here[0]]
    waiting += [
        f"{what} on {title}"
        for (car, title), what in unsaved_tables()
        if (car, title) != here and car in (None, here[0])
    ]
    if waiting:
        st.caption(f":material/edit: Not saved yet, and kept: {plain('; '.join(waiting))}.")
