"""The screens without a browser, on a data folder of their own, and what is kept there."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import streamlit as st
from streamlit.components.v2 import manifest_scanner
from streamlit.runtime.scriptrunner.script_cache import ScriptCache
from streamlit.testing.v1 import AppTest, app_test, local_script_runner

from appraise.models.case import Case
from appraise.models.preferences import Preferences
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings
from appraise.store.own_values import OwnValuesStore
from ui.session import cached
from ui.session.opened import opened

APP = Path(__file__).parents[2] / "ui" / "app.py"
SECONDS = 30  # a run's own limit; the default of 3 is short for the first run on a shared machine


@pytest.fixture(scope="session")
def filled_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a data folder that holds the examples, to be copied."""
    folder = tmp_path_factory.mktemp("filled") / "data"
    workspace = open_workspace(Settings(data_folder=folder))
    workspace.cases._engine.dispose()
    return folder


@dataclass(frozen=True, slots=True)
class Screens:
    """One person's data folder, with as many windows on it as a test opens."""

    folder: Path

    def window(self, page: str = "cars", car: str | None = None) -> AppTest:
        """Return a window on a page, with a car open or none."""
        window = AppTest.from_file(APP, default_timeout=SECONDS)
        if car is not None:
            window.query_params["car"] = car
        return self.turn(window, page)

    @staticmethod
    def turn(window: AppTest, page: str) -> AppTest:
        """Turn to another page."""
        return window.switch_page(f"app_pages/{page}.py").run()

    @staticmethod
    def kept(car: str) -> Case:
        """Return a car as the store has it now."""
        return cached.workspace().cases.load(car).case

    @staticmethod
    def version(car: str) -> int:
        """Return how often a car was saved."""
        return cached.workspace().cases.load(car).version

    @staticmethod
    def put(case: Case) -> Case:
        """Keep a changed car, as another program would."""
        store = cached.workspace().cases
        return store.save(case, store.load(case.id).version).case

    @staticmethod
    def add(case: Case) -> Case:
        """Keep another car."""
        return cached.workspace().cases.add(case).case

    @staticmethod
    def preferences() -> Preferences:
        """Return the defaults as the store has them now."""
        return cached.workspace().preferences.load().preferences

    @staticmethod
    def own() -> OwnValuesStore:
        """Return the store of the own values."""
        return cached.workspace().own_values

    @staticmethod
    def removed() -> set[str]:
        """Return the ids of cars that were removed and can be put back."""
        return {one.id for one in cached.workspace().cases.removed()}


@pytest.fixture(scope="session")
def data_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the one place of all tests: the catalog, kept by place, is read only once."""
    return tmp_path_factory.mktemp("screens") / "data"


@pytest.fixture
def screens(
    data_folder: Path, filled_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Screens]:
    """Return the screens on a fresh copy of the examples."""
    shutil.rmtree(data_folder, ignore_errors=True)
    shutil.copytree(filled_folder, data_folder)
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(data_folder))
    monkeypatch.setenv("APPRAISE_DAILY_BACKUP", "false")  # its own test turns it on
    monkeypatch.delenv("APPRAISE_DATABASE_URL", raising=False)
    yield Screens(data_folder)
    cached.workspace().cases._engine.dispose()
    opened.clear()  # appraisals stay: they hang on nothing but the case and the values


@pytest.fixture(scope="session", autouse=True)
def _looked_through_and_compiled_once() -> Iterator[None]:
    """Keep from run to run what every run of a page finds the same.

    The packages installed are looked through for components, and the pages compiled, at each run
    otherwise: that took two fifths of all the time here.
    """
    scripts = ScriptCache()
    with pytest.MonkeyPatch.context() as patch:
        once = cache(manifest_scanner.scan_component_manifests)
        patch.setattr(manifest_scanner, "scan_component_manifests", once)
        for module in (app_test, local_script_runner):
            patch.setattr(module, "ScriptCache", lambda: scripts)
        yield


@pytest.fixture(scope="session", autouse=True)
def _nothing_kept_behind() -> Iterator[None]:
    yield
    st.cache_resource.clear()
    st.cache_data.clear()


def _widget(window: AppTest, kind: str, ending: str) -> Any:
    found = [one for one in window.get(kind) if one.key is not None and one.key.endswith(ending)]
    assert len(found) == 1, f"{len(found)} of {kind} end in {ending}"
    return found[0]


def _button(window: AppTest, label: str) -> Any:
    found = [one for one in window.button if one.label == label]
    assert len(found) == 1, f"{len(found)} buttons say {label}"
    return found[0]


def _key(window: AppTest, *path: str) -> str:
    state = window.session_state
    epoch = state["epoch"] if "epoch" in state else 0  # noqa: SIM401 - it has no get
    return f"{state['car']}:{epoch}:" + ".".join(path)


def _bare(text: str) -> str:
    """Return text without what keeps it from acting as Markdown or a link."""
    return text.replace("\\", "").replace("\u2060", "")


def _said(window: AppTest) -> str:
    """Return everything that is said on the page, a line each, without escapes."""
    kinds = ("markdown", "caption", "error", "warning", "info", "success", "title", "subheader")
    return _bare("\n".join(str(one.value) for kind in kinds for one in window.get(kind)))


def _walk_away(window: AppTest) -> str:
    return next(str(one.value) for one in window.metric if one.label == "Walk-away price")


def _edits(
    changed: dict[int, dict[str, Any]] | None = None,
    added: list[dict[str, Any]] | None = None,
    deleted: list[int] | None = None,
) -> dict[str, Any]:
    """Return what a table that is edited in place hands over."""
    return {
        "edited_rows": changed or {},
        "added_rows": added or [],
        "deleted_rows": deleted or [],
    }


@pytest.fixture(scope="session")
def widget() -> Callable[[AppTest, str, str], Any]:
    """Return a finder of the one widget of a kind whose key ends so."""
    return _widget


@pytest.fixture(scope="session")
def button() -> Callable[[AppTest, str], Any]:
    """Return a finder of the one button that says so."""
    return _button


@pytest.fixture(scope="session")
def key() -> Callable[..., str]:
    """Return a maker of the key that a field of the open car has now."""
    return _key


@pytest.fixture(scope="session")
def said() -> Callable[[AppTest], str]:
    return _said


@pytest.fixture(scope="session")
def walk_away() -> Callable[[AppTest], str]:
    return _walk_away


@pytest.fixture(scope="session")
def edits() -> Callable[..., dict[str, Any]]:
    return _edits


@pytest.fixture(scope="session")
def bare() -> Callable[[str], str]:
    return _bare
