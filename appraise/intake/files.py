"""Photos and PDFs from anywhere: told by their content, held to limits, refused in clear words."""

from __future__ import annotations

import logging
import math
import re
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from io import BytesIO
from typing import TypeVar

from appraise.errors import BadFile
from appraise.intake.file_names import clean_name, ending_of
from appraise.intake.pictures import (
    KEPT_SIDE,
    SMALL_SIDE,
    PictureKind,
    header_fits,
    plain_picture,
)
from appraise.models.files import LARGEST_FILE, MEGABYTE, Attachments, MediaType

__all__ = [
    "MOST_PAGES",
    "Checked",
    "checked",
    "files_words",
    "is_kept_so",
    "is_small",
    "size_words",
]

MOST_PAGES = 500
PDF_SECONDS = 6.0
HEAD = 1024
"""Bytes within which a PDF has to say so (ISO 32000-1, annex H, note 13; from memory)."""
KILOBYTE = 1024
LARGEST_SMALL = 2**18
"""Bytes of a small picture: 320 by 320 pixels of noise take half of it."""
UNPACKED = 8 * MEGABYTE
"""Bytes that one stream of a PDF may unpack to; tables of contents are all that is read."""

Found = TypeVar("Found")

PICTURES: dict[str, tuple[PictureKind, MediaType]] = {
    "a JPEG photo": ("JPEG", "image/jpeg"),
    "a PNG picture": ("PNG", "image/png"),
    "a WebP picture": ("WEBP", "image/webp"),
}
PDF = "a PDF"
UNKNOWN = "of an unknown kind"

SAVE_AS_JPEG = "Save it as JPEG, and add that."
PRINT_ANEW = "Print it to a new PDF, and add that."
REFUSED = {
    "an SVG drawing": SAVE_AS_JPEG,
    "a GIF picture": SAVE_AS_JPEG,
    "a TIFF picture": SAVE_AS_JPEG,
    "a HEIC photo": SAVE_AS_JPEG,
    "an AVIF picture": SAVE_AS_JPEG,
    "a BMP picture": SAVE_AS_JPEG,
    "a web page": "Print it to a PDF, and add that.",
    "a zip archive or office document": (
        "Unpack an archive and add what is in it; print a document to a PDF."
    ),
    "a program": "Do not open it.",
    UNKNOWN: "Add a JPEG, PNG or WebP photo, or a PDF.",
}
"""What is not kept, and what to do about it."""

FIRST_BYTES = (
    (b"\xff\xd8\xff", "a JPEG photo"),
    (b"\x89PNG\r\n\x1a\n", "a PNG picture"),
    (b"GIF87a", "a GIF picture"),
    (b"GIF89a", "a GIF picture"),
    (b"II*\0", "a TIFF picture"),
    (b"MM\0*", "a TIFF picture"),
    (b"II+\0", "a TIFF picture"),
    (b"MM\0+", "a TIFF picture"),
    (b"PK\3\4", "a zip archive or office document"),
    (b"PK\5\6", "a zip archive or office document"),
    (b"\xd0\xcf\x11\xe0", "a zip archive or office document"),
    (b"MZ", "a program"),
    (b"\x7fELF", "a program"),
    (b"#!", "a program"),
    (b"BM", "a BMP picture"),
)
"""As their formats define them."""
BRANDS = {
    "a HEIC photo": (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"),
    "an AVIF picture": (b"avif", b"avis"),
}
"""Brands in the first box of a file of the ISO base media format."""
WEB_PAGE = re.compile(rb"(?is)^\s*<(!doctype\s+html|html|head|body|script|iframe|meta)\b")
DRAWING = re.compile(rb"(?is)^\s*<.*<svg\b|^\s*<svg\b")


@dataclass(frozen=True, slots=True)
class Checked:
    """A photo or PDF that may be kept.

    Attributes
    ----------
    content : a photo written anew, or a PDF byte for byte.
    media_type : what the content is, whatever the file was called.
    name : its name, made harmless, with an ending that fits.
    thumbnail : a small JPEG, or None for a PDF.
    words : what was changed that a person should know, a sentence each.
    position_kept : whether a photo still says where it was taken.
    """

    content: bytes
    media_type: MediaType
    name: str
    thumbnail: bytes | None
    words: tuple[str, ...]
    position_kept: bool = False


def checked(data: bytes, name: str, *, keep_position: bool = False) -> Checked:
    """Return a file as it may be kept.

    Parameters
    ----------
    data : its bytes, of which nothing is believed.
    name : what it was called, of which nothing is believed either.
    keep_position : keep the place where a photo was taken, if it says so.

    Raises
    ------
    BadFile : it cannot be kept; the words say why and what to do.
    """
    called = clean_name(name)
    try:
        kind = _kind(data)
        found = _checked(data, name, kind, keep_position=keep_position)
    except BadFile as error:
        raise BadFile(error.message, where=called, hint=error.hint) from error
    if ending_of(called) not in ("", ending_of(found.name)):
        note = f"Kept as {found.name}, as its content is {kind}."
        return replace(found, words=(*found.words, note))
    return found


def is_kept_so(content: bytes, media_type: str) -> bool:
    """Whether bytes from elsewhere are of a kind, and no larger than what `checked` gives.

    Told by their beginning: nothing is decoded, and a PDF is not read.
    """
    kind = _kind(content)
    if kind == PDF:
        return media_type == "application/pdf"
    encoder, kept_as = PICTURES.get(kind, (None, ""))
    return (
        encoder is not None and kept_as == media_type and header_fits(content, encoder, KEPT_SIDE)
    )


def is_small(thumbnail: bytes) -> bool:
    """Whether bytes from elsewhere are a small JPEG, as `checked` makes one."""
    return len(thumbnail) <= LARGEST_SMALL and header_fits(thumbnail, "JPEG", SMALL_SIDE)


def size_words(size: int) -> str:
    """Return a size as it is read, rounded up.

    Examples
    --------
    >>> size_words(20 * 1024 * 1024 + 1), size_words(700)
    ('20.1 MB', '1 kB')
    """
    if size < MEGABYTE:
        return f"{math.ceil(size / KILOBYTE)} kB"
    return f"{math.ceil(size * 10 / MEGABYTE) / 10:g} MB"


def files_words(files: Attachments) -> str:
    """Return how many photos and PDFs there are, as in "2 photos, 1 PDF"; empty for none."""
    papers = sum(one.media_type == "application/pdf" for one in files)
    counts = ((len(files) - papers, "photo"), (papers, "PDF"))
    return ", ".join(f"{count} {what}{'s' * (count > 1)}" for count, what in counts if count)


def _checked(data: bytes, name: str, kind: str, *, keep_position: bool) -> Checked:
    if not data:
        raise BadFile("the file is empty", hint="Copy it again from where it came.")
    _check_size(len(data), kind)
    if kind in PICTURES:
        encoder, media_type = PICTURES[kind]
        picture = plain_picture(data, encoder, keep_position=keep_position)
        if len(picture.content) > LARGEST_FILE:
            raise BadFile(
                f"the photo takes {size_words(len(picture.content))} as it would be kept; the most "
                f"is {size_words(LARGEST_FILE)}",
                hint=SAVE_AS_JPEG,
            )
        return Checked(
            content=picture.content,
            media_type=media_type,
            name=clean_name(name, media_type),
            thumbnail=picture.thumbnail,
            words=picture.notes,
            position_kept=picture.position_kept,
        )
    if kind == PDF:
        _check_pdf(data)
        kept_as = clean_name(name, "application/pdf")
        return Checked(data, "application/pdf", kept_as, thumbnail=None, words=())
    ending = ending_of(clean_name(name))
    if ending == ".pdf" and kind == UNKNOWN:
        raise BadFile("is called .pdf, but is none", hint="Copy it again from where it came.")
    said = f"is called {ending}, but is {kind}" if ending else f"is {kind}"
    raise BadFile(f"{said}, which cannot be kept", hint=REFUSED[kind])


def _check_size(size: int, kind: str) -> None:
    if size <= LARGEST_FILE:
        return
    what = "PDF" if kind == PDF else "photo" if kind in PICTURES else "file"
    hint = {
        "photo": "Save it smaller or as JPEG, or take it again with fewer pixels.",
        "PDF": "Print the pages that matter to a smaller one.",
        "file": "Add a smaller photo or PDF.",
    }[what]
    most = size_words(LARGEST_FILE)
    raise BadFile(f"the {what} is {size_words(size)}; the most is {most}", hint=hint)


def _kind(data: bytes) -> str:
    """Return what the first bytes say that a file is."""
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "a WebP picture"
    for first, kind in FIRST_BYTES:
        if data.startswith(first):
            return kind
    if data[4:8] == b"ftyp":
        for kind, brands in BRANDS.items():
            if data[8:12] in brands:
                return kind
    head = data[:HEAD].removeprefix(b"\xef\xbb\xbf")
    if WEB_PAGE.match(head):
        return "a web page"
    if DRAWING.match(head):
        return "an SVG drawing"
    return PDF if b"%PDF-" in head else UNKNOWN


def _check_pdf(data: bytes) -> None:
    """Refuse what cannot be opened as a PDF, without a password and in a few seconds."""
    from pypdf.errors import DependencyError, FileNotDecryptedError  # noqa: PLC0415 - only for PDFs

    locked = BadFile(
        "the PDF needs a password, or is locked in a way that cannot be read",
        hint="Open it, print it to a new PDF without one, and add that.",
    )
    try:
        pages = _within(PDF_SECONDS, lambda: _pages(data))
    except (FileNotDecryptedError, DependencyError) as error:
        raise locked from error
    except _TooLong as error:
        raise BadFile("the PDF takes too long to read", hint=PRINT_ANEW) from error
    except Exception as error:
        # A hostile file can make the reader raise anything.
        raise BadFile(
            "begins as a PDF, but cannot be read as one: it is damaged or cut short",
            hint="Copy it again from where it came, or print it to a new PDF.",
        ) from error
    if not pages:
        raise BadFile("the PDF has no page", hint=PRINT_ANEW)
    if pages > MOST_PAGES:
        raise BadFile(
            f"the PDF has {pages:,} pages; the most is {MOST_PAGES}",
            hint="Print the pages that matter to a smaller one.",
        )


def _pages(data: bytes) -> int:
    """Return the number of pages, found by walking to each."""
    from pypdf import PasswordType, PdfReader, apply_configuration  # noqa: PLC0415
    from pypdf.errors import FileNotDecryptedError  # noqa: PLC0415

    # What it says of a file quotes that file, and would go to the terminal.
    logging.getLogger("pypdf").setLevel(logging.CRITICAL + 1)
    with apply_configuration(
        zlib_maximum_output_length=UNPACKED,
        lzw_maximum_output_length=UNPACKED,
        run_length_maximum_output_length=UNPACKED,
        array_based_stream_maximum_output_length=UNPACKED,
    ):
        reader = PdfReader(BytesIO(data))
        if reader.is_encrypted and reader.decrypt("") is PasswordType.NOT_DECRYPTED:
            raise FileNotDecryptedError
        return len(reader.pages)


class _TooLong(BaseException):
    """The time is up; no `except Exception` on the way may hold it back."""


def _within(seconds: float, work: Callable[[], Found]) -> Found:
    """Return what the work returns, or stop it at the first call after its time is up."""
    end = time.monotonic() + seconds

    def look(_frame: object, _event: str, _argument: object) -> None:
        if time.monotonic() > end:
            raise _TooLong

    before = sys.getprofile()
    sys.setprofile(look)
    try:
        return work()
    finally:
        end = math.inf
        sys.setprofile(before)
