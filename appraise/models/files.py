"""Photos and PDFs attached to an entry: what is known of each; the bytes are kept apart."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, StringConstraints

from appraise.models.base import Model, Words

__all__ = [
    "LARGEST_FILE",
    "LONGEST_NAME",
    "MEGABYTE",
    "MOST_FILES",
    "Attachment",
    "Attachments",
    "MediaType",
]

MEGABYTE = 1024 * 1024  # as file managers and browsers count it
LARGEST_FILE = 20 * MEGABYTE
LONGEST_NAME = 120
MOST_FILES = 20

MediaType = Literal["image/jpeg", "image/png", "image/webp", "application/pdf"]

Digest = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
FileName = Annotated[
    Words, StringConstraints(min_length=1, max_length=LONGEST_NAME, pattern=r"^[^./\\:][^/\\:]*$")
]
"""One line that is no path and no hidden file."""


class Attachment(Model):
    """A photo or PDF, named by its content: the same bytes always have the same id."""

    id: Digest = Field(description="SHA-256 of the content as it is kept")
    name: FileName = Field(description="File name")
    media_type: MediaType = Field(description="What it is, told by its content")
    size: Annotated[int, Field(strict=True, ge=1, le=LARGEST_FILE)] = Field(
        description="Size in bytes"
    )
    added_on: date = Field(description="Added on")
    position_kept: bool = Field(
        default=False, description="Whether it still says where it was taken"
    )


def _no_two_alike(files: Sequence[Attachment]) -> Sequence[Attachment]:
    ids = [one.id for one in files]
    for at, one in enumerate(files):
        if one.id in ids[:at]:
            raise ValueError(f"{one.name} is attached twice")
    return files


Attachments = Annotated[
    tuple[Attachment, ...], Field(max_length=MOST_FILES), AfterValidator(_no_two_alike)
]
"""Photos and PDFs of one entry, each once."""
