"""Windows of one program wait for each other in line, whatever SQLite's own waiting does."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from sqlite3 import Connection
from time import monotonic

import pytest
from sqlalchemy import Engine, event

from appraise.errors import StoreUnavailable
from appraise.models.case import Case
from appraise.store.cases import CaseStore
from appraise.store.database import open_database, transaction

WINDOWS, SAVES = 12, 15


def impatient(url: str, wait_seconds: float) -> Engine:
    """Return a database of which SQLite itself never waits for a writer."""
    engine = open_database(url, wait_seconds=wait_seconds)
    engine.dispose()

    @event.listens_for(engine, "connect")
    def _(connection: Connection, _record: object) -> None:
        connection.execute("PRAGMA busy_timeout = 0")

    return engine


@pytest.fixture
def engine(sqlite_url: str) -> Iterator[Engine]:
    found = impatient(sqlite_url, 30.0)
    yield found
    found.dispose()


def test_nobody_is_told_that_it_is_in_use_by_another_window(
    engine: Engine, full_case: Case
) -> None:
    store = CaseStore(engine)

    def window(number: int) -> int:
        own = full_case.model_copy(update={"id": f"own-{number}"})
        version = store.add(own).version
        for at in range(SAVES):
            version = store.save(own.model_copy(update={"title": f"{at}"}), version).version
        return version

    with ThreadPoolExecutor(WINDOWS) as pool:
        assert list(pool.map(window, range(WINDOWS))) == [1 + SAVES] * WINDOWS


def test_whoever_fails_in_the_middle_lets_the_next_one_write(
    engine: Engine, full_case: Case
) -> None:
    store = CaseStore(engine)
    store.add(full_case)
    for _ in range(3):
        with suppress(RuntimeError), transaction(engine) as connection:
            connection.exec_driver_sql("UPDATE cases SET title = 'half'")
            raise RuntimeError
    began = monotonic()
    with ThreadPoolExecutor(1) as other:
        saved = other.submit(store.save, full_case, 1).result()

    assert saved.version == 2
    assert store.load(full_case.id).case.title == full_case.title
    assert monotonic() - began < 15  # half of what it would wait for one who never lets go


def test_reading_waits_for_nobody(engine: Engine, full_case: Case) -> None:
    store = CaseStore(engine)
    store.add(full_case)
    with ThreadPoolExecutor(1) as other, transaction(engine) as connection:
        connection.exec_driver_sql("UPDATE cases SET title = 'not yet kept'")
        read = other.submit(store.load, full_case.id).result(timeout=15)

    assert read.case.title == full_case.title


def test_another_program_that_writes_is_still_told_of(sqlite_url: str, full_case: Case) -> None:
    engine, another = impatient(sqlite_url, 0.2), impatient(sqlite_url, 0.2)
    store = CaseStore(engine)
    store.add(full_case)
    with transaction(another) as connection:
        connection.exec_driver_sql("UPDATE cases SET title = 'mine'")
        with pytest.raises(StoreUnavailable, match="in use by another program"):
            store.save(full_case, 1)
    assert store.save(full_case.model_copy(update={"title": "Later"}), 1).version == 2
    engine.dispose()
    another.dispose()
