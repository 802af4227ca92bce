"""What was measured on the car, as it was typed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated

from pydantic import Field

from appraise.models.base import SANE, Id, Model, Note, Words

__all__ = ["Measurement"]

Reading = Annotated[Decimal, Field(ge=-10_000_000, le=10_000_000), SANE]


class Measurement(Model):
    """A reading, or the answer to a question, that is held against a limit."""

    id: Id = Field(description="Stable name within the case")
    limit: Id = Field(description="Limit it is compared with")
    typed: Words = Field(default="", description="As it was typed")
    value: Reading | None = Field(default=None, description="Value")
    unit: Words = Field(default="", description="Unit")
    answer: bool | None = Field(default=None, description="Answer, if the limit asks a question")
    by: Reading | None = Field(default=None, description="What the limit hangs on, if on anything")
    place: Words = Field(default="", description="Where on the car")
    measured_on: date | None = Field(default=None, description="Day")
    note: Note = Field(default="", description="Note")
