"""What each case was at every save: seen, gone back to, and forgotten after a time."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, delete, insert, literal, select

from appraise.errors import CaseNotFound
from appraise.models.case import Case
from appraise.store.ageing import SavedAt, line_before, replaced_before
from appraise.store.database import Store, keep_others_out, transaction
from appraise.store.documents import case_of
from appraise.store.tables import CaseRow, HistoryRow

__all__ = [
    "LEAST_DAYS",
    "CarSaved",
    "HistoryStore",
    "SavedVersion",
    "documents_since",
    "note_version",
    "saves_of",
]

LEAST_DAYS = 30
"""Nothing removed or replaced is forgotten sooner."""


@dataclass(frozen=True, slots=True)
class SavedVersion:
    """One save of a case.

    Attributes
    ----------
    who : name of the person; empty where nobody signed in.
    what : added, saved, gone back, removed, put back, kept.
    """

    version: int
    saved_at: datetime
    who: str
    what: str


@dataclass(frozen=True, slots=True)
class CarSaved:
    """One save of any case.

    Attributes
    ----------
    title : what the case is called now.
    who, what : as in `SavedVersion`.
    """

    case_id: str
    title: str
    saved_at: datetime
    who: str
    what: str


def note_version(
    connection: Connection, case_id: str, moment: datetime, who: str, what: str
) -> None:
    """Keep what is stored of a case now as a version of its history, in the same transaction."""
    columns = ("case_id", "version", "schema", "saved_at", "who", "what", "doc")
    moment_column = HistoryRow.__table__.c.saved_at.type
    stored = select(
        CaseRow.id,
        CaseRow.version,
        CaseRow.schema,
        literal(moment, moment_column),
        literal(who),
        literal(what),
        CaseRow.doc,
    ).where(CaseRow.id == case_id)
    connection.execute(insert(HistoryRow).from_select(columns, stored))


class HistoryStore(Store):
    """The history of all cases in one database."""

    def versions(self, case_id: str, most: int = 200) -> tuple[SavedVersion, ...]:
        """Return the saves of a case, the last first."""
        statement = (
            select(HistoryRow.version, HistoryRow.saved_at, HistoryRow.who, HistoryRow.what)
            .where(HistoryRow.case_id == case_id)
            .order_by(HistoryRow.version.desc())
            .limit(most)
        )
        with transaction(self._engine) as connection:
            rows = connection.execute(statement).all()
        return tuple(SavedVersion(row.version, row.saved_at, row.who, row.what) for row in rows)

    def latest(self, most: int = 200) -> tuple[CarSaved, ...]:
        """Return the last saves of all cases, those removed among them, the newest first."""
        row = HistoryRow
        statement = (
            select(row.case_id, CaseRow.title, row.saved_at, row.who, row.what)
            .join(CaseRow, CaseRow.id == row.case_id)
            .order_by(row.saved_at.desc(), row.case_id, row.version.desc())
            .limit(most)
        )
        with transaction(self._engine) as connection:
            rows = connection.execute(statement).all()
        return tuple(CarSaved(*one) for one in rows)

    def load(self, case_id: str, version: int) -> Case:
        """Return a case as it was at a version.

        Raises
        ------
        CaseNotFound : that version was never there, or is forgotten.
        NewerSchema, BadCase : it cannot be read.
        """
        statement = select(HistoryRow.doc).where(
            HistoryRow.case_id == case_id, HistoryRow.version == version
        )
        with transaction(self._engine) as connection:
            document = connection.execute(statement).scalar_one_or_none()
        if document is None:
            raise CaseNotFound(
                f"Version {version} of the case {case_id!r} is not kept.",
                hint="Choose another one.",
            )
        return case_of(document, case_id, f"Version {version} of the case {case_id!r}")

    def line(self, days: int) -> datetime | None:
        """Return the moment that so many days lie behind, as far as the clock can be believed.

        None if that many days are not known to lie behind: a clock that jumped ahead proves none.
        """
        with transaction(self._engine) as connection:
            moments = connection.execute(select(HistoryRow.saved_at)).scalars().all()
        return line_before(moments, self._now(), days)

    def forget(self, days: int) -> int:
        """Forget what was replaced so many days ago; return how many versions and cases that was.

        The version that a case is at now is never forgotten. A case removed longer ago goes with
        all its history. Days are counted as by `line`.

        Parameters
        ----------
        days : never taken as less than `LEAST_DAYS`.
        """
        with transaction(self._engine) as connection:
            keep_others_out(connection, "cases", "history")
            saves = saves_of(connection)
            moments = (one.saved_at for one in saves)
            line = line_before(moments, self._now(), max(days, LEAST_DAYS))
            if line is None:
                return 0
            first, last = replaced_before(saves, line)
            removed = connection.execute(
                select(CaseRow.id, CaseRow.deleted_at).where(CaseRow.deleted_at < line)
            ).all()
            gone = [row.id for row in removed if last.get(row.id, row.deleted_at) < line]
            count = sum(
                connection.execute(
                    delete(HistoryRow).where(
                        HistoryRow.case_id == case_id, HistoryRow.version < version
                    )
                ).rowcount
                for case_id, version in first.items()
            )
            for case_id in gone:
                connection.execute(delete(HistoryRow).where(HistoryRow.case_id == case_id))
                connection.execute(delete(CaseRow).where(CaseRow.id == case_id))
        return int(count) + len(gone)


def saves_of(connection: Connection) -> list[SavedAt]:
    """Return every save that is kept, those of one case together and in their order."""
    row = HistoryRow
    statement = select(row.case_id, row.version, row.saved_at).order_by(row.case_id, row.version)
    return [SavedAt(*one) for one in connection.execute(statement)]


def documents_since(
    connection: Connection, known: Collection[SavedAt]
) -> Iterator[dict[str, object]]:
    """Yield what was saved since those saves were all that there were."""
    for one in saves_of(connection):
        if one not in known:
            statement = select(HistoryRow.doc).where(
                HistoryRow.case_id == one.case_id, HistoryRow.version == one.version
            )
            yield connection.execute(statement).scalar_one()
