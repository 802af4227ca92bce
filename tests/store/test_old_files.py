"""Database files of every past layout, as that program wrote them, opened by this one."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine

from appraise import services
from appraise.models.case import SCHEMA_VERSION
from appraise.store.cases import CaseStore
from appraise.store.database import HEAD, open_database
from appraise.store.files import FileStore
from appraise.store.history import HistoryStore
from appraise.store.preferences import PreferenceStore

OLD = sorted((Path(__file__).parent / "old").glob("*.sql"))


@pytest.fixture(params=OLD, ids=[one.stem for one in OLD])
def opened(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    """Return a file of a past layout, opened by this program."""
    file = tmp_path / "cases.sqlite"
    with sqlite3.connect(file) as connection:
        connection.executescript(request.param.read_text(encoding="utf-8"))
    connection.close()
    engine = open_database(f"sqlite:///{file}")
    yield engine
    engine.dispose()


def test_there_is_a_file_of_every_past_layout() -> None:
    assert [one.stem for one in OLD] == [f"{number:04}" for number in range(1, int(HEAD))]


def test_every_case_of_an_old_file_opens_and_can_be_priced(opened: Engine) -> None:
    (summary,) = CaseStore(opened).summaries()
    case = CaseStore(opened).load(summary.id).case

    assert case.id == "farm-truck-owned"
    assert case.schema_version == SCHEMA_VERSION
    assert services.appraise_case(case, services.reference_values()).repair.money.mean > 0


def test_what_was_removed_in_an_old_file_can_be_put_back(opened: Engine) -> None:
    store = CaseStore(opened)
    (removed,) = store.removed()

    store.put_back(removed.id)
    assert store.load(removed.id).case.title == "Engine lamp at the auction, twenty minutes"


def test_an_old_file_takes_changes_and_pictures(opened: Engine) -> None:
    store = CaseStore(opened)
    (summary,) = store.summaries()
    stored = store.load(summary.id)
    kept = store.save(stored.case.model_copy(update={"title": "Renamed"}), stored.version)
    file_id = FileStore(opened).put(b"%PDF-1.4", "application/pdf", None)

    assert store.load(summary.id) == kept
    assert FileStore(opened).get(file_id).content == b"%PDF-1.4"
    assert PreferenceStore(opened).load().preferences.currency == "USD"


def test_the_history_begins_with_what_was_there(opened: Engine) -> None:
    (summary,) = CaseStore(opened).summaries()
    history = HistoryStore(opened)
    (first,) = history.versions(summary.id)

    assert (first.what, first.who) == ("kept", "")
    assert history.load(summary.id, first.version) == CaseStore(opened).load(summary.id).case
