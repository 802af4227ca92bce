"""The day's backup begins with the first look at the cars, and stops nothing."""

from __future__ import annotations

import time
from typing import Any

import pytest

from appraise.services import today
from appraise.services.records.backup import backup_name, read_backup


@pytest.fixture
def turned_on(screens: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.setenv("APPRAISE_DAILY_BACKUP", "true")
    return screens


def test_the_first_look_at_the_cars_writes_todays_backup(turned_on: Any) -> None:
    window = turned_on.window("cars")
    assert not window.exception
    file = turned_on.folder / "backups" / backup_name(today())
    for _ in range(200):
        if file.exists():
            break
        time.sleep(0.05)

    assert read_backup(file).rows["cases"]
