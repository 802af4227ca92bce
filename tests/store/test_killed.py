"""Killed in the middle of saving: the case is the old one or the new one, never neither."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import time
from itertools import pairwise
from pathlib import Path

import pytest

from appraise.models.case import Case
from appraise.store.cases import CaseStore
from appraise.store.database import open_database
from appraise.store.history import HistoryStore

TIMES = 24
"""`cut_short` kills a save at each of its steps; here the moments are nobody's choice."""
LONGEST_SAVE = 0.03
"""Seconds; one takes 6 to 12 ms."""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")
def test_two_dozen_kills_in_the_middle_of_saving(tmp_path: Path, full_case: Case) -> None:
    """Each time a process that saves two documents in turn, without pause, is killed (SIGKILL).

    It says when its first save is through, so that each is killed while it saves or between.
    """
    url = f"sqlite:///{tmp_path / 'cases.sqlite'}"
    both = tuple(full_case.model_copy(update={"title": title}) for title in ("One", "Two"))
    engine = open_database(url)
    CaseStore(engine).add(both[0])
    engine.dispose()  # no connection may live on in a child
    seen: list[int] = []
    dice = random.Random(7)  # noqa: S311 - moments, no secrets
    for _ in range(TIMES):
        ear, mouth = os.pipe()
        child = os.fork()
        if child == 0:
            _save_for_ever(url, both, mouth)
        os.close(mouth)
        assert os.read(ear, 1), "it began to save"
        os.close(ear)
        time.sleep(dice.uniform(0.0, LONGEST_SAVE))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        assert os.WTERMSIG(status) == signal.SIGKILL, "it was killed, and did not end by itself"

        engine = open_database(url)
        stored = CaseStore(engine).load(full_case.id)
        last = HistoryStore(engine).versions(full_case.id, 1)[0]
        assert stored.case in both
        assert last.version == stored.version
        assert HistoryStore(engine).load(full_case.id, last.version) == stored.case
        seen.append(stored.version)
        engine.dispose()
    with sqlite3.connect(tmp_path / "cases.sqlite") as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()

    gained = [after - before for before, after in pairwise([1, *seen])]
    assert min(gained) >= 1
    assert len(set(gained)) > 1, "the moments differ"


def _save_for_ever(url: str, both: tuple[Case, ...], mouth: int) -> None:
    """Save in turn until killed; runs in a process of its own and never returns."""
    try:
        store = CaseStore(open_database(url))
        version = store.load(both[0].id).version
        while True:
            version = store.save(both[version % 2], version).version
            os.write(mouth, b".")
    finally:
        os._exit(1)
