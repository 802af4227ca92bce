"""Small files written whole or not at all, whoever else writes them, and kept over a power cut."""

from __future__ import annotations

import os
import re
import time
from contextlib import suppress
from pathlib import Path
from secrets import token_hex

__all__ = ["clear_left", "write_whole"]

LEFT = re.compile(r"\.(appraise|own_values\.toml|log_columns\.json)-(?:[0-9a-f]{8}){1,2}\.part")
"""Names of what is written beside a file before it takes its place."""
DAY = 86_400  # seconds


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


def clear_left(folder: Path) -> None:
    """Delete what a killed process left half written in a folder more than a day ago."""
    with suppress(OSError):  # it does no harm
        for file in folder.iterdir():
            if LEFT.fullmatch(file.name) and file.stat().st_mtime < time.time() - DAY:
                file.unlink(missing_ok=True)
