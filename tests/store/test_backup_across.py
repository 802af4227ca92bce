"""A backup made of one kind of database and put back into the other, and again the other way."""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
from PIL import Image
from sqlalchemy import Engine, event

from appraise.models.case import Case
from appraise.models.preferences import Preferences
from appraise.services.records.backup import restore, write_backup
from appraise.services.records.workspace import Workspace
from appraise.settings import Settings
from appraise.store.cases import CaseStore

PHOTO = b"%PDF-1.4 " + bytes(range(256)) * 40


def small_picture() -> bytes:
    out = BytesIO()
    Image.new("RGB", (4, 3), (250, 20, 20)).save(out, "JPEG")
    return out.getvalue()


SMALL = small_picture()

pytestmark = pytest.mark.server


def workspace_on(engine: Engine, folder: Path) -> Workspace:
    folder.mkdir()
    return Workspace.on(Settings(data_folder=folder), engine)


def lists(file: Path) -> dict[str, bytes]:
    """Return the members but the manifest, which has the moment in it."""
    with ZipFile(file) as archive:
        return {name: archive.read(name) for name in archive.namelist() if "manifest" not in name}


def rows(file: Path) -> dict[str, Any]:
    import json  # noqa: PLC0415

    return {
        name: [json.loads(line) for line in data.splitlines()]
        for name, data in lists(file).items()
        if name.endswith(".jsonl")
    }


def test_there_and_back_again_nothing_is_lost(
    tmp_path: Path,
    sqlite_url: str,
    postgresql_url: str,
    opened: Callable[..., Engine],
    full_case: Case,
    small_case: Case,
) -> None:
    here = workspace_on(opened(sqlite_url), tmp_path / "here")
    title = 'Ärger with "quotes", a \\ and 🚗'
    CaseStore(here.cases.engine, who="Ada").add(full_case)
    renamed = full_case.model_copy(update={"title": title})
    CaseStore(here.cases.engine, who="Bo").save(renamed, 1)
    here.cases.add(small_case)
    here.cases.remove(small_case.id, 1)
    here.files.put(PHOTO, "application/pdf", SMALL)
    here.preferences.save(Preferences(currency="EUR"), 0)
    there = workspace_on(opened(postgresql_url), tmp_path / "there")
    write_backup(here, tmp_path / "one.zip")
    restore(there, tmp_path / "one.zip")

    assert there.cases.load(full_case.id) == here.cases.load(full_case.id)
    assert there.cases.removed() == here.cases.removed()
    assert there.history.versions(full_case.id) == here.history.versions(full_case.id)
    assert there.history.load(full_case.id, 1) == full_case
    assert there.files.get(sha256(PHOTO).hexdigest()).content == PHOTO
    assert there.preferences.load() == here.preferences.load()
    assert there.cases.save(full_case, 2).version == 3, "saving goes on from where it was"

    write_backup(there, tmp_path / "two.zip")
    restore(here, tmp_path / "two.zip", over=True)
    write_backup(here, tmp_path / "three.zip")
    assert rows(tmp_path / "three.zip") == rows(tmp_path / "two.zip")
    assert here.cases.load(full_case.id).version == 3


def test_what_others_save_meanwhile_is_in_it_whole_or_not_at_all(
    tmp_path: Path, postgresql_url: str, opened: Callable[..., Engine], small_case: Case
) -> None:
    """On the server too: a save between the cars and their history is in neither."""
    engine = opened(postgresql_url)
    here, second = workspace_on(engine, tmp_path / "here"), CaseStore(engine)
    here.cases.add(small_case)
    saved: list[int] = []

    @event.listens_for(engine, "before_cursor_execute")
    def _(_1: Any, _2: Any, statement: str, *_rest: Any) -> None:
        if "FROM history ORDER BY" in statement and not saved:
            saved.append(0)  # before the save, which comes here too
            saved.append(second.save(small_case, 1).version)

    write_backup(here, tmp_path / "one.zip")
    found = rows(tmp_path / "one.zip")
    assert saved == [0, 2]
    assert [row["version"] for row in found["cases.jsonl"]] == [1]
    assert [row["version"] for row in found["history.jsonl"]] == [1]
