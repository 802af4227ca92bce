"""One file with everything in it: cars, their history, photos, preferences and own values.

A zip of JSON lines and of the photos as they are, each named in the manifest with its digest, so
that it can be read in years without this program and is checked whole before anything is put back.
"""

from __future__ import annotations

import json
import os
import re
from base64 import b64decode, b64encode
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from secrets import token_hex
from typing import Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from appraise.errors import AppraiseError, Problem
from appraise.models.case import SCHEMA_VERSION, Case
from appraise.services.casework import example_cases, today
from appraise.services.workspace import Workspace
from appraise.store.documents import from_document
from appraise.store.dump import TABLES, counts, put_in, reading, rows_of
from appraise.store.history import LEAST_DAYS
from appraise.store.upgrades import CASE_UPGRADES

__all__ = [
    "DAYS_KEPT",
    "Backup",
    "BadBackup",
    "backup_name",
    "daily_backup",
    "read_backup",
    "restore",
    "tidy",
    "write_backup",
]

FORMAT = 1
DAYS_KEPT = 14
LARGEST_MEMBER, LARGEST_ALL = 512 * 2**20, 8 * 2**30
MOST_MEMBERS = 200_000
MOST_RATIO = 200
MANIFEST = "manifest.json"
OWN = "own_values.toml"
LISTS = {name: f"{name}.jsonl" for name in TABLES}
PICTURE = re.compile(r"^files/[0-9a-f]{64}$")
DAILY = re.compile(r"^appraise-\d{4}-\d{2}-\d{2}\.zip$")


class BadBackup(AppraiseError):
    """A file that is no backup, or is damaged."""


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup that was read and found whole.

    Attributes
    ----------
    rows : by table.
    own_values : text of the person's own values, or None.
    """

    made_at: str
    rows: Mapping[str, tuple[dict[str, Any], ...]]
    own_values: str | None

    @property
    def words(self) -> str:
        """What it holds, in one line."""
        cars = sum(row["deleted_at"] is None for row in self.rows["cases"])
        return f"{cars} cars, {len(self.rows['files'])} photos and PDFs, of {self.made_at[:16]}"


def backup_name(on: date) -> str:
    """Return the usual name of a day's backup."""
    return f"appraise-{on.isoformat()}.zip"


# --- out ------------------------------------------------------------------------------------------


def write_backup(workspace: Workspace, target: Path, *, force: bool = False) -> str:
    """Write everything into one file, whole or not at all; return what it holds, in words.

    Raises
    ------
    BadBackup
        The file is there already and `force` is not given, or it cannot be written.
    """
    if target.exists() and not force:
        raise BadBackup("is there already", where=str(target), hint="Write over it with --force.")
    half = target.with_name(f".{token_hex(8)}.part")
    try:
        with half.open("xb") as file:
            words = _written(workspace, file)
            file.flush()
            os.fsync(file.fileno())
        half.replace(target)
    except OSError as error:
        raise BadBackup(f"cannot be written: {error.strerror}", where=str(target)) from error
    finally:
        half.unlink(missing_ok=True)
    return words


def _written(workspace: Workspace, file: Any) -> str:  # noqa: ANN401 - any file open for writing
    digests: dict[str, str] = {}
    engine = workspace.cases.engine
    with ZipFile(file, "w", ZIP_DEFLATED) as archive, reading(engine) as connection:

        def add(name: str, data: bytes, how: int = ZIP_DEFLATED) -> None:
            digests[name] = sha256(data).hexdigest()
            archive.writestr(ZipInfo(name, (1980, 1, 1, 0, 0, 0)), data, compress_type=how)

        found = counts(connection)
        for table, name in LISTS.items():
            lines = BytesIO()
            for row in rows_of(connection, table):
                if table == "files":
                    add(f"files/{row['id']}", row["content"], ZIP_STORED)
                lines.write(json.dumps(_plain(row), separators=(",", ":")).encode() + b"\n")
            add(name, lines.getvalue())
        own = workspace.settings.own_values
        if own.exists():
            add(OWN, own.read_bytes())
        manifest = {
            "format": FORMAT,
            "schema": SCHEMA_VERSION,
            "made_at": datetime.now(UTC).isoformat(timespec="seconds"),
            "counts": found,
            "sha256": digests,
        }
        archive.writestr(MANIFEST, json.dumps(manifest, indent=1))
    return f"{found['cases']} cars, {found['files']} photos and PDFs"


def _plain(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row as JSON carries it: the photo itself apart, its small picture as text."""
    out = {key: value for key, value in row.items() if key != "content"}
    if out.get("thumbnail") is not None:
        out["thumbnail"] = b64encode(out["thumbnail"]).decode()
    return out


# --- in -------------------------------------------------------------------------------------------


def read_backup(source: Path) -> Backup:
    """Return what a backup holds, once all of it was checked.

    Raises
    ------
    BadBackup
        It is no backup, of a newer version, too large, or damaged; says where.
    NewerSchema, BadCase
        A car in it cannot be read.
    """
    try:
        with ZipFile(source) as archive:
            return _read(archive)
    except FileNotFoundError as error:
        raise BadBackup("there is no such file", where=str(source)) from error
    except OSError as error:
        raise BadBackup(f"cannot be read: {error.strerror}", where=str(source)) from error
    except (BadZipFile, EOFError, NotImplementedError, RuntimeError) as error:
        raise BadBackup(f"is no backup, or is damaged: {error}", where=str(source)) from error


def _read(archive: ZipFile) -> Backup:
    members = {one.filename: one for one in archive.infolist()}
    if len(members) != len(archive.infolist()) or MANIFEST not in members:
        raise BadBackup("is no backup: it has no manifest, or a member twice")
    _check_sizes(members)
    try:
        manifest = json.loads(archive.read(MANIFEST))
        version, digests = manifest["format"], manifest["sha256"]
        made_at = str(manifest["made_at"])
    except (ValueError, KeyError, TypeError) as error:
        raise BadBackup("is no backup: its manifest cannot be read") from error
    if not isinstance(version, int) or version > FORMAT:
        raise BadBackup(
            f"was written by a newer program (format {version}; this one knows {FORMAT})",
            hint="Update this program to put it back.",
        )
    unknown = [
        name
        for name in members
        if name not in (MANIFEST, OWN, *LISTS.values()) and not PICTURE.match(name)
    ]
    if unknown or not isinstance(digests, dict) or set(digests) != set(members) - {MANIFEST}:
        raise BadBackup(f"holds what no backup holds: {', '.join(sorted(unknown))[:200] or 'odd'}")
    if not set(LISTS.values()) <= set(members):
        raise BadBackup("lacks one of its lists")

    def content(name: str) -> bytes:
        data = archive.read(name)
        if sha256(data).hexdigest() != digests[name]:
            raise BadBackup(f"is damaged: {name} is not what was written")
        return data

    rows = {table: tuple(_rows(content(name), name)) for table, name in LISTS.items()}
    files = tuple(_with_content(row, content) for row in rows["files"])
    named = {f"files/{row['id']}" for row in files}
    if named != {name for name in members if PICTURE.match(name)}:
        raise BadBackup("is damaged: its photos and their list do not agree")
    for row in (*rows["cases"], *rows["history"]):
        _check_case(row)
    own = content(OWN).decode("utf-8") if OWN in members else None
    return Backup(made_at, {**rows, "files": files}, own)


def _check_sizes(members: Mapping[str, ZipInfo]) -> None:
    if len(members) > MOST_MEMBERS or sum(one.file_size for one in members.values()) > LARGEST_ALL:
        raise BadBackup("is larger than any backup of this program")
    for one in members.values():
        packed = max(one.compress_size, 1024)
        if one.file_size > LARGEST_MEMBER or one.file_size > MOST_RATIO * packed:
            raise BadBackup(f"{one.filename[:80]} unpacks to more than it may")


def _rows(data: bytes, name: str) -> Iterator[dict[str, Any]]:
    table = TABLES[name.removesuffix(".jsonl")]
    wanted = {column.name for column in table.columns} - {"content"}
    for number, line in enumerate(data.splitlines(), 1):
        try:
            row = json.loads(line)
        except ValueError as error:
            raise BadBackup(f"{name}, line {number}: is not JSON") from error
        if not isinstance(row, dict) or set(row) != wanted:
            raise BadBackup(f"{name}, line {number}: has other fields than it should")
        yield row


def _with_content(row: dict[str, Any], content: Any) -> dict[str, Any]:  # noqa: ANN401
    name = str(row["id"])
    if not PICTURE.match(f"files/{name}"):
        raise BadBackup(f"files.jsonl names {name[:80]!r}, which is no digest")
    data = content(f"files/{name}")
    if sha256(data).hexdigest() != name:
        raise BadBackup(f"is damaged: files/{name} is not what its name says")
    small = row["thumbnail"]
    return row | {"content": data, "thumbnail": None if small is None else b64decode(small)}


def _check_case(row: Mapping[str, Any]) -> None:
    name = str(row.get("id", row.get("case_id", "")))[:80]
    for key in ("created_at", "updated_at", "deleted_at", "saved_at"):
        if row.get(key) is not None and not _is_moment(row[key]):
            raise BadBackup(f"the car {name!r} has a moment that cannot be read")
    from_document(
        Case,
        row["doc"],
        schema=SCHEMA_VERSION,
        upgrades=CASE_UPGRADES,
        what=f"The car {name!r} in the backup",
    )


def _is_moment(text: Any) -> bool:  # noqa: ANN401 - whatever stands in the file
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except (ValueError, TypeError):
        return False


def restore(workspace: Workspace, source: Path, *, over: bool = False) -> str:
    """Put a backup in the place of all that is kept; return what was done, in words.

    What was kept before is written to a backup of its own first, if there was anything but the
    examples as they came.

    Raises
    ------
    BadBackup
        The backup is not whole, or cars are kept here and `over` is not given.
    """
    found = read_backup(source)
    said = f"put back: {found.words}"
    if _holds_something(workspace):
        if not over:
            raise BadBackup(
                "cars are kept here already, and would be replaced",
                where=str(source),
                hint="Say --over to replace them; they are backed up first.",
            )
        folder = workspace.settings.data_folder / "backups"
        folder.mkdir(parents=True, exist_ok=True)
        before = folder / f"before-restore-{datetime.now(UTC):%Y-%m-%d-%H%M%S}-{token_hex(2)}.zip"
        write_backup(workspace, before)
        said += f"; what was here before: {before}"
    put_in(
        workspace.cases.engine,
        ((table, row) for table, rows in found.rows.items() for row in rows),
    )
    if found.own_values is not None:
        workspace.settings.own_values.write_text(found.own_values, encoding="utf-8")
    return said


def _holds_something(workspace: Workspace) -> bool:
    """Whether anything is kept but the examples as they came."""
    examples = {one.id: one for one in example_cases()}
    listed = workspace.cases.summaries()
    if workspace.cases.removed() or {one.id for one in listed} - set(examples):
        return True
    return any(workspace.cases.load(one.id).case != examples[one.id] for one in listed)


# --- every day ------------------------------------------------------------------------------------


def daily_backup(workspace: Workspace, on: date | None = None) -> Problem | None:
    """Write today's backup if it is not there, keep those of 14 days, and tidy up.

    Never stops anything else: what went wrong is returned.
    """
    day = on or today()
    folder = workspace.settings.data_folder / "backups"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        target = folder / backup_name(day)
        if not target.exists():
            write_backup(workspace, target)
        oldest = backup_name(day - timedelta(days=DAYS_KEPT - 1))
        for file in folder.iterdir():
            if DAILY.match(file.name) and file.name < oldest:
                file.unlink(missing_ok=True)
        tidy(workspace)
    except (AppraiseError, OSError) as error:
        return Problem("backup", f"today's backup could not be written: {error}", "warning")
    return None


def tidy(workspace: Workspace, days: int = 365) -> tuple[int, int]:
    """Forget old history and photos that nothing names; return how many of each.

    Parameters
    ----------
    days : how long history is kept, never less than thirty.
    """
    versions = workspace.history.forget(days)
    with reading(workspace.cases.engine) as connection:
        used = {
            name
            for table in ("cases", "history")
            for row in rows_of(connection, table)
            for name in _digests(row["doc"])
        }
    old = datetime.now(UTC) - timedelta(days=LEAST_DAYS)
    return versions, workspace.files.forget_unused(used, old)


def _digests(value: Any) -> Iterator[str]:  # noqa: ANN401 - any part of a document
    if isinstance(value, dict):
        for key, inner in value.items():
            if key == "attachments":
                yield from (str(one["id"]) for one in inner)
            else:
                yield from _digests(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _digests(inner)
