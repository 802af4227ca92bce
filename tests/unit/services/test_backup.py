"""A backup: one moment of everything, in a form anybody can read; nothing odd is put back."""

from __future__ import annotations

import base64
import json
import os
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZIP_BZIP2, ZIP_DEFLATED, ZipFile

import pytest
from PIL import Image
from sqlalchemy import event

from appraise.errors import AppraiseError, StoreUnavailable
from appraise.models.preferences import Preferences
from appraise.services.records import backup, backup_file
from appraise.services.records.backup import (
    MANIFEST,
    BadBackup,
    daily_backup,
    read_backup,
    restore,
    write_backup,
)
from appraise.services.records.tidying import tidy
from appraise.services.records.workspace import Workspace, open_workspace
from appraise.settings import Settings
from appraise.store.cases import CaseStore
from appraise.store.database import HEAD
from appraise.store.history import HistoryStore

PHOTO = b"%PDF-1.4 a photo in all but name"
DIGEST = sha256(PHOTO).hexdigest()


def small_picture() -> bytes:
    out = BytesIO()
    Image.new("RGB", (4, 3), (250, 20, 20)).save(out, "JPEG")
    return out.getvalue()


SMALL = small_picture()
Change = Callable[[dict[str, bytes]], None]


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Workspace]:
    """Return a workspace with the examples, one of them changed, a photo and preferences."""
    opened = open_workspace(Settings(data_folder=tmp_path / "data"))
    first = opened.cases.load(opened.cases.summaries()[0].id)
    CaseStore(opened.cases.engine, who="Ada").save(
        first.case.model_copy(update={"title": "Änderung 🚗"}), 1
    )
    opened.files.put(PHOTO, "application/pdf", SMALL)
    opened.preferences.save(Preferences(currency="EUR", history_days=90), 0)
    yield opened
    opened.cases.engine.dispose()


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Workspace]:
    opened = open_workspace(Settings(data_folder=tmp_path / "other"))
    yield opened
    opened.cases.engine.dispose()


@pytest.fixture
def file(place: Workspace, tmp_path: Path) -> Path:
    target = tmp_path / "all.zip"
    write_backup(place, target)
    return target


def members(file: Path) -> dict[str, bytes]:
    with ZipFile(file) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def lines(data: bytes) -> list[dict[str, Any]]:
    return [json.loads(line) for line in data.splitlines()]


# --- what it looks like ---------------------------------------------------------------------------


def test_anybody_can_read_it_without_this_program(place: Workspace, file: Path) -> None:
    inside = members(file)
    manifest = json.loads(inside.pop(MANIFEST))

    assert set(inside) == {
        "cases.jsonl",
        "history.jsonl",
        "preferences.jsonl",
        "files.jsonl",
        f"files/{DIGEST}",
    }
    assert manifest["sha256"] == {name: sha256(data).hexdigest() for name, data in inside.items()}
    assert manifest["counts"] == {
        name.removesuffix(".jsonl"): len(lines(data))
        for name, data in inside.items()
        if name.endswith(".jsonl")
    }
    assert (manifest["format"], manifest["tables"]) == (1, HEAD)
    assert manifest["program"]
    assert datetime.now(UTC) - datetime.fromisoformat(manifest["made_at"]) < timedelta(minutes=1)

    changed = next(row for row in lines(inside["cases.jsonl"]) if row["version"] == 2)
    assert changed["doc"]["title"] == changed["title"] == "Änderung 🚗"
    assert changed["deleted_at"] is None
    stored = place.cases.load(changed["id"])
    assert datetime.fromisoformat(changed["updated_at"]) == stored.updated_at
    assert [row["who"] for row in lines(inside["history.jsonl"])].count("Ada") == 1
    (photo,) = lines(inside["files.jsonl"])
    assert base64.b64decode(photo["thumbnail"]) == SMALL
    assert inside[f"files/{DIGEST}"] == PHOTO


def test_what_others_save_meanwhile_is_in_it_whole_or_not_at_all(
    place: Workspace, tmp_path: Path
) -> None:
    """A second connection saves between the reading of the cars and of their history."""
    engine, second = place.cases.engine, CaseStore(place.cases.engine)
    saved: list[int] = []

    @event.listens_for(engine, "before_cursor_execute")
    def _(_1: Any, _2: Any, statement: str, *_rest: Any) -> None:
        if "FROM history ORDER BY" in statement and not saved:
            saved.append(0)  # before the save, which comes here too
            one = second.load(second.summaries()[0].id)
            saved.append(second.save(one.case, one.version).version)

    write_backup(place, tmp_path / "all.zip")
    inside = members(tmp_path / "all.zip")
    assert saved[1] > 1, "it was saved meanwhile, and did not wait"

    last: dict[str, int] = {}
    for row in lines(inside["history.jsonl"]):
        last[row["case_id"]] = max(row["version"], last.get(row["case_id"], 0))
    assert last == {row["id"]: row["version"] for row in lines(inside["cases.jsonl"])}


def test_a_long_history_of_one_car_is_let_through(place: Workspace, tmp_path: Path) -> None:
    """Saves nearly alike pack very well: no limit against bombs may take them for one."""
    one = place.cases.load(place.cases.summaries()[0].id)
    case = one.case.model_copy(update={"note": "x" * 9_000})
    version = one.version
    for _ in range(150):
        version = place.cases.save(case, version).version
    write_backup(place, tmp_path / "all.zip")
    with ZipFile(tmp_path / "all.zip") as archive:
        packed = archive.getinfo("history.jsonl")

    assert packed.file_size > 80 * packed.compress_size
    assert read_backup(tmp_path / "all.zip").counts["history"] > 150


# --- writing --------------------------------------------------------------------------------------


def test_it_takes_the_place_of_nothing_but_a_zip(place: Workspace) -> None:
    """Not even with --force, of which the database would be the dearest victim."""
    database = place.settings.data_folder / "cases.sqlite"
    before = len(place.cases.summaries())
    with pytest.raises(BadBackup, match=r"should end in \.zip"):
        write_backup(place, database, force=True)

    assert len(place.cases.summaries()) == before
    assert database.read_bytes().startswith(b"SQLite format 3")


def test_a_file_that_comes_while_it_is_written_is_left_alone(
    place: Workspace, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "all.zip"
    written = backup._written

    def slow(*arguments: Any) -> str:
        target.write_text("mine")
        return written(*arguments)

    monkeypatch.setattr(backup, "_written", slow)
    with pytest.raises(BadBackup, match="is there already"):
        write_backup(place, target)

    assert target.read_text() == "mine"
    assert [one.name for one in tmp_path.iterdir() if one.suffix == ".part"] == []


def test_a_damaged_photo_keeps_nothing_else_out(
    place: Workspace, other: Workspace, tmp_path: Path
) -> None:
    place.files.put(b"%PDF-1.4 whole", "application/pdf", None)
    with place.cases.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE files SET content = x'00' WHERE id = ?", (DIGEST,))
    said = write_backup(place, tmp_path / "all.zip")

    assert "damaged where kept, and left out: 1" in said
    restore(other, tmp_path / "all.zip")
    assert set(other.files.thumbnails([DIGEST, sha256(b"%PDF-1.4 whole").hexdigest()])) == {
        sha256(b"%PDF-1.4 whole").hexdigest()
    }
    found = daily_backup(place, date(2026, 3, 1))
    assert found is not None
    assert "damaged" in found.message


def test_a_car_that_cannot_be_read_is_told_when_it_is_backed_up(
    place: Workspace, tmp_path: Path
) -> None:
    with place.cases.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE cases SET doc = json_set(doc, '$.vehicle', 3)")
    words = write_backup(place, tmp_path / "all.zip")

    assert words.endswith("cannot be read here, and kept as they are: 6")
    assert lines(members(tmp_path / "all.zip")["cases.jsonl"]), "it is kept all the same"


# --- what is refused ------------------------------------------------------------------------------


def rewritten(file: Path, change: Change, how: int = ZIP_DEFLATED) -> Path:
    """Return a copy with members changed, its digests and counts as if it were honest."""
    inside = members(file)
    change(inside)
    manifest = json.loads(inside[MANIFEST])
    manifest["sha256"] = {
        name: sha256(data).hexdigest() for name, data in inside.items() if name != MANIFEST
    }
    inside[MANIFEST] = json.dumps(manifest).encode()
    out = file.with_name("changed.zip")
    with ZipFile(out, "w", how) as archive:
        for name, data in inside.items():
            archive.writestr(name, data)
    return out


def each(name: str, **values: Any) -> Change:
    """Set fields of every row of a list."""

    def change(inside: dict[str, bytes]) -> None:
        rows = [row | values for row in lines(inside[name])]
        inside[name] = b"".join(json.dumps(row).encode() + b"\n" for row in rows)

    return change


def add(name: str, text: bytes) -> Change:
    return lambda inside: inside.update({name: inside[name] + text})


def twice(inside: dict[str, bytes]) -> None:
    inside["cases.jsonl"] += inside["cases.jsonl"].splitlines(keepends=True)[0]


def one_less(inside: dict[str, bytes]) -> None:
    inside["cases.jsonl"] = b"".join(inside["cases.jsonl"].splitlines(keepends=True)[1:])


def older_format(inside: dict[str, bytes]) -> None:
    inside[MANIFEST] = inside[MANIFEST].replace(b'"format": 1', b'"format": "1"')


def nul(inside: dict[str, bytes]) -> None:
    inside["history.jsonl"] = inside["history.jsonl"].replace(b'"Ada"', b'"A\\u0000a"')


def half_a_character(inside: dict[str, bytes]) -> None:
    inside["history.jsonl"] = inside["history.jsonl"].replace(b'"Ada"', b'"A\\ud83d"')


def not_utf8(inside: dict[str, bytes]) -> None:
    inside["history.jsonl"] = inside["history.jsonl"].replace(b'"Ada"', b'"A\xff"')


def deep(inside: dict[str, bytes]) -> None:
    inside["cases.jsonl"] = b"[" * 200_000 + b"\n"


def photo_gone(inside: dict[str, bytes]) -> None:
    del inside[f"files/{DIGEST}"]


def photo_more(inside: dict[str, bytes]) -> None:
    inside[f"files/{sha256(b'more').hexdigest()}"] = b"more"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (twice, "line 7: is there twice"),
        (one_less, "not as long as they were"),
        (older_format, "manifest cannot be read"),
        (nul, "who is not what can be kept"),
        (half_a_character, "who is not what can be kept"),
        (not_utf8, "is not JSON"),
        (deep, "line 1: is not JSON"),
        (photo_gone, "photos and their list do not agree"),
        (photo_more, "photos and their list do not agree"),
        (add("cases.jsonl", b"NaN\n"), "is not JSON"),
        (each("cases.jsonl", version="1"), "line 1: version is not"),
        (each("cases.jsonl", version=2**31), "line 1: version is not"),
        (each("cases.jsonl", version=True), "line 1: version is not"),
        (each("cases.jsonl", title=None), "line 1: title is not"),
        (each("cases.jsonl", doc=[]), "line 1: doc is not"),
        (each("cases.jsonl", deleted_at="yesterday"), "line 1: deleted_at is not"),
        (each("cases.jsonl", created_at="2026-01-01T00:00:00"), "line 1: created_at is not"),
        (each("cases.jsonl", created_at="0001-01-01T00:00:00+23:00"), "line 1: created_at is not"),
        (each("preferences.jsonl", key="mine"), "line 1: has a key that is not known"),
        (each("files.jsonl", size=1), "line 1: says another size"),
        (each("files.jsonl", media_type="text/html"), "line 1: is neither a photo nor a PDF"),
        (each("files.jsonl", thumbnail="&&&"), "line 1: thumbnail is not"),
        (each("files.jsonl", thumbnail=[3]), "line 1: thumbnail is not"),
        (each("files.jsonl", id="../../evil"), "which is no digest"),
    ],
)
def test_what_cannot_be_kept_is_refused_in_one_line_and_nothing_changes(
    file: Path, other: Workspace, change: Change, words: str
) -> None:
    before = other.cases.summaries()
    changed = rewritten(file, change)
    with pytest.raises(BadBackup, match=words) as caught:
        restore(other, changed)

    assert str(caught.value).startswith(str(changed))
    assert "\n" not in str(caught.value)
    assert other.cases.summaries() == before
    assert other.preferences.load().version == 0


def test_settings_that_the_models_refuse_leave_the_defaults(file: Path, other: Workspace) -> None:
    restore(other, rewritten(file, each("preferences.jsonl", doc={"currency": 3})))
    found = other.preferences.load()

    assert (found.preferences, found.version > 0) == (Preferences(), True)
    assert "currency" in found.wrong


def test_another_way_of_packing_is_refused(file: Path) -> None:
    with pytest.raises(BadBackup, match="packed as no backup"):
        read_backup(rewritten(file, lambda _: None, ZIP_BZIP2))


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_member_that_is_there_twice_is_refused(file: Path) -> None:
    with ZipFile(file, "a") as archive:
        archive.writestr("cases.jsonl", b"")
    with pytest.raises(BadBackup, match="a member twice"):
        read_backup(file)


def test_one_byte_changed_anywhere_is_seen_or_changes_nothing(file: Path, tmp_path: Path) -> None:
    """Of every 97th byte: refused, or (in what the zip says beside its members) read the same."""
    whole = read_backup(file)
    data = file.read_bytes()
    damaged = tmp_path / "damaged.zip"
    refused = []
    for at in range(0, len(data), 97):
        damaged.write_bytes(data[:at] + bytes([data[at] ^ 0x55]) + data[at + 1 :])
        try:
            found = read_backup(damaged)
        except AppraiseError as error:
            refused.append(str(error))
        else:
            assert (found.counts, found.rows) == (whole.counts, whole.rows), at
    assert len(refused) > 0.9 * len(range(0, len(data), 97))
    assert not any("\n" in one for one in refused)


def test_a_file_cut_short_anywhere_is_refused(file: Path, tmp_path: Path) -> None:
    data = file.read_bytes()
    cut = tmp_path / "cut.zip"
    for share in range(20):
        cut.write_bytes(data[: len(data) * share // 20])
        with pytest.raises(BadBackup):
            read_backup(cut)


@pytest.mark.parametrize(
    ("limit", "value"),
    [("LARGEST_ALL", 1000), ("MOST_MEMBERS", 3), ("LONGEST_LINE", 100), ("LARGEST_FILE", 10)],
)
def test_each_limit_is_held(
    file: Path, monkeypatch: pytest.MonkeyPatch, limit: str, value: int
) -> None:
    monkeypatch.setattr(backup_file, limit, value)
    with pytest.raises(BadBackup, match=r"larger than|more than it may|longer than"):
        read_backup(file)


def test_a_backup_that_could_not_be_put_back_for_its_size_is_not_written(
    place: Workspace, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(backup, "LARGEST_LIST", 1000)
    with pytest.raises(BadBackup, match="larger than a backup may be"):
        write_backup(place, tmp_path / "all.zip")

    assert not (tmp_path / "all.zip").exists()


# --- putting back ---------------------------------------------------------------------------------


def test_untouched_examples_are_replaced_unasked_and_need_no_backup(
    file: Path, other: Workspace
) -> None:
    said = restore(other, file)

    assert "what was here before" not in said
    assert not (other.settings.data_folder / "backups").exists()
    assert other.preferences.load().preferences == Preferences(currency="EUR", history_days=90)


def test_own_values_and_preferences_are_backed_up_before_they_are_replaced(
    place: Workspace, other: Workspace, tmp_path: Path
) -> None:
    place.own_values.save("# theirs\n")
    write_backup(place, tmp_path / "with.zip")
    other.own_values.save("# mine\n")
    other.preferences.save(Preferences(currency="GBP"), 0)
    restore(other, tmp_path / "with.zip")

    assert other.own_values.load() == "# theirs\n"
    (kept,) = (other.settings.data_folder / "backups").iterdir()
    found = read_backup(kept)
    assert found.own_values == b"# mine\n"
    assert found.rows["preferences"][0]["doc"]["currency"] == "GBP"


@pytest.mark.parametrize(
    ("own", "kept"),
    [(b"broken = [", "broken = ["), (b"\xff\xfe not text\0", "\ufffd\ufffd not text\ufffd")],
)
def test_own_values_come_back_whatever_they_are(
    file: Path, other: Workspace, own: bytes, kept: str
) -> None:
    restore(other, rewritten(file, lambda inside: inside.update({"own_values.toml": own})))

    assert other.own_values.load() == kept


def test_a_database_that_fails_in_the_middle_is_left_as_it_was(
    file: Path, other: Workspace
) -> None:
    before = other.cases.summaries()
    with other.cases.engine.begin() as connection:
        connection.exec_driver_sql(
            "CREATE TRIGGER no BEFORE INSERT ON files BEGIN SELECT RAISE(ABORT, 'no'); END"
        )
    with pytest.raises(StoreUnavailable, match="left as it was"):
        restore(other, file)

    assert other.cases.summaries() == before
    assert other.preferences.load().version == 0


def test_what_cannot_be_backed_up_first_is_not_replaced(file: Path, other: Workspace) -> None:
    case = other.cases.load(other.cases.summaries()[0].id).case
    other.cases.save(case.model_copy(update={"title": "Mine"}), 1)
    (other.settings.data_folder / "backups").write_text("in the way")
    with pytest.raises(BadBackup, match="cannot be made"):
        restore(other, file, over=True)

    assert "Mine" in [one.title for one in other.cases.summaries()]


# --- every day ------------------------------------------------------------------------------------


def test_what_a_killed_backup_left_is_cleared_away_a_day_later(place: Workspace) -> None:
    folder = place.settings.data_folder / "backups"
    folder.mkdir()
    old, new, mine = (
        folder / f".appraise-{'0' * 16}.part",
        folder / f".appraise-{'1' * 16}.part",
        folder / "mine.part",
    )
    for one in (old, new, mine):
        one.write_text("half")
    two_days_ago = time.time() - 2 * 86_400
    os.utime(old, (two_days_ago, two_days_ago))
    os.utime(mine, (two_days_ago, two_days_ago))
    assert daily_backup(place, date(2026, 3, 1)) is None

    assert (old.exists(), new.exists(), mine.exists()) == (False, True, True)


def test_a_backup_that_failed_deletes_no_older_one(
    place: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert daily_backup(place, date(2026, 3, 1)) is None

    def full(*_: object) -> str:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(backup, "_written", full)
    found = daily_backup(place, date(2026, 5, 1))

    assert found is not None
    assert "No space left" in found.message
    assert (place.settings.data_folder / "backups" / "appraise-2026-03-01.zip").exists()


def test_nothing_that_goes_wrong_gets_out(
    place: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> str:
        raise ZeroDivisionError

    monkeypatch.setattr(backup, "_written", broken)
    found = daily_backup(place, date(2026, 3, 1))

    assert found is not None
    assert "ZeroDivisionError" in found.message


def test_history_is_forgotten_as_the_preferences_say(
    place: Workspace, used_for: Callable[[Workspace, int], None]
) -> None:
    """They say ninety days; what was replaced eighty days ago goes only when they say sixty."""
    engine = place.cases.engine
    changed = place.cases.load(next(one.id for one in place.cases.summaries() if one.version == 2))
    used_for(place, 85)
    with engine.begin() as connection:
        connection.exec_driver_sql(
            "UPDATE history SET saved_at = ? WHERE case_id = ?",
            ((datetime.now(UTC) - timedelta(days=80)).isoformat(" ")[:26], changed.case.id),
        )
    history = HistoryStore(engine)
    tidy(place)
    assert [one.version for one in history.versions(changed.case.id)] == [2, 1]
    stored = place.preferences.load()
    place.preferences.save(
        stored.preferences.model_copy(update={"history_days": 60}), stored.version
    )

    assert tidy(place)[0] > 0
    assert [one.version for one in history.versions(changed.case.id)] == [2]


@pytest.mark.parametrize("days", [29, 0, -1, 36_501])
def test_history_is_kept_for_thirty_days_at_least(days: int) -> None:
    assert Preferences().history_days == 365
    with pytest.raises(ValueError, match="history_days"):
        Preferences(history_days=days)
