"""Photos and PDFs in a real browser: the way of the bytes to the page and back to a file."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Page
from pypdf import PdfWriter

CAR = "auction-engine-light"
PHONE: Any = {"width": 390, "height": 844}
FIFTY = 50 * 1024 * 1024


def photo() -> bytes:
    noise = np.random.default_rng(1).integers(0, 256, (90, 120, 3), dtype=np.uint8)
    out = BytesIO()
    Image.fromarray(noise).resize((1200, 900)).save(out, "JPEG")
    return out.getvalue()


def pdf() -> bytes:
    writer, out = PdfWriter(), BytesIO()
    writer.add_blank_page(100, 100)
    writer.write(out)
    return out.getvalue()


@pytest.fixture
def form(windows: Callable[..., Page], settle: Callable[[Page], None]) -> Page:
    """Return the page of the papers with the form for a new one open."""
    page = windows(f"papers?car={CAR}")
    page.get_by_role("button", name="Add a paper").click()
    page.get_by_text("Add photos or PDFs").wait_for()
    settle(page)
    return page


def give(page: Page, *paths: Path) -> None:
    page.locator("input[type=file]").first.set_input_files(list(paths))


def test_a_photo_of_50_mb_gets_its_clear_word_and_what_was_typed_stays(
    form: Page, tmp_path: Path
) -> None:
    """It has to pass the server's own limit to be told so."""
    form.get_by_label("Issued by", exact=True).fill("Corner garage")
    path = tmp_path / "light.jpg"
    path.write_bytes(photo().ljust(FIFTY, b"\0"))
    give(form, path)

    told = form.get_by_test_id("stAlert").filter(has_text="light.jpg")
    told.filter(has_text="the photo is 50 MB; the most is 20 MB").wait_for()
    assert form.get_by_label("Issued by", exact=True).input_value() == "Corner garage"


def test_files_are_shown_and_come_back_as_files(
    form: Page, tmp_path: Path, settle: Callable[[Page], None]
) -> None:
    light, invoice = tmp_path / "light.jpg", tmp_path / "invoice.pdf"
    light.write_bytes(photo())
    invoice.write_bytes(pdf())
    give(form, light, invoice)
    openers = form.get_by_test_id("stDownloadButton").get_by_role("button")
    openers.nth(1).wait_for()
    settle(form)

    picture = form.get_by_role("img", name="light.jpg")
    assert picture.evaluate("it => it.complete && it.naturalWidth") == 320
    with form.expect_download() as coming:
        openers.nth(1).click()
    assert coming.value.suggested_filename == "invoice.pdf"
    assert Path(coming.value.path()).read_bytes() == pdf()
    with form.expect_download() as coming:
        openers.first.click()
    assert coming.value.suggested_filename == "light.jpg"
    with Image.open(coming.value.path()) as kept:
        assert kept.size == (1200, 900)

    schemes: Any = ("light", "dark")
    for scheme in schemes:
        form.emulate_media(color_scheme=scheme)
        form.wait_for_timeout(300)  # for the colors to follow
        found: list[dict[str, Any]] = Axe().run(form).response["violations"]
        assert [one["id"] for one in found if one["impact"] in ("critical", "serious")] == []
    form.set_viewport_size(PHONE)
    form.wait_for_timeout(300)
    assert form.get_by_test_id("stMain").evaluate("it => it.scrollWidth - it.clientWidth") <= 0
