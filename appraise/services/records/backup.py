"""One file with everything in it: cars, their history, photos, preferences and own values.

How the file is laid out and checked stands in `backup_file`.
"""

from __future__ import annotations

import json
import os
import re
from base64 import b64encode
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from importlib.metadata import version
from itertools import chain
from pathlib import Path
from secrets import token_hex
from tempfile import SpooledTemporaryFile
from typing import IO, Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

from sqlalchemy import Connection

from appraise.errors import AppraiseError, Problem
from appraise.files.whole_files import clear_left
from appraise.models.case import SCHEMA_VERSION
from appraise.services.cases.casework import example_cases, today
from appraise.services.records.backup_file import (
    FORMAT,
    LARGEST_ALL,
    LARGEST_LIST,
    LISTS,
    MANIFEST,
    MOST_MEMBERS,
    OWN,
    Backup,
    BadBackup,
    opened,
    read_backup,
)
from appraise.services.records.tidying import tidy
from appraise.services.records.workspace import Workspace
from appraise.store.database import HEAD
from appraise.store.dump import counts, reading, replacing, rows_of
from appraise.store.own_values import own_rows, own_text_in, plain_text

__all__ = [
    "DAYS_KEPT",
    "MANIFEST",
    "Backup",
    "BadBackup",
    "backup_name",
    "backups_kept",
    "daily_backup",
    "extra_backup",
    "read_backup",
    "restore",
    "write_backup",
]

DAYS_KEPT = 14
IN_MEMORY = 32 * 2**20
EARLIEST = (1980, 1, 1, 0, 0, 0)
"""A zip knows no moment before; it says nothing of the member's age."""

DAILY = re.compile(r"appraise-\d{4}-\d{2}-\d{2}\.zip")


def backup_name(on: date) -> str:
    """Return the usual name of a day's backup."""
    return f"appraise-{on.isoformat()}.zip"


# --- out ------------------------------------------------------------------------------------------


def write_backup(workspace: Workspace, target: Path, *, force: bool = False) -> str:
    """Write everything into one file, whole or not at all; return what it holds, in words.

    The file is read back and checked as for a restore before it gets its name.

    Raises
    ------
    BadBackup
        The file is there already and `force` is not given; or it cannot be written.
    """
    if target.suffix.lower() != ".zip":
        raise BadBackup("should end in .zip", where=str(target))
    if not os.path.isdir(target.parent):  # noqa: PTH112 - answers False for names that are too long
        raise BadBackup("cannot be written: there is no such folder", where=str(target))
    if os.path.isdir(target):  # noqa: PTH112 - the same
        raise BadBackup("is a folder, not a file", where=str(target))
    if os.path.lexists(target) and not force:
        raise _is_there(target)
    half = target.with_name(f".appraise-{token_hex(8)}.part")
    try:
        with half.open("xb") as file:
            words = _written(workspace, file)
            file.flush()
            os.fsync(file.fileno())
        try:
            words += read_backup(half).unreadable_words
        except BadBackup as error:
            raise BadBackup(f"cannot be made: {error.message}", where=str(target)) from error
        _into_place(half, target, force=force)
    except OSError as error:
        said = error.strerror or error
        raise BadBackup(f"cannot be written: {said}", where=str(target)) from error
    finally:
        half.unlink(missing_ok=True)
    clear_left(target.parent)
    return words


def _is_there(target: Path) -> BadBackup:
    return BadBackup("is there already", where=str(target), hint="Write over it with --force.")


def _into_place(half: Path, target: Path, *, force: bool) -> None:
    """Give a finished file its name, so that it outlasts a power cut."""
    if force or os.name == "nt":
        half.replace(target)
    else:
        try:
            os.link(half, target)  # unlike a renaming, it never takes the place of another
        except FileExistsError:
            raise _is_there(target) from None
        except OSError:  # a file system without links
            half.replace(target)
    if os.name != "nt":
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            with suppress(OSError):  # it is whole and has its name; not every disk can do more
                os.fsync(folder)
        finally:
            os.close(folder)


@dataclass(slots=True)
class _Out:
    """A zip being written, with the digest of each member."""

    archive: ZipFile
    digests: dict[str, str] = field(default_factory=dict)
    size: int = 0

    def add(self, name: str, pieces: Iterator[bytes], how: int = ZIP_DEFLATED) -> None:
        """Write a member, piece by piece."""
        info = ZipInfo(name, EARLIEST)
        info.compress_type = how
        digest, size = sha256(), 0
        with self.archive.open(info, "w", force_zip64=True) as member:
            for piece in pieces:
                digest.update(piece)
                size += len(piece)
                member.write(piece)
        self.digests[name] = digest.hexdigest()
        self.size += size
        full = len(self.digests) >= MOST_MEMBERS or self.size > LARGEST_ALL
        if full or (name in LISTS.values() and size > LARGEST_LIST):
            raise BadBackup("would be larger than a backup may be")


def _written(workspace: Workspace, file: IO[bytes]) -> str:
    with ZipFile(file, "w", ZIP_DEFLATED) as archive, reading(workspace.cases.engine) as connection:
        out = _Out(archive)
        found = counts(connection)
        for table, name in LISTS.items():
            if table != "files":
                out.add(name, (_line(row) for row in rows_of(connection, table)))
        damaged = _add_files(out, connection)
        found["files"] -= damaged
        if own := own_text_in(connection):
            out.add(OWN, iter([own.encode()]))
        manifest = {
            "format": FORMAT,
            "program": version("appraise"),
            "tables": HEAD,
            "schema": SCHEMA_VERSION,
            "made_at": datetime.now(UTC).isoformat(timespec="seconds"),
            "counts": found,
            "sha256": out.digests,
        }
        archive.writestr(ZipInfo(MANIFEST, EARLIEST), json.dumps(manifest, indent=1), ZIP_DEFLATED)
    words = f"{found['cases']} cars, {found['files']} photos and PDFs"
    return f"{words}; damaged where kept, and left out: {damaged}" if damaged else words


def _add_files(out: _Out, connection: Connection) -> int:
    """Write the photos and PDFs and their list; return how many are damaged and left out."""
    damaged = 0
    with SpooledTemporaryFile(IN_MEMORY) as lines:
        for row in rows_of(connection, "files"):
            if sha256(row["content"]).hexdigest() != row["id"]:
                damaged += 1  # one that cannot be checked would keep all from being put back
                continue
            out.add(f"files/{row['id']}", iter([row["content"]]), ZIP_STORED)
            lines.write(_line(row))
        lines.seek(0)
        out.add(LISTS["files"], iter(lines))
    return damaged


def _line(row: Mapping[str, Any]) -> bytes:
    """Return a row as JSON carries it: the photo itself apart, its small picture as text."""
    plain = {key: value for key, value in row.items() if key != "content"}
    if plain.get("thumbnail") is not None:
        plain["thumbnail"] = b64encode(plain["thumbnail"]).decode()
    return json.dumps(plain, separators=(",", ":")).encode() + b"\n"


# --- in -------------------------------------------------------------------------------------------


def restore(workspace: Workspace, source: Path, *, over: bool = False) -> str:
    """Put a backup in the place of all that is kept; return what was done, in words.

    What was kept before is written to a backup of its own first, if there was anything but the
    examples as they came. Nobody can save between the two.

    Raises
    ------
    BadBackup
        The backup is not whole, or cars are kept here and `over` is not given.
    StoreUnavailable
        The database cannot be written.
    """
    with opened(source) as (found, rows), replacing(workspace.cases.engine) as put_in:
        said = f"put back: {found.words}"
        cars = _holds_cars(workspace)
        if cars and not over:
            raise BadBackup(
                "cars are kept here already, and would be replaced",
                where=str(source),
                hint="Say --over to replace them; they are backed up first.",
            )
        if cars or _holds_more(workspace):
            said += f"; what was here before: {_safety_backup(workspace)}"
        own = plain_text(found.own_values or b"")
        if not own and workspace.own_values.load():
            said += ", the own values too: what was put back has none"
        put_in(chain(rows, own_rows(own, datetime.now(UTC).isoformat())))
    return said


def _holds_cars(workspace: Workspace) -> bool:
    """Whether any car is kept but the examples as they came."""
    examples = {one.id: one for one in example_cases()}
    listed = workspace.cases.summaries()
    if workspace.cases.removed() or {one.id for one in listed} - set(examples):
        return True
    try:
        return any(workspace.cases.load(one.id).case != examples[one.id] for one in listed)
    except AppraiseError:  # it cannot be read, so it is not as it came
        return True


def _holds_more(workspace: Workspace) -> bool:
    """Whether a person has left anything else here: changes, preferences, photos, own values."""
    if any(one.version > 1 for one in workspace.cases.summaries()):
        return True
    with reading(workspace.cases.engine) as connection:
        found = counts(connection)
    return found["preferences"] + found["files"] > 0 or bool(workspace.own_values.load())


def _safety_backup(workspace: Workspace) -> Path:
    folder = _folder(workspace)
    target = folder / f"before-restore-{datetime.now(UTC):%Y-%m-%d-%H%M%S}-{token_hex(2)}.zip"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_backup(workspace, target)
    except OSError as error:
        raise BadBackup(f"cannot be made: {error.strerror}", where=str(folder)) from error
    except AppraiseError as error:
        raise BadBackup(
            f"what is kept here cannot be backed up first: {error.message.rstrip('.')}",
            hint="Nothing was changed. Fix that, or move the database away, and try again.",
        ) from error
    return target


# --- every day ------------------------------------------------------------------------------------


def daily_backup(workspace: Workspace, on: date | None = None) -> Problem | None:
    """Write today's backup if it is not there, keep the last 14, and tidy up.

    Never stops anything else: what went wrong is returned.
    """
    day = on or today()
    folder = _folder(workspace)
    target = folder / backup_name(day)
    words = ""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if not target.exists():
            words = write_backup(workspace, target)
    except Exception as error:  # noqa: BLE001 - whatever it is, the cars stay open
        said = error if isinstance(error, (AppraiseError, OSError)) else repr(error)
        if not target.exists():
            return Problem("backup", f"today's backup could not be written: {said}", "warning")
    try:
        _drop_old(folder, day)
        for one in (folder, workspace.settings.data_folder):
            clear_left(one)
        tidy(workspace)
    except Exception as error:  # noqa: BLE001 - the same
        said = error if isinstance(error, (AppraiseError, OSError)) else repr(error)
        return Problem("backup", f"old history could not be cleared away: {said}", "warning")
    if "damaged" in words:
        return Problem("backup", f"today's backup holds {words}", "warning")
    return None


def extra_backup(workspace: Workspace) -> tuple[Path, str]:
    """Write a backup beside those of each day; return its place and what it holds, in words.

    It is named by the moment, and stays until somebody deletes it.

    Raises
    ------
    BadBackup
        It cannot be written.
    """
    folder = _folder(workspace)
    target = folder / f"appraise-{datetime.now():%Y-%m-%d-%H%M%S}.zip"  # noqa: DTZ005 - as the clock on the wall
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadBackup(f"cannot be made: {error.strerror}", where=str(folder)) from error
    return target, write_backup(workspace, target)


def backups_kept(workspace: Workspace) -> tuple[tuple[Path, int], ...]:
    """Return the backups in the data folder with their sizes in bytes, the newest first."""
    try:
        found = [(one.stat(), one) for one in _folder(workspace).glob("*.zip")]
    except OSError:  # it is not there, or one of them went meanwhile
        return ()
    found.sort(key=lambda one: (one[0].st_mtime, one[1].name), reverse=True)
    return tuple((one, about.st_size) for about, one in found)


def _folder(workspace: Workspace) -> Path:
    return workspace.settings.data_folder / "backups"


def _drop_old(folder: Path, day: date) -> None:
    """Delete daily backups that are too old.

    The last ones stay however old they are: the clock may have jumped ahead.
    """
    oldest = backup_name(day - timedelta(days=DAYS_KEPT - 1))
    daily = sorted(one for one in folder.iterdir() if DAILY.fullmatch(one.name))
    for file in daily[:-DAYS_KEPT]:
        if file.name < oldest:
            file.unlink(missing_ok=True)
