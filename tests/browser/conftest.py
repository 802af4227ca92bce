"""Screens of our own on free ports, and a real browser that never leaves this machine."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Generator, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import (
    BrowserContext,
    BrowserType,
    ConsoleMessage,
    Dialog,
    Locator,
    Page,
    expect,
    sync_playwright,
)
from playwright.sync_api import Error as PlaywrightError

from appraise.models.case import Case
from appraise.services import example_cases
from appraise.services.records.workspace import Workspace, open_workspace
from appraise.settings import Settings

CHROMIUM = Path("/usr/bin/chromium")
SWITCHES = [
    "--no-sandbox",  # Chromium refuses to run as root without it
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-fake-device-for-media-stream",  # a camera that shows a clock
    "--use-fake-ui-for-media-stream",  # the question for the camera is answered by yes
]
ADDRESS = "127.0.0.1"
PROBES = ("/_stcore/health", "/_stcore/host-config")
"""Streamlit asks for these below the page's own address first, and gets a 404 there by design."""
AMISS = ("Traceback", "a page failed")
"""What the log of the screens says where something went wrong on a page."""
STARTS_WITHIN = 60.0  # for the server to answer at all; what is promised has its own test
WAIT = 20_000  # milliseconds until a thing counts as not coming: the machine may be shared
READY = "[data-testid=stApp][data-test-script-state=notRunning]"
STILL = """() => !document.getAnimations().some(
    it => it.playState === "running" && it.effect.getComputedTiming().endTime !== Infinity
)"""
"""A fold that is still opening moves what is in it away from under a press."""
DESK: Any = {"viewport": {"width": 1280, "height": 900}}
PHONE: Any = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}

OPENED: pytest.StashKey[list[Page]] = pytest.StashKey()
"""The windows of a test."""

expect.set_options(timeout=WAIT)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Keep a picture of each window of a test that failed, and say where."""
    del call
    report = yield
    if report.when == "call" and report.failed:
        for page in item.stash.get(OPENED, []):
            handle, path = tempfile.mkstemp(prefix="window-", suffix=".png")
            os.close(handle)
            with suppress(PlaywrightError):
                page.screenshot(path=path, full_page=True)
                report.sections.append(("Window", f"{page.url}: {path}"))
    return report


@pytest.fixture(scope="session")
def chromium() -> Iterator[BrowserType]:
    """Return a browser to start; without one the tests are skipped, or fail where CI is set."""
    if not CHROMIUM.exists():
        reason = f"{CHROMIUM} is not installed (apt-get install chromium)"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        yield playwright.chromium


@pytest.fixture(scope="session")
def profiles(
    chromium: BrowserType, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Callable[..., BrowserContext]]:
    """Return the browser of a desk or of a phone; it keeps the program's files between tests.

    On the disk, where alone it keeps them compiled, too: that saves a sixth of a test's processor
    time. What a person sees hangs on the window, not on these: each is a session of its own.
    """
    opened: list[BrowserContext] = []

    @cache
    def profile(*, phone: bool) -> BrowserContext:
        folder = tmp_path_factory.mktemp("profile")
        kind = PHONE if phone else DESK
        opened.append(
            chromium.launch_persistent_context(
                folder, executable_path=CHROMIUM, args=SWITCHES, **kind
            )
        )
        return opened[-1]

    profile(phone=False)  # before the clock of any test runs
    yield profile
    for one in opened:
        one.close()


# --- the screens ----------------------------------------------------------------------------------


@dataclass(slots=True)
class Server:
    """The screens, running, and what is kept behind them."""

    url: str
    process: subprocess.Popen[bytes]
    started: float
    settings: Settings
    log: Path
    _read: int = 0
    _workspace: Workspace | None = None

    @property
    def workspace(self) -> Workspace:
        """What is kept, as another program sees it."""
        if self._workspace is None:
            self._workspace = open_workspace(self.settings)
        return self._workspace

    def add(self, example: str, **changes: Any) -> str:
        """Keep a copy of an example that no other test touches; return its id."""
        case = next(one for one in example_cases() if one.id == example)
        cases = self.workspace.cases
        taken = {one.id for one in (*cases.summaries(), *cases.removed())}
        own_id = next(f"{example}-{at}" for at in range(2, 1000) if f"{example}-{at}" not in taken)
        title = f"{case.title}, {own_id.rsplit('-', 1)[1]}"
        raw = {**case.model_dump(), "id": own_id, "title": title, **changes}
        return cases.add(Case.model_validate(raw)).case.id

    def kept(self, car: str) -> Case:
        """Return a car as it is kept now."""
        return self.workspace.cases.load(car).case

    def amiss(self) -> list[str]:
        """Return what was logged as amiss since it was asked last."""
        text = self.log.read_text(encoding="utf-8", errors="replace")
        fresh, self._read = text[self._read :], len(text)
        return [fresh] if any(one in fresh for one in AMISS) else []

    def stop(self) -> None:
        if self._workspace is not None:
            self._workspace.cases._engine.dispose()
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(timeout=20)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind((ADDRESS, 0))
        port: int = probe.getsockname()[1]
        return port


def _start(settings: Settings, *arguments: str) -> Server:
    port = _free_port()
    log = settings.data_folder.with_suffix(".log")
    command = [sys.executable, "-m", "appraise", "open", "--no-browser", "--port", str(port)]
    with log.open("wb") as output:
        process = subprocess.Popen(  # noqa: S603 - our own program
            [*command, *arguments],
            env={
                **os.environ,
                "APPRAISE_DATA_FOLDER": str(settings.data_folder),
                "APPRAISE_DATABASE_URL": settings.database_url,
            },
            stdout=output,
            stderr=output,
        )
    return Server(f"http://{ADDRESS}:{port}", process, time.monotonic(), settings, log)


def _wait(server: Server) -> None:
    while True:
        try:
            with urllib.request.urlopen(f"{server.url}/_stcore/health", timeout=5):  # noqa: S310
                return
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            assert server.process.poll() is None, server.log.read_text()
            assert time.monotonic() - server.started < STARTS_WITHIN, "the server does not answer"
            time.sleep(0.1)


@pytest.fixture(scope="session")
def fresh_server(
    chromium: BrowserType, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Callable[..., Server]]:
    """Return a starter of screens on a data folder that does not exist yet.

    It takes more arguments of the command, the address of a database, and what is to be done with
    the settings before the start.
    """
    del chromium  # without a browser no server is needed
    running: list[Server] = []

    def start(
        *arguments: str, database: str = "", before: Callable[[Settings], object] = lambda _: None
    ) -> Server:
        folder = tmp_path_factory.mktemp("screens") / "data"
        settings = Settings(data_folder=folder, database_url=database)
        before(settings)
        server = _start(settings, *arguments)
        running.append(server)
        _wait(server)
        return server

    yield start
    for server in running:
        server.stop()


@pytest.fixture(scope="session")
def server(fresh_server: Callable[..., Server]) -> Server:
    """Return the screens that the tests share; each changes only cars that it added itself."""
    return fresh_server()


# --- windows --------------------------------------------------------------------------------------


@dataclass(slots=True)
class Watch:
    """What the browser complained about and whom it asked, over one test."""

    complaints: list[str] = field(default_factory=list)
    asked: set[str] = field(default_factory=set)
    servers: list[Server] = field(default_factory=list)

    def over(self, page: Page) -> None:
        """Listen to a page."""
        page.on("console", lambda message: self.console(message))  # noqa: PLW0108 - it marks these
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("dialog", lambda dialog: self.dialog(dialog))  # noqa: PLW0108
        page.on("request", lambda request: self.asked.add(request.url))
        page.on("websocket", lambda one: self.asked.add(one.url))

    def console(self, message: ConsoleMessage) -> None:
        if message.type != "error":
            return
        source = str(message.location.get("url", ""))
        path = urlsplit(source).path
        probed = path.endswith(PROBES) and path not in PROBES and " 404 " in message.text
        if not probed:
            self.complaints.append(f"{message.text} ({source})")

    def dialog(self, dialog: Dialog) -> None:
        if dialog.type == "beforeunload":  # the browser's own, where something is not saved
            dialog.accept()
            return
        if dialog.type == "confirm" and dialog.message.startswith("What you typed in the form"):
            dialog.dismiss()  # and stays on the page
            return
        self.complaints.append(f"a box says {dialog.message!r}: nothing else ever opens one")
        dialog.dismiss()

    def nothing_amiss(self) -> None:
        """Nothing complained in the console or the log, and nobody but this machine was asked."""
        logged = [line for one in self.servers for line in one.amiss()]
        assert self.complaints + logged == []
        strangers = {one for one in self.asked if not one.startswith(("data:", "blob:"))}
        assert {urlsplit(one).hostname for one in strangers} <= {ADDRESS}


@pytest.fixture
def windows(
    request: pytest.FixtureRequest, profiles: Callable[..., BrowserContext], server: Server
) -> Iterator[Callable[..., Page]]:
    """Return an opener of windows: address below the server's, whose server, what kind.

    Whatever a test does, nothing may complain in the console or in the log of the screens, and
    nobody else may be asked.
    """
    watch, opened = Watch(servers=[server]), list[Page]()
    request.node.stash[OPENED] = opened

    def open_window(
        path: str = "", *, at: Server = server, scheme: Any = "light", phone: bool = False
    ) -> Page:
        page = profiles(phone=phone).new_page()
        opened.append(page)
        if at not in watch.servers:
            watch.servers.append(at)
        page.set_default_timeout(WAIT)
        watch.over(page)
        page.emulate_media(color_scheme=scheme)
        page.goto(f"{at.url}/{path}")
        page.get_by_role("heading", level=1).wait_for()
        page.wait_for_selector(READY)
        return page

    yield open_window
    for page in opened:
        page.close()
    watch.nothing_amiss()


# --- what a person does everywhere ----------------------------------------------------------------


def _settle(page: Page) -> None:
    page.wait_for_timeout(150)  # for the change to leave the browser
    page.wait_for_selector(READY)
    page.wait_for_function(STILL)


@pytest.fixture(scope="session")
def settle() -> Callable[[Page], None]:
    """Return a waiter for the page to be worked out."""
    return _settle


def _turn(page: Page, name: str) -> None:
    page.get_by_role("link", name=name, exact=True).click()
    page.get_by_role("heading", level=1, name=name, exact=True).wait_for()
    _settle(page)


@pytest.fixture(scope="session")
def turn() -> Callable[[Page, str], None]:
    """Return a turner to another page by its link."""
    return _turn


def _pick(field: Locator, name: str | re.Pattern[str], typed: str = "") -> None:
    """Choose from a list, by pressing what it shows, or shows once something is typed."""
    page = field.page
    field.scroll_into_view_if_needed()
    page.wait_for_timeout(300)  # a list closes when the page under it moves
    field.click()
    page.keyboard.type(typed)
    page.get_by_role("option", name=name).first.click()
    if page.get_by_role("listbox").count():  # of several, it stays open for the next
        page.keyboard.press("Escape")
    _settle(page)


@pytest.fixture(scope="session")
def pick() -> Callable[..., None]:
    """Return a chooser from a list: the field, the name in the list, what to type before."""
    return _pick


def _walk_away(page: Page) -> str:
    tile = page.get_by_test_id("stMetric").filter(has_text="Walk-away price")
    return tile.get_by_test_id("stMetricValue").inner_text().strip()


@pytest.fixture(scope="session")
def walk_away() -> Callable[[Page], str]:
    return _walk_away


@pytest.fixture(scope="session")
def dollars() -> Callable[[Page], int]:
    """Return a reader of the walk-away price as a number."""
    return lambda page: int(_walk_away(page).removesuffix(" USD").replace(",", ""))


def _add_car(page: Page, make: str) -> None:
    """Fill in the form for a new car and send it."""
    page.get_by_text("Add a car", exact=True).first.click()
    _settle(page)
    page.get_by_label("Make", exact=True).fill(make)
    page.get_by_label("Model", exact=True).fill("Tivvick")
    page.get_by_label("Model year", exact=True).fill("2014")
    page.get_by_label("Odometer, mi", exact=True).fill("120000")
    page.get_by_role("button", name="Add this car").click()
    page.get_by_role("heading", level=1, name="Inspect").wait_for()
    _settle(page)


@pytest.fixture(scope="session")
def add_car() -> Callable[[Page, str], None]:
    return _add_car
