"""The file of a SQLite database, watched: nothing is saved where nobody would find it.

SQLite goes on writing into a file that was moved or deleted, and says that all is well; and it
begins an empty database where it finds none.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import suppress
from stat import S_IMODE
from typing import Any

from sqlalchemy import Engine, event
from sqlalchemy.engine import ExceptionContext
from sqlalchemy.exc import DisconnectionError
from sqlalchemy.pool import ConnectionPoolEntry

from appraise.errors import StoreUnavailable

__all__ = ["watch_file"]

FILE = "file"  # key of what a pooled connection remembers

OPENED_BADLY = {sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR}
"""Primary result codes that stay with a connection after their reason is gone."""


def watch_file(engine: Engine, name: str) -> None:
    """Refuse a connection to a file that was moved away; use anew one that was put back.

    Call it after whatever else listens for new connections: the file is made by their first words.

    Parameters
    ----------
    name : of the database in messages, at the start of a sentence.
    """
    database = engine.url.database or ""
    if not database.startswith("file:"):  # SQLite's own addresses: only it knows which file
        _watch(engine, os.path.abspath(database), name)  # noqa: PTH100 - as the driver does

    @event.listens_for(engine, "handle_error")
    def _(context: ExceptionContext) -> None:
        code = getattr(context.original_exception, "sqlite_errorcode", None)
        if code is not None and code & 0xFF in OPENED_BADLY:
            context.is_disconnect = True  # the next one opens the file anew


def _watch(engine: Engine, path: str, name: str) -> None:
    begun = _identity(path) is not None

    @event.listens_for(engine, "do_connect")
    def _(*_arguments: object) -> None:
        log_left = _size(path + "-wal") > 0  # asked first: whoever makes the file makes it before
        if _identity(path) is None and (begun or log_left):
            raise _gone(name)
        _give_same_rights(path)

    @event.listens_for(engine, "connect")
    def _(_connection: object, record: ConnectionPoolEntry) -> None:
        nonlocal begun
        begun = True
        record.info[FILE] = _identity(path)

    @event.listens_for(engine, "checkout")
    def _(_connection: object, record: ConnectionPoolEntry, _proxy: Any) -> None:  # noqa: ANN401
        present = _identity(path)
        if present is None:
            raise _gone(name)
        if present != record.info[FILE]:
            raise DisconnectionError


def _identity(path: str) -> tuple[int, int, int] | None:
    """Return what stays the same as long as a connection to the file is good; None without one.

    The rights belong to it: a file opened for reading alone stays so when it may be written again.
    """
    try:
        found = os.stat(path)  # noqa: PTH116 - at every use of the database
    except OSError:
        return None
    return found.st_dev, found.st_ino, found.st_mode


def _give_same_rights(path: str) -> None:
    """Give the files beside a database its rights, as SQLite did when it made them.

    It does so once: made while the database could only be read, they would keep it so.
    """
    found = _identity(path)
    for ending in ("-wal", "-shm"):
        beside = _identity(path + ending)
        if found is not None and beside is not None and beside[-1] != found[-1]:
            with suppress(OSError):  # they are somebody else's
                os.chmod(path + ending, S_IMODE(found[-1]))  # noqa: PTH101


def _size(path: str) -> int:
    try:
        return os.path.getsize(path)  # noqa: PTH202 - the same
    except OSError:
        return 0


def _gone(name: str) -> StoreUnavailable:
    return StoreUnavailable(
        f"{name} is no longer there: it was moved or deleted.",
        hint="Put it back where it was, with the files beside it whose names end in -wal and -shm.",
    )
