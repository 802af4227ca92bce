"""Everything that a database holds, out and in again, whole: from either kind to either kind."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from sqlalchemy import (
    Connection,
    DateTime,
    Engine,
    LargeBinary,
    Table,
    delete,
    func,
    insert,
    select,
)

from appraise.store.database import transaction
from appraise.store.tables import Base, CaseRow, FileRow, HistoryRow, PreferencesRow

__all__ = ["TABLES", "counts", "put_in", "reading", "rows_of"]

TABLES: Mapping[str, Table] = {
    row.__tablename__: row.__table__  # type: ignore[misc]
    for row in (CaseRow, HistoryRow, PreferencesRow, FileRow)
}
AT_ONCE = 200


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Give a connection that sees the database as it is now, whatever others save meanwhile."""
    with transaction(engine) as connection:
        if connection.dialect.name == "postgresql":
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        yield connection


def counts(connection: Connection) -> dict[str, int]:
    """Return how many rows each table holds."""
    return {
        name: int(connection.execute(select(func.count()).select_from(table)).scalar_one())
        for name, table in TABLES.items()
    }


def rows_of(connection: Connection, name: str) -> Iterator[dict[str, Any]]:
    """Yield the rows of a table as plain values: days and moments as text, bytes as they are."""
    table = TABLES[name]
    statement = select(table).order_by(*table.primary_key.columns)
    for row in connection.execute(statement).mappings():
        yield {
            key: value.isoformat() if isinstance(value, datetime) else value
            for key, value in row.items()
        }


def put_in(engine: Engine, rows: Iterable[tuple[str, dict[str, Any]]]) -> None:
    """Put these rows in the place of all that the database holds: all of them, or nothing.

    Parameters
    ----------
    rows : name of the table and its values, as `rows_of` yields them.
    """
    with transaction(engine) as connection:
        for table in TABLES.values():
            connection.execute(delete(table))
        waiting: dict[str, list[dict[str, Any]]] = {name: [] for name in TABLES}
        for name, row in rows:
            waiting[name].append(_typed(TABLES[name], row))
            if len(waiting[name]) >= AT_ONCE:
                connection.execute(insert(TABLES[name]), waiting[name])
                waiting[name] = []
        for name, left in waiting.items():
            if left:
                connection.execute(insert(TABLES[name]), left)


def _typed(table: Table, row: Mapping[str, Any]) -> dict[str, Any]:
    out = {}
    for column in table.columns:
        value = row[column.name]
        kind = getattr(column.type, "impl", column.type)
        if isinstance(kind, DateTime) and value is not None:
            value = datetime.fromisoformat(value)
        elif isinstance(kind, LargeBinary) and value is not None and not isinstance(value, bytes):
            raise TypeError(f"{table.name}.{column.name} has to be bytes")
        out[column.name] = value
    return out


assert set(TABLES) == {table.name for table in Base.metadata.sorted_tables}  # noqa: S101 - a new table is backed up too
