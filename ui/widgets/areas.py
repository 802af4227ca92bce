"""Which area is inspected, and how."""

from __future__ import annotations

import streamlit as st

from appraise.models.findings import Area, Look

__all__ = ["AREA", "HOW", "remember_how", "turn_to"]

AREA = "area"
HOW = "how-last"
"""How an area was looked at last, by car: a glance until somebody says more."""


def remember_how(car: str, look: Look) -> None:
    """Begin the next area of a car with this way of looking."""
    st.session_state.setdefault(HOW, {})[car] = look


def turn_to(car: str, area: Area, look: Look) -> None:
    """Turn to the page Inspect, at an area and a way of looking at it."""
    st.session_state[AREA] = area
    remember_how(car, look)
    st.switch_page("app_pages/inspect.py")
