"""The list of those who may sign in, changed; passwords are kept as Argon2 hashes only."""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from typing import TYPE_CHECKING, get_args

from pydantic import ValidationError

from appraise.errors import AppraiseError
from appraise.letters import refused_in_line
from appraise.models.people import Person, Role, same_name
from appraise.models.problems import problems_of
from appraise.store.people import PeopleStore

if TYPE_CHECKING:
    from pwdlib import PasswordHash

__all__ = [
    "LEAST_PASSWORD",
    "MOST_PASSWORD",
    "add_person",
    "hasher",
    "plain_password",
    "remove_person",
    "set_password",
    "set_role",
]

MOST_PEOPLE = 1000
LEAST_PASSWORD = 10
MOST_PASSWORD = 256
"""Characters. A bound keeps a very long one from costing the work of hashing it."""


def plain_password(given: str) -> str:
    """Return a password as it is hashed: the same on every keyboard (RFC 8265, section 4.2)."""
    return unicodedata.normalize("NFC", given)


@lru_cache(maxsize=1)
def hasher() -> PasswordHash:
    """Return what hashes passwords and compares them: Argon2id (RFC 9106)."""
    from pwdlib import PasswordHash  # noqa: PLC0415 - only those who sign in pay for it

    return PasswordHash.recommended()


def add_person(people: PeopleStore, name: str, role: str, password: str | None) -> Person:
    """Add somebody who may sign in.

    Parameters
    ----------
    name : as shown; without a password, the e-mail address that the provider vouches for.
    role : `look` or `edit`.
    password : None for somebody who signs in through the provider of the log-in.

    Raises
    ------
    AppraiseError
        The name, role or password cannot be, or the name is taken.
    """
    _check_role(role)
    try:
        new = Person.model_validate({"name": name, "role": role})
    except ValidationError as error:
        first = problems_of(error)[0]
        raise AppraiseError(first.message, where="NAME", hint=first.hint) from error
    if password is not None:
        new = new.model_copy(update={"password": _hashed(new.name, password)})
    if len(people.everybody()) >= MOST_PEOPLE:
        raise AppraiseError(f"there are {MOST_PEOPLE} people, which is the most", where="NAME")
    if not people.add(new):
        raise AppraiseError(
            f"{new.name!r} is there already",
            where="NAME",
            hint="Change the password: appraise people password NAME",
        )
    return new


def set_password(people: PeopleStore, name: str, password: str) -> Person:
    """Give somebody another password; whoever is signed in under the old one is signed out.

    Raises
    ------
    AppraiseError
        There is nobody of that name, or the password is too short or too long.
    """
    hashed = _hashed(name, password)
    return _known(people.change(name, "password set", password=hashed), name)


def set_role(people: PeopleStore, name: str, role: str) -> Person:
    """Let somebody edit or only look from now on.

    Raises
    ------
    AppraiseError
        There is nobody of that name, or no such role.
    """
    _check_role(role)
    return _known(people.change(name, "role set", role=role), name)


def remove_person(people: PeopleStore, name: str) -> Person:
    """Take somebody off the list; whoever is signed in under that name is signed out.

    Raises
    ------
    AppraiseError
        There is nobody of that name.
    """
    return _known(people.remove(name), name)


def _known(found: Person | None, name: str) -> Person:
    if found is None:
        raise AppraiseError(
            f"there is nobody called {name!r}", where="NAME", hint="See: appraise people list"
        )
    return found


def _check_role(role: str) -> None:
    if role not in get_args(Role):
        raise AppraiseError(f"{role!r} must be look or edit", where="--role")


def _hashed(name: str, password: str) -> str:
    plain = plain_password(password)
    if not LEAST_PASSWORD <= len(plain) <= MOST_PASSWORD:
        raise AppraiseError(
            f"should have {LEAST_PASSWORD} to {MOST_PASSWORD} characters, not {len(plain)}",
            where="password",
        )
    if refused_in_line(plain):
        raise AppraiseError("holds a line break or a control character", where="password")
    if same_name(plain) == same_name(name):
        raise AppraiseError("should not be the name", where="password")
    return hasher().hash(plain)
