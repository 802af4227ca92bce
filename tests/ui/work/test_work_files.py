"""Photos and PDFs of jobs and entries: taken, kept at once or with a form, removed, put back."""

from __future__ import annotations

from datetime import date
from io import BytesIO
from typing import Any

import pytest
from PIL import Image
from pypdf import PdfWriter
from streamlit.testing.v1 import AppTest

from appraise.errors import StoreUnavailable
from appraise.models.files import Attachment, Attachments
from appraise.models.work import Stage
from appraise.services.ownership.bookkeeping import attach_to_entry
from appraise.services.ownership.working import attach_to_job
from appraise.services.records.workspace import attach, attachment
from appraise.store.cases import CaseStore
from ui.session import cached
from ui.session.state import DRAFTS

CAR = "farm-truck-owned"
JOB = "lines-to-rear"
LABEL = "Add photos or PDFs: each is kept up to 20 MB"
FOLD = ("entry-photos",)


def photo(color: str = "red") -> bytes:
    out = BytesIO()
    Image.new("RGB", (640, 480), color).save(out, "JPEG")
    return out.getvalue()


def pdf() -> bytes:
    writer, out = PdfWriter(), BytesIO()
    writer.add_blank_page(100, 100)
    writer.write(out)
    return out.getvalue()


def give(window: AppTest, *files: tuple[str, bytes], at: int = 0) -> AppTest:
    """Give files to one of the boxes that take them, the first on the page."""
    boxes = [one for one in window.file_uploader if one.label == LABEL]
    boxes[at].set_value([(name, data, "image/png") for name, data in files]).run()
    assert not window.exception
    return window


def press(window: AppTest, part: str, at: int = 0) -> AppTest:
    """Press a button whose key has that in it."""
    found = [one for one in window.button if one.key is not None and part in one.key]
    found[at].click().run()
    assert not window.exception
    return window


def names(files: Attachments) -> list[str]:
    return [one.name for one in files]


def pictures(window: AppTest) -> list[str]:
    """Return what the pictures on the page are called for whoever cannot see them."""
    return [one.alt for image in window.image for one in image.proto.imgs]


def strange(name: str = "_weld_.jpg") -> Attachment:
    """Return a photo that is named, and kept nowhere."""
    return Attachment(
        id="f" * 64, name=name, media_type="image/jpeg", size=700, added_on=date(2026, 11, 20)
    )


@pytest.fixture
def entry(screens: Any) -> str:
    """Return the newest entry of the example: it stands on the first page."""
    entries = screens.kept(CAR).work.entries
    found: str = max(entries, key=lambda one: one.on).id
    return found


def of_entry(screens: Any, name: str) -> Attachments:
    found: Attachments = next(
        one.attachments for one in screens.kept(CAR).work.entries if one.id == name
    )
    return found


def of_job(screens: Any, name: str = JOB) -> Attachments:
    found: Attachments = screens.kept(CAR).work.job(name).attachments
    return found


# --- a new entry ----------------------------------------------------------------------------------


def enter(desk: Any, window: AppTest, widget: Any, amount: float | None) -> AppTest:
    widget(window, "number_input", "entry-new:amount").set_value(amount)
    pressed: AppTest = desk.press(window, "Enter")
    return pressed


def test_a_receipt_is_photographed_while_it_is_entered(
    screens: Any, desk: Any, widget: Any
) -> None:
    window = desk.section("Money and hours", folds=FOLD)
    version = screens.version(CAR)
    give(window, ("receipt.jpg", photo()), ("invoice.pdf", pdf()))
    assert screens.version(CAR) == version
    enter(desk, window, widget, 12.5)

    new = screens.kept(CAR).work.entries[-1]
    assert (str(new.amount), names(new.attachments)) == ("12.50", ["receipt.jpg", "invoice.pdf"])
    assert attachment(cached.workspace(), new.attachments[1]).content == pdf()
    assert window.button(key=f"files:entry:{new.id}").label == "1 photo, 1 PDF"
    enter(desk, window, widget, 3.0)
    assert screens.kept(CAR).work.entries[-1].attachments == ()


def test_the_camera_takes_the_receipt_too(screens: Any, desk: Any, widget: Any) -> None:
    window = desk.section("Money and hours", folds=FOLD)
    widget(window, "toggle", ":camera").set_value(True).run()
    window.camera_input[0].set_value(("shot.jpg", photo(), "image/jpeg")).run()
    enter(desk, window, widget, 12.5)

    assert names(screens.kept(CAR).work.entries[-1].attachments) == ["photo 1.jpg"]


def test_what_is_refused_keeps_its_photo_for_the_next_try(
    screens: Any, desk: Any, widget: Any
) -> None:
    window = give(desk.section("Money and hours", folds=FOLD), ("receipt.jpg", photo()))
    before = screens.kept(CAR)
    enter(desk, window, widget, None)
    assert "An amount of 0" in desk.errors(window)
    assert screens.kept(CAR) == before
    enter(desk, window, widget, 9.0)

    assert names(screens.kept(CAR).work.entries[-1].attachments) == ["receipt.jpg"]


def test_a_photo_taken_is_seen_and_entered_with_its_box_folded(
    screens: Any, desk: Any, widget: Any
) -> None:
    window = give(desk.section("Money and hours", folds=FOLD), ("receipt.jpg", photo()))
    window.session_state["entry-photos"] = False
    window.run()
    assert not window.file_uploader
    assert pictures(window) == ["receipt.jpg"]
    enter(desk, window, widget, 9.0)

    assert names(screens.kept(CAR).work.entries[-1].attachments) == ["receipt.jpg"]
    assert pictures(window) == []


def test_what_another_window_saves_loses_no_photo_that_was_taken(
    screens: Any, desk: Any, widget: Any
) -> None:
    window = desk.section("Money and hours", folds=FOLD)
    screens.put(screens.kept(CAR).model_copy(update={"title": "Renamed"}))
    give(window, ("receipt.jpg", photo()))
    enter(desk, window, widget, 9.0)

    kept = screens.kept(CAR)
    assert (kept.title, names(kept.work.entries[-1].attachments)) == ("Renamed", ["receipt.jpg"])


# --- an entry that is there already ---------------------------------------------------------------


def test_a_photo_is_added_to_an_entry_later_and_nothing_else_changes(
    screens: Any, desk: Any, entry: str
) -> None:
    before = screens.kept(CAR)
    window = desk.section("Money and hours")
    assert window.button(key=f"files:entry:{entry}").label == "Add photos"
    desk.click(window, f"files:entry:{entry}")
    give(window, ("receipt.jpg", photo()))

    files = of_entry(screens, entry)
    assert screens.kept(CAR) == attach_to_entry(before, entry, files)
    assert names(files) == ["receipt.jpg"]
    assert window.button(key=f"files:entry:{entry}").label == "1 photo"
    assert pictures(window) == ["receipt.jpg"]
    desk.press(window, "Close the photos")
    assert pictures(window) == []


def test_a_photo_of_an_entry_is_removed_and_put_back_where_it_was(
    screens: Any, desk: Any, entry: str
) -> None:
    window = desk.click(desk.section("Money and hours"), f"files:entry:{entry}")
    give(window, ("a.jpg", photo()), ("b.jpg", photo("blue")), ("c.jpg", photo("lime")))
    press(window, ":drop:", 1)
    assert names(of_entry(screens, entry)) == ["a.jpg", "c.jpg"]
    press(window, ":put-back")
    assert names(of_entry(screens, entry)) == ["a.jpg", "b.jpg", "c.jpg"]
    press(window, ":drop:", 0)
    desk.press(window, "Close the photos")
    desk.click(window, "undo-button")

    assert names(of_entry(screens, entry)) == ["a.jpg", "b.jpg", "c.jpg"]
    assert attachment(cached.workspace(), of_entry(screens, entry)[0]).content


def test_what_is_undone_is_not_offered_to_be_put_back_as_well(
    screens: Any, desk: Any, entry: str
) -> None:
    window = desk.click(desk.section("Money and hours"), f"files:entry:{entry}")
    give(window, ("a.jpg", photo()))
    press(window, ":drop:")
    desk.click(window, "undo-button")

    assert names(of_entry(screens, entry)) == ["a.jpg"]
    assert pictures(window) == ["a.jpg"]
    assert not [one for one in window.button if one.label == "Put it back"]


def test_another_entry_gets_its_photo_beside_a_new_one_that_is_half_typed(
    desk: Any, widget: Any, entry: str
) -> None:
    """A field keeps what is typed, in the browser, as long as its key stays."""
    window = give(desk.section("Money and hours", folds=FOLD), ("new.jpg", photo("blue")))
    amount = widget(window, "number_input", "entry-new:amount").key
    desk.click(window, f"files:entry:{entry}")
    give(window, ("receipt.jpg", photo()), at=1)

    assert widget(window, "number_input", "entry-new:amount").key == amount
    assert pictures(window) == ["new.jpg", "receipt.jpg"]


def test_two_windows_are_told_and_the_photo_is_not_lost(
    screens: Any, desk: Any, entry: str, button: Any
) -> None:
    window = desk.click(desk.section("Money and hours"), f"files:entry:{entry}")
    screens.put(screens.kept(CAR).model_copy(update={"title": "Renamed"}))
    give(window, ("receipt.jpg", photo()))
    assert of_entry(screens, entry) == ()
    button(window, "Keep mine instead").click().run()

    assert names(of_entry(screens, entry)) == ["receipt.jpg"]
    assert pictures(window) == ["receipt.jpg"]


def test_of_a_photo_that_cannot_be_named_nothing_is_said_as_if_it_were(
    screens: Any, desk: Any, entry: str, said: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = desk.click(desk.section("Money and hours"), f"files:entry:{entry}")

    def fail(*_: object, **__: object) -> None:
        raise StoreUnavailable("the disk is full")

    with monkeypatch.context() as patch:
        patch.setattr(CaseStore, "save", fail)
        give(window, ("receipt.png", photo()))
    assert "the disk is full" in desk.errors(window)
    assert pictures(window) == []
    assert "Kept as" not in said(window)
    give(window, ("receipt.png", photo()))
    assert "Kept as receipt.jpg" in said(window)
    assert names(of_entry(screens, entry)) == ["receipt.jpg"]


# --- jobs -----------------------------------------------------------------------------------------


def test_the_form_of_a_job_takes_photos_and_its_card_shows_them(
    screens: Any, desk: Any, said: Any
) -> None:
    window = desk.click(desk.section("Jobs"), f"job-change:{JOB}")
    before = screens.kept(CAR)
    give(window, ("before.jpg", photo()), ("data.pdf", pdf()))
    assert screens.kept(CAR) == before
    desk.press(window, "Save")

    files = of_job(screens)
    assert screens.kept(CAR) == attach_to_job(before, JOB, files)
    assert names(files) == ["before.jpg", "data.pdf"]
    assert pictures(window) == ["before.jpg"]
    assert "data.pdf" in said(window)
    assert window.button(key=f"files:job:{JOB}").label == "1 photo, 1 PDF"


def test_closing_the_form_of_a_job_names_none_of_its_photos(screens: Any, desk: Any) -> None:
    before = screens.kept(CAR)
    window = desk.click(desk.section("Jobs"), f"job-change:{JOB}")
    give(window, ("before.jpg", photo()))
    desk.press(window, "Close without saving")
    desk.click(window, f"job-change:{JOB}")

    assert pictures(window) == []
    desk.press(window, "Save")
    assert screens.kept(CAR) == before


def test_fields_and_photos_of_a_form_are_saved_together(
    screens: Any, desk: Any, widget: Any
) -> None:
    window = desk.click(desk.section("Jobs"), f"job-change:{JOB}")
    widget(window, "text_area", f"job.{JOB}:note").set_value("Clips were seized")
    give(window, ("before.jpg", photo()))
    desk.press(window, "Save")

    job = screens.kept(CAR).work.job(JOB)
    assert (job.note, names(job.attachments)) == ("Clips were seized", ["before.jpg"])


def test_a_job_takes_photos_at_once_however_far_it_is(screens: Any, desk: Any) -> None:
    for job in screens.kept(CAR).work.jobs:
        before = screens.kept(CAR)
        window = desk.section("Jobs")
        if not [one for one in window.button if one.key == f"files:job:{job.id}"]:
            window.session_state[f"{CAR}:jobs-page"] = 2
            window.run()
        desk.click(window, f"files:job:{job.id}")
        give(window, ("after.jpg", photo()))
        assert names(of_job(screens, job.id)) == ["after.jpg"]
        assert screens.kept(CAR) == attach_to_job(before, job.id, of_job(screens, job.id))
    assert Stage.DONE in {one.stage for one in before.work.jobs}


def test_photos_of_two_windows_on_one_job_are_both_kept(screens: Any, desk: Any) -> None:
    window = desk.click(desk.section("Jobs"), f"job-change:{JOB}")
    give(window, ("mine.jpg", photo()))
    other = attach(cached.workspace(), photo("blue"), "theirs.jpg").attachment
    screens.put(attach_to_job(screens.kept(CAR), JOB, (other,)))
    window.run()
    assert pictures(window) == ["theirs.jpg", "theirs.jpg", "mine.jpg"]
    desk.press(window, "Save")

    assert names(of_job(screens)) == ["theirs.jpg", "mine.jpg"]


def test_one_box_is_open_at_a_time(desk: Any) -> None:
    window = desk.click(desk.section("Jobs"), f"files:job:{JOB}")
    desk.click(window, "files:job:bleed")
    assert len(window.file_uploader) == 1
    desk.click(window, f"job-change:{JOB}")

    assert len(window.file_uploader) == 1
    assert not [one for one in window.button if one.label == "Close the photos"]


def test_a_photo_that_is_not_here_is_named_so_and_its_name_is_text(
    screens: Any, desk: Any, said: Any
) -> None:
    """As in a car that came from another computer."""
    screens.put(attach_to_job(screens.kept(CAR), JOB, (strange(),)))
    window = desk.section("Jobs")

    assert "_weld_.jpg (not here)" in said(window)
    (caption,) = [one.value for one in window.caption if "weld" in one.value]
    assert "_weld" not in caption.replace("\\_", "")
    desk.click(window, f"files:job:{JOB}")
    assert "The file itself is not here, only its name." in said(window)


def test_drafts_of_forms_that_are_closed_are_forgotten(desk: Any, entry: str) -> None:
    window = give(desk.section("Money and hours", folds=FOLD), ("new.jpg", photo()))
    desk.click(window, f"files:entry:{entry}")
    desk.press(window, "Close the photos")

    (left,) = window.session_state[DRAFTS].values()
    assert names(left.files) == ["new.jpg"]
