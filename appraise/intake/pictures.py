"""Photos made plain: decoded whole, turned upright, scaled, written anew without what they carried.

Nothing of the file that came is kept but its pixels, so nothing hidden in it is kept either: no
text after its end, no script, no maker's notes, no place unless it is wanted.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Literal

from appraise.errors import BadFile

if TYPE_CHECKING:
    from PIL import Image

__all__ = ["MOST_PIXELS", "SMALL_SIDE", "Picture", "PictureKind", "header_fits", "plain_picture"]

PictureKind = Literal["JPEG", "PNG", "WEBP"]

MOST_PIXELS = 50_000_000
LONGEST_SIDE = 20_000
KEPT_SIDE = 4_000
SMALL_SIDE = 320
QUALITY = 88
SMALL_QUALITY = 80
DEEP_STEP = 257  # 65,535 is 255 times 257: from 16 bits to 8

MOST_PASSES = 60
"""Scans of a JPEG that grows clearer as it comes. Each is decoded over all of the picture; those
that cameras and programs write have a dozen at most."""
MOST_PIECES = 50_000
"""Segments of a JPEG or chunks of a PNG; each takes the reader some microseconds."""
MARKER = re.compile(rb"\xff([\x01-\xcf\xd8-\xfe])", re.DOTALL)
"""Of a JPEG (ITU-T T.81, table B.1; from memory): within a scan every other 0xFF has a zero or a
restart mark behind it."""
START_OF_SCAN, END_OF_IMAGE, ALONE = 0xDA, 0xD9, (0x01, 0xD8)
PNG_SIGNATURE, PNG_AROUND = 8, 12
"""Bytes before the first chunk; and of each beside what it holds (PNG, 5.3)."""

SEE_THROUGH = ("RGBA", "LA", "PA", "RGBa", "La")
DEEP = ("I", "F", "I;16", "I;16B", "I;16L", "I;16N")


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo as it is kept.

    Attributes
    ----------
    content : the file, of the kind it was.
    thumbnail : a small JPEG of it.
    notes : what was changed that a person should know, a sentence each.
    position_kept : whether it still says where it was taken.
    """

    content: bytes
    thumbnail: bytes
    notes: tuple[str, ...]
    position_kept: bool


def plain_picture(data: bytes, kind: PictureKind, *, keep_position: bool = False) -> Picture:
    """Return the photo written anew.

    Parameters
    ----------
    data : the file; its first bytes are those of `kind`.
    kind : what it is.
    keep_position : keep the place where it was taken, if it says so.

    Raises
    ------
    BadFile : it is damaged, cut short, or larger than can be looked at.
    """
    from PIL import Image  # noqa: PLC0415 - only where photos are

    bombs = (Image.DecompressionBombError, Image.DecompressionBombWarning)
    _check_pieces(data, kind)
    try:
        with Image.open(BytesIO(data), formats=[kind]) as header:
            _check_size(header.size)
            header.verify()  # checksums; the picture has to be opened again afterwards
        with Image.open(BytesIO(data), formats=[kind]) as opened:
            return _written_anew(opened, kind, keep_position=keep_position)
    except BadFile:
        raise
    except bombs as error:
        raise _too_many_pixels("far more pixels than can be looked at") from error
    except Exception as error:
        # A hostile file can make the decoder raise anything.
        raise BadFile(
            "the photo is damaged or cut short",
            hint="Copy it again from where it came, or take it again.",
        ) from error


def header_fits(data: bytes, kind: PictureKind, side: int) -> bool:
    """Whether a picture says that it is of a kind and no longer than so many pixels on a side.

    Nothing of it is decoded.
    """
    from PIL import Image  # noqa: PLC0415

    try:
        with Image.open(BytesIO(data), formats=[kind]) as header:
            return max(header.size) <= side
    except Exception:  # noqa: BLE001 - a hostile file can make the reader raise anything
        return False


def _check_pieces(data: bytes, kind: PictureKind) -> None:
    """Refuse a picture that is small, and takes for ever because it is made of so many pieces."""
    pieces, passes = {"JPEG": _jpeg_pieces, "PNG": _png_pieces}.get(kind, lambda _: (0, 0))(data)
    if pieces > MOST_PIECES or passes > MOST_PASSES:
        raise BadFile(
            "the photo is made of far more pieces than any camera makes",
            hint="Take it again, or save it anew as JPEG.",
        )


def _jpeg_pieces(data: bytes) -> tuple[int, int]:
    """Return how many segments and scans the first picture in a JPEG has, no more than refused."""
    at, pieces, passes = 2, 0, 0
    while pieces <= MOST_PIECES and passes <= MOST_PASSES:
        found = MARKER.search(data, at)
        if found is None or found[1][0] == END_OF_IMAGE:
            break
        at = found.end()
        pieces += 1
        passes += found[1][0] == START_OF_SCAN
        if found[1][0] not in ALONE:
            at += max(2, int.from_bytes(data[at : at + 2]))
    return pieces, passes


def _png_pieces(data: bytes) -> tuple[int, int]:
    """Return how many chunks a PNG has, no more than refused; it has no scans to be counted."""
    at, pieces = PNG_SIGNATURE, 0
    while at < len(data) and pieces <= MOST_PIECES:
        at += PNG_AROUND + int.from_bytes(data[at : at + 4])
        pieces += 1
    return pieces, 0


def _check_size(size: tuple[int, int]) -> None:
    width, height = size
    if width * height > MOST_PIXELS or max(size) > LONGEST_SIDE:
        raise _too_many_pixels(f"{width:,} by {height:,} pixels")


def _too_many_pixels(how_many: str) -> BadFile:
    return BadFile(
        f"the photo has {how_many}; the most is {MOST_PIXELS // 1_000_000} million, "
        f"and {LONGEST_SIDE:,} on a side",
        hint="Save it smaller.",
    )


def _written_anew(opened: Image.Image, kind: PictureKind, *, keep_position: bool) -> Picture:
    from PIL import Image  # noqa: PLC0415

    notes = []
    frames = getattr(opened, "n_frames", 1)
    if frames > 1:
        notes.append(f"Only the first of its {frames} pictures is kept.")
    size = opened.size
    # A large JPEG is decoded at half or a quarter of its size where that is still enough.
    opened.draft(None, (KEPT_SIDE, KEPT_SIDE))
    opened.load()
    position = _position(opened)
    picture = _eight_bits(opened, see_through=kind != "JPEG")
    picture.thumbnail((KEPT_SIDE, KEPT_SIDE), Image.Resampling.LANCZOS)
    picture = _upright(picture)
    picture.info = {}  # what is in here would be written into the new file
    if max(size) > KEPT_SIDE:
        notes.append(f"Scaled down to {picture.width:,} by {picture.height:,} pixels.")
    if position and not keep_position:
        notes.append("The place where it was taken is not kept.")
    exif = position if keep_position else b""
    return Picture(
        content=_encoded(picture, kind, exif),
        thumbnail=_thumbnail(picture),
        notes=tuple(notes),
        position_kept=bool(exif),
    )


def _upright(picture: Image.Image) -> Image.Image:
    """Return a copy turned upright, as its notes say (Exif 2.3, tag 274)."""
    from PIL import ImageOps  # noqa: PLC0415

    try:
        return ImageOps.exif_transpose(picture)
    except Exception:  # noqa: BLE001 - broken notes make no broken picture
        return picture.copy()


def _position(opened: Image.Image) -> bytes:
    """Return latitude, longitude and altitude alone as Exif, empty if there are none."""
    from PIL import ExifTags, Image  # noqa: PLC0415

    tags = ExifTags.GPS
    texts = {tags.GPSLatitudeRef: "NS", tags.GPSLongitudeRef: "EW"}
    numbers = (tags.GPSLatitude, tags.GPSLongitude)
    try:
        given = opened.getexif().get_ifd(ExifTags.IFD.GPSInfo)
        kept: dict[int, object] = {}
        for tag, letters in texts.items():
            if len(given[tag]) != 1 or given[tag] not in letters:
                return b""
            kept[tag] = given[tag]
        for tag in numbers:
            degrees, minutes, seconds = (float(one) for one in given[tag])
            kept[tag] = (degrees, minutes, seconds)
        if tags.GPSAltitude in given:
            kept[tags.GPSAltitudeRef] = b"\1" if given.get(tags.GPSAltitudeRef) == b"\1" else b"\0"
            kept[tags.GPSAltitude] = float(given[tags.GPSAltitude])
        exif = Image.Exif()
        exif.get_ifd(ExifTags.IFD.GPSInfo).update(kept)
        return exif.tobytes()
    except Exception:  # noqa: BLE001 - no place, or none that can be read
        return b""


def _eight_bits(opened: Image.Image, *, see_through: bool) -> Image.Image:
    """Return the picture in gray, color or color that can be seen through."""
    if opened.mode in DEEP:
        return opened.convert("I").point(lambda level: level / DEEP_STEP).convert("L")
    if see_through and (opened.mode in SEE_THROUGH or "transparency" in opened.info):
        mode = "RGBA"
    else:
        mode = "L" if opened.mode in ("1", "L") else "RGB"
    return opened if opened.mode == mode else opened.convert(mode)


def _encoded(picture: Image.Image, kind: PictureKind, exif: bytes) -> bytes:
    out = BytesIO()
    options: dict[str, object] = {} if kind == "PNG" else {"quality": QUALITY}
    if exif:
        options["exif"] = exif
    picture.save(out, kind, **options)
    return out.getvalue()


def _thumbnail(picture: Image.Image) -> bytes:
    from PIL import Image  # noqa: PLC0415

    small = picture.copy()
    small.thumbnail((SMALL_SIDE, SMALL_SIDE), Image.Resampling.LANCZOS)
    if small.mode == "RGBA":
        paper = Image.new("RGB", small.size, "white")
        paper.paste(small, mask=small)
        small = paper
    out = BytesIO()
    small.save(out, "JPEG", quality=SMALL_QUALITY)
    return out.getvalue()
