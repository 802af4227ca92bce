"""Who may sign in, and the log of who came and went and of what was done to no car."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from pydantic import ValidationError
from sqlalchemy import Connection, delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from appraise.errors import AppraiseError
from appraise.models.people import Person, same_name
from appraise.models.problems import problems_of
from appraise.store.database import Store, transaction
from appraise.store.raw import is_keepable
from appraise.store.tables import NoteRow, PersonRow

__all__ = ["MOST_NOTES", "Event", "Noted", "PeopleStore"]

Event = Literal[
    "signed in",
    "signed out",
    "wrong password",
    "unknown name",
    "not on the list",
    "added",
    "removed",
    "password set",
    "role set",
    "settings saved",
    "own values saved",
    "backup made",
    "backup put back",
]
MOST_NOTES = 100_000
"""Lines of the log; then the oldest are forgotten."""


@dataclass(frozen=True, slots=True)
class Noted:
    """One line of the log.

    Attributes
    ----------
    at : when, in UTC.
    what : what happened.
    who : the name on the list; empty where what was typed is on none: it may be a password.
    came_from : address in the network, empty for this machine.
    """

    at: datetime
    what: str
    who: str
    came_from: str = ""


class PeopleStore(Store):
    """The people in one database, and their log.

    Whatever changes the list is in the log, in the same transaction.
    """

    def everybody(self) -> tuple[Person, ...]:
        """Return all who may sign in, by name.

        Raises
        ------
        AppraiseError : one of them is not as this program keeps them.
        """
        with transaction(self._engine) as connection:
            rows = connection.execute(_PEOPLE.order_by(PersonRow.key)).all()
        return tuple(_person(row) for row in rows)

    def find(self, name: str) -> Person | None:
        """Return the person of that name, however it is written, or None.

        Raises
        ------
        AppraiseError : what is kept is not as this program keeps people.
        """
        with transaction(self._engine) as connection:
            return _found(connection, same_name(name))

    def add(self, person: Person) -> bool:
        """Put somebody on the list; return whether the name was free."""
        row = person.model_dump() | {"key": same_name(person.name)}
        try:
            with transaction(self._engine) as connection:
                connection.execute(insert(PersonRow).values(row))
                self._note(connection, "added", person.name)
        except IntegrityError:
            return False
        return True

    def change(self, name: str, what: Event, **values: str) -> Person | None:
        """Give somebody another role or password; return the person, None if there is none."""
        key = same_name(name)
        with transaction(self._engine) as connection:
            if _found(connection, key) is None:
                return None
            connection.execute(update(PersonRow).where(PersonRow.key == key).values(**values))
            found = _found(connection, key)
            if found is not None:
                self._note(connection, what, found.name)
        return found

    def remove(self, name: str) -> Person | None:
        """Take somebody off the list; return who it was, None if there is nobody of that name."""
        key = same_name(name)
        with transaction(self._engine) as connection:
            found = _found(connection, key)
            if found is not None:
                connection.execute(delete(PersonRow).where(PersonRow.key == key))
                self._note(connection, "removed", found.name)
        return found

    def note(self, what: Event, who: str, came_from: str = "") -> None:
        """Add a line to the log."""
        with transaction(self._engine) as connection:
            self._note(connection, what, who, came_from)

    def noted(self, most: int) -> tuple[Noted, ...]:
        """Return the last lines of the log, the newest first."""
        row = NoteRow
        statement = select(row.at, row.what, row.who, row.came_from).order_by(row.id.desc())
        with transaction(self._engine) as connection:
            rows = connection.execute(statement.limit(most)).all()
        return tuple(Noted(*one) for one in rows)

    def _note(self, connection: Connection, what: Event, who: str, came_from: str = "") -> None:
        row = {"at": self._now(), "what": what, "who": who, "came_from": came_from}
        (number,) = connection.execute(insert(NoteRow).values(row)).inserted_primary_key or (0,)
        connection.execute(delete(NoteRow).where(NoteRow.id <= number - MOST_NOTES))


_PEOPLE = select(PersonRow.name, PersonRow.role, PersonRow.password)


def _found(connection: Connection, key: str) -> Person | None:
    if not is_keepable(key):  # so nobody has it, and not every database can be asked for it
        return None
    row = connection.execute(_PEOPLE.where(PersonRow.key == key)).one_or_none()
    return None if row is None else _person(row)


def _person(row: Any) -> Person:  # noqa: ANN401 - a row of either statement
    try:
        return Person.model_validate(dict(row._mapping))  # noqa: SLF001 - its public name
    except ValidationError as error:
        first = problems_of(error)[0]
        raise AppraiseError(f"{first.where}: {first.message}", where="list of people") from error
