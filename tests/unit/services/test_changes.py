"""What was changed in a car, and going back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from appraise import services
from appraise.errors import CaseNotFound
from appraise.models.case import Case
from appraise.services.records.changes import as_it_was, changes_of
from appraise.services.records.workspace import Workspace, open_workspace
from appraise.settings import Settings
from appraise.store.cases import CaseStore

CAR = "auction-engine-light"


@pytest.fixture
def workspace(tmp_path: Path) -> Iterator[Workspace]:
    opened = open_workspace(Settings(data_folder=tmp_path))
    yield opened
    opened.cases._engine.dispose()


def change(workspace: Workspace, path: tuple[str, ...], value: object, who: str = "") -> Case:
    stored = workspace.cases.load(CAR)
    cases = CaseStore(workspace.cases.engine, who=who)
    return cases.save(services.changed(stored.case, path, value), stored.version).case


def test_each_change_tells_its_fields_before_and_after(workspace: Workspace) -> None:
    change(workspace, ("deal", "asking_price"), "1234.50", "Ada")
    change(workspace, ("title",), "Renamed", "Bo")
    newest, older, first = changes_of(workspace, CAR)

    assert (newest.who, newest.what, newest.version) == ("Bo", "saved", 3)
    assert newest.fields is not None
    assert [one[0] for one in newest.fields] == ["title"]
    assert newest.fields[0][2] == "Renamed"
    assert older.fields is not None
    assert older.fields[0][0] == "deal: asking price"
    assert older.fields[0][2] == "1234.50"
    assert (first.what, first.fields) == ("added", None)


def test_a_finding_that_came_or_went_is_told_by_its_name(workspace: Workspace) -> None:
    stored = workspace.cases.load(CAR)
    gone = services.without_finding(stored.case, "bumper")
    workspace.cases.save(gone, stored.version)
    fields = changes_of(workspace, CAR)[0].fields

    assert fields is not None
    assert len(fields) == 1
    assert fields[0][0] == "findings, Rear bumper scraped to the plastic"
    assert fields[0][2] == "nothing"


def test_going_back_is_a_change_of_its_own(workspace: Workspace) -> None:
    before = workspace.cases.load(CAR).case
    change(workspace, ("title",), "Renamed")
    stored = workspace.cases.load(CAR)
    workspace.cases.save(as_it_was(workspace, CAR, 1), stored.version, what="gone back")

    assert workspace.cases.load(CAR).case == before
    assert [one.what for one in changes_of(workspace, CAR)] == ["gone back", "saved", "added"]
    assert as_it_was(workspace, CAR, 2).title == "Renamed"


def test_only_so_many_are_shown_and_the_last_of_them_with_its_fields(
    workspace: Workspace,
) -> None:
    for number in range(6):
        change(workspace, ("title",), f"Title {number}")
    found = changes_of(workspace, CAR, most=4)

    assert [one.version for one in found] == [7, 6, 5, 4]
    assert all(one.fields and one.fields[0][0] == "title" for one in found)


def test_a_version_that_never_was_is_told(workspace: Workspace) -> None:
    with pytest.raises(CaseNotFound):
        as_it_was(workspace, CAR, 99)
