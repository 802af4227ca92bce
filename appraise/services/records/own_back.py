"""Own values that come back with a backup: in place together with its cars, or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from hashlib import sha256
from pathlib import Path
from secrets import token_hex
from typing import Any

from sqlalchemy import Engine

from appraise.errors import StoreUnavailable
from appraise.files.whole_files import write_whole
from appraise.store.put_back import forget_what_waits, row_that_waits, what_waits

__all__ = ["finish_putting_back", "own_values_back"]


@contextmanager
def own_values_back(
    engine: Engine, path: Path, text: bytes | None
) -> Iterator[list[tuple[str, dict[str, Any]]]]:
    """Put own values in the place of those that are there, once everything else is done.

    Gives the rows to be put into the database together with the cars: if the program is killed
    between the two, `finish_putting_back` does the rest.
    """
    beside = path.with_name(f".{path.name}-{token_hex(4)}.part")
    rows: list[tuple[str, dict[str, Any]]] = []
    done = over = False
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if text is not None:
            with beside.open("xb") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
        if text != _content(path):
            rows.append(row_that_waits(text, _which(path)))
        yield rows
        done = True
        if text is None:
            path.unlink(missing_ok=True)
        else:
            beside.replace(path)
        over = True
    except OSError as error:
        words = f"cannot be written: {error.strerror or error}"
        if done:
            words = f"everything else is put back, but this {words}"
            over = True  # it is told, and theirs to do
        raise StoreUnavailable(words, where=str(path)) from error
    finally:
        beside.unlink(missing_ok=True)
        if over and rows:
            _forget(engine)


def finish_putting_back(engine: Engine, path: Path) -> None:
    """Put own values in place where a restore was killed before it could; else do nothing.

    Those changed since then stay.

    Raises
    ------
    StoreUnavailable
        They cannot be written.
    """
    waiting = what_waits(engine)
    if waiting is None:
        return
    text, instead_of = waiting
    try:
        if _which(path) == instead_of:
            if text is None:
                path.unlink(missing_ok=True)
            else:
                write_whole(path, text)
    except OSError as error:
        raise StoreUnavailable(
            f"cannot be written, and belongs to the cars put back: {error.strerror or error}",
            where=str(path),
        ) from error
    _forget(engine)


def _forget(engine: Engine) -> None:
    with suppress(StoreUnavailable):  # it is looked at again, and finds them changed
        forget_what_waits(engine)


def _content(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None


def _which(path: Path) -> str:
    """Return what tells the own values there from any others."""
    content = _content(path)
    return "none" if content is None else sha256(content).hexdigest()
