"""A car that cannot be read stands alone: it is listed, saved as it is, put back and removed."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, update

from appraise.errors import BadCase, CaseNotFound, NewerSchema
from appraise.models.case import SCHEMA_VERSION, Case
from appraise.services.records.backup import daily_backup, read_backup, restore, write_backup
from appraise.services.records.workspace import Workspace
from appraise.settings import Settings
from appraise.store.database import transaction
from appraise.store.raw import RawText
from appraise.store.tables import CaseRow, HistoryRow

BAD, GOOD = "tarn-2011", "small"
WAYS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "cut short": lambda doc: RawText(json.dumps(doc)[:200]),
    "nothing": lambda _: RawText(""),
    "no object": lambda _: RawText('["a", "list"]'),
    "no number": lambda doc: RawText(json.dumps(doc | {"draws": float("nan")})),
    "half a character": lambda doc: RawText(json.dumps(doc | {"title": "\ud800"})),
    "NUL": lambda doc: RawText(json.dumps(doc | {"title": "a\0b"})),
    "nested": lambda _: RawText("[" * 100_000),
    "newer layout": lambda doc: doc | {"schema_version": SCHEMA_VERSION + 1},
    "one unknown field": lambda doc: doc | {"color": "red"},
    "a number out of bounds": lambda doc: doc | {"deal": doc["deal"] | {"confidence": "0.999"}},
    "another car": lambda doc: doc | {"id": "somebody-elses"},
}


def workspace_on(engine: Engine, folder: Path) -> Workspace:
    return Workspace.on(Settings(data_folder=folder), engine)


@pytest.fixture
def place(engine: Engine, tmp_path: Path, full_case: Case, small_case: Case) -> Workspace:
    """Return two cars, the first of them saved twice."""
    found = workspace_on(engine, tmp_path / "here")
    found.cases.add(full_case)
    found.cases.save(full_case.model_copy(update={"title": "Second"}), 1)
    found.cases.add(small_case)
    return found


@pytest.fixture(params=WAYS)
def spoilt(request: pytest.FixtureRequest, place: Workspace) -> Workspace:
    """Return them with the first car unreadable, in the list and as its last version."""
    doc = WAYS[request.param](json.loads(place.cases.raw_text(BAD)))
    with transaction(place.cases.engine) as connection:
        connection.execute(update(CaseRow).where(CaseRow.id == BAD).values(doc=doc))
        last = (HistoryRow.case_id == BAD, HistoryRow.version == 2)
        connection.execute(update(HistoryRow).where(*last).values(doc=doc))
    return place


@pytest.fixture
def other(
    spoilt: Workspace, url: str, opened: Callable[..., Engine], tmp_path: Path
) -> Iterator[Workspace]:
    """Return an empty place on a database of the same kind."""
    del spoilt
    if url.startswith("sqlite"):
        yield workspace_on(opened(f"sqlite:///{tmp_path}/other.sqlite"), tmp_path / "there")
    else:
        yield workspace_on(opened(url), tmp_path / "there")


def test_it_is_told_alone_and_the_others_are_read(spoilt: Workspace, small_case: Case) -> None:
    with pytest.raises((BadCase, NewerSchema), match=BAD) as told:
        spoilt.cases.load(BAD)

    assert "\n" not in str(told.value)
    assert [one.id for one in spoilt.cases.summaries()] == [GOOD, BAD]
    assert spoilt.cases.load(GOOD).case == small_case
    assert [one.id for one in spoilt.cases.sales()] == []


def test_it_counts_as_offered_or_sold_all_the_same(spoilt: Workspace) -> None:
    with transaction(spoilt.cases.engine) as connection:
        connection.execute(update(CaseRow).values(standing="sold"))

    assert [one.id for one in spoilt.cases.sales()] == [GOOD, BAD]


def test_it_comes_back_from_its_history(spoilt: Workspace, full_case: Case) -> None:
    versions = spoilt.history.versions(BAD)
    with pytest.raises((BadCase, NewerSchema)):
        spoilt.history.load(BAD, versions[0].version)
    old = spoilt.history.load(BAD, versions[1].version)
    spoilt.cases.save(old, 2, what="gone back")

    assert spoilt.cases.load(BAD).case == full_case


def test_it_is_removed_and_put_back(spoilt: Workspace) -> None:
    before = spoilt.cases.raw_text(BAD)
    spoilt.cases.remove(BAD, 2)
    assert [one.id for one in spoilt.cases.removed()] == [BAD]
    spoilt.cases.put_back(BAD)

    assert {one.id for one in spoilt.cases.summaries()} == {GOOD, BAD}
    assert spoilt.cases.raw_text(BAD) == before


def test_a_backup_brings_it_back_as_it_was(
    spoilt: Workspace, other: Workspace, tmp_path: Path, small_case: Case
) -> None:
    before = spoilt.cases.raw_text(BAD)
    listed = spoilt.cases.summaries()
    words = write_backup(spoilt, tmp_path / "all.zip")
    assert "cannot be read here, and kept as they are: 1" in words
    assert read_backup(tmp_path / "all.zip").unreadable == 1
    restore(other, tmp_path / "all.zip", over=True)

    assert other.cases.summaries() == listed
    assert other.cases.raw_text(BAD) == before
    assert other.cases.load(GOOD).case == small_case
    with pytest.raises((BadCase, NewerSchema)):
        other.cases.load(BAD)
    assert other.history.load(BAD, 1).id == BAD


def test_a_restore_over_it_keeps_it_in_a_backup_of_its_own(
    spoilt: Workspace, tmp_path: Path
) -> None:
    before = spoilt.cases.raw_text(BAD)
    file = tmp_path / "all.zip"
    write_backup(spoilt, file)
    spoilt.cases.remove(BAD, 2)
    restore(spoilt, file, over=True)

    assert spoilt.cases.raw_text(BAD) == before
    assert len(spoilt.cases.summaries()) == 2
    (safety,) = (spoilt.settings.data_folder / "backups").iterdir()
    restore(spoilt, safety, over=True)
    assert [one.id for one in spoilt.cases.removed()] == [BAD]


def test_the_days_backup_and_what_is_cleared_away_go_on(spoilt: Workspace) -> None:
    assert daily_backup(spoilt, date(2026, 3, 1)) is None
    photo = spoilt.files.put(b"%PDF-1.4", "application/pdf", None)
    assert spoilt.files.get(photo).content == b"%PDF-1.4"


def test_a_car_that_never_was_has_no_text(place: Workspace) -> None:
    with pytest.raises(CaseNotFound):
        place.cases.raw_text("nowhere")


def test_between_the_two_kinds_of_database_nothing_of_it_is_lost(
    sqlite_url: str,
    postgresql_url: str,
    opened: Callable[..., Engine],
    full_case: Case,
    tmp_path: Path,
) -> None:
    here = workspace_on(opened(sqlite_url), tmp_path / "here")
    there = workspace_on(opened(postgresql_url), tmp_path / "there")
    here.cases.add(full_case)
    cut = RawText(here.cases.raw_text(BAD)[:300])
    with transaction(here.cases.engine) as connection:
        connection.execute(update(CaseRow).values(doc=cut))
    write_backup(here, tmp_path / "all.zip")
    restore(there, tmp_path / "all.zip", over=True)

    assert json.loads(there.cases.raw_text(BAD)) == cut
