"""What each case was at every save: seen, gone back to, and forgotten after a time."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import Connection, Engine, delete, insert, literal, select

from appraise.errors import CaseNotFound
from appraise.models.case import SCHEMA_VERSION, Case
from appraise.store.database import transaction
from appraise.store.documents import from_document
from appraise.store.tables import CaseRow, HistoryRow, utc_now
from appraise.store.upgrades import CASE_UPGRADES

__all__ = ["LEAST_DAYS", "CarSaved", "HistoryStore", "SavedVersion", "note_version"]

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


class HistoryStore:
    """The history of all cases in one database.

    Every method may raise `StoreUnavailable`. May be used from several threads.

    Parameters
    ----------
    engine : from `open_database`.
    now : tells the present moment, with its time zone.
    """

    def __init__(self, engine: Engine, now: Callable[[], datetime] = utc_now) -> None:
        self._engine = engine
        self._now = now

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
        return from_document(
            Case,
            document,
            schema=SCHEMA_VERSION,
            upgrades=CASE_UPGRADES,
            what=f"Version {version} of the case {case_id!r}",
        )

    def documents(self) -> Iterable[dict[str, object]]:
        """Return every document kept, for what hangs on them, such as photos."""
        with transaction(self._engine) as connection:
            for chunk in connection.execute(select(HistoryRow.doc)).scalars().partitions(200):
                yield from chunk

    def forget(self, days: int) -> int:
        """Forget what is older than so many days, and return how many versions and cases that was.

        The version that a case is at now is never forgotten. A case removed longer ago goes with
        all its history.

        Parameters
        ----------
        days : never taken as less than `LEAST_DAYS`.
        """
        before = self._now() - timedelta(days=max(days, LEAST_DAYS))
        gone = select(CaseRow.id).where(
            CaseRow.deleted_at.is_not(None), CaseRow.deleted_at < before
        )
        present = (
            select(CaseRow.id)
            .where(CaseRow.id == HistoryRow.case_id, CaseRow.version == HistoryRow.version)
            .exists()
        )
        with transaction(self._engine) as connection:
            ids = connection.execute(gone).scalars().all()
            count = connection.execute(
                delete(HistoryRow).where(HistoryRow.saved_at < before, ~present)
            ).rowcount
            if ids:
                connection.execute(delete(HistoryRow).where(HistoryRow.case_id.in_(ids)))
                connection.execute(delete(CaseRow).where(CaseRow.id.in_(ids)))
        return int(count) + len(ids)
