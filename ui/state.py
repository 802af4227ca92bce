"""The only place with session state: which car is open, what was typed, what can be undone.

The case in the store is the truth. Widgets are views of it: each change is saved when made, with
the version that was read, so that two windows cannot overwrite each other unseen.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import streamlit as st

from appraise.errors import AppraiseError, BadCase, CaseChangedElsewhere, CaseNotFound
from appraise.models.case import Case
from appraise.models.preferences import Preferences
from appraise.services.editing import changed
from appraise.services.people_log import Event
from appraise.services.undoing import taken_back
from appraise.store.cases import StoredCase
from ui import cached, signed_in

__all__ = [
    "Clash",
    "case",
    "clash",
    "close_case",
    "edit",
    "edit_preferences",
    "error_at",
    "keep_mine",
    "keep_theirs",
    "key_for",
    "log",
    "notice",
    "open_case",
    "preferences",
    "remember",
    "save",
    "take_notice",
    "undo",
    "undoable",
]

Step = str | int
CAR = "car"


@dataclass(frozen=True, slots=True)
class Clash:
    """Two versions of one case: what was typed here, and what was saved elsewhere meanwhile."""

    mine: Case
    theirs: StoredCase


def open_case(case_id: str) -> None:
    """Open a car in this window."""
    st.session_state[CAR] = case_id
    st.session_state.pop("clash", None)
    st.session_state.pop("undo", None)
    st.session_state["errors"] = {}


def close_case() -> None:
    """Leave the open car."""
    st.session_state.pop(CAR, None)
    st.session_state.pop("stored", None)
    st.query_params.pop(CAR, None)


def load_open_case() -> StoredCase | None:
    """Read the open car from the store; the address of the page names it across a reload."""
    case_id = st.session_state.get(CAR) or st.query_params.get(CAR)
    if not case_id:
        return None
    try:
        stored = cached.workspace().cases.load(case_id)
    except CaseNotFound:
        close_case()
        notice("That car is not here any more.")
        return None
    before = st.session_state.get("stored")
    if before is not None and (before.case.id, before.version) != (case_id, stored.version):
        _new_widgets()
    st.session_state[CAR] = case_id
    st.session_state["stored"] = stored
    st.query_params[CAR] = case_id
    return stored


def case() -> Case:
    """Return the open car; only on pages that are shown with one."""
    stored: StoredCase = st.session_state["stored"]
    return stored.case


def _new_widgets() -> None:
    """Let every widget start anew from what is kept."""
    st.session_state["epoch"] = st.session_state.get("epoch", 0) + 1


def key_for(path: Sequence[Step]) -> str:
    """Return the widget key of a field of the open car or the preferences."""
    epoch = st.session_state.get("epoch", 0)
    return f"{st.session_state.get(CAR, '')}:{epoch}:" + ".".join(str(step) for step in path)


def save(new: Case, *, fresh_widgets: bool = False, what: str = "saved") -> bool:
    """Keep a changed case; return whether it was kept.

    A clash with another window is remembered and shown; nothing typed is lost.
    """
    stored: StoredCase = st.session_state["stored"]
    try:
        kept = cached.workspace().cases.save(
            new, stored.version, what=what, read_at=stored.updated_at
        )
    except CaseChangedElsewhere:
        _settle_undo(None)
        theirs = cached.workspace().cases.load(new.id)
        st.session_state["clash"] = Clash(new, theirs)
        return False
    except AppraiseError as error:
        _settle_undo(None)
        notice(f"Not saved: {error}", bad=True)
        return False
    _settle_undo(new)
    st.session_state["stored"] = kept
    if fresh_widgets:
        _new_widgets()
    return True


def edit(path: Sequence[Step], key: str, convert: Callable[[Any], Any]) -> None:
    """Save one field of the open car from its widget; what cannot be is said beside it."""
    _edit(path, key, convert, case, save)


def edit_preferences(path: Sequence[Step], key: str, convert: Callable[[Any], Any]) -> None:
    """Save one field of the preferences from its widget."""
    _edit(path, key, convert, preferences, save_preferences)


def _edit(
    path: Sequence[Step],
    key: str,
    convert: Callable[[Any], Any],
    read: Callable[[], Any],
    write: Callable[[Any], bool],
) -> None:
    errors: dict[str, str] = st.session_state.setdefault("errors", {})
    errors.pop(key, None)
    try:
        new = changed(read(), path, convert(st.session_state[key]))
    except BadCase as error:
        errors[key] = error.message
        return
    if not write(new):
        errors[key] = "not saved: what is shown here is not what is kept"


def error_at(key: str) -> str:
    """Return what is wrong with what was typed into a widget, or an empty string."""
    found: str = st.session_state.get("errors", {}).get(key, "")
    return found


def clash() -> Clash | None:
    """Return the clash with another window that waits for a choice, or None."""
    found: Clash | None = st.session_state.get("clash")
    return found


def keep_theirs() -> None:
    """Take what was saved elsewhere."""
    st.session_state.pop("clash", None)
    _new_widgets()


def keep_mine() -> None:
    """Put what was typed here over what was saved elsewhere."""
    found = clash()
    if found is None:
        return
    st.session_state.pop("clash", None)
    st.session_state["stored"] = found.theirs
    save(found.mine, fresh_widgets=True)


def remember(words: str) -> None:
    """Offer to take back the change that is saved next."""
    st.session_state["undo"] = (words, case(), None)


def _settle_undo(after: Case | None) -> None:
    """Complete what is offered to be taken back, or withdraw it: it was not saved."""
    words, before, settled = st.session_state.get("undo", ("", None, None))
    if before is None or settled is not None:
        return
    if after is None:
        del st.session_state["undo"]
    else:
        st.session_state["undo"] = (words, before, after)


def undoable() -> str:
    """Return what can be undone on the open car, in words, or an empty string."""
    words, before, after = st.session_state.get("undo", ("", None, None))
    return words if after is not None and before.id == st.session_state.get(CAR) else ""


def undo() -> None:
    """Take back what was changed last as one may; what was changed since stays."""
    _, before, after = st.session_state.pop("undo", ("", None, None))
    if after is None:  # pressed twice
        return
    try:
        new = taken_back(before, after, case())
    except AppraiseError as error:
        notice(f"Not undone: {error}", bad=True)
        return
    save(new, fresh_widgets=True)


def notice(words: str, *, bad: bool = False) -> None:
    """Say something once, on the next page that is drawn."""
    st.session_state["notice"] = (words, bad)


def take_notice() -> tuple[str, bool]:
    """Return what is to be said once, and forget it."""
    found: tuple[str, bool] = st.session_state.pop("notice", ("", False))
    return found


def preferences() -> Preferences:
    """Return the person's own defaults."""
    stored = cached.workspace().preferences.load()
    st.session_state["preferences_version"] = stored.version
    return stored.preferences


def save_preferences(new: Preferences) -> bool:
    """Keep changed defaults; return whether they were kept."""
    try:
        version = st.session_state.get("preferences_version", 0)
        kept = cached.workspace().preferences.save(new, version)
    except AppraiseError as error:
        notice(f"Not saved: {error}", bad=True)
        return False
    st.session_state["preferences_version"] = kept.version
    log("settings saved")
    return True


def log(what: Event) -> None:
    """Write what was done into the log; if that fails it is said, and what was done stays done."""
    try:
        signed_in.noted(what)
    except AppraiseError as error:
        notice(f"Saved, but not written into the log: {error}", bad=True)
