"""The part of the settings that says what is kept: days of history, and a backup on demand."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.errors import AppraiseError
from appraise.services import today
from appraise.services.records.backup import DAYS_KEPT, backup_name, daily_backup, read_backup
from appraise.services.records.backup_file import BadBackup
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings
from ui.session import signed_in
from ui.settings import keeping


@pytest.fixture
def window(screens: Any) -> AppTest:
    opened: AppTest = screens.window("settings")
    return opened


def captions(window: AppTest, bare: Any) -> str:
    return " ".join(bare(one.value) for one in window.caption)


def test_the_days_of_history_are_the_persons_own(
    screens: Any, window: AppTest, widget: Any
) -> None:
    assert widget(window, "number_input", "history_days").value == 365
    widget(window, "number_input", "history_days").set_value(90).run()
    assert screens.preferences().history_days == 90


@pytest.mark.parametrize(("days", "words"), [(29, "must be 30 or more"), (None, "whole number")])
def test_fewer_than_thirty_days_are_refused_beside_the_field(
    screens: Any, window: AppTest, widget: Any, days: int | None, words: str
) -> None:
    widget(window, "number_input", "history_days").set_value(days).run()

    assert not window.exception
    found = list(window.main)
    place = next(i for i, one in enumerate(found) if str(one.key).endswith("history_days"))
    assert words in str(found[place + 1].value)
    assert screens.preferences().history_days == 365


def test_a_backup_is_made_at_once_and_is_whole(
    screens: Any, window: AppTest, button: Any, bare: Any
) -> None:
    assert "No backup yet." in captions(window, bare)
    button(window, "Back up now").click().run()

    assert not window.exception
    (file,) = (screens.folder / "backups").glob("*.zip")
    assert file.name in bare(window.success[0].value)
    assert f"Backups: 1, the newest {file.name}" in captions(window, bare)
    assert len(read_backup(file).rows["cases"]) > 0


def test_a_backup_made_on_demand_outlives_those_of_each_day(
    screens: Any, window: AppTest, button: Any
) -> None:

    button(window, "Back up now").click().run()
    folder = screens.folder / "backups"
    (mine,) = folder.glob("*.zip")
    workspace = open_workspace(Settings())
    days = [today() + timedelta(days=number) for number in range(DAYS_KEPT + 2)]
    assert [daily_backup(workspace, one) for one in days] == [None] * len(days)

    assert {one.name for one in folder.glob("*.zip")} == {
        mine.name,
        *(backup_name(one) for one in days[2:]),
    }


def test_a_backup_that_fails_is_said_and_stops_nothing(
    window: AppTest, button: Any, monkeypatch: pytest.MonkeyPatch, bare: Any
) -> None:
    def full(_: object) -> tuple[Path, str]:
        raise BadBackup("cannot be written: No space left on device", where="backups")

    monkeypatch.setattr(keeping, "extra_backup", full)
    button(window, "Back up now").click().run()

    assert not window.exception
    assert "No space left on device" in bare(window.error[0].value)
    assert any(one.label == "Back up now" for one in window.button)


def test_whoever_may_only_look_makes_no_backup(
    screens: Any, window: AppTest, button: Any, monkeypatch: pytest.MonkeyPatch, bare: Any
) -> None:
    def refuse() -> None:
        raise AppraiseError("you may look, not change")

    monkeypatch.setattr(signed_in, "need_edit", refuse)
    button(window, "Back up now").click().run()

    assert "you may look, not change" in bare(window.error[0].value)
    assert not (screens.folder / "backups").exists()
