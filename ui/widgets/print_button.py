"""One button for a paper that is made when it is asked for."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import streamlit as st

from appraise.intake.file_names import name_to_save
from appraise.models.case import Case
from appraise.reference.load import Reference
from ui.session import cached

__all__ = ["print_button"]


def print_button(words: str, make: Callable[[Case, Reference], bytes], case: Case) -> None:
    """Offer a paper (PDF) for download.

    Parameters
    ----------
    words : what the paper is called.
    make : lays it out.
    """
    name = words.lower().replace("'", "").replace(" ", "-")
    st.download_button(
        f"{words} (PDF)",
        partial(make, case, cached.reference()),
        file_name=name_to_save(f"{case.id}-{name}", ".pdf"),
        mime="application/pdf",
        on_click="ignore",
        icon=":material/download:",
        key=f"print-{name}",
    )
