"""A log with the air outside that it is held against."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path

from appraise.engine.measure.logged import LogView
from appraise.engine.measure.manifold import HIGHEST_M, LOWEST_M, local_pressure
from appraise.errors import AppraiseError
from appraise.files.whole_files import write_whole
from appraise.given import file_text, json_of
from appraise.intake.logs.read import read_log

__all__ = ["log_view", "remember_columns", "remembered_columns"]

LARGEST_KEPT = 2**20


def remembered_columns(file: Path) -> dict[str, str]:
    """Return which columns of past logs were said to be what; empty if none were."""
    if not file.exists():
        return {}
    try:
        kept = json_of(file_text(file, LARGEST_KEPT))
        return {str(heading): str(name) for heading, name in kept.items()}
    except (AppraiseError, ValueError, AttributeError) as error:
        raise AppraiseError("cannot be read; remove it to begin anew", where=str(file)) from error


def remember_columns(file: Path, said: Iterable[str]) -> dict[str, str]:
    """Keep what columns are, each said as `heading=name`; return all that is remembered.

    Raises
    ------
    AppraiseError
        One is not of that form, or the file cannot be written.
    """
    kept = remembered_columns(file)
    for one in said:
        heading, _, name = one.rpartition("=")
        if not heading:
            raise AppraiseError("write it as heading=name, such as 'Boost abs=map_kpa'", where=one)
        kept[heading] = name
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        write_whole(file, json.dumps(kept, indent=2).encode())
    except OSError as error:
        raise AppraiseError(f"cannot be written: {error.strerror}", where=str(file)) from error
    return kept


def log_view(
    path: Path, height_m: float | None = None, mapping: Mapping[str, str] | None = None
) -> LogView:
    """Return a log file ready to be shown; its own barometer comes before the height.

    Raises
    ------
    AppraiseError
        The file cannot be read, or is no log; the message says why.
    """
    if height_m is not None and not LOWEST_M <= height_m <= HIGHEST_M:
        message = f"{height_m:g} is no height: from {LOWEST_M:,.0f} to {HIGHEST_M:,.0f} m"
        raise AppraiseError(message, where="--height")
    try:
        log = read_log(path, mapping=mapping)
    except AppraiseError as error:
        where = error.where or path.name
        raise AppraiseError(error.message, where=where, hint=error.hint) from error
    local = local_pressure(logged_kpa=log.barometer_kpa, height_m=height_m)
    return LogView(path.name, log.rows, log.columns, log.mapping, log.problems, local)
