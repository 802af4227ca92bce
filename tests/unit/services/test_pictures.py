"""Photos from anywhere: what is kept of them, and which are refused in which words.

Every sample is made here; the hostile ones are what is known to be tried with uploads (OWASP, File
Upload Cheat Sheet, from memory: size, decompression, notes and code carried along).
"""

from __future__ import annotations

import struct
import time
import zlib
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from PIL import ExifTags, Image, ImageChops, PngImagePlugin, TiffImagePlugin

from appraise.errors import BadFile
from appraise.intake import files
from appraise.intake.files import checked
from appraise.models.files import LARGEST_FILE, MEGABYTE, Attachment

MARK = b"MADE-BY-ANNA"
GPS = {
    ExifTags.GPS.GPSLatitudeRef: "S",
    ExifTags.GPS.GPSLatitude: (33.0, 51.0, 24.5),
    ExifTags.GPS.GPSLongitudeRef: "E",
    ExifTags.GPS.GPSLongitude: (151.0, 12.0, 54.0),
    ExifTags.GPS.GPSAltitude: 19.5,
    ExifTags.GPS.GPSAreaInformation: MARK,
}
KINDS = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}


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


def noise(size: int) -> bytes:
    return np.random.default_rng(size).bytes(size)


def opened(content: bytes) -> Image.Image:
    picture = Image.open(BytesIO(content))
    picture.load()
    return picture


def alike(one: Image.Image, other: Image.Image, within: int = 24) -> bool:
    """Whether two pictures differ by no more than a lossy kind's error at any pixel's middle."""
    if one.size != other.size:
        return False
    left, right = (it.convert("RGB").resize((6, 4), Image.Resampling.BOX) for it in (one, other))
    return max(high for _, high in ImageChops.difference(left, right).getextrema()) <= within


def exif(orientation: int | None = None, *, place: bool = False) -> bytes:
    notes = Image.Exif()
    notes[ExifTags.Base.Make] = MARK.decode()
    if orientation is not None:
        notes[ExifTags.Base.Orientation] = orientation
    if place:
        notes.get_ifd(ExifTags.IFD.GPSInfo).update(GPS)
    return notes.tobytes()


def png_of(width: int, height: int, rows: bytes = b"") -> bytes:
    """Return a PNG that says it is so large, whatever is in it."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )


def webp_of(width: int, height: int) -> bytes:
    """Return a WebP whose first box says that it is so large."""
    sides = (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    body = b"WEBPVP8X" + struct.pack("<I", 10) + b"\0\0\0\0" + sides
    return b"RIFF" + struct.pack("<I", len(body)) + body


def refusal(data: bytes, name: str = "light.jpg") -> BadFile:
    with pytest.raises(BadFile) as caught:
        checked(data, name)
    assert caught.value.message
    assert caught.value.hint
    assert "\n" not in str(caught.value)
    return caught.value


# --- what is kept ---------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_a_photo_stays_of_its_kind_and_gets_a_small_picture(kind: str) -> None:
    found = checked(saved(scene(900, 600), kind), "light.jpg")

    assert found.media_type == KINDS[kind]
    assert opened(found.content).format == kind
    assert alike(opened(found.content), scene(900, 600))
    assert found.thumbnail is not None
    small = opened(found.thumbnail)
    assert (small.format, small.size) == ("JPEG", (320, 213))
    assert alike(small, scene(320, 213))


def test_what_is_kept_can_be_attached() -> None:
    found = checked(saved(scene()), "light.jpg")
    attachment = Attachment(
        id="0" * 64,
        name=found.name,
        media_type=found.media_type,
        size=len(found.content),
        added_on="2026-11-20",
    )

    assert attachment.name == "light.jpg"
    assert (found.words, found.position_kept) == ((), False)


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_that_a_photo_carried_is_kept(kind: str) -> None:
    """Notes, place, comment, text, color profile, and what is stuck to its end."""
    extra: dict[str, Any] = {"exif": exif(place=True), "icc_profile": MARK * 20}
    if kind == "JPEG":
        extra |= {"comment": MARK, "xmp": b"<x:xmpmeta>" + MARK}
    elif kind == "PNG":
        extra["pnginfo"] = PngImagePlugin.PngInfo()
        extra["pnginfo"].add_text("Author", MARK.decode())
        extra["pnginfo"].add_itxt("XML:com.adobe.xmp", MARK.decode())
    else:
        extra["xmp"] = MARK
    data = saved(scene(), kind, **extra) + b"<html><script>alert(1)</script>" + MARK
    assert data.count(MARK) >= 3
    found = checked(data, "light.jpg")

    assert MARK not in found.content + (found.thumbnail or b"")
    assert b"<script" not in found.content
    assert not opened(found.content).getexif()
    assert set(opened(found.content).info) <= {
        "jfif",
        "jfif_version",
        "jfif_unit",
        "jfif_density",
        "loop",
        "background",
        "timestamp",
        "duration",
    }
    assert any("place where it was taken is not kept" in one for one in found.words)
    assert not found.position_kept


@pytest.mark.parametrize("kind", KINDS)
def test_the_place_is_kept_where_it_is_wanted_and_nothing_else(kind: str) -> None:
    found = checked(saved(scene(), kind, exif=exif(place=True)), "x.jpg", keep_position=True)
    notes = opened(found.content).getexif()

    assert found.position_kept
    place = dict(notes.get_ifd(ExifTags.IFD.GPSInfo))
    assert place == {tag: value for tag, value in GPS.items() if value != MARK} | {
        ExifTags.GPS.GPSAltitudeRef: b"\0"
    }
    assert set(notes) == {ExifTags.Base.GPSInfo}
    assert MARK not in found.content


def test_a_place_that_is_not_there_cannot_be_kept() -> None:
    found = checked(saved(scene(), exif=exif()), "x.jpg", keep_position=True)

    assert not found.position_kept
    assert found.words == ()


@pytest.mark.parametrize(
    "broken",
    [
        {ExifTags.GPS.GPSLatitudeRef: "North of the river"},
        {ExifTags.GPS.GPSLatitude: (1.0,)},
        {ExifTags.GPS.GPSLongitude: (TiffImagePlugin.IFDRational(1, 0),) * 3},
    ],
    ids=str,
)
def test_a_place_that_is_none_is_not_kept(broken: dict[int, Any]) -> None:
    notes = Image.Exif()
    notes.get_ifd(ExifTags.IFD.GPSInfo).update(GPS | broken)
    found = checked(saved(scene(), exif=notes.tobytes()), "x.jpg", keep_position=True)

    assert not found.position_kept
    assert found.words == ()


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photo_is_turned_upright(orientation: int, kind: str) -> None:
    """Exif 2.3, tag 274: on which sides the first row and the first column of pixels lie."""
    turns = Image.Transpose
    steps = {
        2: [turns.FLIP_LEFT_RIGHT],  # top, right
        3: [turns.ROTATE_180],  # bottom, right
        4: [turns.FLIP_TOP_BOTTOM],  # bottom, left
        5: [turns.ROTATE_270, turns.FLIP_LEFT_RIGHT],  # left, top
        6: [turns.ROTATE_270],  # right, top
        7: [turns.ROTATE_90, turns.FLIP_LEFT_RIGHT],  # right, bottom
        8: [turns.ROTATE_90],  # left, bottom
    }
    data = saved(scene(), kind, exif=exif(orientation))
    expected = Image.open(BytesIO(data)).copy()
    for step in steps.get(orientation, []):
        expected = expected.transpose(step)
    found = checked(data, "light.jpg")

    assert alike(opened(found.content), expected)
    assert found.thumbnail is not None
    assert alike(opened(found.thumbnail), expected)
    if orientation > 1:
        assert not alike(opened(found.content), scene())


@pytest.mark.filterwarnings("ignore:Corrupt EXIF data:UserWarning")
@pytest.mark.parametrize("notes", [exif(99), b"Exif\0\0MM\0*\xff\xff\xff\xff", b"Exif\0\0" + MARK])
def test_broken_notes_make_no_broken_photo(notes: bytes) -> None:
    assert alike(opened(checked(saved(scene(), exif=notes), "a.jpg").content), scene())


@pytest.mark.parametrize(
    ("kind", "mode", "kept"),
    [
        ("JPEG", "CMYK", "RGB"),
        ("JPEG", "L", "L"),
        ("PNG", "1", "L"),
        ("PNG", "L", "L"),
        ("PNG", "P", "RGB"),
        ("PNG", "RGBA", "RGBA"),
        ("PNG", "LA", "RGBA"),
        ("WEBP", "RGBA", "RGBA"),
    ],
)
def test_other_kinds_of_color_become_ordinary_ones(kind: str, mode: str, kept: str) -> None:
    source = scene(mode=mode)
    if "A" in mode:
        source.putalpha(Image.new("L", source.size, 250))
    found = checked(saved(source, kind), "light.jpg")

    assert opened(found.content).mode == kept
    assert alike(opened(found.content), source.convert("RGB"))
    assert found.thumbnail is not None
    assert opened(found.thumbnail).mode == ("L" if kept == "L" else "RGB")


def test_sixteen_bits_of_gray_keep_their_shades() -> None:
    deep = Image.new("I;16", (3, 1))
    for at, level in enumerate((0, 32_896, 65_535)):
        deep.putpixel((at, 0), level)
    kept = opened(checked(saved(deep, "PNG"), "x.png").content)

    assert [kept.getpixel((at, 0)) for at in range(3)] == [0, 128, 255]


def test_a_see_through_palette_stays_see_through_and_is_white_in_the_small_picture() -> None:
    picture = Image.new("P", (10, 10), 1)
    picture.putpalette([255, 0, 0, 0, 0, 255])
    found = checked(saved(picture, "PNG", transparency=1), "x.png")

    assert opened(found.content).getpixel((5, 5)) == (0, 0, 255, 0)
    assert found.thumbnail is not None
    assert opened(found.thumbnail).getpixel((5, 5)) == (255, 255, 255)


@pytest.mark.parametrize("kind", KINDS)
def test_of_several_pictures_the_first_is_kept_and_that_is_said(kind: str) -> None:
    others = [Image.new("RGB", (60, 40), color) for color in ("white", "black")]
    options: dict[str, Any] = {"save_all": True, "append_images": others}
    data = saved(scene(), "MPO" if kind == "JPEG" else kind, **options)
    found = checked(data, "light.jpg")

    assert "Only the first of its 3 pictures is kept." in found.words
    assert getattr(opened(found.content), "n_frames", 1) == 1
    assert alike(opened(found.content), scene())


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_a_large_photo_is_scaled_down_and_that_is_said(kind: str) -> None:
    found = checked(saved(scene(3000, 6000), kind, exif=exif(6)), "light.jpg")

    assert opened(found.content).size == (4000, 2000)
    assert "Scaled down to 4,000 by 2,000 pixels." in found.words


def test_a_photo_of_48_million_pixels_is_taken_in_good_time() -> None:
    """As today's telephones make them."""
    data = saved(scene(8000, 6000), quality=90)
    started = time.process_time()
    found = checked(data, "light.jpg")

    assert time.process_time() - started < 10
    assert opened(found.content).size == (4000, 3000)


def test_the_same_photo_gives_the_same_content() -> None:
    """So that it is kept once, however often it comes."""
    data = saved(scene(), exif=exif(6))

    assert checked(data, "a.jpg").content == checked(data, "b.jpg").content


# --- what is refused ------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_a_photo_of_50_mb_is_told_what_it_is_and_what_may_be(kind: str) -> None:
    data = saved(scene(), kind)
    error = refusal(data + bytes(50 * MEGABYTE - len(data)), "light.jpg")

    assert str(error).startswith("light.jpg: the photo is 50 MB; the most is 20 MB. ")


def test_the_limit_is_met_to_the_byte() -> None:
    data = saved(scene())

    assert checked(data + bytes(LARGEST_FILE - len(data)), "a.jpg").media_type == "image/jpeg"
    assert "is 20.1 MB; the most is 20 MB" in refusal(data + bytes(LARGEST_FILE)).message


def test_what_grows_when_written_anew_is_refused_too(monkeypatch: pytest.MonkeyPatch) -> None:
    picture = Image.frombytes("P", (80, 80), noise(80 * 80))
    picture.putpalette(noise(768))
    data = saved(picture, "PNG")
    monkeypatch.setattr(files, "LARGEST_FILE", len(data))

    assert "as it would be kept; the most is" in refusal(data, "a.png").message


@pytest.mark.parametrize(
    ("width", "height"),
    [(30_000, 30_000), (10_000, 10_000), (8_000, 6_251), (20_001, 10), (10, 2**31 - 1)],
)
def test_an_image_bomb_is_refused_before_it_is_unpacked(width: int, height: int) -> None:
    """Some of them Pillow only warns of, some it does not mind."""
    started = time.process_time()
    error = refusal(png_of(width, height, bytes(1000)), "light.png")

    assert time.process_time() - started < 0.5
    assert "pixels than can be looked at" in error.message or f"{width:,} by {height:,}" in str(
        error
    )
    assert "the most is 50 million" in error.message


@pytest.mark.parametrize(("width", "height"), [(16_000, 16_000), (10_000, 9_000), (12_000, 5_000)])
def test_a_webp_bomb_is_refused(width: int, height: int) -> None:
    refusal(webp_of(width, height), "light.webp")


def test_just_under_the_limit_of_pixels_is_taken() -> None:
    data = saved(Image.new("L", (10_000, 5_000)), "PNG")

    assert opened(checked(data, "a.png").content).size == (4_000, 2_000)


def test_a_bomb_within_a_text_of_a_png_is_refused() -> None:
    notes = PngImagePlugin.PngInfo()
    for number in range(80):
        notes.add_text(f"k{number}", "x" * 1_000_000, zip=True)

    assert "damaged" in refusal(saved(scene(), "PNG", pnginfo=notes)).message


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_photo_cut_short_is_refused(kind: str, share: float) -> None:
    data = saved(Image.frombytes("RGB", (120, 80), noise(120 * 80 * 3)), kind)

    assert "damaged or cut short" in refusal(data[: int(len(data) * share)]).message


def test_a_png_with_a_wrong_checksum_is_refused() -> None:
    data = bytearray(saved(scene(), "PNG"))
    data[data.index(b"IDAT") + 6] ^= 0xFF

    assert "damaged" in refusal(bytes(data)).message


def test_an_empty_file_is_refused() -> None:
    assert str(refusal(b"", "light.jpg")).startswith("light.jpg: the file is empty. ")
