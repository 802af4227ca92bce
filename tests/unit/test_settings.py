"""A setting is a variable of the environment; what is given beats it, what is empty is not set."""

from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import ValidationError

from appraise.settings import Settings


def test_each_setting_is_read_from_its_variable(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", "~/cars")
    monkeypatch.setenv("APPRAISE_DAILY_BACKUP", "false")
    monkeypatch.setenv("APPRAISE_SIGN_IN", "people")
    found = Settings()

    assert found.data_folder == Path.home() / "cars"
    assert not found.daily_backup
    assert found.sign_in == "people"


def test_an_empty_variable_is_not_set(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("APPRAISE_CERTIFICATE", "")

    assert Settings().certificate is None


def test_what_is_given_beats_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("APPRAISE_DATABASE_URL", "postgresql://elsewhere")

    assert (
        Settings(database_url="", data_folder=Path("/here")).url == "sqlite:////here/cases.sqlite"
    )


def test_a_variable_that_cannot_be_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("APPRAISE_SIGN_IN", "everybody")

    with pytest.raises(ValidationError, match="sign_in"):
        Settings()
