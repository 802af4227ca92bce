"""Whatever is pressed right after a press: the first is done whole, and once.

Windows without a browser, on a server of their own: what one asks for next is sent to the
millisecond, while the page is still busy with what it asked for before.
"""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.sync.client import ClientConnection, connect

from appraise.services.records.workspace import Workspace, open_workspace
from appraise.settings import Settings

ID = re.compile(r"\$\$ID-[0-9a-f]{32}-([\w: .\-]+)")
"""What Streamlit calls a widget: it ends with the key that the page gave it."""
QUIET = 0.4  # seconds without a word after a run: there is no other one
GAPS = (0.0, 0.045)
"""Seconds between two presses, of a program and of a hand that is quick: without the middleware
each of the tests fails at one of them at least."""
PRESSED = object()
FOLD = "add"


class Window:
    """A window on one page, as its browser would speak for it."""

    def __init__(self, link: ClientConnection, page: str, address: str) -> None:
        self._link, self._page, self._address = link, page, address
        self._hash = ""
        self.ids: dict[str, str] = {}
        self.known: dict[str, str] = {}
        self.ask({})
        self.answer()

    def ask(self, widgets: dict[str, Any]) -> None:
        """Ask for a run of the page with widgets as they are, by their keys."""
        asked = BackMsg()
        run = asked.rerun_script
        run.query_string, run.page_name, run.page_script_hash = (
            self._address,
            self._page,
            self._hash,
        )
        for key, value in widgets.items():
            one = run.widget_states.widgets.add()
            one.id = self.known[key]
            if value is PRESSED:
                one.trigger_value = True
            elif isinstance(value, bool):
                one.bool_value = value
            elif isinstance(value, str):
                one.string_value = value
            else:
                one.double_value = value
        self._link.send(asked.SerializeToString())

    def ask_twice(self, first: dict[str, Any], gap: float, then: dict[str, Any]) -> str:
        """Ask for a second run of the page so soon after a first; return what it says at last."""
        self.ask(first)
        time.sleep(gap)
        self.ask(then)
        return self.answer(QUIET)

    def answer(self, quiet: float = 0.0) -> str:
        """Wait until the page is drawn, and that long for another run; return what it said."""
        said, ended = "", False
        self.ids = {}
        while True:
            try:
                raw = self._link.recv(timeout=quiet if ended else 20)
            except TimeoutError:
                assert ended, "no run of the page came to its end"
                return said
            assert isinstance(raw, bytes)
            message = ForwardMsg.FromString(raw)
            kind = message.WhichOneof("type")
            if kind == "new_session":
                said, ended, self.ids = "", False, {}  # what comes now is drawn in its place
            elif kind == "navigation":
                self._hash = message.navigation.page_script_hash
            elif kind == "script_finished":  # early, if another run of the page follows
                ended = message.script_finished == ForwardMsg.FINISHED_SUCCESSFULLY
            text = str(message).replace('\\"', '"')
            said += text
            for found in ID.finditer(text):
                self.ids[found[1]] = self.known[found[1]] = found[0]


@pytest.fixture(scope="module")
def workspace(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workspace]:
    found = open_workspace(Settings(data_folder=tmp_path_factory.mktemp("pressed") / "data"))
    yield found
    found.cases._engine.dispose()


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("pressed") / "log"


@pytest.fixture(scope="module")
def port(workspace: Workspace, log: Path) -> Iterator[int]:
    """Start the screens and return where."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        found: int = probe.getsockname()[1]
    command = [sys.executable, "-m", "appraise", "open", "--no-browser", "--port", str(found)]
    here = {"APPRAISE_DATA_FOLDER": str(workspace.settings.data_folder)}
    with log.open("wb") as output:
        server = subprocess.Popen(  # noqa: S603 - our own program
            command, env={**os.environ, **here}, stdout=output, stderr=output
        )
    until = time.monotonic() + 60
    while True:
        try:
            urllib.request.urlopen(f"http://127.0.0.1:{found}/_stcore/health", timeout=5)
            break
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            assert server.poll() is None, log.read_text()
            assert time.monotonic() < until, "the server does not answer"
            time.sleep(0.1)
    yield found
    server.send_signal(signal.SIGTERM)
    server.wait(timeout=20)


@pytest.fixture
def window(port: int, log: Path) -> Iterator[Callable[..., Any]]:
    """Return an opener of windows; nothing may go wrong in them unseen."""

    @contextmanager
    def open_window(page: str, car: str = "") -> Iterator[Window]:
        address = f"ws://127.0.0.1:{port}/_stcore/stream"
        with connect(address, subprotocols=["streamlit"], max_size=None) as link:  # type: ignore[list-item]
            yield Window(link, page, f"car={car}" if car else "")

    yield open_window
    assert "Traceback" not in log.read_text()


def key(window: Window, end: str) -> str:
    """Return the one key that ends so."""
    (found,) = (one for one in window.ids if one.endswith(end))
    return found


def new_car(window: Window, make: str) -> dict[str, Any]:
    """Open the form for a new car and return it filled in."""
    window.ask({FOLD: True})
    said = window.answer()
    ids = {}
    for label in ("Make", "Model", "Model year", "Odometer, mi"):
        (field,) = re.findall(rf'id: "(\$\$ID-\S+)"\s+label: "{label}"', said)
        ids[label] = window.known[label] = field
    assert len(set(ids.values())) == len(ids)
    return {FOLD: True, "Make": make, "Model": "Tivvick", "Model year": 2014.0, "Odometer, mi": 9e4}


def test_what_is_typed_is_kept_quietly_whatever_is_pressed_right_after_it(
    window: Callable[..., Any], workspace: Workspace
) -> None:
    """The field stays what it is, and no other window is said to have changed the car."""
    car = "auction-engine-light"
    with window("bid", car) as one:
        field, fold, is_open = key(one, ":deal.asking_price"), "by-finding", False
        for at, gap in enumerate(GAPS * 2):
            price = 1000.0 + at
            said = one.ask_twice(
                {field: price, fold: is_open}, gap, {field: price, fold: not is_open}
            )
            is_open = not is_open
            assert float(workspace.cases.load(car).case.deal.asking_price or 0) == price, gap
            assert key(one, ":deal.asking_price") == field, gap
            assert "another window" not in said, gap
            assert "Not saved" not in said, gap  # the question of presses.html has it small


def test_a_press_is_done_though_something_else_is_pressed_before_the_page_has_come_to_it(
    window: Callable[..., Any], workspace: Workspace
) -> None:
    """A car that is added on a long page, and a fold of it opened at once."""
    for at, gap in enumerate(GAPS):
        with window("cars") as one:
            filled = new_car(one, f"Pressed{at}")
            pressed = {**filled, key(one, "add-car"): PRESSED}
            one.ask_twice(pressed, gap, {**filled, "examples": True})
        made = [it.title for it in workspace.cases.summaries() if f"Pressed{at} " in it.title]
        assert len(made) == 1, gap


@pytest.mark.parametrize("done", ["by the page", "at once"])
def test_a_double_press_is_one(done: str, window: Callable[..., Any], workspace: Workspace) -> None:
    """A car added, and an entry of the books made, by somebody who clicks everything twice."""
    car = "farm-truck-owned"
    for at, gap in enumerate(GAPS):
        if done == "by the page":
            with window("cars") as one:
                filled = new_car(one, f"Twice{at}")
                pressed = {**filled, key(one, "add-car"): PRESSED}
                one.ask_twice(pressed, gap, pressed)
            made = [it.title for it in workspace.cases.summaries() if f"Twice{at} " in it.title]
            assert len(made) == 1, gap
        else:
            before = workspace.cases.load(car).case
            with window("repair", f"{car}&section=Money+and+hours") as one:
                amount, button = key(one, "entry-new:amount"), key(one, "entry-new-Enter")
                pressed = {amount: 12.0 + at, button: PRESSED}
                said = one.ask_twice(pressed, gap, pressed)
            after = workspace.cases.load(car).case
            assert len(after.work.entries) == len(before.work.entries) + 1, gap
            assert "another window" not in said, gap


def test_a_press_is_done_though_its_window_is_closed_right_after_it(
    window: Callable[..., Any], workspace: Workspace
) -> None:
    """A car that is added on a page that nobody waits for."""
    for at, gap in enumerate(GAPS):
        with window("cars") as one:
            filled = new_car(one, f"Left{at}")
            one.ask({**filled, key(one, "add-car"): PRESSED})
            time.sleep(gap)
        until = time.monotonic() + 20
        made: list[str] = []
        while not made and time.monotonic() < until:
            time.sleep(0.1)
            made = [it.title for it in workspace.cases.summaries() if f"Left{at} " in it.title]
        assert len(made) == 1, gap


def test_what_is_closed_before_the_page_has_come_to_it_is_said_and_not_done_later(
    window: Callable[..., Any], workspace: Workspace
) -> None:
    """The form's fold is closed right after the press: the car is there, or it is said."""
    for at, gap in enumerate(GAPS):
        with window("cars") as one:
            filled = new_car(one, f"Closed{at}")
            pressed = {**filled, key(one, "add-car"): PRESSED}
            said = one.ask_twice(pressed, gap, {**filled, FOLD: False})

            def made(at: int = at) -> int:
                return sum(f"Closed{at} " in it.title for it in workspace.cases.summaries())

            there = made()
            assert there == (0 if "Nothing was done" in said else 1), gap
            if not there:
                one.ask(filled)  # opened again
                one.answer()
                assert made() == 0, gap


def test_a_press_of_what_the_answer_no_longer_shows_is_said(
    window: Callable[..., Any], workspace: Workspace
) -> None:
    """A pasted list is emptied, and the button that adds it pressed while the page is at that."""
    car = "dusk-curbside"
    before = len(workspace.cases.load(car).case.market.comparables)
    for gap in GAPS[:2]:
        with window("prices", car) as one:
            box = key(one, ":paste")
            one.ask({box: "2014, $7,000, 90,000 mi"})
            one.answer()
            said = one.ask_twice({box: ""}, gap, {box: "", key(one, ":paste:add"): PRESSED})
        assert "Nothing was done" in said, gap
    assert len(workspace.cases.load(car).case.market.comparables) == before
