"""Photos and PDFs made to hurt, beyond those that are small and say they are large.

Elsewhere: photos that say too many pixels, texts that unpack without end, photos cut short, two
kinds in one, notes and places carried along (unit/services/test_pictures); wrong kinds, and PDFs
that are broken, locked, lead in circles or take for ever (unit/services/test_files); those that
come with a backup (safe/test_restored_photos). All samples are made here.
"""

from __future__ import annotations

import logging
import struct
import time
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from typing import Any

import pytest
from PIL import Image

from appraise.errors import BadFile
from appraise.intake.files import UNPACKED, Checked, checked
from appraise.intake.pictures import MOST_PASSES, MOST_PIECES
from appraise.models.files import MEGABYTE

MANY = "more pieces than any camera makes"
SECONDS = 3.0


@contextmanager
def soon(seconds: float = SECONDS) -> Iterator[None]:
    started = time.process_time()
    yield
    assert time.process_time() - started < seconds


def refusal(data: bytes, name: str = "light.jpg") -> str:
    with soon(), pytest.raises(BadFile) as caught:
        checked(data, name)
    assert str(caught.value).isprintable()
    return str(caught.value)


def taken(data: bytes, name: str = "light.jpg") -> Checked:
    with soon():
        return checked(data, name)


def saved(picture: Image.Image, kind: str = "JPEG", **options: Any) -> bytes:
    out = BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


SCENE = Image.new("RGB", (60, 40), (9, 90, 200))
PLAIN = saved(SCENE)

# --- JPEG -----------------------------------------------------------------------------------------


def scans(picture: Image.Image, more: int) -> bytes:
    """Return a picture that grows clearer as it comes, its last scan so many times more."""
    data = saved(picture, progressive=True)
    last = data[data.rindex(b"\xff\xda") : -2]
    return data[:-2] + last * more + b"\xff\xd9"


def test_a_small_photo_of_thousands_of_scans_is_refused() -> None:
    """Each is decoded over all the picture: a third of a megabyte would take some minutes."""
    data = scans(Image.new("L", (5_000, 5_000)), 3_000)
    assert len(data) < 1_000_000

    assert MANY in refusal(data)


@pytest.mark.parametrize("between", [b"\xff" * 9, b"\0\0\xff\0", b"\xff\xfe\0\x04ab"])
def test_scans_are_found_behind_whatever_stands_between(between: bytes) -> None:
    """Fill bytes, garbage that a decoder passes over, a comment."""
    data = saved(SCENE, progressive=True)
    last = data[data.rindex(b"\xff\xda") : -2]

    assert MANY in refusal(data[:-2] + (between + last) * MOST_PASSES + b"\xff\xd9")


def test_a_photo_of_as_many_scans_as_may_be_is_taken() -> None:
    usual = saved(SCENE, progressive=True).count(b"\xff\xda")

    assert taken(scans(SCENE, MOST_PASSES - usual)).media_type == "image/jpeg"
    assert MANY in refusal(scans(SCENE, MOST_PASSES - usual + 1))


def test_a_film_behind_a_photo_and_a_photo_within_its_notes_are_no_scans() -> None:
    """As telephones write both."""
    inner = b"\xff\xda" * 2_000
    notes = b"\xff\xe1" + struct.pack(">H", len(inner) + 2) + inner

    assert taken(PLAIN[:2] + notes + PLAIN[2:] + b"\xff\xda\0\2" * 100_000).content


@pytest.mark.parametrize("marker", [b"\xff\xe0\0\2", b"\xff\xfe\0\2", b"\xff\xe1\0\x08Exif\0\0"])
def test_a_photo_of_a_million_segments_is_refused(marker: bytes) -> None:
    assert MANY in refusal(PLAIN[:2] + marker * 1_000_000 + PLAIN[2:])


def test_a_photo_that_says_65_500_pixels_on_a_side_is_refused() -> None:
    data = bytearray(PLAIN)
    at = data.index(b"\xff\xc0") + 5
    data[at : at + 4] = struct.pack(">HH", 65_500, 65_500)

    assert "pixels" in refusal(bytes(data))


@pytest.mark.filterwarnings("ignore::UserWarning:PIL")
@pytest.mark.parametrize(
    "notes",
    [
        b"\0\1" + b"\x87\x69\0\4\0\0\0\1\0\0\0\x08" + b"\0\0\0\x08",
        b"\0\1" + b"\x88\x25\0\4\0\0\0\1\0\0\0\x08" + b"\0\0\0\x08",
        b"\xff\xff" + b"\x01\x0f\0\2\xff\xff\xff\xff\0\0\0\x08" * 5_000,
        b"\0\1" + b"\x01\x12\0\3\xff\xff\xff\xff\0\0\0\x08",
    ],
    ids=["within itself", "a place within itself", "65,535 notes", "four gigabytes of turns"],
)
def test_notes_that_lead_in_circles_or_nowhere_are_left_behind(notes: bytes) -> None:
    data = saved(SCENE, exif=b"Exif\0\0MM\0*\0\0\0\x08" + notes)

    assert taken(data).words == ()


# --- PNG and WebP ---------------------------------------------------------------------------------


def chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def png(between: bytes = b"", rows: bytes = b"\0" * (181 * 40)) -> bytes:
    head = struct.pack(">IIBBBBB", 60, 40, 8, 2, 0, 0, 0)
    body = chunk(b"IDAT", zlib.compress(rows, 9)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + between + body


BOMB = zlib.compress(bytes(100_000_000), 9)


@pytest.mark.parametrize(
    "hidden",
    [(b"iCCP", b"x\0\0"), (b"zTXt", b"x\0\0"), (b"iTXt", b"x\0\1\0\0\0")],
    ids=lambda given: given[0].decode(),
)
def test_a_chunk_that_unpacks_to_100_megabytes_is_refused(hidden: tuple[bytes, bytes]) -> None:
    name, head = hidden

    assert "damaged" in refusal(png(chunk(name, head + BOMB)), "a.png")


def test_rows_beyond_the_last_are_not_unpacked() -> None:
    assert taken(png(rows=bytes(100_000_000)), "a.png").media_type == "image/png"


@pytest.mark.parametrize("between", [chunk(b"tEXt", b"a\0b") * 500_000, b"\0\0\0\0" * 2_000_000])
def test_a_picture_of_half_a_million_chunks_is_refused(between: bytes) -> None:
    assert MANY in refusal(png(between), "a.png")


def test_a_picture_of_many_chunks_is_taken() -> None:
    assert taken(png(chunk(b"tEXt", b"a\0b") * (MOST_PIECES // 10)), "a.png").content


def test_a_chunk_that_says_it_is_two_gigabytes_long_is_refused() -> None:
    assert "damaged" in refusal(png(struct.pack(">I", 2**31 - 1) + b"tEXtx"), "a.png")


def test_a_film_that_says_two_thousand_million_pictures_is_its_first() -> None:
    found = taken(png(chunk(b"acTL", struct.pack(">II", 2**31 - 1, 0))), "a.png")

    assert found.words == ("Only the first of its 2147483648 pictures is kept.",)


def film(width: int, height: int, pictures: int) -> bytes:
    """Return a WebP of many pictures of one pixel on a ground that says it is so large."""
    one = saved(Image.new("RGB", (1, 1)), "WEBP", lossless=True)[12:]
    frame = bytes(12) + b"\x64\0\0\0" + one
    frame = b"ANMF" + struct.pack("<I", len(frame)) + frame
    sides = (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    head = b"VP8X" + struct.pack("<I", 10) + b"\2\0\0\0" + sides
    body = b"WEBP" + head + b"ANIM" + struct.pack("<IIH", 6, 0, 0) + frame * pictures
    return b"RIFF" + struct.pack("<I", len(body)) + body


def test_a_ground_of_268_million_pixels_for_one_is_refused() -> None:
    assert "pixels" in refusal(film(16_383, 16_383, 1), "a.webp")


def test_of_a_hundred_thousand_pictures_the_first_is_looked_at() -> None:
    assert "first of its 100000" in taken(film(10, 10, 100_000), "a.webp").words[0]


def test_what_is_no_photo_by_its_first_bytes_is_not_opened() -> None:
    page = b"GIF89a/*<script>alert(1)</script>*/=1;"

    assert "is a GIF picture" in refusal(page, "a.jpg")
    assert "unknown kind" in refusal(b"\x1f\x8b" + b"<svg onload=alert(1)>", "a.svgz")


# --- PDFs -----------------------------------------------------------------------------------------

CATALOG = b"<</Type/Catalog/Pages 2 0 R%b>>"
PAGES = b"<</Type/Pages/Kids[3 0 R]/Count 1>>"
PAGE = b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 9 9]>>"


def pdf(table: bytes, how: bytes) -> bytes:
    """Return a PDF whose table of contents is a stream packed so."""
    out = b"%PDF-1.7\n1 0 obj " + CATALOG % b"" + b" endobj\n2 0 obj " + PAGES
    out += b" endobj\n3 0 obj " + PAGE + b" endobj\n"
    head = b"<</Type/XRef/Size 5/Root 1 0 R/W[1 4 2]%b/Length %d>>stream\n" % (how, len(table))
    end = b"\nendstream endobj\nstartxref\n%d\n%%%%EOF" % len(out)
    return out + b"4 0 obj " + head + table + end


FLATE = b"/Filter/FlateDecode"


@pytest.mark.parametrize(
    ("table", "how"),
    [
        (BOMB, FLATE),
        (zlib.compress(BOMB), b"/Filter[/FlateDecode/FlateDecode]"),
        (BOMB, FLATE + b"/DecodeParms<</Predictor 12/Columns 1000000000>>"),
        (b"\x81\0" * 5_000_000, b"/Filter/RunLengthDecode"),
        (zlib.compress(bytes(15_000_000)), FLATE + b"/Index[0 999999999]"),
        (bytes(1000), b"/Filter[" + b"/ASCIIHexDecode " * 1_000 + b"]"),
    ],
    ids=["zeros", "twice packed", "wide rows", "run lengths", "long", "many filters"],
)
def test_a_table_of_contents_that_unpacks_without_end_is_refused(table: bytes, how: bytes) -> None:
    assert "cannot be read as one" in refusal(pdf(table, how), "a.pdf")


def test_rows_that_take_long_one_by_one_are_refused_by_what_they_unpack_to() -> None:
    """Loops of the reader that call nothing are only seen once they are over."""
    most = UNPACKED // MEGABYTE
    rows = zlib.compress(b"\1\0" * (most * MEGABYTE // 2 + 1))
    data = pdf(rows, FLATE + b"/DecodeParms<</Predictor 12/Columns 1>>")

    assert "cannot be read as one" in refusal(data, "a.pdf")
    assert most <= 10


def test_what_a_reader_says_of_a_file_does_not_reach_the_terminal(
    caplog: pytest.LogCaptureFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    """It quotes the file."""
    with caplog.at_level(logging.DEBUG), pytest.raises(BadFile):
        checked(b"%PDF-1.7\n1 0 obj <</A\x1b[2J B>> endobj\ntrailer<</Root 1 0 R>>", "a.pdf")

    assert caplog.text == ""
    assert capsys.readouterr() == ("", "")


def test_a_name_that_moves_the_cursor_is_told_without() -> None:
    assert "\x1b" not in refusal(b"none", "a\x1b[2J\u202egpj.exe")
