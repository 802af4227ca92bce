"""Fifty people saving at once: no save is lost, and every clash is told."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from time import monotonic

from sqlalchemy import Engine

from appraise.errors import CaseChangedElsewhere
from appraise.models.case import Case
from appraise.store.cases import CaseStore
from appraise.store.history import HistoryStore

PEOPLE = 50
SECONDS = float(os.environ.get("APPRAISE_TEST_SECONDS", "6"))
"""A minute shows no more than this does; the variable makes it one."""


def test_fifty_people_saving_lose_nothing(engine: Engine, full_case: Case) -> None:
    """Each saves a car of their own, and one that all share, where a clash is told and no loss."""
    store = CaseStore(engine)
    shared = full_case.model_copy(update={"title": "0"})
    store.add(shared)
    end = monotonic() + SECONDS

    def person(number: int) -> tuple[int, int]:
        own = shared.model_copy(update={"id": f"own-{number}"})
        version = store.add(own).version
        mine = both = 0
        while not mine or monotonic() < end:
            mine += 1
            version = store.save(own.model_copy(update={"title": str(mine)}), version).version
            stored = store.load(shared.id)
            more = stored.case.model_copy(update={"title": str(int(stored.case.title) + 1)})
            try:
                store.save(more, stored.version)
            except CaseChangedElsewhere:
                continue
            both += 1
        return mine, both

    with ThreadPoolExecutor(PEOPLE) as pool:
        done = list(pool.map(person, range(PEOPLE)))
    told = sum(both for _, both in done)
    print(f"{sum(mine for mine, _ in done) + told} saves in {SECONDS:.0f} s")  # noqa: T201

    assert told
    for number, (mine, _) in enumerate(done):
        assert mine
        assert store.load(f"own-{number}").case.title == str(mine)
    assert store.load(shared.id).case.title == str(told)
    assert store.load(shared.id).version == 1 + told
    assert len(HistoryStore(engine).versions(shared.id, most=told + 5)) == 1 + told
