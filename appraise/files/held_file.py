"""A file that one program at a time has open to change it; the system lets go of it at its end.

So nothing has to be cleared away after a program that was killed.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

__all__ = ["open_alone"]

PAUSE = 0.01  # seconds between two looks


def open_alone(path: Path, how: int, seconds: float) -> int:
    """Open a file, made if missing, that nobody else has open so; return its descriptor.

    It is held until the descriptor is closed, and should be moved or deleted only before that.
    Windows has no such hold: there nothing is waited for.

    Parameters
    ----------
    how : flags as for `os.open`.
    seconds : how long to wait for somebody else.

    Raises
    ------
    BlockingIOError
        Somebody else has it open all that time.
    OSError
        It cannot be opened.
    """
    if sys.platform == "win32":
        return os.open(path, how | os.O_CREAT, 0o600)
    until = time.monotonic() + seconds
    while True:
        handle = os.open(path, how | os.O_CREAT, 0o600)
        ours = False
        try:
            if _held(handle, wait=time.monotonic() < until):
                ours = _is_at(path, handle)  # else whoever had it before has moved it
                if ours:
                    return handle
        finally:
            if not ours:
                os.close(handle)


def _held(handle: int, *, wait: bool) -> bool:
    """Whether it is held now; if somebody else holds it, wait a little or refuse."""
    import fcntl  # noqa: PLC0415 - not on Windows

    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        if not wait:
            raise
        time.sleep(PAUSE)
        return False
    return True


def _is_at(path: Path, handle: int) -> bool:
    try:
        return os.path.samestat(path.stat(), os.fstat(handle))
    except FileNotFoundError:
        return False
