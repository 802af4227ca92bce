"""What each case was at every save, on every kind of database."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from sqlalchemy import Engine

from appraise.errors import CaseChangedElsewhere, CaseNotFound
from appraise.models.case import Case
from appraise.store.cases import CaseStore
from appraise.store.history import HistoryStore

Clock = Callable[[], datetime]


@pytest.fixture
def store(engine: Engine, clock: Clock) -> CaseStore:
    return CaseStore(engine, now=clock)


@pytest.fixture
def history(engine: Engine, clock: Clock) -> HistoryStore:
    return HistoryStore(engine, now=clock)


def titled(case: Case, title: str) -> Case:
    return case.model_copy(update={"title": title})


def test_every_save_is_kept_with_who_and_what(
    engine: Engine, clock: Clock, store: CaseStore, history: HistoryStore, small_case: Case
) -> None:
    ada, bo = (CaseStore(engine, now=clock, who=one) for one in ("Ada", "Bo"))
    ada.add(small_case)
    bo.save(titled(small_case, "Second"), 1)
    store.save(titled(small_case, "Third"), 2)
    ada.remove(small_case.id, 3)
    bo.put_back(small_case.id)

    assert [(one.version, one.who, one.what) for one in history.versions(small_case.id)] == [
        (5, "Bo", "put back"),
        (4, "Ada", "removed"),
        (3, "", "saved"),
        (2, "Bo", "saved"),
        (1, "Ada", "added"),
    ]
    moments = [one.saved_at for one in history.versions(small_case.id)]
    assert moments == sorted(moments, reverse=True)
    assert moments[0].tzinfo is UTC


def test_an_old_version_comes_back_whole_and_as_a_new_one(
    store: CaseStore, history: HistoryStore, full_case: Case
) -> None:
    store.add(full_case)
    store.save(titled(full_case, "Spoilt"), 1)
    old = history.load(full_case.id, 1)
    store.save(old, 2, what="gone back")

    assert old == full_case
    assert store.load(full_case.id).case == full_case
    assert [one.what for one in history.versions(full_case.id)] == ["gone back", "saved", "added"]
    assert history.load(full_case.id, 2).title == "Spoilt", "what was undone can be seen too"


def test_a_save_that_is_refused_leaves_no_trace(
    store: CaseStore, history: HistoryStore, small_case: Case
) -> None:
    store.add(small_case)
    with pytest.raises(CaseChangedElsewhere):
        store.save(titled(small_case, "Late"), 7)

    assert [one.version for one in history.versions(small_case.id)] == [1]


def test_a_version_that_is_not_kept_is_told(history: HistoryStore) -> None:
    with pytest.raises(CaseNotFound, match="Version 3 of the case 'nowhere' is not kept"):
        history.load("nowhere", 3)


def test_two_cases_do_not_mix(
    store: CaseStore, history: HistoryStore, small_case: Case, full_case: Case
) -> None:
    store.add(small_case)
    store.add(full_case)
    store.save(titled(full_case, "Second"), 1)

    assert len(history.versions(small_case.id)) == 1


def test_the_last_saves_of_all_cases_are_one_list(
    engine: Engine, clock: Clock, history: HistoryStore, small_case: Case, full_case: Case
) -> None:
    ada, bo = (CaseStore(engine, now=clock, who=one) for one in ("Ada", "Bo"))
    ada.add(small_case)
    bo.add(full_case)
    bo.save(titled(small_case, "Called anew"), 1)
    ada.remove(full_case.id, 1)

    assert [(one.title, one.who, one.what) for one in history.latest()] == [
        (full_case.title, "Ada", "removed"),
        ("Called anew", "Bo", "saved"),
        (full_case.title, "Bo", "added"),
        ("Called anew", "Ada", "added"),
    ]
    moments = [one.saved_at for one in history.latest()]
    assert moments == sorted(moments, reverse=True)
    assert moments[0].tzinfo is UTC
    assert [one.what for one in history.latest(2)] == ["removed", "saved"]
