"""A program that was in use for a while."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import count

import pytest

from appraise.services.records.workspace import Workspace
from appraise.store.cases import CaseStore

OFTEN = timedelta(days=5)


@pytest.fixture
def used_for() -> Callable[[Workspace, int], None]:
    """Let another car be saved every few days, from so many days ago until now.

    Nothing grows old while nobody saves: a clock that jumps ahead could not be told from that.
    """

    def use(workspace: Workspace, days: int) -> None:
        engine = workspace.cases.engine
        one = workspace.cases.load(workspace.cases.summaries()[0].id).case
        case = one.model_copy(update={"id": "in-use"})
        begin = datetime.now(UTC) - timedelta(days=days)
        moments = (begin + OFTEN * number for number in count())
        store = CaseStore(engine, now=lambda: next(moments))
        kept = store.add(case)
        while kept.updated_at < datetime.now(UTC):
            kept = store.save(case, kept.version)

    return use
