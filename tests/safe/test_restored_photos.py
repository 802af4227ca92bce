"""Photos and PDFs that come with a backup: held to what this program keeps itself.

What is shown small or handed out again is not checked another time; so nothing may come in that was
never checked. Elsewhere: photos and PDFs that are uploaded (unit/services/test_pictures,
test_files, safe/test_images).
"""

from __future__ import annotations

import base64
import json
import struct
import zlib
from collections.abc import Callable
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from appraise.services.records.backup import restore
from appraise.services.records.workspace import Workspace

Members = dict[str, bytes]
Packed = Callable[..., Path]
Refused = Callable[..., None]


def picture(kind: str, width: int = 30, height: int = 20) -> bytes:
    out = BytesIO()
    Image.new("L", (width, height), 90).save(out, kind)
    return out.getvalue()


PHOTO, SMALL = picture("PNG"), picture("JPEG")


def with_photo(content: bytes, **row: Any) -> Callable[[Members], Members]:
    """Return what puts another photo in the place of the one that is there."""

    def change(members: Members) -> Members:
        digest = sha256(content).hexdigest()
        listed = json.loads(members["files.jsonl"]) | {"id": digest, "size": len(content)} | row
        old = f"files/{sha256(PHOTO).hexdigest()}"
        kept = {name: data for name, data in members.items() if name != old}
        line = json.dumps(listed).encode() + b"\n"
        return kept | {"files.jsonl": line, f"files/{digest}": content}

    return change


def png_that_says(width: int, height: int) -> bytes:
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = bytearray(PHOTO)
    body[16:29] = head
    body[29:33] = struct.pack(">I", zlib.crc32(b"IHDR" + head))
    return bytes(body)


def in_text(data: bytes) -> str:
    return base64.b64encode(data).decode()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (with_photo(b"<html><script>alert(1)</script>"), "none as this program keeps them"),
        (with_photo(b"<svg onload=alert(1)>"), "none as this program keeps them"),
        (with_photo(SMALL), "none as this program keeps them"),
        (with_photo(PHOTO, media_type="image/jpeg"), "none as this program keeps them"),
        (with_photo(PHOTO, media_type="application/pdf"), "none as this program keeps them"),
        (with_photo(PHOTO[:20]), "none as this program keeps them"),
        (with_photo(png_that_says(30_000, 30_000)), "none as this program keeps them"),
        (with_photo(png_that_says(4_001, 10)), "none as this program keeps them"),
        (with_photo(b"MZ program", media_type="application/pdf"), "none as this program keeps"),
        (with_photo(PHOTO, thumbnail=in_text(b"<svg onload=alert(1)>")), "thumbnail is not"),
        (with_photo(PHOTO, thumbnail=in_text(PHOTO)), "thumbnail is not"),
        (with_photo(PHOTO, thumbnail=in_text(picture("JPEG", 321, 10))), "thumbnail is not"),
        (with_photo(PHOTO, thumbnail=in_text(SMALL + bytes(2**18))), "thumbnail is not"),
        (with_photo(PHOTO, thumbnail=""), "thumbnail is not"),
    ],
)
def test_a_photo_that_was_never_checked_does_not_come_in_this_way(
    honest: Members,
    packed: Packed,
    refused: Refused,
    change: Callable[[Members], Members],
    words: str,
) -> None:
    """What comes with a backup is shown without another look at it."""
    refused(packed(change(honest)), words)


@pytest.mark.parametrize(
    "change",
    [
        with_photo(png_that_says(4_000, 4_000)),
        with_photo(picture("JPEG", 4_000, 10), media_type="image/jpeg"),
        with_photo(picture("WEBP"), media_type="image/webp", thumbnail=None),
        with_photo(b"%PDF-1.4", media_type="application/pdf", thumbnail=None),
    ],
    ids=["large", "JPEG", "WebP", "PDF"],
)
def test_what_this_program_keeps_comes_back(
    here: Workspace, honest: Members, packed: Packed, change: Callable[[Members], Members]
) -> None:
    file = packed(change(honest))

    assert "1 photos" in restore(here, file)
