"""File names from anywhere, made fit to be kept, shown and saved on any system."""

from __future__ import annotations

import re
import unicodedata

from appraise.letters import JOINERS, cleaned, one_line
from appraise.models.files import LONGEST_NAME, MediaType

__all__ = ["clean_name", "ending_of", "name_to_save"]

ENDINGS: dict[MediaType, tuple[str, ...]] = {
    "image/jpeg": (".jpg", ".jpeg", ".jpe", ".jfif"),
    "image/png": (".png",),
    "image/webp": (".webp",),
    "application/pdf": (".pdf",),
}
"""The usual ending first."""

OTHER_ENDINGS = frozenset(
    {".avif", ".bmp", ".docx", ".exe", ".gif", ".heic", ".heif", ".htm", ".html"}
    | {".svg", ".tif", ".tiff", ".txt", ".xml", ".zip"}
)
"""Of what the content turned out not to be: replaced, where any other is part of the name."""
KNOWN_ENDINGS = OTHER_ENDINGS.union(*ENDINGS.values())

NAMELESS: dict[MediaType | None, str] = {
    None: "file",
    "image/jpeg": "photo",
    "image/png": "photo",
    "image/webp": "photo",
    "application/pdf": "paper",
}

UNWANTED = re.compile(r'[<>"|?*:]')
RESERVED = re.compile(r"(?i)(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³]) *(\.|$)")
"""Names that Windows gives to devices, with or without an ending (its documentation, "Naming
Files, Paths, and Namespaces"); blanks before the ending do not count (from memory)."""
MOST_BYTES = 255
"""Of a name in UTF-8, on most file systems (NAME_MAX of POSIX systems; from memory)."""


def clean_name(name: str, media_type: MediaType | None = None) -> str:
    """Return the last part of a name on one line, without what any system would act upon.

    Parameters
    ----------
    name : as it came; it may be a path of any system, or nothing.
    media_type : what the content is; the name then gets an ending that says so.
    """
    text = _harmless(name)
    ending = ending_of(text)
    at = len(text) - len(ending)
    stem, written = text[:at], text[at:]
    if media_type is not None and ending not in ENDINGS[media_type]:
        written = ENDINGS[media_type][0]
    return _fitted(stem, written, NAMELESS[media_type])


def name_to_save(words: str, ending: str) -> str:
    """Return the name of a file that is given to somebody, made from words and its ending.

    Examples
    --------
    >>> name_to_save("con.1-parts", ".pdf")
    '_con.1-parts.pdf'
    """
    return _fitted(_harmless(words), ending, "file")


def _harmless(name: str) -> str:
    """Return the last part of a name on one line, without letters that act anywhere."""
    last = re.split(r"[/\\]", unicodedata.normalize("NFC", name).rstrip("/\\"))[-1]
    shown = "".join(one for one in cleaned(" ".join(last.split())) if one_line(one) == one)
    return " ".join(UNWANTED.sub("_", shown).split()).strip(". ")


def _fitted(stem: str, ending: str, nameless: str) -> str:
    """Return a name that is hidden nowhere, is no option of a command, no device and not too long.

    Parameters
    ----------
    nameless : what it is called if nothing is left.
    """
    stem = stem.lstrip("-. " + JOINERS).rstrip(". " + JOINERS) or nameless
    if RESERVED.match(stem):
        stem = f"_{stem}"
    room = MOST_BYTES - len(ending.encode())
    cut = stem[: LONGEST_NAME - len(ending)].encode()[:room].decode(errors="ignore")
    return cut.rstrip(". " + JOINERS) + ending


def ending_of(name: str) -> str:
    """Return the ending of a name in lower case with its dot, if it is one that says a kind."""
    dot = name.rfind(".")
    ending = name[dot:].lower() if dot >= 0 else ""
    return ending if ending in KNOWN_ENDINGS else ""
