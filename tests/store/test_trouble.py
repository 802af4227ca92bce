"""Trouble where the cars are kept: told in clear words, and over once its reason is gone.

Each test saves before the trouble, is refused in it, and saves after it with the same store, as a
program that stays open does.
"""

from __future__ import annotations

import os
import resource
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, Engine, event

from appraise.errors import StoreUnavailable
from appraise.models.case import Case
from appraise.services.records.backup import BadBackup, write_backup
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings
from appraise.store.cases import CaseStore
from appraise.store.files import FileStore
from appraise.store.history import HistoryStore

Opened = Callable[..., Engine]
NOBODY = 65534
LARGE = b"%PDF-1.4 " + os.urandom(400_000)


def title_of(case: Case, title: str) -> Case:
    return case.model_copy(update={"title": title})


def refused(work: Callable[[], object], words: str) -> str:
    """Assert that it is refused in one line that holds these words and says what to do."""
    with pytest.raises(StoreUnavailable, match=words) as caught:
        work()
    assert caught.value.hint, "says what to do"
    assert "\n" not in str(caught.value)
    return str(caught.value)


def assert_whole(store: CaseStore, case: Case, version: int) -> None:
    """Assert that a case is at a version, and its history says the same."""
    stored = store.load(case.id)
    history = HistoryStore(store.engine)
    assert (stored.version, stored.case) == (version, case)
    assert history.versions(case.id, 1)[0].version == version
    assert history.load(case.id, version) == case


# --- the disk is full -----------------------------------------------------------------------------


def test_a_full_disk_is_told_and_saving_goes_on_once_there_is_room(
    sqlite_url: str, opened: Opened, small_case: Case
) -> None:
    """SQLite's own limit of pages: its answer is the one of a disk without room (SQLITE_FULL)."""
    engine = opened(sqlite_url)
    store, files = CaseStore(engine), FileStore(engine)
    store.add(small_case)
    room = {"pages": 0}

    @event.listens_for(engine, "begin")
    def _(connection: Connection) -> None:
        now = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
        most = now if room["pages"] == 0 else room["pages"]
        connection.exec_driver_sql(f"PRAGMA max_page_count = {most}")

    refused(lambda: files.put(LARGE, "application/pdf", None), "disk is full")
    refused(lambda: fill(store, small_case), "disk is full")
    room["pages"] = 100_000
    version = store.load(small_case.id).version
    after = title_of(small_case, "After")
    assert store.save(after, version).version == version + 1
    assert_whole(store, after, version + 1)
    assert files.get(files.put(LARGE, "application/pdf", None)).content == LARGE


def fill(store: CaseStore, case: Case) -> None:
    """Save until it is refused; a page that is not full yet takes some."""
    version = store.load(case.id).version
    for number in range(200):
        version = store.save(title_of(case, f"Title {number}"), version).version


@contextmanager
def no_file_grows_over(size: int) -> Iterator[None]:
    """Let the system refuse to write beyond so many bytes of any file, as a full disk does."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_a_system_that_writes_no_more_is_told(
    tmp_path: Path, sqlite_url: str, opened: Opened, small_case: Case
) -> None:
    engine = opened(sqlite_url)
    store, files = CaseStore(engine), FileStore(engine)
    store.add(small_case)
    largest = max(one.stat().st_size for one in tmp_path.iterdir())
    with no_file_grows_over(largest + 4096):
        refused(lambda: files.put(LARGE, "application/pdf", None), "cannot be read or written")
    after = title_of(small_case, "After")
    assert store.save(after, 1).version == 2
    assert_whole(store, after, 2)
    assert files.get(files.put(LARGE, "application/pdf", None)).content == LARGE


@pytest.mark.server
def test_a_servers_full_disk_is_told(postgresql_url: str, opened: Opened, small_case: Case) -> None:
    """The server's answer for a disk without room (SQLSTATE 53100, disk_full), given by a trigger.

    Source: PostgreSQL documentation, appendix A, error codes, class 53.
    """
    engine = opened(postgresql_url)
    store = CaseStore(engine)
    store.add(small_case)
    with engine.begin() as connection:
        connection.exec_driver_sql(
            "CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            "RAISE EXCEPTION 'could not extend file' USING ERRCODE = 'disk_full'; END $$"
        )
        connection.exec_driver_sql(
            "CREATE TRIGGER full_disk BEFORE INSERT ON history "
            "FOR EACH ROW EXECUTE FUNCTION full_disk()"
        )
    refused(lambda: store.save(title_of(small_case, "Lost"), 1), "disk is full")
    assert_whole(store, small_case, 1)
    with engine.begin() as connection:
        connection.exec_driver_sql("DROP TRIGGER full_disk ON history")
    after = title_of(small_case, "After")
    assert store.save(after, 1).version == 2
    assert_whole(store, after, 2)


def test_a_backup_without_room_leaves_nothing_half_written(
    tmp_path: Path, small_case: Case
) -> None:
    workspace = open_workspace(Settings(data_folder=tmp_path / "data"))
    workspace.files.put(LARGE, "application/pdf", None)
    folder = tmp_path / "backups"
    folder.mkdir()
    with no_file_grows_over(100_000), pytest.raises(BadBackup, match="cannot be written"):
        write_backup(workspace, folder / "all.zip")
    assert list(folder.iterdir()) == []

    workspace.cases.add(small_case)
    write_backup(workspace, folder / "all.zip")
    assert [one.name for one in folder.iterdir()] == ["all.zip"]
    workspace.cases.engine.dispose()


# --- another program holds it ---------------------------------------------------------------------

HOLD = """
import sqlite3, sys
other = sqlite3.connect(sys.argv[1], isolation_level=None)
other.execute("BEGIN IMMEDIATE")
print("held", flush=True)
sys.stdin.read()
"""


def test_a_database_that_another_process_holds_is_told_and_saving_goes_on_afterwards(
    tmp_path: Path, sqlite_url: str, opened: Opened, small_case: Case
) -> None:
    store = CaseStore(opened(sqlite_url, wait_seconds=0.3))
    store.add(small_case)
    with subprocess.Popen(  # noqa: S603 - our own words only
        [sys.executable, "-c", HOLD, str(tmp_path / "cases.sqlite")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        refused(lambda: store.save(title_of(small_case, "Lost"), 1), "in use by another program")
        assert_whole(store, small_case, 1)  # it can be read all the while
        other.communicate()

    after = title_of(small_case, "After")
    assert store.save(after, 1).version == 2
    assert_whole(store, after, 2)


# --- gone and back --------------------------------------------------------------------------------


def moved(file: Path, folder: Path) -> Callable[[], None]:
    """Move a database with the files beside it, and return what moves them back."""
    folder.mkdir()
    names = [one for one in file.parent.iterdir() if one.name.startswith(file.name)]
    for one in names:
        one.rename(folder / one.name)

    def back() -> None:
        for one in names:
            (folder / one.name).rename(one)

    return back


def test_a_file_moved_away_takes_no_save_that_nobody_would_find(
    tmp_path: Path, sqlite_url: str, opened: Opened, small_case: Case
) -> None:
    store = CaseStore(opened(sqlite_url))
    store.add(small_case)
    file = tmp_path / "cases.sqlite"
    back = moved(file, tmp_path / "away")
    for _ in range(2):
        refused(lambda: store.save(title_of(small_case, "Lost"), 1), "no longer there")
        refused(lambda: store.load(small_case.id), "no longer there")
    assert not file.exists(), "no empty database is begun in its place"

    back()
    after = title_of(small_case, "After")
    assert store.save(after, 1).version == 2
    assert_whole(store, after, 2)


def test_a_file_moved_without_the_log_beside_it_is_not_begun_anew(
    tmp_path: Path, sqlite_url: str, opened: Opened, small_case: Case
) -> None:
    """SQLite would delete that log, and with it whatever was saved last."""
    store = CaseStore(opened(sqlite_url))
    store.add(small_case)
    store.save(title_of(small_case, "Second"), 1)
    file = tmp_path / "cases.sqlite"
    file.rename(tmp_path / "away.sqlite")
    assert (tmp_path / "cases.sqlite-wal").stat().st_size > 0
    refused(lambda: opened(sqlite_url), "no longer there")
    assert not file.exists()

    (tmp_path / "away.sqlite").rename(file)
    assert_whole(CaseStore(opened(sqlite_url)), title_of(small_case, "Second"), 2)
    assert store.save(small_case, 2).version == 3


def test_another_file_in_its_place_is_the_one_that_is_used(
    tmp_path: Path, opened: Opened, small_case: Case, full_case: Case
) -> None:
    file = tmp_path / "cases.sqlite"
    store = CaseStore(opened(f"sqlite:///{file}"))
    store.add(small_case)
    other = CaseStore(opened(f"sqlite:///{tmp_path / 'other.sqlite'}"))
    other.add(full_case)
    other.engine.dispose()
    moved(file, tmp_path / "away")
    (tmp_path / "other.sqlite").rename(file)

    assert [one.id for one in store.summaries()] == [full_case.id]
    assert store.save(title_of(full_case, "After"), 1).version == 2
    with closing(sqlite3.connect(file)) as read:
        assert read.execute("SELECT title FROM cases").fetchall() == [("After",)]


@pytest.mark.server
def test_a_server_stopped_and_started_again_is_told_and_saving_goes_on(
    postgresql_server: Any, postgresql_url: str, opened: Opened, small_case: Case
) -> None:
    server = postgresql_server
    store = CaseStore(opened(postgresql_url, wait_seconds=2))
    store.add(small_case)
    assert server._run("pg_ctl", "-w", "-m", "fast", "stop") == 0
    try:
        for _ in range(2):
            said = refused(
                lambda: store.save(title_of(small_case, "Lost"), 1),
                r"cannot be reached|was shut down",
            )
            assert "server" in said
    finally:
        options = f"-p {server.port} -h 127.0.0.1 -k {server._folder} -F"
        assert server._run("pg_ctl", "-w", "-t", "60", "-o", options, "start") == 0

    after = title_of(small_case, "After")
    assert store.save(after, 1).version == 2
    assert_whole(store, after, 2)


# --- may only be read -----------------------------------------------------------------------------


@contextmanager
def as_somebody_whom_rights_bind() -> Iterator[None]:
    """Act as a user without special rights; rights do not bind the superuser."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)


def hand_over(folder: Path) -> None:
    """Make all of it the user's whom rights bind."""
    if os.geteuid() == 0:
        for one in (folder, *folder.iterdir()):
            os.chown(one, NOBODY, NOBODY)


@pytest.fixture
def folder() -> Iterator[Path]:
    """Return a folder to be handed over; the usual one is closed to all but its owner."""
    made = Path(tempfile.mkdtemp(prefix="appraise-"))
    hand_over(made)
    try:
        yield made
    finally:
        made.chmod(0o700)
        shutil.rmtree(made)


@pytest.fixture
def closed(folder: Path, opened: Opened, small_case: Case) -> Iterator[CaseStore]:
    """Return a store with a case and no connection, as at the start of the program."""
    store = CaseStore(opened(f"sqlite:///{folder / 'cases.sqlite'}"))
    store.add(small_case)
    store.engine.dispose()
    hand_over(folder)
    yield store
    store.engine.dispose()


def test_a_file_that_may_only_be_read_is_told_until_it_may_be_written(
    folder: Path, closed: CaseStore, small_case: Case
) -> None:
    file = folder / "cases.sqlite"
    with as_somebody_whom_rights_bind():
        file.chmod(0o400)
        for _ in range(2):
            said = refused(
                lambda: closed.save(title_of(small_case, "Lost"), 1), "can be read, but not written"
            )
            assert "who may write" in said
            assert_whole(closed, small_case, 1)

        file.chmod(0o600)
        after = title_of(small_case, "After")
        assert closed.save(after, 1).version == 2
        assert_whole(closed, after, 2)


def test_a_folder_that_may_only_be_read_is_told_until_it_may_be_written(
    folder: Path, closed: CaseStore, small_case: Case
) -> None:
    """SQLite needs to make files beside the database."""
    with as_somebody_whom_rights_bind():
        folder.chmod(0o500)
        for _ in range(2):
            said = refused(
                lambda: closed.save(title_of(small_case, "Lost"), 1),
                "can be read, but not written|cannot be opened",
            )
            assert "folder" in said

        folder.chmod(0o700)
        after = title_of(small_case, "After")
        assert closed.save(after, 1).version == 2
        assert_whole(closed, after, 2)


def test_a_fresh_database_in_a_folder_that_may_only_be_read_is_refused_and_made_later(
    folder: Path, opened: Opened, small_case: Case
) -> None:
    address = f"sqlite:///{folder / 'cases.sqlite'}"
    with as_somebody_whom_rights_bind():
        folder.chmod(0o500)
        refused(lambda: opened(address), "cannot be opened")
        folder.chmod(0o700)
    assert CaseStore(opened(address)).add(small_case).version == 1


def test_a_disk_that_was_mounted_for_reading_alone_is_told_until_it_is_not(
    tmp_path: Path, sqlite_url: str, opened: Opened, small_case: Case
) -> None:
    """Nothing about the file shows it; a connection opened meanwhile can never write."""
    engine = opened(sqlite_url)
    store = CaseStore(engine)
    store.add(small_case)
    engine.dispose()
    mounted = {"mode": "ro"}

    @event.listens_for(engine, "do_connect")
    def _(*_arguments: object) -> sqlite3.Connection:
        address = f"file:{tmp_path / 'cases.sqlite'}?mode={mounted['mode']}"
        return sqlite3.connect(address, uri=True, check_same_thread=False)

    refused(lambda: store.save(title_of(small_case, "Lost"), 1), "can be read, but not written")
    mounted["mode"] = "rw"
    after = title_of(small_case, "After")
    assert store.save(after, 1).version == 2
    assert_whole(store, after, 2)


def test_a_backup_into_a_folder_that_may_only_be_read_is_told(folder: Path, tmp_path: Path) -> None:
    workspace = open_workspace(Settings(data_folder=tmp_path / "data"))
    workspace.cases.summaries()  # open before rights bind
    folder.chmod(0o500)
    with as_somebody_whom_rights_bind(), pytest.raises(BadBackup, match="cannot be"):
        write_backup(workspace, folder / "all.zip")
    assert list(folder.iterdir()) == []
    workspace.cases.engine.dispose()
