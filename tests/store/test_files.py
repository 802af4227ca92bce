"""What the store of photos and PDFs promises, on every kind of database."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from typing import Any

import pytest
from alembic import command
from sqlalchemy import Engine, event, func, inspect, select, update

from appraise.errors import BadFile
from appraise.models.case import Case
from appraise.models.files import LARGEST_FILE
from appraise.store.cases import CaseStore
from appraise.store.database import alembic_config, transaction
from appraise.store.files import AT_ONCE, FileStore, StoredFile
from appraise.store.tables import FileRow

EVERY_BYTE = bytes(range(256)) * 8


@pytest.fixture
def store(engine: Engine, clock: Callable[[], datetime]) -> FileStore:
    return FileStore(engine, now=clock)


def rows(engine: Engine) -> int:
    with transaction(engine) as connection:
        return connection.execute(select(func.count()).select_from(FileRow)).scalar_one()


def heard(engine: Engine) -> list[str]:
    statements: list[str] = []

    def listen(_c: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        statements.append(statement)

    event.listen(engine, "before_cursor_execute", listen)
    return statements


class TestFiles:
    def test_what_is_kept_comes_back_byte_for_byte(self, store: FileStore) -> None:
        file_id = store.put(EVERY_BYTE, "application/pdf", None)

        assert file_id == sha256(EVERY_BYTE).hexdigest()
        assert store.get(file_id) == StoredFile(file_id, "application/pdf", EVERY_BYTE)
        assert type(store.get(file_id).content) is bytes

    def test_the_largest_file_comes_back(self, store: FileStore) -> None:
        content = EVERY_BYTE * (LARGEST_FILE // len(EVERY_BYTE))
        assert len(content) == LARGEST_FILE

        assert store.get(store.put(content, "image/png", b"small")).content == content

    def test_the_same_content_is_kept_once(self, engine: Engine, store: FileStore) -> None:
        first = store.put(EVERY_BYTE, "image/jpeg", b"small")

        assert store.put(EVERY_BYTE, "image/jpeg", b"small") == first
        assert rows(engine) == 1

    def test_content_that_is_there_is_not_sent_again(
        self, engine: Engine, store: FileStore
    ) -> None:
        store.put(EVERY_BYTE, "image/jpeg", b"small")
        statements = heard(engine)
        store.put(EVERY_BYTE, "image/jpeg", b"small")

        assert [one.split()[0] for one in statements] == ["UPDATE", "SELECT"]
        assert "content" not in statements[0]

    def test_content_that_is_damaged_where_it_is_kept_is_whole_once_it_is_added_again(
        self, engine: Engine, store: FileStore
    ) -> None:
        file_id = store.put(EVERY_BYTE, "application/pdf", None)
        with transaction(engine) as connection:
            connection.execute(update(FileRow).values(content=EVERY_BYTE[:-1]))
        store.put(EVERY_BYTE, "application/pdf", None)

        assert store.get(file_id).content == EVERY_BYTE

    def test_content_kept_from_several_sides_at_once_is_kept_once(self, engine: Engine) -> None:
        several = 4
        gate = threading.Barrier(several)

        def keep(_number: int) -> str:
            gate.wait(timeout=30)
            return FileStore(engine).put(EVERY_BYTE * 500, "image/jpeg", b"small")

        with ThreadPoolExecutor(several) as pool:
            ids = set(pool.map(keep, range(several)))
        assert len(ids) == 1
        assert rows(engine) == 1

    @pytest.mark.parametrize("asked", ["0" * 64, "", "%", "x' OR '1'='1"])
    def test_what_is_not_here_is_told(self, store: FileStore, asked: str) -> None:
        store.put(EVERY_BYTE, "image/jpeg", b"small")

        with pytest.raises(BadFile, match="not kept here") as caught:
            store.get(asked)
        assert "Add it again" in caught.value.hint

    def test_what_was_changed_behind_our_back_is_told(
        self, engine: Engine, store: FileStore
    ) -> None:
        file_id = store.put(EVERY_BYTE, "image/jpeg", b"small")
        with transaction(engine) as connection:
            connection.execute(update(FileRow).values(content=EVERY_BYTE[:-1]))

        with pytest.raises(BadFile, match="damaged"):
            store.get(file_id)

    def test_small_pictures_come_together_without_the_files(
        self, engine: Engine, store: FileStore
    ) -> None:
        photo = store.put(b"photo", "image/jpeg", b"small")
        paper = store.put(b"paper", "application/pdf", None)
        other = store.put(b"other", "image/png", b"little")
        statements = heard(engine)

        assert store.thumbnails([photo, paper, "0" * 64, photo]) == {photo: b"small", paper: None}
        assert len(statements) == 1
        assert "content" not in statements[0]
        assert store.thumbnails(iter([other])) == {other: b"little"}
        assert store.thumbnails([]) == {}

    def test_small_pictures_of_very_many_are_asked_for_in_turn(
        self, engine: Engine, store: FileStore
    ) -> None:
        photo = store.put(b"photo", "image/jpeg", b"small")
        statements = heard(engine)
        asked = [f"{number:064x}" for number in range(3 * AT_ONCE - 1)]

        assert store.thumbnails([*asked, photo]) == {photo: b"small"}
        assert len(statements) == 3

    def test_the_content_stands_last_in_its_row(self, engine: Engine) -> None:
        """SQLite reads a row from its beginning: behind 4 MB, a small picture took 500 times."""
        assert inspect(engine).get_columns("files")[-1]["name"] == "content"

    def test_what_nothing_refers_to_is_forgotten_once_it_is_old(
        self, engine: Engine, store: FileStore, clock: Callable[[], datetime]
    ) -> None:
        used = store.put(b"used", "image/jpeg", None)
        old = store.put(b"old", "image/jpeg", None)
        line = clock()
        new = store.put(b"new", "image/jpeg", None)

        assert store.forget_unused([used], line) == 1
        assert set(store.thumbnails([used, old, new])) == {used, new}
        assert store.forget_unused([used], line) == 0
        assert rows(engine) == 2

    def test_what_is_added_again_counts_as_new(
        self, store: FileStore, clock: Callable[[], datetime]
    ) -> None:
        file_id = store.put(b"again", "image/jpeg", None)
        line = clock()
        store.put(b"again", "image/jpeg", None)

        assert store.forget_unused([], line) == 0
        assert store.get(file_id).content == b"again"

    def test_of_very_many_the_unused_are_forgotten(self, engine: Engine) -> None:
        moment = datetime(2026, 1, 1, tzinfo=UTC)
        store = FileStore(engine, now=lambda: moment)
        ids = [store.put(str(n).encode(), "image/jpeg", None) for n in range(AT_ONCE + 20)]
        used = [*ids[:10], *(f"{number:064x}" for number in range(70_000))]

        assert store.forget_unused(used, moment + timedelta(seconds=1)) == AT_ONCE + 10
        assert rows(engine) == 10


def test_a_database_of_before_is_brought_up_with_what_is_in_it(
    url: str, opened: Callable[..., Engine], full_case: Case
) -> None:
    """From step 0001, which knew no files."""
    first = opened(url)
    added = CaseStore(first).add(full_case)
    with transaction(first) as connection:
        command.downgrade(alembic_config(connection), "0001")
    again = opened(url)

    assert CaseStore(again).load(full_case.id) == added
    store = FileStore(again)
    assert store.get(store.put(EVERY_BYTE, "image/jpeg", None)).content == EVERY_BYTE
