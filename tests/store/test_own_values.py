"""Own values: kept whole, saved only over what was read, and taken over from their old file."""

from __future__ import annotations

import sqlite3
from base64 import b64encode
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine

from appraise.errors import AppraiseError, BadReference, CaseChangedElsewhere
from appraise.services.records.backup import read_backup, write_backup
from appraise.services.records.own_values import kept_own_text, save_own_text
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings
from appraise.store.database import transaction
from appraise.store.own_values import OwnValuesStore

OLD = (Path(__file__).parent / "old" / "0003.sql").read_text(encoding="utf-8")
LONG = "# a line of a person's own\n" * 4_000


@pytest.fixture
def store(engine: Engine) -> OwnValuesStore:
    return OwnValuesStore(engine)


def test_they_come_back_as_they_were_typed(store: OwnValuesStore) -> None:
    assert store.load() == ""
    for text in ("# Größe 🚗\r\n\tx = 'a\\b'\n", LONG, ""):
        store.save(text)
        assert store.load() == text


def test_what_was_saved_since_it_was_read_is_not_overwritten(store: OwnValuesStore) -> None:
    save_own_text(store, "# first\n", read="")
    save_own_text(store, "# second\n", read="# first\n")
    with pytest.raises(CaseChangedElsewhere, match="saved elsewhere"):
        save_own_text(store, "# third\n", read="# first\n")

    assert store.load() == "# second\n"


def test_what_does_not_hold_together_leaves_what_was_there(store: OwnValuesStore) -> None:
    save_own_text(store, "# first\n")
    with pytest.raises(BadReference):
        save_own_text(store, "[[value", read="# first\n")

    assert store.load() == "# first\n"


def test_of_several_that_read_the_same_one_saves(url: str, opened: Callable[..., Engine]) -> None:
    """Each through a connection of its own, as programs of their own have."""
    stores = [OwnValuesStore(opened(url)) for _ in range(4)]

    def save(number: int) -> str:
        text = f"{LONG}# number {number}\n"
        try:
            stores[number].save(text, read="")
        except CaseChangedElsewhere:
            return ""
        return text

    with ThreadPoolExecutor(len(stores)) as pool:
        (saved,) = filter(None, pool.map(save, range(len(stores))))
    assert stores[0].load() == saved


def test_what_is_damaged_where_it_is_kept_is_handed_on_as_it_is(store: OwnValuesStore) -> None:
    store.save("# first\n")
    with transaction(store._engine) as connection:
        connection.exec_driver_sql("""UPDATE preferences SET doc = '"cut sh"'""")

    assert "cut sh" in store.load()


# --- taken over -----------------------------------------------------------------------------------


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """Return the data folder of the program before, with own values in their file."""
    folder = tmp_path / "data"
    folder.mkdir()
    with sqlite3.connect(folder / "cases.sqlite") as connection:
        connection.executescript(OLD)
    connection.close()
    (folder / "own_values.toml").write_bytes("\ufeff# Größe\r\n".encode())
    return folder


def waiting(folder: Path, own: bytes | None, instead_of: bytes) -> None:
    """Leave what a restore left that was killed before it could put own values in place."""
    text = "null" if own is None else f'"{b64encode(own).decode()}"'
    doc = f'{{"own_values": {text}, "instead_of": "{sha256(instead_of).hexdigest()}"}}'
    row = ("own values to be put back", 1, "2026-11-25 14:22:43.726538", doc)
    with sqlite3.connect(folder / "cases.sqlite") as connection:
        connection.execute("INSERT INTO preferences VALUES (?, ?, ?, ?)", row)
    connection.close()


def own_text(folder: Path) -> str:
    return kept_own_text(Settings(data_folder=folder, database_url=""))


def test_the_file_of_an_older_program_is_taken_over_once(old: Path) -> None:
    assert own_text(old) == "# Größe\r\n"
    assert sorted(one.name for one in old.glob("own*")) == ["own_values.toml.old"]

    (old / "own_values.toml").write_text("# put there later\n")
    assert own_text(old) == "# Größe\r\n"


def test_own_values_without_a_database_are_taken_over_too(tmp_path: Path) -> None:
    (tmp_path / "own_values.toml").write_text("# mine\n")
    assert Settings(data_folder=tmp_path, database_url="").has_database
    assert own_text(tmp_path) == "# mine\n"


def test_own_values_that_cannot_be_taken_over_stop_the_opening_and_stay(old: Path) -> None:
    with (old / "own_values.toml").open("wb") as file:
        file.truncate(17 * 2**20)
    with pytest.raises(AppraiseError, match=r"own_values\.toml: is larger than 16 MB"):
        own_text(old)
    assert [one.name for one in old.glob("own*")] == ["own_values.toml"]

    (old / "own_values.toml").write_text("# mended\n")
    assert own_text(old) == "# mended\n"


@pytest.mark.parametrize(
    ("own", "instead_of", "kept"),
    [
        (b"# theirs\n", "\ufeff# Größe\r\n".encode(), "# theirs\n"),
        (None, "\ufeff# Größe\r\n".encode(), ""),
        (b"# theirs\n", b"# others\n", "# Größe\r\n"),
    ],
)
def test_what_a_killed_restore_of_an_older_program_owes_is_done(
    old: Path, tmp_path: Path, own: bytes | None, instead_of: bytes, kept: str
) -> None:
    """If the file is still the one that it was to replace."""
    waiting(old, own, instead_of)
    assert own_text(old) == kept

    workspace = open_workspace(Settings(data_folder=old, database_url=""))
    write_backup(workspace, tmp_path / "after.zip")
    workspace.cases.engine.dispose()
    found: Any = read_backup(tmp_path / "after.zip")
    assert (found.counts["preferences"], found.own_values or b"") == (1, kept.encode())
