"""Everything that a database holds, out and in again, whole: from either kind to either kind."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from typing import Any

from sqlalchemy import (
    JSON,
    Connection,
    DateTime,
    Engine,
    Integer,
    LargeBinary,
    Select,
    Table,
    Text,
    delete,
    func,
    insert,
    select,
)
from sqlalchemy.exc import IntegrityError

from appraise.errors import StoreUnavailable
from appraise.store.database import keep_others_out, transaction
from appraise.store.own_values import OWN_KEY
from appraise.store.raw import RawText, is_keepable
from appraise.store.tables import Base, CaseRow, FileRow, HistoryRow, PreferencesRow

__all__ = ["TABLES", "amiss", "counts", "key_of", "reading", "replacing", "rows_of"]

TABLES: Mapping[str, Table] = {
    row.__tablename__: row.__table__  # type: ignore[misc]
    for row in (CaseRow, HistoryRow, PreferencesRow, FileRow)
}
AT_ONCE = {"files": 8}  # photos are large
AT_ONCE_USUALLY = 200
LARGEST_NUMBER = 2**31 - 1  # what a column of PostgreSQL takes


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Give a connection that sees the database as it is now, whatever others save meanwhile."""
    with transaction(engine) as connection:
        if connection.dialect.name == "postgresql":
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        else:
            connection.exec_driver_sql("BEGIN")  # the driver begins none for what only reads
        yield connection


def counts(connection: Connection) -> dict[str, int]:
    """Return how many rows each table holds."""
    return {
        name: int(connection.execute(_listed(select(func.count()), name)).scalar_one())
        for name in TABLES
    }


def rows_of(connection: Connection, name: str) -> Iterator[dict[str, Any]]:
    """Yield the rows of a table as plain values: days and moments as text, bytes as they are.

    A document that is none is a text.

    Few are in memory at a time.
    """
    table = TABLES[name]
    statement = _listed(select(table), name).order_by(*table.primary_key.columns)
    few = {"yield_per": _at_once(name)}
    for row in connection.execute(statement, execution_options=few).mappings():
        yield {
            key: value.isoformat() if isinstance(value, datetime) else value
            for key, value in row.items()
        }


def _listed(statement: Select[Any], name: str) -> Select[Any]:
    """Leave out the own values, which leave the database as a text."""
    table = TABLES[name]
    found = statement.select_from(table)
    return found.where(table.c.key != OWN_KEY) if name == PreferencesRow.__tablename__ else found


def key_of(name: str, row: Mapping[str, Any]) -> tuple[Any, ...]:
    """Return what no two rows of a table share."""
    return tuple(row[column.name] for column in TABLES[name].primary_key.columns)


def amiss(name: str, row: Mapping[str, Any]) -> str:
    """Return the first column of a row that the table could not keep; empty if there is none.

    Parameters
    ----------
    row : as `rows_of` yields it, without bytes.
    """
    for column in TABLES[name].columns:
        if isinstance(column.type, LargeBinary):
            continue
        value = row[column.name]
        if value is None:
            good = bool(column.nullable)
        else:
            good = _is_kept(getattr(column.type, "impl", column.type), value)
        if not good:
            return column.name
    return ""


def _is_kept(kind: Any, value: Any) -> bool:  # noqa: ANN401 - whatever stands in a file
    if isinstance(kind, DateTime):
        try:
            moment = datetime.fromisoformat(value)
            return moment.tzinfo is not None and moment.astimezone(UTC) is not None
        except (TypeError, ValueError, OverflowError):
            return False
    if isinstance(kind, Integer):
        return type(value) is int and 0 <= value <= LARGEST_NUMBER
    if isinstance(kind, Text):
        return isinstance(value, str) and is_keepable(value)
    return isinstance(value, (dict, str)) and is_keepable(value)


@contextmanager
def replacing(engine: Engine) -> Iterator[Callable[[Iterable[tuple[str, dict[str, Any]]]], None]]:
    """Give what puts rows in the place of all that the database holds: all of them, or nothing.

    From the first moment on whoever else would save waits, and reads what is there: so nothing is
    replaced that was not seen before. The rows are given with the name of their table, their values
    as `rows_of` yields them.

    Raises
    ------
    StoreUnavailable : the database failed, or does not take them together.
    """
    try:
        with transaction(engine) as connection:
            keep_others_out(connection, *TABLES)
            yield partial(_put_in, connection)
    except IntegrityError as error:
        raise StoreUnavailable(
            "The database does not take these entries together; it was left as it was."
        ) from error


def _put_in(connection: Connection, rows: Iterable[tuple[str, dict[str, Any]]]) -> None:
    for table in TABLES.values():
        connection.execute(delete(table))
    waiting: dict[str, list[dict[str, Any]]] = {name: [] for name in TABLES}
    for name, row in rows:
        waiting[name].append(_typed(TABLES[name], row))
        if len(waiting[name]) >= _at_once(name):
            connection.execute(insert(TABLES[name]), waiting[name])
            waiting[name] = []
    for name, left in waiting.items():
        if left:
            connection.execute(insert(TABLES[name]), left)


def _at_once(name: str) -> int:
    return AT_ONCE.get(name, AT_ONCE_USUALLY)


def _typed(table: Table, row: Mapping[str, Any]) -> dict[str, Any]:
    out = {}
    for column in table.columns:
        value = row[column.name]
        kind = getattr(column.type, "impl", column.type)
        if isinstance(kind, DateTime) and value is not None:
            value = datetime.fromisoformat(value)
        elif isinstance(kind, LargeBinary) and value is not None and not isinstance(value, bytes):
            raise TypeError(f"{table.name}.{column.name} has to be bytes")
        elif isinstance(kind, JSON) and isinstance(value, str):
            value = RawText(value)
        out[column.name] = value
    return out


NEVER_OUT = {"people", "people_log"}
assert set(TABLES) | NEVER_OUT == set(Base.metadata.tables)  # noqa: S101 - a new table is backed up too
