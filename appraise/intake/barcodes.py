"""A vehicle identification number read from the bar code on a photo of its label.

The photo goes through the checks of every attachment first, and only its pixels are looked at.
Nothing of it is kept.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Final

from appraise.engine.papers.vin import read_vin
from appraise.engine.papers.vin_parts import LENGTH, VALUES, check_digit, tidy
from appraise.errors import BadFile, Problem
from appraise.intake.files import checked

if TYPE_CHECKING:
    from PIL import Image

__all__ = ["FoundVin", "VinCodes", "read_vin_codes"]

WHERE: Final = "photo"
ONLY_PHOTOS: Final = "Add a JPEG, PNG or WebP photo."
NOTHING_READ: Final = (
    "No bar code could be read. Go closer until the label fills the picture, in flat light without "
    "glare, and hold still. The label is on the driver's door pillar; a plate without a bar code "
    "has to be typed."
)
NO_NUMBER: Final = (
    "Take the code beside the number itself, on the label on the driver's door pillar; without one "
    "the number has to be typed."
)

PREFIX: Final = "I"
"""Stands before the number in many codes: the data identifier of a vehicle identification number
(ANSI MH10.8.2; from memory), or the mark of an import on a label in Code 39 (common practice, no
published source; from memory). No number holds an I (49 CFR 565.13(g))."""
WORD: Final = "VIN"
NUMBERED: Final = 4
"""The last characters that are digits in every number (49 CFR 565.15(d))."""
CONTROL: Final = re.compile(r"[\x00-\x1f\x7f-\x9f]+")
RUN: Final = re.compile(r"[A-Z0-9]+")

MOST_NUMBERS: Final = 8
MOST_TOLD: Final = 4
LONGEST_TOLD: Final = 60
LONGEST_SEARCHED: Final = 5_000  # characters; a QR code holds 4,296 (ISO/IEC 18004; from memory)

SMALL_SIDE: Final = 1_600  # pixels: what is larger is looked at so reduced too, smaller enlarged
TILT: Final = 6  # degrees: a low bar code is read a few degrees off level, no further
QUARTER: Final = 90
GRAY: Final = 128
SECONDS: Final = 6.0


@dataclass(frozen=True, slots=True)
class FoundVin:
    """A number that a code on the photo holds.

    Attributes
    ----------
    number : as the code has it, without what stood before it.
    kinds : names of the codes that hold it, each once.
    holds : whether its check digit holds.
    problems : what is wrong or doubtful about it.
    """

    number: str
    kinds: tuple[str, ...]
    holds: bool
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class VinCodes:
    """What was read from a photo.

    Attributes
    ----------
    numbers : each once, those with a check digit that holds first.
    words : what else was read, and what to do if nothing was, a sentence or two each.
    """

    numbers: tuple[FoundVin, ...]
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Code:
    kind: str
    text: str


def read_vin_codes(data: bytes, model_year: int | None = None) -> VinCodes:
    """Return the vehicle identification numbers in the bar codes on a photo.

    Code 39, Code 128, Data Matrix and QR codes are read at any angle; bars that are light on dark
    only when level.

    Parameters
    ----------
    data : the file, of which nothing is believed.
    model_year : as the papers have it, to compare.

    Raises
    ------
    BadFile
        It is no photo that can be looked at; the words say why and what to do.
    """
    codes = _codes(_upright(data))
    kinds: dict[str, dict[str, None]] = {}
    told: dict[str, None] = {}
    for code in codes:
        numbers = _numbers_in(code.text)
        for number in numbers:
            kinds.setdefault(number, {})[code.kind] = None
        if not numbers:
            told[f"{code.kind}: “{_shown(code.text)}” is no vehicle identification number."] = None
    found = sorted(
        (_found(number, tuple(names), model_year) for number, names in kinds.items()),
        key=lambda one: not one.holds,
    )
    words = list(told)[:MOST_TOLD]
    if len(told) > MOST_TOLD:
        words.append(f"{len(told) - MOST_TOLD} more codes hold no number either.")
    if not found:
        words.append(NO_NUMBER if told else NOTHING_READ)
    if len(found) > MOST_NUMBERS:
        words.append(f"Only {MOST_NUMBERS} of {len(found)} numbers are shown: take one label.")
    elif len(found) > 1:
        words.append("The codes hold different numbers: take the one that is on this car's plate.")
    return VinCodes(tuple(found[:MOST_NUMBERS]), tuple(words))


# --- what stands in a code ------------------------------------------------------------------------


def _numbers_in(text: str) -> tuple[str, ...]:
    """Return the numbers that the text of a code holds, each once.

    A text that is 17 characters as a whole is taken as it is, so that what is wrong with it is
    told; inside a longer text only what can be a number is.
    """
    whole = _without_prefix(tidy(CONTROL.sub("", text)))
    if len(whole) == LENGTH and whole.isascii() and whole.isalnum() and _has_digit(whole):
        return (whole,)
    found: dict[str, None] = {}
    for run in RUN.findall(text[:LONGEST_SEARCHED].upper()):
        number = _without_prefix(run)
        if _can_be(number):
            found[number] = None
        elif len(number) > LENGTH:
            found |= dict.fromkeys(_inside(number))
    return tuple(found)


def _without_prefix(text: str) -> str:
    for before in (PREFIX, WORD, WORD + PREFIX):
        rest = text.removeprefix(before)
        if len(rest) == LENGTH and len(text) == LENGTH + len(before) and _of_characters(rest):
            return rest
    return text


def _inside(run: str) -> Iterator[str]:
    """Yield what in a run without a gap can be a number and has a check digit that holds."""
    for start in range(len(run) - LENGTH + 1):
        part = run[start : start + LENGTH]
        if _can_be(part) and not part.isdecimal() and check_digit(part).holds:
            yield part


def _can_be(text: str) -> bool:
    return len(text) == LENGTH and _of_characters(text) and text[-NUMBERED:].isdecimal()


def _of_characters(text: str) -> bool:
    return all(one in VALUES for one in text)


def _has_digit(text: str) -> bool:
    return any(one.isdecimal() for one in text)


def _found(number: str, kinds: tuple[str, ...], model_year: int | None) -> FoundVin:
    read = read_vin(number, model_year)
    holds = read.check is not None and read.check.holds and not read.corrections
    return FoundVin(number, kinds, holds, read.problems)


def _shown(text: str) -> str:
    line = " ".join(CONTROL.sub(" ", text).split())
    return line if len(line) <= LONGEST_TOLD else f"{line[:LONGEST_TOLD]}…"


# --- the photo ------------------------------------------------------------------------------------


def _upright(data: bytes) -> Image.Image:
    """Return the photo in gray, turned upright, as it would be kept."""
    from PIL import Image  # noqa: PLC0415 - only where photos are

    try:
        kept = checked(data, WHERE)
    except BadFile as error:
        hint = ONLY_PHOTOS if "PDF" in error.hint else error.hint
        raise BadFile(error.message, where=WHERE, hint=hint) from error
    if kept.media_type == "application/pdf":
        raise BadFile("a PDF cannot be searched for bar codes", where=WHERE, hint=ONLY_PHOTOS)
    with Image.open(BytesIO(kept.content)) as opened:
        if "A" not in opened.getbands():
            return opened.convert("L")
        paper = Image.new("RGBA", opened.size, "white")
        return Image.alpha_composite(paper, opened.convert("RGBA")).convert("L")


def _codes(photo: Image.Image) -> tuple[_Code, ...]:
    """Return the codes on a photo, each once.

    It is looked at as it is and at another size; only where that gives no number, also light
    for dark, turned step by step and sharpened, until the time is up.
    """
    end = time.monotonic() + SECONDS
    size = _other_size(photo)
    found = dict.fromkeys((*_read(photo), *_read(size)))
    for tried in _tried(photo, size):
        if time.monotonic() > end or any(_numbers_in(one.text) for one in found):
            break
        found |= dict.fromkeys(_read(tried, bars_only=True))
    return tuple(found)


def _other_size(photo: Image.Image) -> Image.Image:
    from PIL import Image  # noqa: PLC0415

    longest = max(photo.size)
    factor = SMALL_SIDE / longest if longest > SMALL_SIDE else 2
    width, height = (max(1, round(side * factor)) for side in photo.size)
    return photo.resize((width, height), Image.Resampling.BICUBIC)


def _tried(photo: Image.Image, size: Image.Image) -> Iterator[Image.Image]:
    """Yield the photo light for dark, then turned step by step, the least first.

    Turned at the other size, sharpened, then whole. A quarter turn is enough: each is also read
    from the side and upside down.
    """
    from PIL import Image, ImageFilter, ImageOps  # noqa: PLC0415

    yield ImageOps.invert(size)  # the reader itself does so only for Data Matrix and QR codes
    angles = sorted(range(0, QUARTER, TILT), key=lambda angle: min(angle, QUARTER - angle))
    sharp = size.filter(ImageFilter.UnsharpMask(radius=3, percent=300, threshold=0))
    for start in (size, sharp, photo):
        for angle in angles if start is sharp else angles[1:]:
            yield start.rotate(angle, Image.Resampling.BILINEAR, expand=True, fillcolor=GRAY)


def _read(photo: Image.Image, *, bars_only: bool = False) -> Iterable[_Code]:
    """Return what is read from a picture; only bars need it turned."""
    import zxingcpp  # noqa: PLC0415 - only where codes are

    kinds = zxingcpp.BarcodeFormat
    names = {kinds.Code39: "Code 39", kinds.Code128: "Code 128"}
    if not bars_only:
        names |= {kinds.DataMatrix: "Data Matrix", kinds.QRCode: "QR code"}
    read = zxingcpp.read_barcodes(
        photo,
        formats=zxingcpp.BarcodeFormats(list(names)),
        try_downscale=not bars_only,
        text_mode=zxingcpp.TextMode.Plain,
    )
    for one in read:
        kind = next((name for key, name in names.items() if one.symbology == key), str(one.format))
        yield _Code(kind, one.text)
