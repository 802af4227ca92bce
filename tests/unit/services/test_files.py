"""Files from anywhere: told by their content, and refused in clear words where they cannot be kept.

Every sample is made here; the hostile ones are what is known to be tried with uploads (OWASP, File
Upload Cheat Sheet, from memory: wrong type, wrong ending, two kinds in one).
"""

from __future__ import annotations

import time
import zipfile
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from PIL import ExifTags, Image
from pypdf import PdfReader, PdfWriter

from appraise.errors import BadFile
from appraise.intake import files
from appraise.intake.files import MOST_PAGES, checked, size_words
from appraise.models.files import MEGABYTE

KINDS = ("JPEG", "PNG", "WEBP")


def scene(width: int = 60, height: int = 40, mode: str = "RGB") -> Image.Image:
    """Return a picture of which every corner differs."""
    picture = Image.new("RGB", (width, height), (40, 90, 160))
    picture.paste((220, 30, 30), (0, 0, width // 2, height // 2))
    picture.paste((30, 200, 60), (width // 2, height // 2, width, height))
    return picture.convert(mode)


def saved(picture: Image.Image, kind: str = "JPEG", **options: Any) -> bytes:
    out = BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


def pdf(pages: int = 1, password: str | None = None) -> bytes:
    writer = PdfWriter()
    for _ in range(pages):
        writer.add_blank_page(200, 300)
    if password is not None:
        writer.encrypt(password, "owner", algorithm="RC4-128")
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


def refusal(data: bytes, name: str = "light.jpg") -> BadFile:
    with pytest.raises(BadFile) as caught:
        checked(data, name)
    assert caught.value.message
    assert caught.value.hint
    assert "\n" not in str(caught.value)
    return caught.value


# --- what is no photo -----------------------------------------------------------------------------


def a_zip() -> bytes:
    out = BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("light.jpg", "none")
    return out.getvalue()


def boxed(brand: bytes) -> bytes:
    return b"\0\0\0\x18ftyp" + brand + b"\0\0\0\0" + brand + bytes(40)


@pytest.mark.parametrize(
    ("data", "name", "said", "hint"),
    [
        (a_zip(), "light.jpg", "is called .jpg, but is a zip archive", "Unpack"),
        (
            b"<!DOCTYPE html><p>hi",
            "a.png",
            "is called .png, but is a web page",
            "Print it to a PDF",
        ),
        (b"\xef\xbb\xbf\n <HTML>hi", "a.jpg", "is a web page", "Print"),
        (b"<script>alert(1)</script>", "a.webp", "is a web page", "Print"),
        (b"<svg onload=alert(1)>", "a.png", "is an SVG drawing", "as JPEG"),
        (b'<?xml version="1.0"?>\n<svg xmlns="x">', "a.svg", "is an SVG drawing", "as JPEG"),
        (saved(scene(), "GIF"), "a.gif", "is a GIF picture", "as JPEG"),
        (saved(scene(), "TIFF"), "a.tif", "is a TIFF picture", "as JPEG"),
        (saved(scene(), "BMP"), "a.jpg", "is a BMP picture", "as JPEG"),
        (boxed(b"heic"), "IMG_1.HEIC", "is a HEIC photo", "as JPEG"),
        (boxed(b"mif1"), "a.jpg", "is called .jpg, but is a HEIC photo", "as JPEG"),
        (saved(scene(), "AVIF"), "a.jpg", "is an AVIF picture", "as JPEG"),
        (b"MZ\x90\0" + bytes(60), "paper.pdf", "is called .pdf, but is a program", "Do not open"),
        (b"#!/bin/sh\nrm x", "paper.pdf", "but is a program", "Do not open"),
        (b"just words", "paper.pdf", "is called .pdf, but is none", "Copy it again"),
        (b"just words", "light.jpg", "is called .jpg, but is of an unknown kind", "JPEG"),
        (b"just words", "words", "is of an unknown kind", "PDF"),
        (bytes(100), "light.jpg", "of an unknown kind", "JPEG"),
        (bytes(2000) + b"%PDF-1.7", "paper.pdf", "is called .pdf, but is none", "Copy"),
        (b"RIFF\0\0\0\0WAVEfmt ", "a.webp", "of an unknown kind", "WebP"),
    ],
)
def test_what_is_not_kept_is_told_what_it_is_and_what_to_do(
    data: bytes, name: str, said: str, hint: str
) -> None:
    error = refusal(data, name)

    assert said in error.message
    assert hint in error.hint


def test_a_photo_called_by_another_kind_is_kept_under_its_own() -> None:
    found = checked(saved(scene(), "PNG"), "invoice.pdf")

    assert (found.name, found.media_type) == ("invoice.png", "image/png")
    assert found.words == ("Kept as invoice.png, as its content is a PNG picture.",)


def test_a_photo_that_is_a_web_page_and_a_pdf_too_is_only_a_photo_afterwards() -> None:
    """Two kinds in one: a comment within it, and a zip archive behind it."""
    comment = b"<html><script>alert(1)</script>%PDF-1.7 <?php echo 1 ?>"
    data = saved(scene(), comment=comment) + a_zip()
    assert zipfile.is_zipfile(BytesIO(data))
    content = checked(data, "light.html").content

    assert not zipfile.is_zipfile(BytesIO(content))
    assert not any(one in content for one in (b"<html", b"%PDF", b"<?php"))


# --- PDFs -----------------------------------------------------------------------------------------


def test_a_pdf_is_kept_byte_for_byte_without_a_small_picture() -> None:
    data = pdf(3)
    found = checked(data, "invoice 12.03.2026")

    assert found.content == data
    assert (found.media_type, found.name) == ("application/pdf", "invoice 12.03.2026.pdf")
    assert (found.thumbnail, found.words) == (None, ())


def test_a_pdf_may_begin_a_little_late() -> None:
    assert checked(b"\r\n" * 100 + pdf(), "a.pdf").media_type == "application/pdf"


def test_a_pdf_within_a_web_page_or_archive_is_not_taken() -> None:
    for before in (b"<html>", a_zip()):
        refusal(before + pdf(), "a.pdf")


@pytest.mark.parametrize(("pages", "ok"), [(MOST_PAGES, True), (MOST_PAGES + 1, False)])
def test_a_pdf_may_have_so_many_pages(pages: int, ok: bool) -> None:  # noqa: FBT001
    data = pdf(pages)
    if ok:
        assert checked(data, "a.pdf").content == data
    else:
        assert refusal(data, "a.pdf").message == "the PDF has 501 pages; the most is 500"


def test_a_pdf_without_a_page_is_refused() -> None:
    assert refusal(pdf(0), "a.pdf").message == "the PDF has no page"


def test_a_pdf_of_50_mb_is_refused() -> None:
    assert (
        "the PDF is 50 MB; the most is 20 MB"
        in refusal(pdf() + bytes(50 * MEGABYTE - 10_000)).message
    )


def test_a_pdf_with_a_password_is_refused_and_one_that_opens_without_is_kept() -> None:
    assert "needs a password" in refusal(pdf(1, "secret"), "a.pdf").message
    locked_against_change = pdf(2, "")
    assert PdfReader(BytesIO(locked_against_change)).is_encrypted

    assert checked(locked_against_change, "a.pdf").content == locked_against_change


def test_a_pdf_locked_with_what_may_not_be_installed_is_refused_in_the_same_words() -> None:
    zeros = b"<" + b"00" * 48 + b">"
    lock = (
        b"<</Filter/Standard/V 5/R 6/Length 256/P -4/O %b/U %b/OE<%b>/UE<%b>/Perms<%b>"
        b"/CF<</StdCF<</CFM/AESV3/Length 32>>>>/StmF/StdCF/StrF/StdCF>>"
        % (zeros, zeros, b"00" * 32, b"00" * 32, b"00" * 16)
    )
    data = pdf().replace(b"/Root", b"/Encrypt " + lock + b"/ID[<00><00>]/Root", 1)

    assert "needs a password" in refusal(data, "a.pdf").message


CIRCLE = b"""%PDF-1.7
xref
0 1
0000000000 65535 f\x20
trailer<</Size 1/Root 1 0 R/Prev 9>>
startxref
9
%%EOF"""


@pytest.mark.parametrize(
    "data",
    [
        b"%PDF-1.7\n",
        b"%PDF-1.7\nhello%%EOF",
        pdf()[:200],
        b"%PDF-1.7\n1 0 obj" + b"[" * 200_000 + b"\ntrailer<</Root 1 0 R>>\nstartxref\n9\n%%EOF",
        CIRCLE,
    ],
    ids=["head only", "no body", "cut short", "nested", "circle of tables"],
)
def test_a_broken_pdf_is_refused(data: bytes) -> None:
    assert "cannot be read as one" in refusal(data, "a.pdf").message


def by_hand(*objects: bytes) -> bytes:
    """Return a PDF of these objects, the first of them its root."""
    out = bytearray(b"%PDF-1.7\n")
    places = []
    for number, body in enumerate(objects, 1):
        places.append(len(out))
        out += b"%d 0 obj %b endobj\n" % (number, body)
    table = len(out)
    out += b"xref\n0 %d\n0000000000 65535 f \n" % (len(places) + 1)
    out += b"".join(b"%010d 00000 n \n" % place for place in places)
    out += b"trailer<</Size %d/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF" % (len(places) + 1, table)
    return bytes(out)


def test_a_pdf_written_by_hand_is_one() -> None:
    """So that the next ones are refused for what is wrong with them."""
    good = by_hand(
        b"<</Type/Catalog/Pages 2 0 R>>",
        b"<</Type/Pages/Kids[3 0 R]/Count 1>>",
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 9 9]>>",
    )

    assert checked(good, "a.pdf").content == good


@pytest.mark.parametrize(
    "objects",
    [
        (b"<</Type/Catalog/Pages 2 0 R>>", b"<</Type/Pages/Kids[2 0 R]/Count 1>>"),
        (
            b"<</Type/Catalog/Pages 2 0 R>>",
            b"<</Type/Pages/Kids[3 0 R]/Count 1>>",
            b"<</Type/Pages/Kids[2 0 R]/Count 1>>",
        ),
        (b"<</Type/Catalog/Pages 2 0 R>>", b"2 0 R"),
        (b"<</Type/Catalog/Pages 9 0 R>>", b"null"),
        (
            b"<</Type/Catalog/Pages 2 0 R>>",
            b"<</Type/Pages/Count 999999999/Kids[" + b"3 0 R " * 300_000 + b"]>>",
            b"<</Type/Page>>",
        ),
    ],
    ids=["its own child", "circle of pages", "circle of references", "no pages", "many alike"],
)
def test_a_pdf_that_leads_in_circles_or_nowhere_is_refused(objects: tuple[bytes, ...]) -> None:
    started = time.monotonic()
    refusal(by_hand(*objects), "a.pdf")

    assert time.monotonic() - started < files.PDF_SECONDS + 5


def test_a_pdf_that_takes_for_ever_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """A table that points a hundred thousand times to the same place: hours, if one lets it."""
    monkeypatch.setattr(files, "PDF_SECONDS", 0.3)
    count = 100_000
    data = b"%PDF-1.7\nxref\n0 " + str(count).encode() + b"\n" + b"0000000009 00000 n \n" * count
    data += b"trailer<</Size 100000/Root 1 0 R>>\nstartxref\n9\n%%EOF"
    started = time.monotonic()

    assert "takes too long" in refusal(data, "a.pdf").message
    assert time.monotonic() - started < 5


def test_work_that_is_done_in_time_is_left_alone() -> None:
    assert files._within(60, lambda: sum(range(1000))) == 499_500
    with pytest.raises(files._TooLong):
        files._within(0.05, lambda: [time.sleep(0.01) for _ in range(100)])
    assert [time.sleep(0.01) for _ in range(10)]  # and no watch is left behind


# --- anything -------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", [*KINDS, "PDF"])
def test_bytes_gone_wrong_are_kept_whole_or_refused(kind: str) -> None:
    """Whatever happened to a file: it is read to its end or told, and nothing else is raised."""
    dice = np.random.default_rng(7)
    notes = Image.Exif()
    notes[ExifTags.Base.Orientation] = 6
    whole = pdf(2) if kind == "PDF" else saved(scene(), kind, exif=notes.tobytes())
    kept = 0
    for _ in range(150):
        data = bytearray(whole)
        for _ in range(dice.integers(1, 9)):
            data[dice.integers(12, len(data))] = int(dice.integers(256))
        try:
            found = checked(bytes(data), "light.jpg", keep_position=True)
        except BadFile:
            continue
        kept += 1
        if kind != "PDF":
            assert Image.open(BytesIO(found.content)).format == kind
    assert 0 < kept < 150


def test_sizes_are_read_in_the_usual_unit_rounded_up() -> None:
    assert [size_words(one) for one in (1, 1024, 1025, MEGABYTE - 1)] == [
        "1 kB",
        "1 kB",
        "2 kB",
        "1024 kB",
    ]
    assert [size_words(one * MEGABYTE) for one in (1, 20, 50)] == ["1 MB", "20 MB", "50 MB"]
