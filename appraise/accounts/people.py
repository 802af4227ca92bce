"""Who may sign in: a list in a file of the data folder, passwords kept as Argon2 hashes only."""

from __future__ import annotations

import os
import unicodedata
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, get_args

import tomli_w
from pydantic import AfterValidator, BeforeValidator, Field, StringConstraints, ValidationError

from appraise.errors import AppraiseError, StoreUnavailable
from appraise.files.held_file import open_alone
from appraise.given import file_text, toml_of
from appraise.letters import JOINERS, cleaned, refused_in_line
from appraise.models.base import Model
from appraise.models.problems import problems_of

if TYPE_CHECKING:
    from pwdlib import PasswordHash

__all__ = [
    "LEAST_PASSWORD",
    "MOST_NAME",
    "MOST_PASSWORD",
    "People",
    "Person",
    "Role",
    "add_person",
    "find_person",
    "hasher",
    "only_mine",
    "plain_password",
    "read_people",
    "remove_person",
    "same_name",
    "set_password",
    "set_role",
]

Role = Literal["look", "edit"]
"""`look` sees everything and saves nothing; `edit` may do both."""

MOST_NAME = 100
MOST_PEOPLE = 1000
LEAST_PASSWORD = 10
MOST_PASSWORD = 256
"""Characters. A bound keeps a very long one from costing the work of hashing it."""
LARGEST_LIST = 2**20
"""Bytes; a thousand people with their hashes take a fifth of it."""
OTHERS = 0o077
"""What anybody but the owner may do with a file (POSIX permission bits)."""
WAIT = 5.0
"""Seconds to wait while somebody else changes the list, which takes a moment."""
POSIX = os.name == "posix"
WITHOUT_JOINERS = dict.fromkeys(map(ord, JOINERS))


def _name(text: Any) -> Any:  # noqa: ANN401 - whatever stands in the file
    if not isinstance(text, str):
        return text
    plain = cleaned(text)
    if refused_in_line(plain):
        raise ValueError("holds a line break or a character that cannot be seen")
    return unicodedata.normalize("NFC", plain)


def _hash(text: str) -> str:
    if text and not text.startswith("$argon2id$"):
        raise ValueError("is no Argon2id hash; set it with: appraise people password NAME")
    return text


class Person(Model):
    """Somebody who may sign in; without a password only through the provider of the log-in."""

    name: Annotated[
        str, StringConstraints(min_length=1, max_length=MOST_NAME), BeforeValidator(_name)
    ]
    role: Role
    password: Annotated[str, AfterValidator(_hash)] = Field(default="", repr=False)

    @property
    def may_edit(self) -> bool:
        """Whether this person may save anything."""
        return self.role == "edit"


class People(Model):
    """Everybody who may sign in."""

    person: tuple[Person, ...] = Field(default=(), max_length=MOST_PEOPLE)


def same_name(name: str) -> str:
    """Return what a name is compared by: neither capitals nor ways of writing a letter count.

    Examples
    --------
    >>> same_name(" Ada ") == same_name("ada")
    True
    """
    return unicodedata.normalize("NFKC", cleaned(name)).translate(WITHOUT_JOINERS).casefold()


def find_person(people: tuple[Person, ...], name: str) -> Person | None:
    """Return the person of that name, however it is written, or None."""
    wanted = same_name(name)
    return next((one for one in people if same_name(one.name) == wanted), None)


def plain_password(given: str) -> str:
    """Return a password as it is hashed: the same on every keyboard (RFC 8265, section 4.2)."""
    return unicodedata.normalize("NFC", given)


@lru_cache(maxsize=1)
def hasher() -> PasswordHash:
    """Return what hashes passwords and compares them: Argon2id (RFC 9106)."""
    from pwdlib import PasswordHash  # noqa: PLC0415 - only those who sign in pay for it

    return PasswordHash.recommended()


def only_mine(path: Path) -> None:
    """Refuse a file with secrets that others on this machine can read or change (POSIX only).

    Raises
    ------
    AppraiseError
        They can; the hint says how to take that away.
    """
    if POSIX and path.stat().st_mode & OTHERS:
        raise AppraiseError(
            "can be read or changed by others on this machine",
            where=str(path),
            hint=f"Take that away: chmod 600 '{path}'",
        )


def read_people(path: Path) -> tuple[Person, ...]:
    """Return everybody who may sign in; nobody if there is no such file.

    Raises
    ------
    AppraiseError
        The file can be read by others, or is not what it should be.
    """
    try:
        found = path.stat()
        only_mine(path)
        return _read(path, (found.st_mtime_ns, found.st_size, found.st_ino))
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise AppraiseError(f"cannot be read: {error.strerror}", where=str(path)) from error


@lru_cache(maxsize=4)
def _read(path: Path, state: tuple[int, int, int]) -> tuple[Person, ...]:
    """Read the file as it was in a state: time, size and place on the disk."""
    del state
    try:
        people = People.model_validate(toml_of(file_text(path, LARGEST_LIST))).person
    except ValidationError as error:
        first = problems_of(error)[0]
        raise AppraiseError(f"{first.where}: {first.message}", where=str(path)) from error
    except ValueError as error:
        raise AppraiseError(f"is no TOML: {error}", where=str(path)) from error
    names = Counter(same_name(one.name) for one in people)
    twice = next((one for one, count in names.items() if count > 1), None)
    if twice is not None:
        raise AppraiseError(f"{twice!r} is in it twice", where=str(path), hint="Take one out.")
    return people


def add_person(path: Path, name: str, role: str, password: str | None) -> Person:
    """Add somebody who may sign in.

    Parameters
    ----------
    path : the list of people.
    name : as shown; without a password, the e-mail address that the provider vouches for.
    role : `look` or `edit`.
    password : None for somebody who signs in through the provider of the log-in.

    Raises
    ------
    AppraiseError
        The name, role or password cannot be, or the name is taken.
    """
    new = _person(name, role, "")
    if password is not None:
        new = new.model_copy(update={"password": _hashed(new.name, password)})
    with _changing(path) as people:
        if find_person(tuple(people), new.name) is not None:
            raise AppraiseError(
                f"{new.name!r} is there already",
                where="NAME",
                hint="Change the password: appraise people password NAME",
            )
        if len(people) >= MOST_PEOPLE:
            raise AppraiseError(f"there are {MOST_PEOPLE} people, which is the most", where="NAME")
        people.append(new)
    return new


def set_password(path: Path, name: str, password: str) -> Person:
    """Give somebody another password; whoever is signed in under the old one is signed out.

    Raises
    ------
    AppraiseError
        There is nobody of that name, or the password is too short or too long.
    """
    hashed = _hashed(name, password)
    with _changing(path) as people:
        old = _known(people, name)
        new = old.model_copy(update={"password": hashed})
        people[people.index(old)] = new
    return new


def set_role(path: Path, name: str, role: str) -> Person:
    """Let somebody edit or only look from now on.

    Raises
    ------
    AppraiseError
        There is nobody of that name, or no such role.
    """
    with _changing(path) as people:
        old = _known(people, name)
        new = _person(old.name, role, old.password)
        people[people.index(old)] = new
    return new


def remove_person(path: Path, name: str) -> Person:
    """Take somebody off the list; whoever is signed in under that name is signed out.

    Raises
    ------
    AppraiseError
        There is nobody of that name.
    """
    with _changing(path) as people:
        old = _known(people, name)
        people.remove(old)
    return old


def _known(people: list[Person], name: str) -> Person:
    found = find_person(tuple(people), name)
    if found is None:
        raise AppraiseError(
            f"there is nobody called {name!r}", where="NAME", hint="See: appraise people list"
        )
    return found


def _person(name: str, role: str, hashed: str) -> Person:
    if role not in get_args(Role):
        raise AppraiseError(f"{role!r} must be look or edit", where="--role")
    try:
        return Person.model_validate({"name": name, "role": role, "password": hashed})
    except ValidationError as error:
        first = problems_of(error)[0]
        raise AppraiseError(first.message, where="NAME", hint=first.hint) from error


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


@contextmanager
def _changing(path: Path) -> Iterator[list[Person]]:
    """Give the list to be changed, and write it whole or not at all.

    The new file is held before the old one is read, and only one can hold it: nobody else can
    change the list meanwhile. One left by a program that was killed is held by nobody, and written
    over; but on Windows nothing tells it from one that is being written.
    """
    beside = path.with_suffix(".new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = open_alone(beside, os.O_WRONLY | (0 if POSIX else os.O_EXCL), WAIT)
    except (BlockingIOError, FileExistsError) as error:
        raise StoreUnavailable(
            "is there: the list is being changed by somebody else just now",
            where=str(beside),
            hint="Try again in a moment." if POSIX else "Try again; if it stays, remove that file.",
        ) from error
    except OSError as error:
        raise StoreUnavailable(f"cannot be written: {error.strerror}", where=str(path)) from error
    ours = True
    held = ExitStack()
    held.callback(os.close, handle)
    try:
        with os.fdopen(handle, "wb", closefd=False) as new:
            if POSIX:
                os.fchmod(handle, 0o600)
                os.ftruncate(handle, 0)
            people = list(read_people(path))
            yield people
            new.write(_text(people).encode())
            new.flush()
            os.fsync(handle)
        if not POSIX:  # it moves and deletes no file that is open
            held.close()
        beside.replace(path)
        ours = False  # whatever has that name from now on is somebody else's
    except OSError as error:
        raise StoreUnavailable(f"cannot be written: {error.strerror}", where=str(path)) from error
    finally:
        if not POSIX:
            held.close()
        if ours:
            with suppress(OSError):
                beside.unlink(missing_ok=True)
        held.close()


def _text(people: list[Person]) -> str:
    rows: list[dict[str, Any]] = [one.model_dump(exclude_defaults=True) for one in people]
    return tomli_w.dumps({"person": rows})
