"""A workspace for one person: whoever may only look saves nothing by any way; a save has a name."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from appraise.errors import AppraiseError
from appraise.models.people import Person
from appraise.models.preferences import Preferences
from appraise.services.records.guarding import guarded
from appraise.services.records.workspace import Workspace, add_copy, attach, open_workspace
from appraise.settings import Settings
from appraise.store.cases import CaseStore
from appraise.store.files import FileStore
from appraise.store.history import HistoryStore
from appraise.store.own_values import OwnValuesStore
from appraise.store.people import PeopleStore
from appraise.store.preferences import PreferenceStore

CAR = "auction-engine-light"
READS = {
    "cases": {"summaries", "removed", "sales", "load", "raw_text"},
    "preferences": {"load"},
    "files": {"get", "thumbnails"},
    "history": {"latest", "line", "versions", "load"},
    "own_values": {"load"},
    "people": {"everybody", "find", "noted"},
}
WRITES: dict[str, dict[str, Callable[[Any, Workspace], object]]] = {
    "cases": {
        "add": lambda store, all_: store.add(
            all_.cases.load(CAR).case.model_copy(update={"id": "another"})
        ),
        "save": lambda store, all_: store.save(
            all_.cases.load(CAR).case.model_copy(update={"title": "Changed"}), 1
        ),
        "remove": lambda store, _: store.remove(CAR, 1),
        "put_back": lambda store, _: store.put_back(CAR),
    },
    "preferences": {"save": lambda store, _: store.save(Preferences(), 0)},
    "files": {
        "put": lambda store, _: store.put(b"bytes", "image/png", None),
        "forget_unused": lambda store, _: store.forget_unused((), datetime.now(UTC)),
    },
    "history": {"forget": lambda store, _: store.forget(0)},
    "own_values": {"save": lambda store, _: store.save("# mine")},
    "people": {
        "add": lambda store, _: store.add(Person(name="Cy", role="look")),
        "change": lambda store, _: store.change("Ada", "role set", role="edit"),
        "remove": lambda store, _: store.remove("Ada"),
        "note": lambda store, _: store.note("signed in", "Ada"),
    },
}
STORES = {
    "cases": CaseStore,
    "preferences": PreferenceStore,
    "files": FileStore,
    "history": HistoryStore,
    "own_values": OwnValuesStore,
    "people": PeopleStore,
}
EVERY_WRITE = [(store, way) for store, ways in WRITES.items() for way in ways]


@pytest.fixture
def workspace(tmp_path: Path) -> Iterator[Workspace]:
    found = open_workspace(Settings(data_folder=tmp_path / "data"))
    yield found
    found.cases._engine.dispose()


@pytest.mark.parametrize("store", STORES)
def test_every_way_into_a_store_is_known_to_read_or_to_write(store: str) -> None:
    """A new method has to be put on one side, and refused if it is the other."""
    ways = {
        name
        for name, _ in inspect.getmembers(STORES[store], inspect.isfunction)
        if not name.startswith("_")
    }
    assert ways == READS[store] | set(WRITES[store])


def test_the_workspace_has_no_other_store() -> None:
    assert set(Workspace.__dataclass_fields__) - {"settings"} == set(STORES)


@pytest.mark.parametrize(("store", "way"), EVERY_WRITE)
def test_whoever_may_look_is_refused_every_way_of_writing(
    workspace: Workspace, store: str, way: str
) -> None:
    looking = guarded(workspace, "Bo", may_edit=False)
    before = workspace.cases.summaries()

    with pytest.raises(AppraiseError, match="you may look, not change"):
        WRITES[store][way](getattr(looking, store), workspace)
    assert workspace.cases.summaries() == before
    assert workspace.preferences.load().version == 0
    assert list(workspace.files.thumbnails(["0" * 64])) == []


@pytest.mark.parametrize(("store", "way"), EVERY_WRITE)
def test_whoever_may_edit_may_write_every_way(workspace: Workspace, store: str, way: str) -> None:
    editing = guarded(workspace, "Ada", may_edit=True)

    WRITES[store][way](getattr(editing, store), workspace)


@pytest.mark.parametrize("may_edit", [True, False])
def test_everybody_sees_everything(workspace: Workspace, *, may_edit: bool) -> None:
    seen = guarded(workspace, "Ada", may_edit=may_edit)

    assert seen.cases.summaries() == workspace.cases.summaries()
    assert seen.cases.load(CAR) == workspace.cases.load(CAR)
    assert seen.cases.sales() == workspace.cases.sales()
    assert seen.preferences.load() == workspace.preferences.load()
    assert seen.history.versions(CAR) == workspace.history.versions(CAR)


def test_the_history_names_who_did_it(workspace: Workspace) -> None:
    ada = guarded(workspace, "Ada", may_edit=True).cases
    bo = guarded(workspace, "Bo", may_edit=True).cases
    ada.save(ada.load(CAR).case, 1, what="gone back")
    bo.remove(CAR, 2)
    ada.put_back(CAR)
    made = bo.add(ada.load(CAR).case.model_copy(update={"id": "another"}))

    found = {(one.version, one.who, one.what) for one in workspace.history.versions(CAR)}
    assert {(2, "Ada", "gone back"), (3, "Bo", "removed"), (4, "Ada", "put back")} <= found
    assert [(one.who, one.what) for one in workspace.history.versions(made.case.id)] == [
        ("Bo", "added")
    ]


def test_copies_and_photos_go_the_same_way(workspace: Workspace) -> None:
    looking = guarded(workspace, "Bo", may_edit=False)

    with pytest.raises(AppraiseError, match="look, not change"):
        add_copy(looking, workspace.cases.load(CAR).case)
    with pytest.raises(AppraiseError, match="look, not change"):
        attach(looking, PNG, "a.png")
    assert attach(guarded(workspace, "Ada", may_edit=True), PNG, "a.png").attachment.name == "a.png"


PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de"
    "0000000c49444154789c63f8cfc0000003010100c9fe92ef0000000049454e44ae426082"
)
"""One red dot: a whole PNG picture."""
