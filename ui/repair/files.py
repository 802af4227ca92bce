"""Photos and PDFs of a job or an entry, opened from its card; saved as each comes and goes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import streamlit as st

from appraise.intake.files import files_words
from appraise.models.case import Case
from appraise.models.files import Attachments
from ui.repair.common import FORM, attempt, open_form, refusal
from ui.session import state
from ui.widgets.files_form import files_box

__all__ = ["files_button", "opened_files", "shows_files"]

Of = Literal["entry", "job"]


def files_button(of: Of, name: str, files: Attachments) -> None:
    """Show how many photos and PDFs a job or an entry has, and open their box."""
    st.button(
        files_words(files) or "Add photos",
        icon=":material/photo_camera:",
        key=f"files:{of}:{name}",
        on_click=open_form,
        args=(_form(of, name),),
    )


def shows_files(of: Of, name: str) -> bool:
    """Whether the box of its photos and PDFs is open."""
    return bool(st.session_state.get(FORM) == _form(of, name))


def opened_files(
    of: Of, name: str, files: Attachments, put: Callable[[Case, str, Attachments], Case]
) -> None:
    """Show the box of its photos and PDFs, if it is open.

    Parameters
    ----------
    name : id of the job or entry.
    put : returns the case with other files on it.
    """
    if not shows_files(of, name):
        return
    key = _form(of, name)

    def keep(new: Attachments) -> bool:
        gone = next((one.name for one in files if one not in new), "")
        return attempt(
            key,
            lambda case: put(case, name, new),
            undo=f"Removed: {gone}" if gone else "",
            fresh_widgets=False,
        )

    files_box(files, f"{FORM}:{state.case().id}:{key}", keep)
    refusal(key)
    st.button("Close the photos", key=f"{key}:close", on_click=open_form, args=(None,))


def _form(of: Of, name: str) -> str:
    return f"files-of-{of}:{name}"
