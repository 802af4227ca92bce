"""Killed in the middle of saving: the case is the old one or the new one, never neither."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import time
from pathlib import Path

import pytest

from appraise.models.case import Case
from appraise.store.cases import CaseStore
from appraise.store.database import open_database
from appraise.store.history import HistoryStore

TIMES = 200


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")
def test_two_hundred_kills_in_the_middle_of_saving(tmp_path: Path, full_case: Case) -> None:
    """Each time a process that saves two documents in turn, without pause, is killed (SIGKILL)."""
    url = f"sqlite:///{tmp_path / 'cases.sqlite'}"
    both = tuple(full_case.model_copy(update={"title": title}) for title in ("One", "Two"))
    engine = open_database(url)
    CaseStore(engine).add(both[0])
    engine.dispose()  # no connection may live on in a child
    dice = random.Random(7)  # noqa: S311 - moments, no secrets
    saved = 0
    for _ in range(TIMES):
        child = os.fork()
        if child == 0:
            _save_for_ever(url, both)
        time.sleep(dice.uniform(0.004, 0.05))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        assert os.WTERMSIG(status) == signal.SIGKILL, "it was killed, and did not end by itself"

        engine = open_database(url)
        stored = CaseStore(engine).load(full_case.id)
        last = HistoryStore(engine).versions(full_case.id, 1)[0]
        assert stored.case in both
        assert last.version == stored.version
        assert HistoryStore(engine).load(full_case.id, last.version) == stored.case
        saved = stored.version
        engine.dispose()
    with sqlite3.connect(tmp_path / "cases.sqlite") as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()

    assert saved > TIMES / 4, "many of them were killed while saving, not before"


def _save_for_ever(url: str, both: tuple[Case, ...]) -> None:
    """Save in turn until killed; runs in a process of its own and never returns."""
    try:
        store = CaseStore(open_database(url))
        version = store.load(both[0].id).version
        while True:
            version = store.save(both[version % 2], version).version
    finally:
        os._exit(1)
