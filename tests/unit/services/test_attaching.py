"""Photos and PDFs in a workspace: kept first, then named in a case, and found again."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfWriter

from appraise.errors import BadFile
from appraise.models.case import Case
from appraise.services import changed, today
from appraise.services.records.workspace import (
    Workspace,
    add_copy,
    attach,
    attachment,
    open_workspace,
    thumbnails,
)
from appraise.settings import Settings

CAR = "auction-engine-light"


@pytest.fixture
def workspace(tmp_path: Path) -> Iterator[Workspace]:
    opened = open_workspace(Settings(data_folder=tmp_path / "data"))
    yield opened
    opened.cases._engine.dispose()


def photo(color: str = "red") -> bytes:
    out = BytesIO()
    Image.new("RGB", (640, 480), color).save(out, "JPEG")
    return out.getvalue()


def paper() -> bytes:
    writer, out = PdfWriter(), BytesIO()
    writer.add_blank_page(100, 100)
    writer.write(out)
    return out.getvalue()


def test_a_photo_is_kept_and_found_again(workspace: Workspace) -> None:
    kept = attach(workspace, photo(), "C:\\dcim\\light.png").attachment

    assert (kept.name, kept.media_type, kept.added_on) == ("light.jpg", "image/jpeg", today())
    found = attachment(workspace, kept)
    assert (found.media_type, len(found.content)) == ("image/jpeg", kept.size)
    small = thumbnails(workspace, [kept])[kept.id]
    assert small is not None
    assert Image.open(BytesIO(small)).size == (320, 240)


def test_a_pdf_has_no_small_picture(workspace: Workspace) -> None:
    kept = attach(workspace, paper(), "invoice.pdf").attachment

    assert thumbnails(workspace, [kept]) == {kept.id: None}
    assert attachment(workspace, kept).content == paper()


def test_what_was_changed_is_said(workspace: Workspace) -> None:
    assert attach(workspace, photo(), "light.jpg").words == ()
    (said,) = attach(workspace, photo(), "light.png").words
    assert "light.jpg" in said


def test_the_same_photo_twice_is_one(workspace: Workspace) -> None:
    first, again = (attach(workspace, photo(), name).attachment for name in ("a.jpg", "b.jpg"))

    assert first.id == again.id
    assert attach(workspace, photo("blue"), "a.jpg").attachment.id != first.id


def test_of_what_is_refused_nothing_is_kept(workspace: Workspace) -> None:
    with pytest.raises(BadFile, match=r"^light\.jpg: "):
        attach(workspace, b"<html>", "light.jpg")

    assert workspace.files.forget_unused([], datetime.now(UTC)) == 0
    attach(workspace, photo(), "light.jpg")
    assert workspace.files.forget_unused([], datetime.now(UTC)) == 1


def test_a_case_names_it_and_a_copy_of_the_case_does_too(workspace: Workspace) -> None:
    kept = attach(workspace, photo(), "light.jpg").attachment
    stored = workspace.cases.load(CAR)
    rows = [one.model_dump() for one in stored.case.papers]
    rows[0]["attachments"] = [kept.model_dump()]
    saved = workspace.cases.save(changed(stored.case, ("papers",), rows), stored.version)
    copied = add_copy(workspace, saved.case).case

    def first(case: Case) -> bytes:
        (one,) = case.papers[0].attachments
        return attachment(workspace, one).content

    assert first(workspace.cases.load(CAR).case) == first(copied)


def test_a_name_without_its_file_is_told(workspace: Workspace) -> None:
    """As with a case that came from another computer."""
    kept = attach(workspace, photo(), "light.jpg").attachment
    strange = kept.model_copy(update={"id": "f" * 64})

    assert thumbnails(workspace, [strange]) == {}
    with pytest.raises(BadFile, match="not kept here"):
        attachment(workspace, strange)
