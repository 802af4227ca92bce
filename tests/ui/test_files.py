"""Photos and PDFs in the form of a paper: taken, shown, removed, refused."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from PIL import ExifTags, Image
from pypdf import PdfWriter
from streamlit.testing.v1 import AppTest

from appraise.models.files import MOST_FILES, Attachment
from appraise.services import changed
from appraise.services.records.workspace import attachment
from ui.session import cached
from ui.session.state import DRAFTS

CAR = "auction-engine-light"
PAPER = "service-invoice"
LABEL = "Add photos or PDFs: each is kept up to 20 MB"


def photo(color: str = "red", **options: Any) -> bytes:
    out = BytesIO()
    Image.new("RGB", (640, 480), color).save(out, "JPEG", **options)
    return out.getvalue()


def with_place() -> bytes:
    notes = Image.Exif()
    notes.get_ifd(ExifTags.IFD.GPSInfo).update(
        {1: "N", 2: (1.0, 2.0, 3.0), 3: "W", 4: (4.0, 5.0, 6.0)}
    )
    return photo(exif=notes.tobytes())


def pdf() -> bytes:
    writer, out = PdfWriter(), BytesIO()
    writer.add_blank_page(100, 100)
    writer.write(out)
    return out.getvalue()


@pytest.fixture
def window(screens: Any) -> AppTest:
    """Return the page of the papers with the form of one open."""
    opened: AppTest = screens.window("papers", CAR)
    return opened.button(key=f"paper:{PAPER}").click().run()


def uploader(window: AppTest) -> Any:
    (found,) = [one for one in window.file_uploader if one.label == LABEL]
    return found


def give(window: AppTest, *files: tuple[str, bytes]) -> AppTest:
    """Give files to the uploader, all called images by the browser."""
    uploader(window).set_value([(name, data, "image/png") for name, data in files])
    window.run()
    assert not window.exception
    return window


def draft(window: AppTest) -> list[str]:
    """Return the names of what the form would save now."""
    (found,) = window.session_state[DRAFTS].values()
    return [one.name for one in found.files]


def press(window: AppTest, ending: str, at: int = 0) -> AppTest:
    found = [one for one in window.button if one.key is not None and ending in one.key]
    found[at].click().run()
    assert not window.exception
    return window


def kept(screens: Any) -> tuple[Attachment, ...]:
    found = next(one for one in screens.kept(CAR).papers if one.id == PAPER)
    attachments: tuple[Attachment, ...] = found.attachments
    return attachments


def errors(window: AppTest) -> list[str]:
    return [str(one.value).replace("\\", "").replace("\u2060", "") for one in window.error]


def test_photos_and_pdfs_are_attached_once_the_paper_is_saved(
    screens: Any, window: AppTest, said: Any
) -> None:
    version = screens.version(CAR)
    give(window, ("light.jpg", photo()), ("invoice.pdf", pdf()))
    assert screens.version(CAR) == version
    assert draft(window) == ["light.jpg", "invoice.pdf"]
    press(window, ":save")

    light, invoice = kept(screens)
    assert (light.media_type, invoice.media_type) == ("image/jpeg", "application/pdf")
    assert attachment(cached.workspace(), invoice).content == pdf()
    assert "light.jpg, invoice.pdf" in said(window)


def test_each_is_shown_small_with_its_size_and_can_be_opened(window: AppTest, said: Any) -> None:
    give(window, ("light.jpg", photo()), ("invoice.pdf", pdf()))

    assert len(window.image) == 1
    assert "light.jpg, " in said(window)
    assert "kB" in said(window)
    opened = [one for one in window.get("download_button") if one.label == "Open"]
    assert len(opened) == 2


def test_the_uploader_is_empty_afterwards_and_nothing_comes_twice(
    window: AppTest, said: Any
) -> None:
    give(window, ("light.jpg", photo()))
    for _ in range(3):
        window.run()
    assert not uploader(window).value
    give(window, ("again.jpg", photo()), ("other.jpg", photo("blue")))

    assert draft(window) == ["light.jpg", "other.jpg"]
    assert "again.jpg: is there already, as light.jpg." in said(window)


def test_what_is_refused_is_told_and_what_was_typed_stays(
    screens: Any, window: AppTest, widget: Any
) -> None:
    widget(window, "text_input", ":issuer").set_value("Corner garage")
    widget(window, "text_area", ":note").set_value("Typed before.")
    give(window, ("light.jpg", b"<html><script>alert(1)</script>"), ("good.jpg", photo()))

    (told,) = errors(window)
    assert told.startswith("light.jpg: is called .jpg, but is a web page")
    assert draft(window) == ["good.jpg"]
    press(window, ":save")
    paper = next(one for one in screens.kept(CAR).papers if one.id == PAPER)
    assert (paper.issuer, paper.note) == ("Corner garage", "Typed before.")
    assert [one.name for one in paper.attachments] == ["good.jpg"]


def test_a_file_of_50_mb_is_told_in_clear_words(window: AppTest) -> None:
    give(window, ("light.jpg", photo() + bytes(50 * 1024 * 1024 - 10_000)))

    (told,) = errors(window)
    assert told.startswith("light.jpg: the photo is 50 MB; the most is 20 MB. ")
    assert draft(window) == []
    give(window, ("small.jpg", photo()))
    assert errors(window) == []


def test_a_name_appears_as_text(window: AppTest, bare: Any) -> None:
    give(window, ("_i_ [a](b) $x$ `c`.jpg", photo()))
    (caption,) = [one.value for one in window.caption if "kB" in one.value]

    assert bare(caption).startswith("_i_ [a](b) $x$ `c`.jpg, ")
    assert not any(mark in caption.replace(f"\\{mark}", "") for mark in "_[]()$`")


def test_the_place_is_kept_only_where_that_is_ticked(
    screens: Any, window: AppTest, widget: Any, said: Any
) -> None:
    give(window, ("light.jpg", with_place()))
    assert "The place where it was taken is not kept." in said(window)
    widget(window, "checkbox", ":position").set_value(True).run()
    give(window, ("light.jpg", with_place()))
    assert "says where it was taken" in said(window)
    press(window, ":save")

    assert [one.position_kept for one in kept(screens)] == [False, True]


def test_the_camera_is_asked_for_only_when_it_is_wanted(
    screens: Any, window: AppTest, widget: Any
) -> None:
    assert not window.camera_input
    widget(window, "toggle", ":camera").set_value(True).run()
    for color in ("red", "blue"):
        window.camera_input[0].set_value(("shot.jpg", photo(color), "image/jpeg")).run()
        assert not window.exception
    press(window, ":save")

    assert [one.name for one in kept(screens)] == ["photo 1.jpg", "photo 2.jpg"]


def attached(screens: Any, window: AppTest) -> AppTest:
    give(window, ("a.jpg", photo()), ("b.jpg", photo("blue")), ("c.jpg", photo("lime")))
    press(window, ":save")
    assert len(kept(screens)) == 3
    return window.button(key=f"paper:{PAPER}").click().run()


def test_what_is_removed_can_be_put_back_where_it_was(screens: Any, window: AppTest) -> None:
    before = kept(screens)
    attached(screens, window)
    before = kept(screens)
    press(window, ":drop:", 1)
    assert draft(window) == ["a.jpg", "c.jpg"]
    assert kept(screens) == before
    press(window, ":put-back")
    assert draft(window) == ["a.jpg", "b.jpg", "c.jpg"]
    press(window, ":drop:", 1)
    press(window, ":save")

    assert kept(screens) == (before[0], before[2])
    window.button(key="undo-button").click().run()
    assert kept(screens) == before
    assert attachment(cached.workspace(), before[1]).content


def test_closing_without_saving_keeps_nothing(screens: Any, window: AppTest, button: Any) -> None:
    version = screens.version(CAR)
    give(window, ("a.jpg", photo()))
    button(window, "Close without saving").click().run()
    window.button(key=f"paper:{PAPER}").click().run()

    assert draft(window) == []
    assert screens.version(CAR) == version


def test_pressing_change_again_keeps_what_came(window: AppTest) -> None:
    give(window, ("a.jpg", photo()))
    window.button(key=f"paper:{PAPER}").click().run()

    assert draft(window) == ["a.jpg"]


def test_a_new_paper_takes_files_too(screens: Any, window: AppTest, button: Any) -> None:
    button(window, "Close without saving").click().run()
    button(window, "Add a paper").click().run()
    give(window, ("a.jpg", photo()))
    press(window, ":save")

    assert [one.name for one in screens.kept(CAR).papers[-1].attachments] == ["a.jpg"]
    button(window, "Add a paper").click().run()
    assert draft(window) == []


def test_there_is_a_most(screens: Any, window: AppTest) -> None:
    shades = [f"rgb({number},{number},{number})" for number in range(0, 250, 11)]
    give(
        window, *((f"{at}.jpg", photo(shade)) for at, shade in enumerate(shades[: MOST_FILES + 1]))
    )

    assert len(draft(window)) == MOST_FILES
    (told,) = errors(window)
    assert "20.jpg: there are 20 files already" in told
    press(window, ":save")
    assert len(kept(screens)) == MOST_FILES


def test_a_paper_that_names_what_is_not_here_says_so(screens: Any, said: Any) -> None:
    """As in a case that came from another computer."""
    strange = {
        "id": "f" * 64,
        "name": "light.jpg",
        "media_type": "image/jpeg",
        "size": 700,
        "added_on": "2026-11-20",
    }
    rows = [one.model_dump() | {"attachments": [strange]} for one in screens.kept(CAR).papers[:1]]
    screens.put(changed(screens.kept(CAR), ("papers",), rows))
    window = screens.window("papers", CAR)
    window.button(key=f"paper:{rows[0]['id']}").click().run()

    assert not window.exception
    assert "The file itself is not here, only its name." in said(window)
    assert not [one for one in window.get("download_button") if one.label == "Open"]
