"""What comes from outside, read within bounds and believed in nothing: files, JSON, TOML.

Bounds are there so that no file, however it was made, takes the memory or the time of everything
else; none of them is near what a person's own files hold.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from decimal import Decimal, InvalidOperation
from io import BufferedReader
from pathlib import Path
from stat import S_ISREG
from typing import Any

import tomli

from appraise.errors import AppraiseError

__all__ = [
    "TooLarge",
    "Twice",
    "check_extent",
    "file_bytes",
    "file_text",
    "json_of",
    "only_mine",
    "open_file",
    "toml_of",
]

MEGABYTE = 2**20

MOST_PARTS = 50_000
"""Objects and lists in one document; the fullest example holds some hundreds."""
MOST_KEYS = 500
"""Of one object; no model has a tenth of them."""
MOST_IN_ALL = 400_000
"""Values in one document."""
MOST_DEEP = 50
"""Levels of one document; a case has nine."""
LONGEST_LINE = 22_000
"""Characters of a line of TOML: a note has up to 20,000. The parser takes the square of the number
of names in a dotted key, which stand on one line."""
WHOLE = range(-(2**63), 2**63)
"""Whole numbers that TOML promises to carry (TOML 1.0, "Integer")."""


class TooLarge(AppraiseError):
    """A file that holds more than is read.

    Attributes
    ----------
    size : bytes that it says it has, or that were read until it was too many.
    """

    size = 0


PLAINLY = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
"""How a file is opened: a pipe that nobody writes into would otherwise keep it waiting."""


OTHERS = 0o077
"""What anybody but the owner may do with a file (POSIX permission bits)."""


def only_mine(path: Path) -> None:
    """Refuse a file with secrets that others on this machine can read or change (POSIX only).

    Raises
    ------
    AppraiseError
        They can; the hint says how to take that away.
    """
    if os.name == "posix" and path.stat().st_mode & OTHERS:
        raise AppraiseError(
            "can be read or changed by others on this machine",
            where=str(path),
            hint=f"Take that away: chmod 600 '{path}'",
        )


def open_file(path: Path) -> BufferedReader:
    """Return an ordinary file, open: a device or a pipe has no end, or no beginning.

    Raises
    ------
    AppraiseError
        It is not there, is a folder, device or pipe, or cannot be opened.
    """
    where = str(path)
    try:
        file = os.fdopen(os.open(path, PLAINLY), "rb")
    except (FileNotFoundError, NotADirectoryError, ValueError) as error:
        # ValueError: a name that no file can have.
        raise AppraiseError("there is no such file", where=where) from error
    except IsADirectoryError as error:
        raise AppraiseError("is a folder, not a file", where=where) from error
    except OSError as error:
        raise AppraiseError(f"cannot be read: {error.strerror}", where=where) from error
    if not S_ISREG(os.fstat(file.fileno()).st_mode):
        file.close()
        raise AppraiseError("is a device or a pipe, not a file", where=where)
    return file


def file_bytes(path: Path, most: int) -> bytes:
    """Return what is in an ordinary file.

    Parameters
    ----------
    most : bytes that it may hold.

    Raises
    ------
    AppraiseError
        As for `open_file`.
    TooLarge
        It holds more.
    """
    where = str(path)
    with open_file(path) as file:
        size, data = os.fstat(file.fileno()).st_size, b""
        if size <= most:
            try:
                data = file.read(most + 1)
            except OSError as error:
                raise AppraiseError(f"cannot be read: {error.strerror}", where=where) from error
    found = max(size, len(data))
    if found > most:
        too_large = TooLarge(f"is larger than {most // MEGABYTE} MB", where=where)
        too_large.size = found
        raise too_large
    return data


def file_text(path: Path, most: int) -> str:
    """Return the text of an ordinary file in UTF-8, without a mark of its byte order.

    Raises
    ------
    AppraiseError
        As for `file_bytes`, or it is no such text.
    """
    try:
        text = file_bytes(path, most).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise AppraiseError("is not text in UTF-8", where=str(path)) from error
    return text.replace("\r\n", "\n").replace("\r", "\n")


class Twice(ValueError):
    """An object of JSON that names a key twice; its text is the key."""


def json_of(text: str) -> Any:  # noqa: ANN401 - whatever stands there
    """Return what a JSON text holds, decimals exact.

    Raises
    ------
    Twice
        A key stands twice in one object.
    json.JSONDecodeError
        It is not JSON.
    ValueError
        It is nested too deep, or a number in it is too long.
    """
    try:
        return json.loads(text, parse_float=Decimal, object_pairs_hook=_once)
    except (RecursionError, InvalidOperation) as error:
        raise ValueError("nested too deep, or a number too long") from error


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    out = dict(pairs)
    if len(out) < len(pairs):
        seen: set[str] = set()
        for key, _ in pairs:
            if key in seen:
                raise Twice(key)
            seen.add(key)
    return out


def toml_of(text: str) -> dict[str, Any]:
    """Return what a TOML text holds, decimals exact.

    Raises
    ------
    ValueError
        It is not TOML, or beyond what is read; says why in a few words.
    """
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            raise ValueError(f"line {number} is longer than {LONGEST_LINE:,} characters")
    try:
        found = tomli.loads(text, parse_float=Decimal)
    except tomli.TOMLDecodeError:
        raise
    except RecursionError as error:
        raise ValueError("it is nested too deep") from error
    except (InvalidOperation, ValueError) as error:  # the latter of int(), beyond 4,300 digits
        raise ValueError("a number in it is too long") from error
    if any(isinstance(one, int) and one not in WHOLE for one in _plain_values(found)):
        raise ValueError("a number in it is too long")
    return found


def check_extent(document: Any) -> None:  # noqa: ANN401 - whatever stands there
    """Refuse a document of more parts than any has, before a model looks at each of them.

    A model writes an error for every part that it does not like: eight megabytes of empty objects
    would take it as many gigabytes.

    Raises
    ------
    ValueError
        It holds too much; says what.
    """
    for _ in _plain_values(document):
        pass


def _plain_values(document: Any) -> Iterator[Any]:  # noqa: ANN401
    """Yield what is neither an object nor a list, as long as there is not too much of them."""
    parts, values = 0, 0
    waiting = [(document, 0)]
    while waiting:
        one, deep = waiting.pop()
        if isinstance(one, dict):
            inner = list(one.values())
            if len(inner) > MOST_KEYS:
                raise ValueError(f"one object in it has more than {MOST_KEYS} fields")
        elif isinstance(one, (list, tuple)):
            inner = list(one)
        else:
            yield one
            continue
        parts, values = parts + 1, values + len(inner)
        if parts > MOST_PARTS or values > MOST_IN_ALL:
            raise ValueError("it holds more parts than anything that is kept here")
        if deep == MOST_DEEP:
            raise ValueError("it is nested too deep")
        waiting += [(value, deep + 1) for value in inner]
