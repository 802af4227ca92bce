"""Cases kept: list, load, add, save, remove, put back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import (
    JSON,
    Connection,
    Engine,
    Row,
    func,
    insert,
    select,
    type_coerce,
    update,
)
from sqlalchemy import case as when
from sqlalchemy.exc import IntegrityError

from appraise.errors import BadCase, CaseChangedElsewhere, CaseNotFound, Problem
from appraise.models.case import Case
from appraise.store.database import Store, transaction
from appraise.store.documents import case_of, to_document
from appraise.store.history import note_version
from appraise.store.raw import text_of
from appraise.store.tables import CaseRow, utc_now

__all__ = ["CaseStore", "CaseSummary", "SaleRecord", "StoredCase"]

ON_THE_MARKET = ("on_sale", "sold")


@dataclass(frozen=True, slots=True)
class CaseSummary:
    """One line of the list of cases.

    Attributes
    ----------
    standing : as in `Standing`, or a word that only a newer version of this program knows.
    version : rises with every change of what is stored.
    updated_at : when the case itself was last saved, in UTC.
    """

    id: str
    title: str
    standing: str
    version: int
    updated_at: datetime


@dataclass(frozen=True, slots=True)
class StoredCase:
    """A case with the version that has to be handed back to save it."""

    case: Case
    version: int
    updated_at: datetime


@dataclass(frozen=True, slots=True)
class SaleRecord:
    """What is kept of a car that is offered or sold.

    Attributes
    ----------
    sale : the case's `sale` as stored; None if it says nothing of it.
    bought_on : as stored, year-month-day; None if it says none.
    mark : the mark on its title as entered.
    """

    id: str
    title: str
    standing: str
    sale: dict[str, Any] | None
    bought_on: str | None
    mark: str | None


class CaseStore(Store):
    """The cases in one database.

    Nobody overwrites what they have not seen: saving and removing take the version that was read,
    and fail if it is no longer the stored one. A number alone may come again after an older copy of
    the database was put back; whoever waits long between reading and saving says `read_at` too.

    Parameters
    ----------
    who : name of the person, for the history.
    """

    def __init__(
        self, engine: Engine, now: Callable[[], datetime] = utc_now, *, who: str = ""
    ) -> None:
        super().__init__(engine, now)
        self._who = who

    @property
    def engine(self) -> Engine:
        """The database, for what concerns all of it."""
        return self._engine

    def summaries(self) -> tuple[CaseSummary, ...]:
        """Return a line for each case, the last saved first."""
        return self._list(removed=False)

    def removed(self) -> tuple[CaseSummary, ...]:
        """Return a line for each removed case, the last removed first."""
        return self._list(removed=True)

    def sales(self) -> tuple[SaleRecord, ...]:
        """Return every car offered or sold, also those taken off the list: they count all the same.

        Reads these fields alone, not the whole documents.
        """
        doc: Any = CaseRow.doc
        if self._engine.dialect.name == "sqlite":  # it keeps any text, and stops at what is no JSON
            doc = type_coerce(when((func.json_valid(CaseRow.doc) == 1, CaseRow.doc)), JSON)
        statement = (
            select(
                CaseRow.id,
                CaseRow.title,
                CaseRow.standing,
                doc["sale"].label("sale"),
                doc["purchase"]["bought_on"].as_string().label("bought_on"),
                doc["vehicle"]["title_brand"].as_string().label("mark"),
            )
            .where(CaseRow.standing.in_(ON_THE_MARKET))
            .order_by(CaseRow.id)
        )
        with transaction(self._engine) as connection:
            rows = connection.execute(statement).all()
        return tuple(
            SaleRecord(row.id, row.title, row.standing, row.sale, row.bought_on, row.mark)
            for row in rows
        )

    def load(self, case_id: str) -> StoredCase:
        """Return the case as it was last saved.

        Raises
        ------
        CaseNotFound : there is none of that id, or it was removed.
        NewerSchema : a newer version of this program has saved it.
        BadCase : what is stored is cut short, does not fit the model, or is another car.
        """
        with transaction(self._engine) as connection:
            row = _row(connection, case_id)
        case = case_of(row.doc, case_id, f"The stored case {case_id!r}")
        return StoredCase(case=case, version=row.version, updated_at=row.updated_at)

    def add(self, case: Case) -> StoredCase:
        """Keep a new case, as version 1.

        Raises
        ------
        BadCase : its id is taken, be it by a removed case, or a text cannot be kept.
        """
        moment = self._now()
        values = _values(case)
        try:
            with transaction(self._engine) as connection:
                connection.execute(
                    insert(CaseRow).values(
                        id=case.id, version=1, created_at=moment, updated_at=moment, **values
                    )
                )
                note_version(connection, case.id, moment, self._who, "added")
        except IntegrityError as error:
            problem = Problem(
                where="id",
                message=f"there is already a case called {case.id!r}, perhaps a removed one",
                weight="stop",
                hint="Choose another id.",
            )
            raise BadCase((problem,)) from error
        return StoredCase(case=case, version=1, updated_at=moment)

    def save(
        self,
        case: Case,
        version: int,
        *,
        what: str = "saved",
        read_at: datetime | None = None,
    ) -> StoredCase:
        """Keep a changed case.

        Parameters
        ----------
        version : the one that was read before the change.
        read_at : its `updated_at`.
        what : what was done, for the history.

        Raises
        ------
        CaseChangedElsewhere : it was saved by somebody else since then.
        CaseNotFound : there is none of that id, or it was removed.
        BadCase : a text cannot be kept.
        """
        moment = self._now()
        note = (moment, what)
        self._change(case.id, (version, read_at), note, updated_at=moment, **_values(case))
        return StoredCase(case=case, version=version + 1, updated_at=moment)

    def remove(self, case_id: str, version: int, *, read_at: datetime | None = None) -> None:
        """Take a case out of the list; `put_back` undoes it.

        Parameters
        ----------
        version, read_at : as for `save`.

        Raises
        ------
        CaseChangedElsewhere : it was saved by somebody else since `version` was read.
        CaseNotFound : there is none of that id, or it was removed already.
        """
        moment = self._now()
        self._change(case_id, (version, read_at), (moment, "removed"), deleted_at=moment)

    def raw_text(self, case_id: str) -> str:
        """Return what is kept of a case as the text of a file, whether it can be read or not.

        Raises
        ------
        CaseNotFound : there never was one of that id.
        """
        statement = select(CaseRow.doc).where(CaseRow.id == case_id)
        with transaction(self._engine) as connection:
            document = connection.execute(statement).scalar_one_or_none()
        if document is None:
            raise CaseNotFound(f"There is no case called {case_id!r}.")
        return text_of(document)

    def put_back(self, case_id: str) -> None:
        """Return a removed case to the list as it was; one that is there stays as it is.

        Raises
        ------
        CaseNotFound : there never was one of that id.
        """
        with transaction(self._engine) as connection:
            changed = connection.execute(
                update(CaseRow)
                .where(CaseRow.id == case_id, CaseRow.deleted_at.is_not(None))
                .values(deleted_at=None, version=CaseRow.version + 1)
            )
            _row(connection, case_id)
            if changed.rowcount:
                note_version(connection, case_id, self._now(), self._who, "put back")

    def _list(self, *, removed: bool) -> tuple[CaseSummary, ...]:
        order = CaseRow.deleted_at if removed else CaseRow.updated_at
        wanted = CaseRow.deleted_at.is_not(None) if removed else CaseRow.deleted_at.is_(None)
        statement = (
            select(CaseRow.id, CaseRow.title, CaseRow.standing, CaseRow.version, CaseRow.updated_at)
            .where(wanted)
            .order_by(order.desc(), CaseRow.id)
        )
        with transaction(self._engine) as connection:
            rows = connection.execute(statement).all()
        return tuple(
            CaseSummary(
                id=row.id,
                title=row.title,
                standing=row.standing,
                version=row.version,
                updated_at=row.updated_at,
            )
            for row in rows
        )

    def _change(
        self,
        case_id: str,
        read: tuple[int, datetime | None],
        note: tuple[datetime, str],
        **values: object,
    ) -> None:
        version, read_at = read
        seen = [CaseRow.version == version]
        if read_at is not None:
            seen.append(CaseRow.updated_at == read_at)
        with transaction(self._engine) as connection:
            # One statement, so that nothing can come between the check and the change.
            changed = connection.execute(
                update(CaseRow)
                .where(CaseRow.id == case_id, CaseRow.deleted_at.is_(None), *seen)
                .values(version=version + 1, **values)
            )
            if changed.rowcount != 1:
                _row(connection, case_id)
                raise CaseChangedElsewhere(
                    f"The case {case_id!r} was saved elsewhere after it was opened here.",
                    hint="Open it again, or save yours under another id.",
                )
            moment, what = note
            note_version(connection, case_id, moment, self._who, what)


def _row(connection: Connection, case_id: str) -> Row[Any]:
    row = connection.execute(
        select(CaseRow.version, CaseRow.updated_at, CaseRow.deleted_at, CaseRow.doc).where(
            CaseRow.id == case_id
        )
    ).one_or_none()
    if row is None:
        raise CaseNotFound(f"There is no case called {case_id!r}.")
    if row.deleted_at is not None:
        raise CaseNotFound(f"The case {case_id!r} was removed.", hint="Put it back to use it.")
    return row


def _values(case: Case) -> dict[str, object]:
    return {
        "schema": case.schema_version,
        "title": case.title,
        "standing": case.standing.value,
        "doc": to_document(case),
    }
