"""What was typed into a form and not saved stays when its page is left, and is told elsewhere."""

from __future__ import annotations

from typing import Any

import streamlit as st

from ui.session import state
from ui.widgets.tables import unsaved_tables
from ui.words import plain

__all__ = ["asks_before_it_is_closed", "carry_over", "carry_part", "drop", "keep"]

LEFT, PART = "left-behind", "part-shown"
Typed = dict[str, tuple[Any, Any]]
"""What follows the start of a widget's key, to what it began with and what it holds."""


def carry_over(title: str) -> None:
    """Keep what was typed on the page that was left, put back what was on this one; say the rest.

    Parameters
    ----------
    title : of the page that is shown now.
    """
    left = _left()
    before, here = state.shown_page(), state.show_page(title)
    if before != here:
        typed = state.typed_on_page_left() if before[0] == here[0] else {}
        if typed:
            left[before] = {**left.get(before, {}), **typed}
            for name in typed:
                state.forget_typed(name)  # else it would be told as typed on this page too
        _type_again(here)
    waiting = [f"what you typed on {page[1]}" for page in left if page[0] == here[0]]
    waiting += [
        f"{what} on {title}"
        for (car, title), what in [*unsaved_tables(), *state.staying()]
        if (car, title) != here and title != here[1] and car in (None, here[0])
    ]
    if waiting:
        with st.container(key="unsaved:left"):
            st.caption(f":material/edit: Not saved yet, and kept: {plain('; '.join(waiting))}.")


def asks_before_it_is_closed() -> None:
    """Let the browser ask before a window with words typed into a form of the page is closed."""
    words = [one for _, one in state.typed_in_forms().values() if type(one) is str and one.strip()]
    if words or any(page[1] == state.shown_page()[1] for page, _ in state.staying()):
        st.container(key="unsaved:typed")


def carry_part(start: str) -> set[str]:
    """Do so for a part of a page of which one is shown at a time; return what else is kept there.

    Parameters
    ----------
    start : of the names of what is typed in the part that is shown now.
    """
    here = state.shown_page()
    before = st.session_state.get(PART)
    st.session_state[PART] = (here, start)
    if before is not None and before[0] == here and before[1] != start:
        keep(before[1])
    _type_again(here, start)
    return {
        name
        for name in (*_left().get(here, {}), *state.typed_in_forms())
        if not name.startswith(start)
    }


def keep(start: str) -> None:
    """Keep what is typed under names that begin so, though its widgets are about to go."""
    typed = {name: one for name, one in state.typed_in_forms().items() if name.startswith(start)}
    if typed:
        _left().setdefault(state.shown_page(), {}).update(typed)


def drop(start: str) -> None:
    """Forget what is typed on this page under names that begin so."""
    state.forget_typed(start)
    _taken(state.shown_page(), start)


def _left() -> dict[state.Page, Typed]:
    found: dict[state.Page, Typed] = st.session_state.setdefault(LEFT, {})
    return found


def _taken(page: state.Page, start: str) -> Typed:
    """Take what was left on a page out of what is kept, and return it."""
    held = _left().pop(page, {})
    rest = {name: one for name, one in held.items() if not name.startswith(start)}
    if rest:
        _left()[page] = rest
    return {name: one for name, one in held.items() if name not in rest}


def _type_again(page: state.Page, start: str = "") -> None:
    back = _taken(page, start)
    if back:
        state.type_again(back)
        st.rerun()  # a widget with a value of its own must not be set in the run that makes it
