"""The disk is full in the middle of it: told in one line, nothing lost, done once there is room.

The same work as in `test_killed_elsewhere`, refused room from its first step on, then from its
second, until it comes to its end.
"""

from __future__ import annotations

import errno
import os
import resource
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, Engine, event

from appraise.errors import AppraiseError

LEAST_LIMIT = 40_000
"""Bytes; SQLite opens no file whose index of the log, of 32 KiB, may not be written."""
STEP = 9_001
NEEDS_NO_ROOM = {"unlink", "mkdir"}
"""The folders are there."""


def told(work: Callable[[], object]) -> str:
    """Do work; return the words in which it is refused, empty if it comes to its end."""
    try:
        work()
    except AppraiseError as error:
        said = str(error)
        assert "\n" not in said
        return said
    return ""


@contextmanager
def full_from(number: int, steps: Any) -> Iterator[list[str]]:
    """Refuse room to each step on files from the one of that number on; give their names."""
    names: list[str] = []

    def stop(name: str, half: Callable[[], object]) -> None:
        if name in NEEDS_NO_ROOM:
            return
        names.append(name)
        if len(names) == number:
            half()
        if len(names) >= number:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with pytest.MonkeyPatch.context() as patch:
        steps(patch, stop)
        yield names


def test_full_at_each_of_its_steps(trial: Any, steps: Any) -> None:
    tried: dict[object, Any] = {}
    for number in count(1):
        folder = trial.fresh()
        with full_from(number, steps) as names:
            said = told(partial(trial.work.do, folder))
        found = trial.assert_good(folder, tried)
        assert not said or found != trial.new or trial.work.migrates, "what is told is so"
        nothing_half(folder)
        if len(names) < number:
            break
        assert not said or "No space left on device" in said
    assert not said
    makes_backups = trial.old.backups != trial.new.backups or trial.old.own != trial.new.own
    assert (number > 5) == makes_backups


def nothing_half(folder: Path) -> None:
    """Assert that nothing is left beside what it was written for."""
    assert [one.name for one in folder.rglob("*") if one.suffix in (".part", ".new")] == []


@contextmanager
def no_file_grows_over(size: int) -> Iterator[None]:
    """Let the system refuse to write beyond so many bytes of any file."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_full_in_the_middle_of_a_write(trial: Any) -> None:
    """Refused by the system itself, also to SQLite, which has written up to there."""
    tried: dict[object, Any] = {}
    for limit in count(LEAST_LIMIT, STEP):
        folder = trial.fresh()
        with no_file_grows_over(limit):
            said = told(partial(trial.work.do, folder))
        found = trial.assert_good(folder, tried)
        assert not said or found != trial.new or trial.work.migrates, "what is told is so"
        nothing_half(folder)
        if not said:
            break
        assert "cannot be read or written" in said or "File too large" in said
    assert limit > LEAST_LIMIT


@contextmanager
def most_pages(over: int, folder: Path) -> Iterator[None]:
    """Let the database have so many pages more than now; SQLite answers as on a full disk."""
    most = (folder / "cases.sqlite").stat().st_size // 4096 + over

    def listen(connection: Connection) -> None:
        connection.exec_driver_sql(f"PRAGMA max_page_count = {most}")

    event.listen(Engine, "begin", listen)
    try:
        yield
    finally:
        event.remove(Engine, "begin", listen)


def test_the_database_finds_no_room(trial: Any) -> None:
    tried: dict[object, Any] = {}
    for over in count():
        folder = trial.fresh()
        with most_pages(over, folder):
            said = told(partial(trial.work.do, folder))
        found = trial.assert_good(folder, tried)
        assert not said or found != trial.new or trial.work.migrates, "what is told is so"
        nothing_half(folder)
        if not said:
            break
        assert "the disk is full" in said
    grows = (
        trial.work.migrates or trial.old.photos < trial.new.photos or trial.old.own != trial.new.own
    )
    assert bool(over) == grows
