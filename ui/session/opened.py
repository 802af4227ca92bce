"""The database, opened once for all windows; `cached.workspace` hands it out guarded."""

from __future__ import annotations

import streamlit as st

from appraise.services.records.workspace import Workspace, open_workspace
from appraise.settings import Settings

__all__ = ["opened"]


@st.cache_resource(max_entries=4, show_spinner="Opening your cars")
def opened(settings: Settings) -> Workspace:
    """Return everything that is kept, for what is asked before it is known who asks."""
    return open_workspace(settings)
