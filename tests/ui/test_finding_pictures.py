"""Photos and PDFs of a finding: in its form, small on its card, removable."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from PIL import Image
from pypdf import PdfWriter
from streamlit.testing.v1 import AppTest

from appraise.models.files import Attachment
from appraise.models.findings import Area, Finding
from appraise.services.records.workspace import attachment
from appraise.store.files import FileStore
from ui.session import cached
from ui.session.state import DRAFTS

CAR = "auction-engine-light"
LABEL = "Add photos or PDFs: each is kept up to 20 MB"


def photo(color: str = "red") -> bytes:
    out = BytesIO()
    Image.new("RGB", (640, 480), color).save(out, "JPEG")
    return out.getvalue()


def pdf() -> bytes:
    writer, out = PdfWriter(), BytesIO()
    writer.add_blank_page(100, 100)
    writer.write(out)
    return out.getvalue()


@pytest.fixture
def finding(screens: Any) -> Finding:
    """Return a finding of the car that is some trouble."""
    found: Finding = next(one for one in screens.kept(CAR).findings if one.trouble)
    return found


@pytest.fixture
def window(screens: Any, finding: Finding) -> AppTest:
    """Return the page of the look with the form of that finding open."""
    opened: AppTest = screens.window("inspect", CAR)
    opened.selectbox(key="area").set_value(finding.area).run()
    return opened.button(key=f"change:{finding.id}").click().run()


def give(window: AppTest, *files: tuple[str, bytes]) -> AppTest:
    (uploader,) = [one for one in window.file_uploader if one.label == LABEL]
    uploader.set_value([(name, data, "image/png") for name, data in files]).run()
    assert not window.exception
    return window


def press(window: AppTest, ending: str, at: int = 0) -> AppTest:
    found = [one for one in window.button if one.key is not None and ending in one.key]
    found[at].click().run()
    assert not window.exception
    return window


def save(window: AppTest, finding: Finding) -> AppTest:
    return press(window, f"finding.{finding.area.value}.{finding.id}:save")


def kept(screens: Any, finding: Finding) -> tuple[Attachment, ...]:
    found = next(one for one in screens.kept(CAR).findings if one.id == finding.id)
    attachments: tuple[Attachment, ...] = found.attachments
    return attachments


def test_photos_and_pdfs_are_kept_with_the_finding_and_shown_on_its_card(
    screens: Any, window: AppTest, finding: Finding, said: Any
) -> None:
    version = screens.version(CAR)
    give(window, ("light.jpg", photo()), ("printout.pdf", pdf()))
    assert screens.version(CAR) == version
    save(window, finding)

    light, printout = kept(screens, finding)
    assert (light.media_type, printout.media_type) == ("image/jpeg", "application/pdf")
    assert attachment(cached.workspace(), printout).content == pdf()
    assert len(window.image) == 1
    assert "printout.pdf" in said(window)
    assert "(not here)" not in said(window)


def test_all_else_of_the_finding_stays(screens: Any, window: AppTest, finding: Finding) -> None:
    give(window, ("light.jpg", photo()))
    save(window, finding)

    after = next(one for one in screens.kept(CAR).findings if one.id == finding.id)
    assert after.model_dump(exclude={"attachments"}) == finding.model_dump(exclude={"attachments"})


def test_the_card_reads_only_what_is_small(
    window: AppTest, finding: Finding, monkeypatch: pytest.MonkeyPatch
) -> None:
    give(window, ("light.jpg", photo()), ("other.jpg", photo("blue")))
    save(window, finding)

    def refuse(_: FileStore, file_id: str) -> None:
        raise AssertionError(f"the whole of {file_id} was read")

    monkeypatch.setattr(FileStore, "get", refuse)
    window.run()
    assert not window.exception
    assert len(window.image) == 2


def test_one_that_is_removed_can_be_brought_back(
    screens: Any, window: AppTest, finding: Finding
) -> None:
    give(window, ("a.jpg", photo()), ("b.jpg", photo("blue")))
    save(window, finding)
    both = kept(screens, finding)
    window.button(key=f"change:{finding.id}").click().run()
    press(window, ":drop:", 0)
    assert kept(screens, finding) == both
    save(window, finding)
    assert [one.name for one in kept(screens, finding)] == ["b.jpg"]
    window.button(key="undo-button").click().run()

    assert kept(screens, finding) == both


def test_closing_without_saving_keeps_nothing(
    screens: Any, window: AppTest, finding: Finding, button: Any
) -> None:
    give(window, ("a.jpg", photo()))
    button(window, "Close without saving").click().run()
    window.button(key=f"change:{finding.id}").click().run()

    (draft,) = window.session_state[DRAFTS].values()
    assert draft.files == ()
    assert kept(screens, finding) == ()


def test_what_is_refused_is_told_and_what_was_typed_stays(
    screens: Any, window: AppTest, finding: Finding, widget: Any, said: Any
) -> None:
    ending = f"finding.{finding.area.value}.{finding.id}:note"
    widget(window, "text_area", ending).set_value("Typed before.")
    give(window, ("light.jpg", b"<html><script>alert(1)</script>"), ("good.jpg", photo()))
    assert "light.jpg: is called .jpg, but is a web page" in said(window)
    save(window, finding)

    after = next(one for one in screens.kept(CAR).findings if one.id == finding.id)
    assert after.note == "Typed before."
    assert [one.name for one in after.attachments] == ["good.jpg"]


def test_a_new_finding_takes_photos_too(screens: Any, button: Any, widget: Any) -> None:
    window = screens.window("inspect", CAR)
    window.selectbox(key="area").set_value(Area.WHEELS).run()
    button(window, "Something wrong").click().run()
    widget(window, "text_input", ".new:label").set_value("Curbed rim")
    give(window, ("rim.jpg", photo()))
    press(window, ".new:save")

    new = next(one for one in screens.kept(CAR).findings if one.label == "Curbed rim")
    assert [one.name for one in new.attachments] == ["rim.jpg"]


def test_a_photo_that_is_not_here_is_named_so(screens: Any, finding: Finding, said: Any) -> None:
    """As in a case that came from another computer."""
    strange = Attachment.model_validate(
        {
            "id": "f" * 64,
            "name": "_light_.jpg",
            "media_type": "image/jpeg",
            "size": 700,
            "added_on": "2026-11-20",
        }
    )
    case = screens.kept(CAR)
    rows = tuple(
        one.model_copy(update={"attachments": (strange,)}) if one.id == finding.id else one
        for one in case.findings
    )
    screens.put(case.model_copy(update={"findings": rows}))
    window = screens.window("inspect", CAR)
    window.selectbox(key="area").set_value(finding.area).run()

    assert not window.exception
    assert "_light_.jpg (not here)" in said(window)
    assert not window.image
