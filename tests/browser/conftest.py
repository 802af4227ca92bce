"""A server of our own on a free port, and a real browser that never leaves this machine."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

CHROMIUM = Path("/usr/bin/chromium")
SWITCHES = [
    "--no-sandbox",  # Chromium refuses to run as root without it
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-fake-device-for-media-stream",  # a camera that shows a clock, and may be used unasked
    "--use-fake-ui-for-media-stream",
]
ADDRESS = "127.0.0.1"
PROBES = ("_stcore/health", "_stcore/host-config")
"""Streamlit asks for these below the page's own address first, and gets a 404 there by design."""
STARTS_WITHIN = 60.0  # for the server to answer at all; what is promised has its own test
READY = "[data-testid=stApp][data-test-script-state=notRunning]"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Return a running browser; without one the tests are skipped, or fail where CI is set."""
    if not CHROMIUM.exists():
        reason = f"{CHROMIUM} is not installed (apt-get install chromium)"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=SWITCHES)
        yield browser
        browser.close()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind((ADDRESS, 0))
        port: int = probe.getsockname()[1]
        return port


@dataclass(frozen=True, slots=True)
class Server:
    """The screens, running."""

    url: str
    process: subprocess.Popen[bytes]
    started: float


def _start(folder: Path) -> Server:
    port = _free_port()
    process = subprocess.Popen(  # noqa: S603 - our own program
        [sys.executable, "-m", "appraise", "open", "--no-browser", "--port", str(port)],
        env={**os.environ, "APPRAISE_DATA_FOLDER": str(folder), "APPRAISE_DATABASE_URL": ""},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    return Server(f"http://{ADDRESS}:{port}", process, time.monotonic())


def _wait(server: Server) -> None:
    while True:
        try:
            with urllib.request.urlopen(f"{server.url}/_stcore/health", timeout=5):  # noqa: S310
                return
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            assert server.process.poll() is None, "the server ended by itself"
            assert time.monotonic() - server.started < STARTS_WITHIN, "the server does not answer"
            time.sleep(0.1)


def _stop(server: Server) -> None:
    server.process.send_signal(signal.SIGTERM)
    server.process.wait(timeout=20)


@pytest.fixture(scope="session")
def fresh_server(
    chromium: Browser, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Callable[[], Server]]:
    """Return a starter of a server on a data folder that does not exist yet."""
    del chromium  # without a browser no server is needed
    running: list[Server] = []

    def start() -> Server:
        server = _start(tmp_path_factory.mktemp("screens") / "data")
        running.append(server)
        _wait(server)
        return server

    yield start
    for server in running:
        _stop(server)


@pytest.fixture(scope="session")
def server(fresh_server: Callable[[], Server]) -> Server:
    return fresh_server()


@dataclass(slots=True)
class Watch:
    """What the browser complained about and whom it asked, over one test."""

    complaints: list[str] = field(default_factory=list)
    asked: set[str] = field(default_factory=set)

    def console(self, message: ConsoleMessage) -> None:
        source = str(message.location.get("url", ""))
        if message.type == "error" and not source.split("?", maxsplit=1)[0].endswith(PROBES):
            self.complaints.append(f"{message.text} ({source})")

    def nothing_amiss(self) -> None:
        """Nothing complained in the console, and nobody but this machine was asked."""
        assert self.complaints == []
        strangers = {one for one in self.asked if not one.startswith(("data:", "blob:"))}
        assert {urlsplit(one).hostname for one in strangers} <= {ADDRESS}


def _open(
    browser: Browser, watch: Watch, url: str, width: int = 1280, scheme: Any = "light"
) -> Page:
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    page = context.new_page()
    page.set_default_timeout(15_000)
    page.on("console", lambda message: watch.console(message))  # noqa: PLW0108 - it marks functions
    page.on("pageerror", lambda error: watch.complaints.append(str(error)))
    page.on("request", lambda request: watch.asked.add(request.url))
    page.on("websocket", lambda one: watch.asked.add(one.url))
    page.goto(url)
    page.get_by_role("heading", level=1).wait_for()
    page.wait_for_selector(READY)
    return page


@pytest.fixture
def windows(chromium: Browser, server: Server) -> Iterator[Callable[..., Page]]:
    """Return an opener of windows: address below the server's, and whose server.

    Whatever a test does, nothing may complain in the console and nobody else may be asked.
    """
    watch, opened = Watch(), list[Page]()

    def open_window(path: str = "", *, base: str = server.url, scheme: str = "light") -> Page:
        opened.append(_open(chromium, watch, f"{base}/{path}", scheme=scheme))
        return opened[-1]

    yield open_window
    for page in opened:
        page.context.close()
    watch.nothing_amiss()


OWNED = ("work", "proof", "choose")
"""Pages that are for a car that is owned."""


@pytest.fixture(scope="module")
def standing(chromium: Browser, server: Server) -> Iterator[Callable[[str], Page]]:
    """Return pages with every fold open, each kept for all tests that only look at it."""
    watch, opened = Watch(), dict[str, Page]()

    def stand(name: str) -> Page:
        if name not in opened:
            car = "farm-truck-owned" if name in OWNED else "auction-engine-lamp"
            page = _open(chromium, watch, f"{server.url}/{name}?car={car}")
            closed = page.locator("details:not([open]) > summary")
            for _ in range(closed.count()):
                closed.first.click()
                _settle(page)
            opened[name] = page
        page = opened[name]
        page.emulate_media(color_scheme="light")
        page.set_viewport_size({"width": 1280, "height": 900})
        return page

    yield stand
    for page in opened.values():
        page.context.close()
    watch.nothing_amiss()


def _settle(page: Page) -> None:
    page.wait_for_timeout(150)  # for the change to leave the browser
    page.wait_for_selector(READY)


@pytest.fixture(scope="session")
def settle() -> Callable[[Page], None]:
    """Return a waiter for the page to be worked out."""
    return _settle


def _walk_away(page: Page) -> str:
    tile = page.get_by_test_id("stMetric").filter(has_text="Walk-away price")
    return tile.get_by_test_id("stMetricValue").inner_text().strip()


@pytest.fixture(scope="session")
def walk_away() -> Callable[[Page], str]:
    return _walk_away


def _add_car(page: Page, make: str) -> None:
    """Fill in the form for a new car and send it."""
    page.get_by_text("Add a car", exact=True).first.click()
    page.get_by_label("Make", exact=True).fill(make)
    page.get_by_label("Model", exact=True).fill("Lumen")
    page.get_by_label("Model year", exact=True).fill("2014")
    page.get_by_label("Odometer, mi", exact=True).fill("120000")
    page.get_by_role("button", name="Add this car").click()
    page.get_by_role("heading", level=1, name="Look").wait_for()
    _settle(page)


@pytest.fixture(scope="session")
def add_car() -> Callable[[Page, str], None]:
    return _add_car
