"""Signing in with a name and a password, slowed down after wrong tries; how sign-in is set up."""

from __future__ import annotations

import secrets
import threading
import time
from collections import OrderedDict, deque
from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache
from importlib.util import find_spec
from math import ceil
from pathlib import Path
from typing import Any, Literal
from urllib.parse import urlsplit

from appraise.accounts.people import MOST_PASSWORD, hasher, plain_password
from appraise.errors import AppraiseError
from appraise.given import file_text, only_mine, toml_of
from appraise.models.people import MOST_NAME, Person, same_name
from appraise.store.people import PeopleStore

__all__ = ["Brake", "Door", "Refused", "person_of_provider", "sign_in_kind"]

TRIES = 5
WAIT = 30.0
FORGET = 900.0
MOST_TRIES = 20
SPAN = 60.0
"""Wrong tries: so many for one name, then so many seconds between two; forgotten after so many
seconds of rest. So many for all names together within so many seconds."""
MOST_NAMES = 1000

WRONG = "Name or password is wrong."
SET_UP = "Set it up: appraise people add NAME --role edit"
PROVIDER_KEYS = (
    "redirect_uri",
    "cookie_secret",
    "client_id",
    "client_secret",
    "server_metadata_url",
)
CALLBACK = "/oauth2callback"
LARGEST_SECRETS = 2**20
LEAST_COOKIE_SECRET = 32
"""Characters; 128 bits if they are hexadecimal."""


class Refused(AppraiseError):
    """Somebody may not come in, or not yet."""


class Brake:
    """Counts wrong tries, for each name and for all together, in bounded memory.

    Parameters
    ----------
    clock : tells seconds that never go back.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._names: OrderedDict[str, tuple[int, float]] = OrderedDict()
        self._last: deque[float] = deque(maxlen=MOST_TRIES)

    def wait(self, name: str) -> float:
        """Return how many seconds have to pass before the next try, 0 if none."""
        now = self._clock()
        waits = [0.0]
        count, at = self._names.get(name, (0, 0.0))
        if count >= TRIES:
            waits.append(at + WAIT - now)
        if len(self._last) == MOST_TRIES:
            waits.append(self._last[0] + SPAN - now)
        return max(waits)

    def wrong(self, name: str) -> None:
        """Count a wrong try."""
        now = self._clock()
        count, at = self._names.pop(name, (0, now))
        self._names[name] = (count + 1 if now - at < FORGET else 1, now)
        if len(self._names) > MOST_NAMES:
            self._names.popitem(last=False)
        self._last.append(now)

    def right(self, name: str) -> None:
        """Forget the wrong tries for a name; those of all together stay counted."""
        self._names.pop(name, None)

    def __len__(self) -> int:
        """Return how many names are remembered."""
        return len(self._names)


@lru_cache(maxsize=1)
def _nobody() -> str:
    """Return the hash of a password that nobody knows, for the same work on unknown names."""
    return hasher().hash(secrets.token_urlsafe())


class Door:
    """The one place where passwords are compared; one for a whole process.

    Tries come one after the other: many at once can neither get round the brake nor take more
    memory than one.
    """

    def __init__(self, brake: Brake | None = None) -> None:
        self._brake = Brake() if brake is None else brake
        self._turn = threading.Lock()

    def sign_in(self, people: PeopleStore, name: str, password: str, came_from: str = "") -> Person:
        """Return the person if the password is right, and note who came or failed to.

        Raises
        ------
        Refused
            Unknown name and wrong password in the same words; or too many wrong tries.
        """
        tried = same_name(name[: MOST_NAME + 1])
        with self._turn:
            wait = self._brake.wait(tried)
            if wait > 0:
                raise Refused(f"Too many wrong tries. Try again in {ceil(wait)} seconds.")
            found = people.find(tried)
            kept = found.password if found is not None and found.password else _nobody()
            given = plain_password(password[: MOST_PASSWORD + 1])
            right = hasher().verify(given, kept)
            if found is None or not found.password or not right:
                self._brake.wrong(tried)
                if found is None:  # what was typed may be a password in the wrong field
                    people.note("unknown name", "", came_from)
                else:
                    people.note("wrong password", found.name, came_from)
                raise Refused(WRONG)
            self._brake.right(tried)
        people.note("signed in", found.name, came_from)
        return found


def person_of_provider(
    find: Callable[[str], Person | None], claims: Mapping[str, Any]
) -> Person | None:
    """Return whom the provider of the log-in vouches for, if on the list without a password.

    The e-mail address counts only as verified, else the subject (OpenID Connect Core 1.0, sections
    5.1 and 5.7: an address alone is no proof of who somebody is).

    Parameters
    ----------
    find : gives the person of a name on the list.
    claims : what the provider says of the one who signed in.
    """
    if claims.get("is_logged_in") is not True:
        return None
    names = [claims.get("email")] if claims.get("email_verified") is True else []
    for name in (*names, claims.get("sub")):
        found = find(name) if isinstance(name, str) and name else None
        if found is not None and not found.password:
            return found
    return None


def sign_in_kind(people: Iterable[Person], secret: Path) -> Literal["people", "provider"]:
    """Return how people sign in: by the local list, or through a provider if secrets name one.

    Parameters
    ----------
    people : all who are on the list.
    secret : the file with the provider; it need not exist.

    Raises
    ------
    AppraiseError
        Neither is set up; the hint says how.
    """
    ways = {bool(one.password) for one in people}
    section = _auth_section(secret)
    if section is not None:
        _check_provider(section, secret)
        if False not in ways:
            raise AppraiseError(
                "nobody is on the list who signs in through the provider",
                where="--lan",
                hint="Add them: appraise people add E-MAIL --role edit --provider",
            )
        return "provider"
    if True not in ways:
        raise AppraiseError("needs people who sign in", where="--lan", hint=SET_UP)
    return "people"


def _auth_section(path: Path) -> dict[str, Any] | None:
    try:
        if not path.exists():
            return None
        only_mine(path)
        raw = toml_of(file_text(path, LARGEST_SECRETS))
    except ValueError as error:
        raise AppraiseError(f"is no TOML: {error}", where=str(path)) from error
    except OSError as error:
        raise AppraiseError(f"cannot be read: {error.strerror}", where=str(path)) from error
    section = raw.get("auth")
    if section is None:
        return None
    if not isinstance(section, dict):
        raise AppraiseError("auth must be a section", where=str(path))
    return section


def _check_provider(section: dict[str, Any], path: Path) -> None:
    if wrong := _wrong_key(section):
        raise AppraiseError(f"auth.{wrong}", where=str(path))
    if find_spec("authlib") is None or find_spec("httpx") is None:
        raise AppraiseError(
            "signing in through a provider needs two more packages",
            where="--lan",
            hint="Install them: pip install 'streamlit[auth]'",
        )


def _wrong_key(section: dict[str, Any]) -> str:
    """Return the first key that is not as it should be, and why; empty if there is none."""
    for key in PROVIDER_KEYS:
        if not isinstance(section.get(key), str) or not section[key].strip():
            return f"{key} is missing"
    if not section["redirect_uri"].endswith(CALLBACK):
        return f"redirect_uri should end in {CALLBACK}"
    if len(section["cookie_secret"]) < LEAST_COOKIE_SECRET:
        return f"cookie_secret should have at least {LEAST_COOKIE_SECRET} characters"
    where = urlsplit(section["server_metadata_url"])
    if where.scheme != "https" and where.hostname not in ("localhost", "127.0.0.1"):
        return "server_metadata_url must begin with https://"
    return ""
