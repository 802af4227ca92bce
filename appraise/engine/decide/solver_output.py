"""Keeps standard output clean while a library written in C prints what nobody asked for."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from threading import Lock

__all__ = ["off_standard_output"]

OUTPUT, ERROR = 1, 2

_one_at_a_time = Lock()


@contextmanager
def off_standard_output() -> Iterator[None]:
    """Return a context in which what is printed goes to standard error.

    The solver HiGHS 1.12, as SciPy 1.17 brings it, prints a line whenever it repairs a solution,
    whatever it was told; it would end up in the midst of figures that another program reads.
    Descriptors belong to the whole process, so one thread at a time, and what another prints
    meanwhile goes the same way. Without a standard output or error, nothing is done.
    """
    with _one_at_a_time:
        try:
            kept = os.dup(OUTPUT)
        except OSError:
            yield
            return
        try:
            _flush()
            with suppress(OSError):
                os.dup2(ERROR, OUTPUT)
            yield
        finally:
            _flush()
            os.dup2(kept, OUTPUT)
            os.close(kept)


def _flush() -> None:
    """Write out what C has buffered, before it can come out elsewhere."""
    import ctypes  # noqa: PLC0415

    library = "ucrtbase" if sys.platform == "win32" else None
    ctypes.CDLL(library).fflush(None)
