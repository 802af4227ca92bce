"""Buttons that a page acts on where it shows them: the press waits until the page comes there."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import Any

import streamlit as st

from ui.session import state

__all__ = ["press", "told_or_forgotten"]

WAITING = "presses"


def press(
    button: Callable[..., bool],
    words: str,
    key: str,
    then: Callable[[], None] | None = None,
    **look: Any,  # noqa: ANN401 - whatever a button takes
) -> AbstractContextManager[bool]:
    """Show a button; a `with` block learns whether it was pressed, and is done whole.

    Something else may be pressed before the page has come to the block: the run that comes there
    then does it. What a button returns would be gone by that time.

    Parameters
    ----------
    button : `st.button` or `st.form_submit_button`; not of a form that is cleared when it is sent.
    then : called at once when it is pressed.
    """
    button(words, key=key, on_click=_note, args=(key, words, then), **look)
    return _answer(key)


def _note(key: str, words: str, then: Callable[[], None] | None) -> None:
    st.session_state.setdefault(WAITING, {})[key] = words
    if then is not None:
        then()


@contextmanager
def _answer(key: str) -> Iterator[bool]:
    waiting: dict[str, str] = st.session_state.get(WAITING, {})
    if key not in waiting:
        yield False
        return
    del waiting[key]
    yield True


def told_or_forgotten() -> None:
    """Once a page is drawn: what it came to no more, because it was closed, is not done later."""
    for words in st.session_state.pop(WAITING, {}).values():
        state.notice(f"Nothing was done for “{words}”: it was closed meanwhile.", bad=True)
        st.rerun()
