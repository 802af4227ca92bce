"""Everything in one file and back again, from either kind of database to either kind."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile

import pytest
from PIL import Image
from sqlalchemy import Engine

from appraise.models.case import SCHEMA_VERSION, Case
from appraise.services.records.backup import (
    DAYS_KEPT,
    MANIFEST,
    BadBackup,
    backup_name,
    daily_backup,
    read_backup,
    restore,
    write_backup,
)
from appraise.services.records.workspace import Workspace, open_workspace
from appraise.settings import Settings
from appraise.store.cases import CaseStore

PHOTO = b"%PDF-1.4 a photo in all but name " * 200


def small_picture() -> bytes:
    out = BytesIO()
    Image.new("RGB", (4, 3), (250, 20, 20)).save(out, "JPEG")
    return out.getvalue()


SMALL = small_picture()


@pytest.fixture
def workspace(engine: Engine, tmp_path: Path) -> Workspace:
    """Return an empty workspace on each kind of database."""
    return Workspace.on(Settings(data_folder=tmp_path / "data"), engine)


@pytest.fixture
def filled(workspace: Workspace, full_case: Case, small_case: Case) -> Workspace:
    """Return it with a car changed, one removed, a photo, preferences and own values."""
    CaseStore(workspace.cases.engine, who="Ada").add(full_case)
    workspace.cases.save(full_case.model_copy(update={"title": "Changed"}), 1)
    workspace.cases.add(small_case)
    workspace.cases.remove(small_case.id, 1)
    workspace.files.put(PHOTO, "application/pdf", SMALL)
    stored = workspace.preferences.load()
    workspace.preferences.save(
        stored.preferences.model_copy(update={"currency": "EUR"}), stored.version
    )
    workspace.own_values.save("# mine\n")
    return workspace


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Workspace]:
    """Return another workspace, on SQLite, with the examples as they came."""
    opened = open_workspace(Settings(data_folder=tmp_path / "other"))
    yield opened
    opened.cases.engine.dispose()


def everything(workspace: Workspace, car: str) -> Any:
    return (
        workspace.cases.summaries(),
        workspace.cases.removed(),
        workspace.cases.load(car),
        workspace.history.versions(car),
        workspace.preferences.load(),
        workspace.files.get(sha256(PHOTO).hexdigest()),
        workspace.files.thumbnails([sha256(PHOTO).hexdigest()]),
    )


def test_all_of_it_comes_back_in_another_place(
    filled: Workspace, other: Workspace, tmp_path: Path, full_case: Case
) -> None:
    file = tmp_path / "all.zip"
    write_backup(filled, file)
    restore(other, file)

    assert everything(other, full_case.id) == everything(filled, full_case.id)
    assert other.history.load(full_case.id, 1) == full_case
    assert other.own_values.load() == "# mine\n"


def test_it_comes_back_to_where_it_was(filled: Workspace, tmp_path: Path, full_case: Case) -> None:
    file = tmp_path / "all.zip"
    write_backup(filled, file)
    before = everything(filled, full_case.id)
    filled.cases.save(full_case.model_copy(update={"title": "Spoilt"}), 2)
    with pytest.raises(BadBackup, match="kept here already"):
        restore(filled, file)
    said = restore(filled, file, over=True)

    assert everything(filled, full_case.id) == before
    (kept,) = (filled.settings.data_folder / "backups").iterdir()
    assert str(kept) in said
    assert any(row["title"] == "Spoilt" for row in read_backup(kept).rows["cases"])


def test_it_is_not_written_over_a_file_unasked(filled: Workspace, tmp_path: Path) -> None:
    file = tmp_path / "all.zip"
    file.write_text("mine")
    with pytest.raises(BadBackup, match="is there already"):
        write_backup(filled, file)

    assert file.read_text() == "mine"
    write_backup(filled, file, force=True)
    assert read_backup(file).words.startswith("1 cars, 1 photos")
    assert [one.name for one in tmp_path.iterdir() if one.suffix == ".part"] == []


def test_a_folder_that_is_not_there_is_told(filled: Workspace, tmp_path: Path) -> None:
    with pytest.raises(BadBackup, match="cannot be written"):
        write_backup(filled, tmp_path / "nowhere" / "all.zip")


# --- what is no backup ----------------------------------------------------------------------------


def rewritten(file: Path, change: Callable[[dict[str, bytes]], None], *, honest: bool) -> Path:
    """Return a copy with members changed; `honest` renews the digests in the manifest."""
    with ZipFile(file) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    change(members)
    if honest:
        manifest = json.loads(members[MANIFEST])
        manifest["sha256"] = {
            name: sha256(data).hexdigest() for name, data in members.items() if name != MANIFEST
        }
        members[MANIFEST] = json.dumps(manifest).encode()
    out = file.with_name("changed.zip")
    with ZipFile(out, "w", ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return out


def set_member(name: str, data: bytes) -> Callable[[dict[str, bytes]], None]:
    return lambda members: members.update({name: data})


def newer(members: dict[str, bytes]) -> None:
    members[MANIFEST] = members[MANIFEST].replace(b'"format": 1', b'"format": 2')


def renamed_photo(members: dict[str, bytes]) -> None:
    name = next(one for one in members if one.startswith("files/"))
    members[name] = b"another photo"


def other_fields(members: dict[str, bytes]) -> None:
    members["cases.jsonl"] = b'{"id": "x"}\n'


def broken_case(members: dict[str, bytes]) -> None:
    members["cases.jsonl"] = members["cases.jsonl"].replace(b'"vehicle"', b'"vehikel"')


def newer_case(members: dict[str, bytes]) -> None:
    text, now = members["cases.jsonl"], f'"schema_version":{SCHEMA_VERSION}'.encode()
    members["cases.jsonl"] = text.replace(now, b'"schema_version":99')


@pytest.mark.parametrize(
    ("change", "honest", "words"),
    [
        (set_member("cases.jsonl", b""), False, "cases.jsonl is not what was written"),
        (set_member("../../evil.txt", b"x"), True, "holds what no backup holds"),
        (set_member("/etc/passwd", b"x"), True, "holds what no backup holds"),
        (set_member("files/../../evil", b"x"), True, "holds what no backup holds"),
        (set_member("extra.exe", b"x"), False, "holds what no backup holds"),
        (set_member("cases.jsonl", b"\0" * 30_000_000), True, "unpacks to more than it may"),
        (set_member("cases.jsonl", b"not json\n"), True, "is not JSON"),
        (set_member(MANIFEST, b"{}"), False, "manifest cannot be read"),
        (lambda members: members.pop("history.jsonl"), True, "lacks one of its lists"),
        (renamed_photo, True, "is not what its name says"),
        (other_fields, True, "has other fields"),
        (newer, False, "newer program"),
    ],
)
def test_what_is_no_backup_is_refused_and_nothing_changes(
    filled: Workspace,
    other: Workspace,
    tmp_path: Path,
    change: Any,
    honest: Any,
    words: str,
) -> None:
    file = tmp_path / "all.zip"
    write_backup(filled, file)
    before = other.cases.summaries()
    with pytest.raises(BadBackup, match=words):
        restore(other, rewritten(file, change, honest=honest))

    assert other.cases.summaries() == before
    assert not (tmp_path / "evil.txt").exists()


@pytest.mark.parametrize("change", [broken_case, newer_case])
def test_cars_that_cannot_be_read_are_put_back_as_they_are(
    filled: Workspace, other: Workspace, tmp_path: Path, change: Any
) -> None:
    file = tmp_path / "all.zip"
    write_backup(filled, file)
    listed = filled.cases.summaries()
    words = restore(other, rewritten(file, change, honest=True))

    assert "kept as they are: 2" in words
    assert other.cases.summaries() == listed
    for one in listed:
        assert json.loads(other.cases.raw_text(one.id)) != json.loads(filled.cases.raw_text(one.id))


@pytest.mark.parametrize("content", [b"", b"not a zip", b"PK\x03\x04" + b"\0" * 100])
def test_a_file_that_is_no_zip_is_told(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "all.zip"
    file.write_bytes(content)
    with pytest.raises(BadBackup, match="is no backup"):
        read_backup(file)


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(BadBackup, match="no such file"):
        read_backup(tmp_path / "gone.zip")


# --- every day ------------------------------------------------------------------------------------


def test_a_backup_a_day_is_kept_for_fourteen(filled: Workspace) -> None:
    folder = filled.settings.data_folder / "backups"
    first = date(2026, 3, 1)
    for number in range(DAYS_KEPT + 3):
        assert daily_backup(filled, first + timedelta(days=number)) is None
    (folder / "mine.zip").write_text("kept")
    daily_backup(filled, first + timedelta(days=DAYS_KEPT + 2))
    names = sorted(one.name for one in folder.iterdir())

    days = [first + timedelta(days=number) for number in range(3, DAYS_KEPT + 3)]
    assert names == [*(backup_name(day) for day in days), "mine.zip"]


def test_todays_backup_is_written_once(filled: Workspace) -> None:
    day = date(2026, 3, 1)
    daily_backup(filled, day)
    file = filled.settings.data_folder / "backups" / backup_name(day)
    before = file.read_bytes()
    filled.files.put(b"%PDF-1.4 more", "application/pdf", None)
    daily_backup(filled, day)

    assert file.read_bytes() == before


def test_a_backup_that_fails_stops_nothing_and_is_told(filled: Workspace) -> None:
    filled.settings.data_folder.mkdir()
    (filled.settings.data_folder / "backups").write_text("a file where the folder should be")
    found = daily_backup(filled, date(2026, 3, 1))

    assert found is not None
    assert "could not be written" in found.message
