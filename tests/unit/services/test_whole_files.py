"""A small file is written whole or stays as it was."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from appraise.errors import AppraiseError
from appraise.files.whole_files import write_whole
from appraise.services.inspection.log_views import remember_columns, remembered_columns


def full(_: int) -> None:
    raise OSError(28, "No space left on device")


def test_it_takes_the_place_of_what_was_there(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    write_whole(path, b"first")
    write_whole(path, b"second")

    assert path.read_bytes() == b"second"
    assert [one.name for one in tmp_path.iterdir()] == ["a.toml"]


def test_what_cannot_be_written_leaves_it_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.toml"
    write_whole(path, b"first")
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_whole(path, b"second")

    assert path.read_bytes() == b"first"
    assert [one.name for one in tmp_path.iterdir()] == ["a.toml"]


def test_remembered_columns_outlast_a_full_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "log_columns.json"
    remember_columns(file, ["Boost abs=map_kpa"])
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(AppraiseError, match="No space left"):
        remember_columns(file, ["Baro=baro_kpa"])

    assert remembered_columns(file) == {"Boost abs": "map_kpa"}
