"""What is forgotten in time: old history, cars removed long ago, photos that nothing names."""

from __future__ import annotations

import json
import re
from typing import Any

from sqlalchemy import Connection

from appraise.services.records.workspace import Workspace
from appraise.store.dump import reading, rows_of
from appraise.store.history import LEAST_DAYS, documents_since, saves_of

__all__ = ["tidy"]

DIGEST = re.compile(r"[0-9a-f]{64}")


def tidy(workspace: Workspace, days: int | None = None) -> tuple[int, int]:
    """Forget old history and photos that nothing names; return how many of each.

    A photo or PDF is kept for thirty days though nothing names it: its form may not be saved yet.

    Parameters
    ----------
    days : how long history is kept, never less than thirty; as the preferences say if None.
    """
    if days is None:
        days = workspace.preferences.load().preferences.history_days
    versions = workspace.history.forget(days)
    line = workspace.history.line(LEAST_DAYS)
    if line is None:
        return versions, 0
    with reading(workspace.cases.engine) as connection:
        known = frozenset(saves_of(connection))
        used = {
            name
            for table in ("cases", "history")
            for row in rows_of(connection, table)
            for name in _digests(row["doc"])
        }

    def look_again(connection: Connection) -> set[str]:
        return {name for doc in documents_since(connection, known) for name in _digests(doc)}

    return versions, workspace.files.forget_unused(used, line, look_again)


def _digests(document: Any) -> list[str]:  # noqa: ANN401 - also one that cannot be read
    """Return what may be the name of a photo anywhere in a document; one too many only stays."""
    return DIGEST.findall(json.dumps(document))
