"""Who came and went, and what was done that is in no car: one JSON object a line, no password."""

from __future__ import annotations

import errno
import json
import os
import threading
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal, get_args

from appraise.errors import StoreUnavailable
from appraise.files.held_file import open_alone

__all__ = ["LARGEST_LOG", "Event", "Noted", "note", "read_log"]

Event = Literal[
    "signed in",
    "signed out",
    "wrong password",
    "unknown name",
    "not on the list",
    "added",
    "removed",
    "password set",
    "role set",
    "settings saved",
    "own values saved",
    "backup made",
    "backup put back",
]
LARGEST_LOG = 5_000_000
"""Bytes; then the file becomes `.1`, in place of the one before it."""

WAIT = 5.0
"""Seconds to wait while somebody else adds a line, which takes a moment."""

_turn = threading.Lock()


@dataclass(frozen=True, slots=True)
class Noted:
    """One line of the log.

    Attributes
    ----------
    at : when, in UTC.
    what : what happened.
    who : the name on the list; empty where what was typed is on none: it may be a password.
    came_from : address in the network, empty for this machine.
    """

    at: datetime
    what: Event
    who: str
    came_from: str = ""


def note(path: Path, what: Event, who: str, came_from: str = "") -> None:
    """Add a line.

    Raises
    ------
    StoreUnavailable
        It cannot be written.
    """
    row = {
        "at": datetime.now(UTC).isoformat(timespec="seconds"),
        "what": what,
        "who": who,
        "from": came_from,
    }
    line = (json.dumps(row) + "\n").encode("ascii")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with _turn:
            handle = _opened(path, len(line))
            try:
                _add(handle, line)
            finally:
                os.close(handle)
    except OSError as error:
        said = error.strerror or "another program has it open"
        raise StoreUnavailable(f"cannot be written: {said}", where=str(path)) from error


def _opened(path: Path, more: int) -> int:
    """Return the log opened and held, a new one if it would grow over its bound."""
    while True:
        handle = open_alone(path, os.O_RDWR | os.O_APPEND, WAIT)
        size = os.fstat(handle).st_size
        if not size or size + more <= LARGEST_LOG:
            return handle
        try:
            if os.name != "nt":  # while it is held: nobody else moves the one begun after it
                path.replace(_before(path))
        finally:
            os.close(handle)
        if os.name == "nt":
            path.replace(_before(path))


def _add(handle: int, line: bytes) -> None:
    """Add all of a line or nothing, on a line of its own whatever a power cut left."""
    size = os.fstat(handle).st_size
    if size and _last_byte(handle, size) != b"\n":
        line = b"\n" + line
    whole = False
    try:
        whole = os.write(handle, line) == len(line)
    finally:
        if not whole:
            os.ftruncate(handle, size)
    if not whole:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def _last_byte(handle: int, size: int) -> bytes:
    os.lseek(handle, size - 1, os.SEEK_SET)
    return os.read(handle, 1)


def read_log(path: Path, most: int) -> tuple[Noted, ...]:
    """Return the last lines, the newest first; lines that cannot be read are left out.

    Raises
    ------
    StoreUnavailable
        The log is there and cannot be read.
    """
    found: list[Noted] = []
    for one in (path, _before(path)):
        try:
            lines = one.read_bytes().splitlines()
        except FileNotFoundError:
            lines = []
        except OSError as error:
            raise StoreUnavailable(f"cannot be read: {error.strerror}", where=str(one)) from error
        for line in reversed(lines):
            if len(found) == most:
                return tuple(found)
            row = _noted(line)
            if row is not None:
                found.append(row)
    return tuple(found)


def _before(path: Path) -> Path:
    return path.with_name(f"{path.name}.1")


def _noted(line: bytes) -> Noted | None:
    try:
        row = json.loads(line)
        at = datetime.fromisoformat(row["at"])
        what, who, came_from = row["what"], row["who"], row["from"]
    except (ValueError, TypeError, KeyError):
        return None
    if what not in get_args(Event) or not isinstance(who, str) or not isinstance(came_from, str):
        return None
    return Noted(at=at, what=what, who=who, came_from=came_from)
