"""Small files written whole or not at all, whoever else writes them, and kept over a power cut."""

from __future__ import annotations

import os
from pathlib import Path
from secrets import token_hex

__all__ = ["write_whole"]


def write_whole(path: Path, data: bytes) -> None:
    """Put data in the place of a file's content; nobody ever reads half of it.

    Raises
    ------
    OSError
        It cannot be written; what was there before is as it was.
    """
    beside = path.with_name(f".{path.name}-{token_hex(4)}.part")
    try:
        with beside.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
