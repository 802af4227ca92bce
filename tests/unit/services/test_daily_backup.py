"""Backups that take the place of others: the good ones outlast bad ones, and a clock gone wrong."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from appraise.services.records import backup
from appraise.services.records.backup import (
    DAYS_KEPT,
    BadBackup,
    backup_name,
    daily_backup,
    read_backup,
    restore,
    write_backup,
)
from appraise.services.records.workspace import Workspace, open_workspace
from appraise.settings import Settings

DAY = date(2026, 3, 1)


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Workspace]:
    opened = open_workspace(Settings(data_folder=tmp_path / "data"))
    yield opened
    opened.cases.engine.dispose()


@pytest.fixture
def folder(place: Workspace) -> Path:
    return place.settings.data_folder / "backups"


def spoil(workspace: Workspace) -> None:
    """Make a car that no program can read."""
    with workspace.cases.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE cases SET doc = json_set(doc, '$.vehicle', 3)")


def spoil_a_row(workspace: Workspace) -> None:
    """Make a row that no backup may hold."""
    with workspace.cases.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE history SET version = -version WHERE version = 1")


# --- the good one stays ---------------------------------------------------------------------------


def test_what_is_no_backup_when_it_is_read_back_gets_no_name(
    place: Workspace, folder: Path, tmp_path: Path
) -> None:
    """Else nobody would write another one that day."""
    spoil_a_row(place)
    with pytest.raises(BadBackup, match=r"cannot be made: .*version is not what can be kept"):
        write_backup(place, tmp_path / "all.zip")
    assert list(tmp_path.glob("*.zip")) == []
    for _ in range(2):
        found = daily_backup(place, DAY)
        assert found is not None
        assert "could not be written" in found.message
    assert list(folder.iterdir()) == []


def test_nothing_is_replaced_while_what_is_here_cannot_be_backed_up_whole(
    place: Workspace, folder: Path, tmp_path: Path
) -> None:
    write_backup(place, tmp_path / "all.zip")
    first = place.cases.load(place.cases.summaries()[0].id)
    place.cases.save(first.case.model_copy(update={"title": "Mine"}), 1)
    spoil_a_row(place)
    with pytest.raises(BadBackup, match="cannot be backed up first"):
        restore(place, tmp_path / "all.zip", over=True)

    with place.cases.engine.begin() as connection:
        spoilt = connection.exec_driver_sql("SELECT count(*) FROM history WHERE version < 0")
        assert spoilt.scalar_one() > 0
    assert list(folder.iterdir()) == []


def test_what_was_changed_and_changed_back_is_backed_up_before_it_is_replaced(
    place: Workspace, folder: Path, tmp_path: Path
) -> None:
    """The examples are as they came, but their history is a person's own."""
    write_backup(place, tmp_path / "all.zip")
    first = place.cases.load(place.cases.summaries()[0].id)
    place.cases.save(first.case.model_copy(update={"title": "Mine"}), 1)
    place.cases.save(first.case, 2)
    restore(place, tmp_path / "all.zip")

    (kept,) = folder.iterdir()
    restore(place, kept, over=True)
    assert place.history.load(first.case.id, 2).title == "Mine"


def test_a_car_that_cannot_be_read_is_in_the_days_backup_like_any_other(
    place: Workspace, folder: Path
) -> None:
    spoil(place)

    assert daily_backup(place, DAY) is None
    assert read_backup(folder / backup_name(DAY)).unreadable == len(place.cases.summaries())


# --- the clock ------------------------------------------------------------------------------------


def test_a_clock_that_jumps_ahead_leaves_the_last_backups(place: Workspace, folder: Path) -> None:
    days = [DAY + timedelta(days=number) for number in range(DAYS_KEPT)]
    for one in days:
        assert daily_backup(place, one) is None
    assert daily_backup(place, DAY + timedelta(days=4_000)) is None

    names = {one.name for one in folder.iterdir()}
    assert names >= {backup_name(one) for one in days[1:]}


def test_a_clock_that_jumps_back_leaves_every_backup(place: Workspace, folder: Path) -> None:
    days = [DAY + timedelta(days=number) for number in range(3)]
    for one in (*days, DAY - timedelta(days=4_000)):
        assert daily_backup(place, one) is None

    assert len(list(folder.iterdir())) == 4


# --- two at once ----------------------------------------------------------------------------------


def test_two_that_write_the_days_backup_at_once_are_both_content(
    place: Workspace, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    written = backup._written
    others: list[Any] = []

    def slow(*arguments: Any) -> str:
        if not others:
            others.append(None)
            others.append(daily_backup(place, DAY))
        return written(*arguments)

    monkeypatch.setattr(backup, "_written", slow)

    assert daily_backup(place, DAY) is None
    assert others == [None, None]
    assert [one.name for one in folder.iterdir()] == [backup_name(DAY)]
    assert read_backup(folder / backup_name(DAY)).counts["cases"] > 0
