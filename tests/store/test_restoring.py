"""A backup put back while others work: no save is lost unsaid, nor overwritten unseen."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, event

from appraise.errors import AppraiseError, CaseChangedElsewhere
from appraise.models.case import Case
from appraise.models.preferences import Preferences
from appraise.services.records.backup import BadBackup, restore, write_backup
from appraise.services.records.workspace import Workspace, open_workspace
from appraise.settings import Settings
from appraise.store.cases import CaseStore

Opened = Callable[..., Engine]


def on(engine: Engine, folder: Path) -> Workspace:
    return Workspace.on(Settings(data_folder=folder), engine)


@pytest.fixture
def workspace(engine: Engine, tmp_path: Path) -> Workspace:
    return on(engine, tmp_path / "data")


@pytest.fixture
def file(workspace: Workspace, tmp_path: Path, small_case: Case) -> Path:
    """Return a backup of a workspace with one car at its first version."""
    workspace.cases.add(small_case)
    target = tmp_path / "all.zip"
    write_backup(workspace, target)
    return target


def titled(case: Case, title: str) -> Case:
    return case.model_copy(update={"title": title})


def before_the_first(engine: Engine, words: str, then: Callable[[], object]) -> list[object]:
    """Do something once, just before the first statement that begins with these words."""
    done: list[object] = []

    @event.listens_for(engine, "before_cursor_execute")
    def _(_1: Any, _2: Any, statement: str, *_rest: Any) -> None:
        if statement.startswith(words) and not done:
            done.append(None)
            then()

    return done


def titles_in(file: Path, tmp_path: Path) -> set[str]:
    """Return what the cars in a backup are called, put back somewhere else."""
    other = open_workspace(Settings(data_folder=tmp_path / f"from-{file.stem}"))
    restore(other, file)
    found = {one.title for one in other.cases.summaries()}
    other.cases.engine.dispose()
    return found


@pytest.mark.parametrize("moment", ["SELECT count", "SELECT files", "DELETE"])
def test_a_save_while_a_backup_is_put_back_is_told_or_in_the_backup_made_first(
    workspace: Workspace,
    file: Path,
    small_case: Case,
    opened: Opened,
    url: str,
    tmp_path: Path,
    moment: str,
) -> None:
    """Before what is here is backed up, while it is, and just before it is deleted."""
    other = CaseStore(opened(url, wait_seconds=0.2))
    told: list[AppraiseError] = []

    def save() -> None:
        try:
            other.save(titled(small_case, "Said to be saved"), 1)
        except AppraiseError as error:
            told.append(error)

    done = before_the_first(workspace.cases.engine, moment, save)
    restore(workspace, file, over=True)

    assert done
    (first,) = (workspace.settings.data_folder / "backups").iterdir()
    assert told or "Said to be saved" in titles_in(first, tmp_path)


def test_a_car_added_while_a_backup_is_put_back_is_not_replaced_unasked(
    workspace: Workspace, file: Path, small_case: Case, opened: Opened, url: str, tmp_path: Path
) -> None:
    """Nothing was kept when it was asked whether --over is needed."""
    fresh = tmp_path / "fresh.zip"
    write_backup(workspace, fresh)
    workspace.cases.remove(small_case.id, 1)
    engine = workspace.cases.engine
    with engine.begin() as connection:
        connection.exec_driver_sql("DELETE FROM cases")
        connection.exec_driver_sql("DELETE FROM history")
    other = CaseStore(opened(url, wait_seconds=0.2))
    told: list[AppraiseError] = []

    def add() -> None:
        try:
            other.add(titled(small_case, "Another"))
        except AppraiseError as error:
            told.append(error)

    before_the_first(engine, "SELECT count", add)
    try:
        restore(workspace, file)
    except BadBackup:
        assert [one.title for one in workspace.cases.summaries()] == ["Another"]
    else:
        assert told


def test_a_window_opened_before_overwrites_nothing_that_has_its_number_by_chance(
    workspace: Workspace, file: Path, small_case: Case
) -> None:
    """Version 3 before is another one than version 3 after."""
    workspace.cases.save(titled(small_case, "Second"), 1)
    window = workspace.cases.save(titled(small_case, "Third"), 2)
    restore(workspace, file, over=True)
    workspace.cases.save(titled(small_case, "Another second"), 1)
    kept = workspace.cases.save(titled(small_case, "Another third"), 2)
    assert kept.version == window.version
    with pytest.raises(CaseChangedElsewhere):
        workspace.cases.save(
            titled(window.case, "Fourth"), window.version, read_at=window.updated_at
        )
    with pytest.raises(CaseChangedElsewhere):
        workspace.cases.remove(small_case.id, window.version, read_at=window.updated_at)

    assert workspace.cases.load(small_case.id) == kept
    assert workspace.cases.save(small_case, kept.version, read_at=kept.updated_at).version == 4


def test_a_car_that_comes_back_under_a_name_is_not_the_one_before(
    workspace: Workspace, file: Path, small_case: Case
) -> None:
    window = workspace.cases.add(small_case.model_copy(update={"id": "other"}))
    restore(workspace, file, over=True)
    workspace.cases.add(small_case.model_copy(update={"id": "other", "title": "Another car"}))
    with pytest.raises(CaseChangedElsewhere):
        workspace.cases.save(window.case, window.version, read_at=window.updated_at)

    assert workspace.cases.load("other").case.title == "Another car"


def test_a_car_put_back_on_the_list_can_be_saved_as_it_was_read(
    workspace: Workspace, small_case: Case
) -> None:
    workspace.cases.add(small_case)
    workspace.cases.remove(small_case.id, 1)
    workspace.cases.put_back(small_case.id)
    back = workspace.cases.load(small_case.id)

    kept = workspace.cases.save(back.case, back.version, read_at=back.updated_at)
    assert kept.version == 4


def test_preferences_are_not_overwritten_by_chance_either(workspace: Workspace, file: Path) -> None:
    window = workspace.preferences.save(Preferences(currency="EUR"), 0)
    restore(workspace, file, over=True)
    workspace.preferences.save(Preferences(currency="GBP"), 0)
    with pytest.raises(CaseChangedElsewhere):
        workspace.preferences.save(
            Preferences(currency="CHF"), window.version, read_at=window.updated_at
        )

    assert workspace.preferences.load().preferences.currency == "GBP"


def test_own_values_that_are_not_in_it_are_gone_and_in_the_backup_made_first(
    workspace: Workspace, file: Path, tmp_path: Path
) -> None:
    """They would change every price of what was put back."""
    workspace.own_values.save("# mine\n")
    said = restore(workspace, file, over=True)
    assert "own values" in said
    assert workspace.own_values.load() == ""

    (first,) = (workspace.settings.data_folder / "backups").iterdir()
    restore(workspace, first, over=True)
    assert workspace.own_values.load() == "# mine\n"
    assert [one.name for one in tmp_path.rglob("*.part")] == []
