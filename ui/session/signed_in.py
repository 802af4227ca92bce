"""Who is signed in: nothing is shown before, and what is saved bears the name.

Without sign-in, which is how it is unless others in the network are let in, nothing is asked.
Everything here goes back to the list of people each time: whoever is taken off it, or is given
another password, is out at the next thing done, also in buttons that were drawn before.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from appraise.accounts.people import MOST_PASSWORD
from appraise.accounts.signing_in import Door, person_of_provider
from appraise.errors import AppraiseError
from appraise.models.people import MOST_NAME, Person
from appraise.screens import only_here
from appraise.services.records.guarding import guarded, may_not
from appraise.services.records.workspace import Workspace
from appraise.settings import Settings
from appraise.store.people import Event
from ui.session.opened import opened
from ui.session.uploads import LONGEST, WINDOWS
from ui.words import plain

__all__ = ["gate", "guard", "header", "may_edit", "name", "need_edit", "noted"]

KEY = "signed-in"
NOTED = "signed-in-noted"
WHO, PASSWORD, ASKED = "sign-in-who", "sign-in-password", "sign-in-asked"
DOOR = Door()


@dataclass(frozen=True, slots=True)
class _Ticket:
    """What a window keeps of who signed in.

    Attributes
    ----------
    password : the hash that the password was right for.
    at : on the clock that never goes back, s.
    """

    name: str
    password: str
    at: float


def gate() -> None:
    """Go on only if somebody is signed in or nobody needs to; call it before anything is shown."""
    settings = Settings()
    if not settings.sign_in:
        address = st.get_option("server.address")
        if address and not only_here(address):
            st.error("Others in the network can reach this, and nobody is asked to sign in.")
            st.write("Start it with: appraise open --lan")
            st.stop()
        return
    found = _person(settings)
    context = get_script_run_ctx()
    if context is not None:
        WINDOWS.note(context.session_id, signed_in=found is not None)
    if found is None:
        _ask(settings)
        st.stop()
    elif settings.sign_in == "provider" and st.session_state.get(NOTED) != found.name:
        st.session_state[NOTED] = found.name
        _note(settings, "signed in", found.name)


def header() -> None:
    """Show who is signed in, and how to sign out."""
    settings = Settings()
    found = _person(settings) if settings.sign_in else None
    if found is None:
        return
    role = "" if found.may_edit else " (may look, not change)"
    st.text(f"{found.name}{role}", width="content")
    st.button("Sign out", key="sign-out", type="tertiary", on_click=_sign_out)


def name() -> str:
    """Return the name of who is signed in, empty where nobody needs to be."""
    settings = Settings()
    found = _person(settings) if settings.sign_in else None
    return "" if found is None else found.name


def may_edit() -> bool:
    """Return whether anything may be saved now."""
    settings = Settings()
    if not settings.sign_in:
        return True
    found = _person(settings)
    return found is not None and found.may_edit


def need_edit() -> None:
    """Refuse whoever may only look; for what is kept elsewhere than in the workspace.

    Raises
    ------
    AppraiseError
        Nobody is signed in, or only to look.
    """
    settings = Settings()
    if settings.sign_in and not _somebody(settings).may_edit:
        raise may_not()


def noted(what: Event) -> None:
    """Write what was done into the log, in the name of who is signed in; nothing where nobody is.

    Raises
    ------
    StoreUnavailable
        The log cannot be written; what was done is done.
    """
    who = name()
    if who:
        _note(Settings(), what, who)


def guard(workspace: Workspace, settings: Settings) -> Workspace:
    """Return the workspace as the one who is signed in has it.

    Raises
    ------
    AppraiseError
        Nobody is signed in who has to be.
    """
    if not settings.sign_in:
        return workspace
    found = _somebody(settings)
    return guarded(workspace, found.name, may_edit=found.may_edit)


def _somebody(settings: Settings) -> Person:
    found = _person(settings)
    if found is None:
        raise AppraiseError("nobody is signed in", hint="Reload the page and sign in.")
    return found


def _person(settings: Settings) -> Person | None:
    """Return who is signed in, as the list has them now."""
    people = opened(settings).people
    if settings.sign_in == "provider":
        return person_of_provider(people.find, st.user.to_dict())
    ticket: _Ticket | None = st.session_state.get(KEY)
    if ticket is None or time.monotonic() - ticket.at > LONGEST:
        return None
    found = people.find(ticket.name)
    return found if found is not None and found.password == ticket.password else None


def _ask(settings: Settings) -> None:
    st.title("Sign in")
    if settings.sign_in == "provider":
        _ask_provider(settings)
        return
    with st.form("sign-in", clear_on_submit=True, width=420):
        st.text_input("Name", max_chars=MOST_NAME, autocomplete="username", key=WHO)
        st.text_input(
            "Password",
            type="password",
            max_chars=MOST_PASSWORD,
            autocomplete="current-password",
            key=PASSWORD,
        )
        st.form_submit_button("Sign in", type="primary", on_click=_knock)
    url = st.context.url
    if isinstance(url, str) and url.startswith("http://"):
        st.caption(
            "This connection is not encrypted: others in the same network could read the password."
        )
    who, password = st.session_state.pop(ASKED, (None, None))
    if who is None:
        return
    try:
        found = DOOR.sign_in(opened(settings).people, who, password, _came_from())
    except AppraiseError as error:
        st.error(plain(str(error)))
        return
    st.session_state.clear()  # what somebody else left in this window
    st.session_state[KEY] = _Ticket(found.name, found.password, time.monotonic())
    st.rerun()


def _knock() -> None:
    """Keep what was typed until the page answers: the form is cleared at once."""
    st.session_state[ASKED] = (st.session_state[WHO], st.session_state[PASSWORD])


def _ask_provider(settings: Settings) -> None:
    if not st.user.to_dict().get("is_logged_in"):
        st.button("Sign in", type="primary", on_click=st.login)
        return
    if NOTED not in st.session_state:
        st.session_state[NOTED] = ""
        _note(settings, "not on the list", "")
    st.error("You are not on the list of people who may come in.")
    st.button("Sign out", key="sign-out", on_click=st.logout)


def _sign_out() -> None:
    settings = Settings()
    found = _person(settings)
    if found is not None:
        _note(settings, "signed out", found.name)
    st.session_state.clear()
    if settings.sign_in == "provider":
        st.logout()


def _note(settings: Settings, what: Event, who: str) -> None:
    opened(settings).people.note(what, who, _came_from())


def _came_from() -> str:
    address = st.context.ip_address
    return address if isinstance(address, str) else ""
