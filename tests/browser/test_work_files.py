"""Photos of receipts and jobs in a real browser: taken, there after a reload, opened, removed."""

from __future__ import annotations

import re
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Page, expect

from appraise.intake.files import checked

CAR = "wagon-half-repaired"
PHONE: Any = {"width": 390, "height": 844}
WAIT = 15_000  # milliseconds, as for all else; the first save draws on what is not read yet
Settle = Callable[[Page], None]


def photo(color: str, size: tuple[int, int] = (900, 1600)) -> bytes:
    out = BytesIO()
    Image.new("RGB", size, color).save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def work(windows: Callable[..., Page], settle: Settle) -> Callable[[str], Page]:
    """Return an opener of a section of the page of the work, each time in a new window."""

    def opened(section: str) -> Page:
        page = windows(f"repair?car={CAR}")
        turn(page, section, settle)
        return page

    return opened


def opener(page: Page) -> Any:
    """Return the buttons that open a file; a list of choices has one of that name too."""
    return page.get_by_test_id("stDownloadButton").get_by_role("button", name="Open", exact=True)


def turn(page: Page, section: str, settle: Settle) -> None:
    page.get_by_role("radio", name=section).click()
    settle(page)


def give(page: Page, settle: Settle, path: Path, content: bytes) -> None:
    """Give a photo to the one box that takes any, and wait for it to be shown."""
    path.write_bytes(content)
    page.locator("input[type=file]").set_input_files([path])
    opener(page).wait_for()
    settle(page)


def opens_as(page: Page, name: str, content: bytes) -> None:
    """Open the one file of the box; it comes as it is kept."""
    with page.expect_download() as coming:
        opener(page).click()
    assert coming.value.suggested_filename == name
    assert Path(coming.value.path()).read_bytes() == checked(content, name).content


def shown(page: Page, name: str) -> None:
    """See one small picture with that name, upright and whole."""
    picture = page.get_by_role("img", name=name)
    expect(picture).to_have_count(1, timeout=WAIT)
    sides = picture.evaluate("it => [it.naturalWidth, it.naturalHeight]")
    assert sides[1] / sides[0] == pytest.approx(16 / 9, rel=0.02)


def nothing_grave(page: Page) -> None:
    """Keep nobody out, in the light and in the dark, nor make a phone scroll sideways."""
    schemes: Any = ("light", "dark")
    for scheme in schemes:
        page.emulate_media(color_scheme=scheme)
        page.wait_for_timeout(300)  # for the colors to follow
        found: list[dict[str, Any]] = Axe().run(page).response["violations"]
        assert [one["id"] for one in found if one["impact"] in ("critical", "serious")] == []
    page.set_viewport_size(PHONE)
    page.wait_for_timeout(300)
    assert page.get_by_test_id("stMain").evaluate("it => it.scrollWidth - it.clientWidth") <= 0


def test_a_receipt_is_photographed_entered_and_there_after_a_reload(
    work: Callable[[str], Page], settle: Settle, tmp_path: Path
) -> None:
    page = work("Money and hours")
    page.get_by_label("Note", exact=True).fill("Typed before the photo")
    page.get_by_text("Photo of the receipt", exact=True).click()
    settle(page)
    give(page, settle, tmp_path / "receipt.jpg", photo("navy"))
    assert page.get_by_label("Note", exact=True).input_value() == "Typed before the photo"
    page.get_by_label("Amount, USD").fill("12.34")
    page.get_by_role("button", name="Enter", exact=True).click()
    expect(page.get_by_role("button", name="1 photo")).to_have_count(1, timeout=WAIT)

    page.reload()
    page.get_by_role("heading", level=1, name="Repair").wait_for()
    turn(page, "Money and hours", settle)
    card = page.get_by_text("12.34 USD", exact=False).first
    expect(card).to_be_visible(timeout=WAIT)
    page.get_by_role("button", name="1 photo").click()
    settle(page)
    shown(page, "receipt.jpg")
    opens_as(page, "receipt.jpg", photo("navy"))
    nothing_grave(page)


def test_a_job_shows_its_photo_after_a_reload_and_gives_it_back_and_away(
    work: Callable[[str], Page], settle: Settle, tmp_path: Path
) -> None:
    page = work("Jobs")
    page.get_by_role("button", name="Add photos").first.click()
    settle(page)
    give(page, settle, tmp_path / "bay.jpg", photo("olive"))

    page.reload()
    page.get_by_role("heading", level=1, name="Repair").wait_for()
    turn(page, "Jobs", settle)
    shown(page, "bay.jpg")
    page.get_by_role("button", name="1 photo").click()
    settle(page)
    shown(page, "bay.jpg")
    opens_as(page, "bay.jpg", photo("olive"))
    page.get_by_role("button", name="Remove", exact=True).click()
    expect(page.get_by_role("img", name="bay.jpg")).to_have_count(0, timeout=WAIT)
    settle(page)
    page.get_by_role("button", name="Put it back").click()
    expect(page.get_by_role("button", name="1 photo")).to_have_count(1, timeout=WAIT)
    settle(page)
    shown(page, "bay.jpg")
    nothing_grave(page)


def test_a_phone_takes_the_receipt_with_its_camera(
    work: Callable[[str], Page], settle: Settle
) -> None:
    page = work("Money and hours")
    page.set_viewport_size(PHONE)
    page.get_by_text("Photo of the receipt", exact=True).click()
    settle(page)
    page.get_by_text("Use the camera of this device", exact=True).click()
    take = page.get_by_role("button", name="Take Photo")
    expect(take).to_be_enabled(timeout=WAIT)
    assert page.get_by_test_id("stMain").evaluate("it => it.scrollWidth - it.clientWidth") <= 0
    box = take.bounding_box()
    assert box is not None
    assert box["height"] >= 24  # WCAG 2.2, 2.5.8
    take.click()
    expect(page.get_by_role("img", name="photo 1.jpg")).to_have_count(1, timeout=WAIT)
    settle(page)
    page.get_by_label("Amount, USD").fill("5.67")
    page.get_by_role("button", name="Enter", exact=True).click()

    expect(page.get_by_text(re.compile("Entered.*5.67 USD"))).to_be_visible(timeout=WAIT)
    expect(page.get_by_role("img", name="photo 1.jpg")).to_have_count(0, timeout=WAIT)
