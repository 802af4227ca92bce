"""A backup read: whether it is one, whole, and holds nothing that this program cannot keep.

A zip of JSON lines and of the photos as they are, each named in the manifest with its digest, so
that it can be read in years without this program and is checked whole before anything is put back.
"""

from __future__ import annotations

import json
import re
import zlib
from base64 import b64decode
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from io import BufferedReader
from pathlib import Path
from typing import Any, NoReturn, get_args
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from appraise.errors import AppraiseError, BadCase, NewerSchema
from appraise.given import open_file
from appraise.intake.files import is_kept_so, is_small
from appraise.models.files import LARGEST_FILE, MediaType
from appraise.store.documents import case_of
from appraise.store.dump import TABLES, amiss, key_of
from appraise.store.preferences import KEY

__all__ = [
    "FORMAT",
    "LARGEST_ALL",
    "LARGEST_LIST",
    "LISTS",
    "MANIFEST",
    "MOST_MEMBERS",
    "OWN",
    "Backup",
    "BadBackup",
    "opened",
    "read_backup",
]

FORMAT = 1
LARGEST_LIST, LARGEST_ALL = 8 * 2**30, 64 * 2**30
LARGEST_SMALL = 16 * 2**20  # own values
LONGEST_LINE = 32 * 2**20
MOST_MEMBERS = 200_000
MOST_RATIO = 1000
"""Deflate packs zeros 1,032 to 1, and nothing better. The saves of one car, nearly alike, come to
110 to 1, and to 870 to 1 if its text is one letter over and over: a stricter limit would refuse
them. What unpacks to much is held back by the sizes, and never has more than a line in memory."""

LARGEST_READ = 32 * 2**20
"""Bytes; an entry of the list of members takes some 120."""

PIECE = 2**20
MANIFEST = "manifest.json"
OWN = "own_values.toml"
LISTS = {name: f"{name}.jsonl" for name in TABLES}
PICTURE = re.compile(r"files/[0-9a-f]{64}")


class BadBackup(AppraiseError):
    """A file that is no backup, or is damaged."""


class _Piecewise(BufferedReader):
    """A file of which never more is read at once than the largest list of members takes.

    The zip library reads that list whole, however long the file says it is, and makes an object of
    each entry, before anybody can count them.
    """

    def read(self, size: int | None = -1, /) -> bytes:
        """Return so many bytes, or all to the end."""
        data = super().read(LARGEST_READ + 1 if size is None or size < 0 else size)
        if len(data) > LARGEST_READ:
            raise BadBackup("is larger than any backup of this program")
        return data


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup that was read and found whole.

    Attributes
    ----------
    made_at : moment in UTC, as the manifest has it.
    counts : rows of each table.
    rows : those of the cases, without the cars themselves, and of the preferences; the rest is read
        when it is put back.
    own_values : the person's own values, or None.
    unreadable : cars that this program cannot read, and keeps as they are.
    """

    made_at: str
    counts: Mapping[str, int]
    rows: Mapping[str, tuple[dict[str, Any], ...]]
    own_values: bytes | None
    unreadable: int = 0

    @property
    def words(self) -> str:
        """What it holds, in one line."""
        cars = sum(row["deleted_at"] is None for row in self.rows["cases"])
        words = f"{cars} cars, {self.counts['files']} photos and PDFs, of {self.made_at[:16]}"
        return words + self.unreadable_words

    @property
    def unreadable_words(self) -> str:
        """How many cars in it cannot be read; empty if all can."""
        count = self.unreadable
        return f"; cannot be read here, and kept as they are: {count}" if count else ""


def read_backup(source: Path) -> Backup:
    """Return what a backup holds, once all of it was checked.

    A car that cannot be read is put back as it is, as any other: nothing of it is lost.

    Raises
    ------
    BadBackup
        It is no backup, of a newer version, too large, or damaged; says where.
    """
    with opened(source) as (found, _):
        return found


@contextmanager
def opened(source: Path) -> Iterator[tuple[Backup, Iterator[tuple[str, dict[str, Any]]]]]:
    """Give a backup, checked as by `read_backup`, and its rows with their table, photos included.

    The rows are read one by one as they are asked for, and checked against their digests again.
    """
    with _told(source):
        file = _Piecewise(open_file(source).detach())
    with file:
        with _told(source):
            archive = ZipFile(file)
            manifest = _manifest(archive)
            found = _checked(archive, manifest)
        yield found, _all_rows(source, archive, manifest["sha256"])


@contextmanager
def _told(source: Path) -> Iterator[None]:
    """Put into words what goes wrong while the file is read."""
    try:
        yield
    except BadBackup as error:
        error.where = error.where or str(source)
        raise
    except AppraiseError as error:
        raise BadBackup(error.message, where=error.where) from error
    except OSError as error:
        said = error.strerror or error
        raise BadBackup(f"cannot be read: {said}", where=str(source)) from error
    except (BadZipFile, EOFError, NotImplementedError, RuntimeError, ValueError) as error:
        raise BadBackup(f"is no backup, or is damaged: {error}", where=str(source)) from error
    except zlib.error as error:
        raise BadBackup(f"is damaged: {error}", where=str(source)) from error


def _manifest(archive: ZipFile) -> dict[str, Any]:
    members = {one.filename: one for one in archive.infolist()}
    if len(members) != len(archive.infolist()) or MANIFEST not in members:
        raise BadBackup("is no backup: it has no manifest, or a member twice")
    _check_sizes(members)
    try:
        manifest = _json(archive.read(MANIFEST))
        version, digests, made_at = manifest["format"], manifest["sha256"], manifest["made_at"]
        numbers = manifest["counts"]
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise BadBackup("is no backup: its manifest cannot be read") from error
    if type(version) is int and version > FORMAT:
        raise BadBackup(
            f"was written by a newer program (format {version}; this one knows {FORMAT})",
            hint="Update this program to put it back.",
        )
    if version != FORMAT or not isinstance(made_at, str) or not isinstance(numbers, dict):
        raise BadBackup("is no backup: its manifest cannot be read")
    unknown = [
        name
        for name in members
        if name not in (MANIFEST, OWN, *LISTS.values()) and not PICTURE.fullmatch(name)
    ]
    if unknown or not isinstance(digests, dict) or set(digests) != set(members) - {MANIFEST}:
        raise BadBackup(f"holds what no backup holds: {', '.join(sorted(unknown))[:200] or 'odd'}")
    if not set(LISTS.values()) <= set(members):
        raise BadBackup("lacks one of its lists")
    return {**manifest, "made_at": made_at}


def _check_sizes(members: Mapping[str, ZipInfo]) -> None:
    if len(members) > MOST_MEMBERS or sum(one.file_size for one in members.values()) > LARGEST_ALL:
        raise BadBackup("is larger than any backup of this program")
    largest = dict.fromkeys(LISTS.values(), LARGEST_LIST)
    largest |= {MANIFEST: LONGEST_LINE, OWN: LARGEST_SMALL}
    for name, one in members.items():
        packed = max(one.compress_size, 1024)
        if one.file_size > min(largest.get(name, LARGEST_FILE), MOST_RATIO * packed):
            raise BadBackup(f"{name[:80]} unpacks to more than it may")
        if one.compress_type not in (ZIP_STORED, ZIP_DEFLATED):
            raise BadBackup(f"{name[:80]} is packed as no backup of this program is")


def _checked(archive: ZipFile, manifest: Mapping[str, Any]) -> Backup:
    digests = manifest["sha256"]
    _check_digests(archive, digests)
    kept: dict[str, list[dict[str, Any]]] = {"cases": [], "preferences": []}
    counts = {}
    pictures = set()
    unreadable = 0
    for table in TABLES:
        keys = set()
        for number, row in enumerate(_rows(archive, table, digests), 1):
            where = f"{LISTS[table]}, line {number}"
            keys.add(key_of(table, row))
            if len(keys) != number:
                raise BadBackup(f"{where}: is there twice")
            if table == "files":
                pictures.add(_picture(archive, row, where))
            elif table == "preferences" and row["key"] != KEY:
                raise BadBackup(f"{where}: has a key that is not known")
            if table == "cases":
                unreadable += not _readable(row)
            if table in kept:
                # Without the cars themselves, of which there may be more than fit into memory.
                brief = {key: value for key, value in row.items() if key != "doc"}
                kept[table].append(brief if table == "cases" else row)
        counts[table] = len(keys)
    if pictures != {name for name in digests if PICTURE.fullmatch(name)}:
        raise BadBackup("is damaged: its photos and their list do not agree")
    if counts != manifest["counts"]:
        raise BadBackup("is damaged: its lists are not as long as they were")
    own = archive.read(OWN) if OWN in digests else None
    rows = {table: tuple(some) for table, some in kept.items()}
    return Backup(manifest["made_at"], counts, rows, own, unreadable)


def _readable(row: Mapping[str, Any]) -> bool:
    try:
        case_of(row["doc"], row["id"], "The car")
    except (BadCase, NewerSchema):
        return False
    return True


def _check_digests(archive: ZipFile, digests: Mapping[str, str]) -> None:
    for name, digest in digests.items():
        if _digest(archive, name) != digest:
            raise BadBackup(f"is damaged: {name} is not what was written")
        if PICTURE.fullmatch(name) and name != f"files/{digest}":
            raise BadBackup(f"is damaged: {name} is not what its name says")


def _digest(archive: ZipFile, name: str) -> str:
    digest = sha256()
    with archive.open(name) as file:
        while piece := file.read(PIECE):
            digest.update(piece)
    return digest.hexdigest()


def _rows(archive: ZipFile, table: str, digests: Mapping[str, str]) -> Iterator[dict[str, Any]]:
    """Yield the rows of a list; what is no row, or no longer as written, is told."""
    name = LISTS[table]
    wanted = {column.name for column in TABLES[table].columns} - {"content"}
    digest = sha256()
    number = 0
    with archive.open(name) as member, BufferedReader(member, PIECE) as file:  # type: ignore[type-var]
        while line := file.readline(LONGEST_LINE + 1):
            number += 1
            where = f"{name}, line {number}"
            if len(line) > LONGEST_LINE:
                raise BadBackup(f"{where}: is longer than any of this program")
            digest.update(line)
            try:
                row = _json(line)
            except (ValueError, RecursionError) as error:
                raise BadBackup(f"{where}: is not JSON") from error
            if not isinstance(row, dict) or set(row) != wanted:
                raise BadBackup(f"{where}: has other fields than it should")
            if odd := amiss(table, row):
                raise BadBackup(f"{where}: {odd} is not what can be kept")
            yield row
    if digest.hexdigest() != digests[name]:
        raise BadBackup(f"is damaged: {name} is not what was written")


def _json(data: bytes) -> Any:  # noqa: ANN401
    """Return what JSON says; numbers that JSON does not have are refused."""

    def none_of_these(word: str) -> NoReturn:
        raise ValueError(f"{word} is no number")

    return json.loads(data, parse_constant=none_of_these)


def _picture(archive: ZipFile, row: Mapping[str, Any], where: str) -> str:
    """Return the member that holds the bytes of a photo or PDF."""
    name = f"files/{row['id']}"
    if not PICTURE.fullmatch(name):
        raise BadBackup(f"{where}: names {row['id'][:80]!r}, which is no digest")
    if row["media_type"] not in get_args(MediaType):
        raise BadBackup(f"{where}: is neither a photo nor a PDF")
    try:
        size = archive.getinfo(name).file_size
    except KeyError:
        raise BadBackup("is damaged: its photos and their list do not agree") from None
    if size != row["size"]:
        raise BadBackup(f"{where}: says another size than its photo has")
    if not is_kept_so(archive.read(name), row["media_type"]):
        raise BadBackup(f"{where}: its photo or PDF is none, or none as this program keeps them")
    try:
        small = _small(row["thumbnail"])
    except (TypeError, ValueError):
        small = b""
    if small is not None and not is_small(small):
        raise BadBackup(f"{where}: thumbnail is not what can be kept")
    return name


def _small(text: str | None) -> bytes | None:
    return None if text is None else b64decode(text, validate=True)


def _all_rows(
    source: Path, archive: ZipFile, digests: Mapping[str, str]
) -> Iterator[tuple[str, dict[str, Any]]]:
    with _told(source):
        for table in TABLES:
            for row in _rows(archive, table, digests):
                if table != "files":
                    yield table, row
                    continue
                content = archive.read(f"files/{row['id']}")
                if sha256(content).hexdigest() != row["id"]:
                    raise BadBackup(f"is damaged: files/{row['id']} is not what was written")
                yield table, row | {"content": content, "thumbnail": _small(row["thumbnail"])}
