"""Drops what a library written in C prints and nobody asked for."""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

__all__ = ["no_output"]

OUTPUT = 1

_library = ctypes.CDLL("ucrtbase" if sys.platform == "win32" else None)
_one_at_a_time = Lock()


@contextmanager
def no_output() -> Iterator[None]:
    """Return a context in which what is printed on standard output is dropped.

    The solver HiGHS 1.12, as SciPy 1.17 brings it, prints a line whenever it repairs a solution,
    whatever it was told; it would end up in the midst of figures that another program reads.
    Descriptors belong to the whole process, so one thread at a time. Without a standard output
    nothing is done.
    """
    with _one_at_a_time:
        try:
            kept = os.dup(OUTPUT)
        except OSError:
            yield
            return
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            _flush()
            os.dup2(nowhere, OUTPUT)
            yield
        finally:
            _flush()
            os.dup2(kept, OUTPUT)
            os.close(kept)
            os.close(nowhere)


def _flush() -> None:
    """Write out what C has buffered, before it can come out elsewhere."""
    _library.fflush(None)
