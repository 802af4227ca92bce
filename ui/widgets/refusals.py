"""What was wrong when a button was pressed, said beside it; what was typed stays."""

from __future__ import annotations

import streamlit as st

from ui.session import state
from ui.widgets import show

__all__ = ["refuse", "refused", "settled"]


def refuse(key: str, words: str) -> None:
    """Remember what is wrong, to be shown beside the button that was pressed."""
    st.session_state.setdefault("errors", {})[key] = words[:1].upper() + words[1:]


def refused(key: str) -> None:
    """Show what was wrong when the button was pressed last."""
    words = state.error_at(key)
    if words:
        st.error(show.plain(words))


def settled(key: str) -> None:
    """Forget what was wrong."""
    st.session_state.setdefault("errors", {}).pop(key, None)
