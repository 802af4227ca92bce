"""Make README's picture: the bid page of the first example, light, as a browser shows it.

Run it in the environment of the tests:
    python .ci/picture.py demo_cases/bid.png
"""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

WIDTH, HEIGHT = 1280, 900
COLORS = 128
"""A page has few; the picture stays below 200 kB."""
STILL = "[data-testid=stApp][data-test-script-state=notRunning]"
PATIENCE = 60
"""Seconds until the screens answer."""


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])


def wait_for(address: str) -> None:
    """Return once the screens answer."""
    until = time.monotonic() + PATIENCE
    while True:
        try:
            urllib.request.urlopen(f"{address}/_stcore/health").close()  # noqa: S310 - our own
        except OSError:
            if time.monotonic() > until:
                raise
            time.sleep(0.2)
        else:
            return


def bid_page(address: str) -> bytes:
    """Return the bid page of the car that is open first, as PNG."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT}, color_scheme="light")
        page.goto(address)  # the first start puts the examples on the list
        page.get_by_text("Engine light").first.wait_for(timeout=PATIENCE * 1000)
        page.goto(f"{address}/bid?car=auction-engine-light")
        page.get_by_text("Walk-away price").first.wait_for(timeout=PATIENCE * 1000)
        page.wait_for_selector(STILL)
        page.wait_for_load_state("networkidle")
        return page.screenshot()


def main(target: str) -> None:
    """Write the picture."""
    address = f"http://127.0.0.1:{(port := free_port())}"
    with tempfile.TemporaryDirectory() as folder:
        screens = subprocess.Popen(  # noqa: S603 - our own program
            [sys.executable, "-m", "ui.launch", "--port", str(port), "--no-browser"],
            env={**os.environ, "APPRAISE_DATA_FOLDER": folder},
        )
        try:
            wait_for(address)
            shot = bid_page(address)
        finally:
            screens.terminate()
            screens.wait()
    few = Image.open(BytesIO(shot)).convert("RGB").quantize(COLORS)
    few.save(Path(target), optimize=True)


if __name__ == "__main__":
    main(sys.argv[1])
