"""The only place with session state: which car is open, what was typed, what can be undone.

The case in the store is the truth. Widgets are views of it: each change is saved when made, with
the version that was read, so that two windows cannot overwrite each other unseen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import streamlit as st

from appraise.errors import AppraiseError, BadCase, CaseChangedElsewhere, CaseNotFound, NewerSchema
from appraise.models.case import Case
from appraise.models.preferences import Preferences, Venue
from appraise.services.cases.editing import changed
from appraise.services.cases.undoing import taken_back
from appraise.store.cases import StoredCase
from appraise.store.people import Event
from appraise.store.preferences import StoredPreferences
from ui.session import cached, signed_in

__all__ = [
    "DRAFTS",
    "Clash",
    "Page",
    "bind",
    "case",
    "clash",
    "clash_untold",
    "clashes",
    "close_case",
    "edit",
    "edit_preferences",
    "error_at",
    "forget_typed",
    "keep_both",
    "keep_mine",
    "keep_theirs",
    "key_for",
    "log",
    "newer",
    "note_widgets",
    "notice",
    "notice_told",
    "open_case",
    "open_preferences",
    "preferences",
    "preferences_wrong",
    "remember",
    "save",
    "show_newer",
    "show_page",
    "shown_page",
    "shown_preferences",
    "staying",
    "stays",
    "take_notice",
    "type_again",
    "typed_in_forms",
    "typed_on_page_left",
    "undo",
    "undoable",
    "without_venue",
]

Step = str | int
CAR = "car"
NEWER, BEGAN, BOUND, UNTOLD = "newer", "began", "bound", "untold"
NOTICE, TOLD = "notice", "notice-told"
PAGE = "page-shown"
Page = tuple[str | None, str]
PREFERENCES = "preferences"
STAYING, TYPED = "staying", "typed"
MOVED = "it was changed in another window meanwhile, and is shown as it is now."
DRAFTS = "files-drafts"
"""Photos and PDFs of forms that are not saved yet, kept by `files_form`."""


@dataclass(frozen=True, slots=True)
class Clash:
    """Two versions of one case: what was typed here, and what was saved elsewhere meanwhile.

    Attributes
    ----------
    both : with both changes; None where they touch the same.
    """

    mine: Case
    theirs: StoredCase
    both: Case | None = None


def open_case(case_id: str) -> None:
    """Open a car in this window."""
    st.session_state[CAR] = case_id
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
    except (BadCase, NewerSchema) as error:
        close_case()
        notice(f"That car cannot be read: {error}", bad=True)
        return None
    before: StoredCase | None = st.session_state.get("stored")
    st.session_state[NEWER] = False
    if before is not None and _marks(before) != _marks(stored):
        if before.case.id == case_id and clash() is None and _typing():
            # What is typed stays; saving it will clash, and nothing is lost unseen.
            st.session_state[NEWER] = True
            stored = before
        else:
            _new_widgets()
    st.session_state[CAR] = case_id
    st.session_state["stored"] = stored
    st.query_params[CAR] = case_id
    return stored


def case() -> Case:
    """Return the open car; only on pages that are shown with one."""
    stored: StoredCase = st.session_state["stored"]
    return stored.case


def _marks(stored: StoredCase) -> tuple[str, int, datetime]:
    return stored.case.id, stored.version, stored.updated_at


def _new_widgets() -> None:
    """Let every widget start anew from what is kept."""
    st.session_state["epoch"] = st.session_state.get("epoch", 0) + 1
    st.session_state[BEGAN] = {}
    st.session_state[TYPED] = {}
    st.session_state[BOUND] = set()


def bind(key: str) -> None:
    """Say that a widget is a view of a field: whatever is typed into it is saved at once."""
    st.session_state.setdefault(BOUND, set()).add(key)


def note_widgets() -> None:
    """Remember what each widget of a form began with; call it once a page is drawn."""
    began = st.session_state.setdefault(BEGAN, {})
    for key, value in _form_widgets(switches=True):
        began.setdefault(key, value)
    st.session_state[TYPED] = typed_in_forms()


def typed_on_page_left() -> dict[str, tuple[Any, Any]]:
    """Return what `typed_in_forms` does, of a page that is left.

    With the request for another page the browser sends nothing of the widgets of this one, and
    Streamlit has forgotten them: what was noted as the page was drawn last counts then.
    """
    return {**st.session_state.get(TYPED, {}), **typed_in_forms()}


def typed_in_forms() -> dict[str, tuple[Any, Any]]:
    """Return what forms hold that was typed and not saved: what it began with, and what it is.

    By what follows the start of the key. Tables and files are kept by themselves.
    """
    began, start = st.session_state.get(BEGAN, {}), key_for(())
    forms = {
        key.removeprefix(start): (began[key], value)
        for key, value in _form_widgets(switches=True)
        if key in began and began[key] != value and _may_be_set(value)
    }
    return forms | {key.removeprefix(start): (None, value) for key, value in _half_ranges(start)}


def _half_ranges(start: str) -> Iterator[tuple[str, Any]]:
    """Yield what is typed into ranges that are saved only once all three figures are there."""
    for owner in st.session_state.get(BOUND, set()):
        three = [f"{owner}.{place}" for place in ("low", "likely", "high")]
        given = [(key, st.session_state.get(key)) for key in three]
        if owner.startswith(start) and any(value is None for _, value in given):
            yield from ((key, value) for key, value in given if value is not None)


def shown_page() -> Page:
    """Return the open car and the title of the page that is shown."""
    found: Page = st.session_state.get(PAGE, (None, ""))
    return found


def show_page(title: str) -> Page:
    """Note which page is shown; return it with the open car."""
    st.session_state[PAGE] = (st.session_state.get(CAR), title)
    return shown_page()


def stays(what: str, page: Page, keys: Sequence[str]) -> None:
    """Say what widgets hold that is not saved and, by their `persist_state`, stays all the same.

    Parameters
    ----------
    page : where it is found; without a car where it is of none.
    keys : of the widgets; none once it is saved or dropped.
    """
    st.session_state.setdefault(STAYING, {})[what] = (page, tuple(keys))


def staying() -> list[tuple[Page, str]]:
    """Return what is typed into such widgets, with its page."""
    found: dict[str, tuple[Page, tuple[str, ...]]] = st.session_state.get(STAYING, {})
    return [
        (page, what)
        for what, (page, keys) in found.items()
        if any(st.session_state.get(key) for key in keys)
    ]


def _may_be_set(value: object) -> bool:
    plain = (str, int, float, date, type(None))
    many = isinstance(value, (list, tuple)) and all(isinstance(one, plain) for one in value)
    return many or isinstance(value, plain)


def type_again(typed: Mapping[str, tuple[Any, Any]]) -> None:
    """Put back what `typed_in_forms` returned."""
    start = key_for(())
    for name, (first, value) in typed.items():
        st.session_state.setdefault(BEGAN, {})[f"{start}{name}"] = first
        st.session_state[f"{start}{name}"] = value


def forget_typed(start: str) -> None:
    """Forget what is typed into widgets whose names, as in `typed_in_forms`, begin so."""
    begins = f"{key_for(())}{start}"
    for key in [str(one) for one in st.session_state if str(one).startswith(begins)]:
        del st.session_state[key]
        st.session_state.get(BEGAN, {}).pop(key, None)
    noted = st.session_state.get(TYPED, {})
    st.session_state[TYPED] = {one: noted[one] for one in noted if not one.startswith(start)}


def _form_widgets(*, switches: bool = False) -> Iterator[tuple[str, Any]]:
    """Yield what is typed into widgets that save nothing by themselves, switches only if asked."""
    start, bound = key_for(()), st.session_state.get(BOUND, set())
    for key, value in st.session_state.items():
        name = str(key)
        if not name.startswith(start) or (isinstance(value, bool) and not switches):
            continue
        if name not in bound and name.rpartition(".")[0] not in bound:  # a range has three
            yield name, value


def _typing() -> bool:
    """Whether anything was typed into a form, or added to it, that is not saved yet."""
    began = st.session_state.get(BEGAN, {})
    start = key_for(())
    drafts = st.session_state.get(DRAFTS, {})
    return any(key in began and began[key] != value for key, value in _form_widgets()) or any(
        key.startswith(start) and one.files != one.base for key, one in drafts.items()
    )


def newer() -> bool:
    """Whether another window has saved the open car since, and it is shown as it was before."""
    return bool(st.session_state.get(NEWER))


def show_newer() -> None:
    """Show the open car as it is kept now, and begin every form anew."""
    _new_widgets()


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
    except CaseChangedElsewhere as error:
        _settle_undo(None)
        try:
            theirs = cached.workspace().cases.load(new.id)
        except (BadCase, NewerSchema):
            notice(f"Not saved: {error}", bad=True)
            return False
        _clashes()[new.id] = Clash(new, theirs, _both(new, stored.case, theirs.case))
        st.session_state[UNTOLD] = True
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


def _both(mine: Case, base: Case, theirs: Case) -> Case | None:
    """Return their version with what was changed here; None where that touches the same."""
    try:
        return taken_back(mine, base, theirs)
    except AppraiseError:
        return None


def edit(path: Sequence[Step], key: str, convert: Callable[[Any], Any]) -> None:
    """Save one field of the open car from its widget; what cannot be is said beside it."""
    _edit(path, key, convert, case(), save)


def edit_preferences(path: Sequence[Step], key: str, convert: Callable[[Any], Any]) -> None:
    """Save one field of the preferences from its widget."""
    present = _present_preferences(path)
    if present is not None:
        _edit(path, key, convert, present, save_preferences)


def _edit(
    path: Sequence[Step],
    key: str,
    convert: Callable[[Any], Any],
    document: Any,  # noqa: ANN401 - a case or the preferences
    write: Callable[[Any], bool],
) -> None:
    errors: dict[str, str] = st.session_state.setdefault("errors", {})
    errors.pop(key, None)
    try:
        new = changed(document, path, convert(st.session_state[key]))
    except BadCase as error:
        errors[key] = error.message
        return
    if not write(new):
        errors[key] = "not saved: what is shown here is not what is kept"


def error_at(key: str) -> str:
    """Return what is wrong with what was typed into a widget, or an empty string."""
    found: str = st.session_state.get("errors", {}).get(key, "")
    return found


def clash_untold() -> bool:
    """Whether a clash came up after the page had been drawn; True once."""
    return bool(st.session_state.pop(UNTOLD, False)) and clash() is not None


def _clashes() -> dict[str, Clash]:
    """Return the clashes that wait for a choice, by car: each stays until it is made."""
    found: dict[str, Clash] = st.session_state.setdefault("clashes", {})
    return found


def clash() -> Clash | None:
    """Return the clash of the open car with another window, or None."""
    return _clashes().get(st.session_state.get(CAR, ""))


def clashes() -> tuple[Case, ...]:
    """Return the cars whose clash waits for a choice, as they were to be saved here."""
    return tuple(one.mine for one in _clashes().values())


def keep_theirs() -> None:
    """Take what was saved elsewhere."""
    _clashes().pop(st.session_state[CAR], None)
    _new_widgets()


def keep_mine() -> None:
    """Put what was typed here over what was saved elsewhere."""
    found = clash()
    if found is not None:
        _keep_over(found, found.mine)


def keep_both() -> None:
    """Put what was changed here into what was saved elsewhere."""
    found = clash()
    if found is not None and found.both is not None:
        _keep_over(found, found.both)


def _keep_over(found: Clash, case: Case) -> None:
    waiting = _clashes()
    waiting.pop(case.id, None)
    st.session_state["stored"] = found.theirs
    if not save(case, fresh_widgets=True):
        waiting.setdefault(case.id, found)  # unless it clashed once more


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
    st.session_state[NOTICE] = (words, bad)


def take_notice() -> tuple[str, bool]:
    """Return what is to be said; `notice_told` forgets it."""
    found: tuple[str, bool] = st.session_state.get(NOTICE, ("", False))
    st.session_state[TOLD] = found
    return found


def notice_told() -> None:
    """Forget what was said, once the page that says it is drawn to its end."""
    if st.session_state.get(NOTICE) is st.session_state.pop(TOLD, None):
        st.session_state.pop(NOTICE, None)


def preferences() -> Preferences:
    """Return the person's own defaults as they are kept now."""
    return cached.workspace().preferences.load().preferences


def open_preferences() -> Preferences:
    """Return the defaults to be shown and changed; call it once a page, before any field of them.

    Fields that another window changed begin anew.
    """
    before: StoredPreferences | None = st.session_state.get(PREFERENCES)
    stored = cached.workspace().preferences.load()
    if before is not None and before.preferences != stored.preferences:
        _new_widgets()
    st.session_state[PREFERENCES] = stored
    return stored.preferences


def preferences_wrong() -> str:
    """Return why the defaults that are kept cannot be read; empty if they can."""
    stored: StoredPreferences = st.session_state[PREFERENCES]
    return stored.wrong


def shown_preferences() -> Preferences:
    """Return the defaults as this window shows them."""
    stored: StoredPreferences = st.session_state[PREFERENCES]
    return stored.preferences


def save_preferences(new: Preferences) -> bool:
    """Keep changed defaults; return whether they were kept."""
    stored: StoredPreferences = st.session_state[PREFERENCES]
    try:
        kept = cached.workspace().preferences.save(new, stored.version, read_at=stored.updated_at)
    except AppraiseError as error:
        notice(f"Not saved: {error}", bad=True)
        return False
    st.session_state[PREFERENCES] = kept
    log("settings saved")
    return True


def _present_preferences(path: Sequence[Step]) -> Preferences | None:
    """Return the defaults as they are kept now, to be changed at a path; None if that is not safe.

    Another window's change of something else stays. A place in a list has to hold what it is shown
    to hold: another entry may have moved there.
    """
    shown = shown_preferences()
    stored = cached.workspace().preferences.load()
    if shown != stored.preferences:
        _new_widgets()
    for end in range(len(path)):
        if isinstance(path[end], int) and _at(shown, path[: end + 1]) != _at(
            stored.preferences, path[: end + 1]
        ):
            notice(f"Not saved: {MOVED}", bad=True)
            return None
    st.session_state[PREFERENCES] = stored
    return stored.preferences


def _at(document: Any, path: Sequence[Step]) -> Any:  # noqa: ANN401 - whatever a field holds
    for step in path:
        if isinstance(step, str):
            document = getattr(document, step)
        else:
            document = document[step] if step < len(document) else None
    return document


def without_venue(one: Venue) -> None:
    """Take a venue off the defaults, unless another window changed it meanwhile."""
    stored = cached.workspace().preferences.load()
    if one not in stored.preferences.venues:
        notice(f"Not removed: {MOVED}", bad=True)
        return
    st.session_state[PREFERENCES] = stored
    left = [kept.model_dump() for kept in stored.preferences.venues if kept != one]
    if save_preferences(changed(stored.preferences, ("venues",), left)):
        _new_widgets()


def log(what: Event) -> None:
    """Write what was done into the log; if that fails it is said, and what was done stays done."""
    try:
        signed_in.noted(what)
    except AppraiseError as error:
        notice(f"Saved, but not written into the log: {error}", bad=True)
