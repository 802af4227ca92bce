"""What all models share: frozen, unknown keys refused, plain JSON in and out."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints

from appraise.letters import cleaned, refused_in_line, refused_in_note

__all__ = [
    "PRINTABLE",
    "Chance",
    "Currency",
    "Day",
    "Id",
    "Label",
    "Model",
    "Money",
    "Note",
    "Percent",
    "Positive",
    "Words",
]

LONGEST_NOTE = 20_000


class Model(BaseModel):
    """A value that never changes after it is made and knows no key it was not given."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        allow_inf_nan=False,
        str_strip_whitespace=True,
        use_attribute_docstrings=False,
        validate_default=True,
    )


Money = Annotated[Decimal, Field(ge=0, le=Decimal(100_000_000), max_digits=12, decimal_places=2)]
"""An amount in the case's currency, to the cent, never below nothing."""

Positive = Annotated[Decimal, Field(gt=0, le=Decimal(1_000_000_000))]
Percent = Annotated[Decimal, Field(ge=0, le=100)]
Chance = Annotated[Decimal, Field(ge=0, le=1)]
"""A probability in [0, 1]."""

Day = Annotated[date, Field(ge=date(1886, 1, 1), le=date(2100, 12, 31))]
"""A day between the first motor car and the end of this century."""

Id = Annotated[
    str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9_.-]*$", min_length=1, max_length=80)
]
"""A stable name: lower case letters, digits, dots, dashes, underscores."""


def _one_line(text: Any) -> Any:  # noqa: ANN401 - whatever came; what is no text is told later
    if isinstance(text, str):
        text = cleaned(text)
        if refused_in_line(text):
            raise ValueError("holds a line break or a control character")
    return text


def _readable(text: Any) -> Any:  # noqa: ANN401
    if isinstance(text, str):
        text = cleaned(text)
        if refused_in_note(text):
            raise ValueError("holds a control character")
    return text


PRINTABLE = BeforeValidator(_one_line)
"""Text of one line, with nothing in it that could move a cursor or turn the way of reading."""

Words = Annotated[str, StringConstraints(max_length=200), PRINTABLE]
"""One line of text, possibly empty."""

Label = Annotated[str, StringConstraints(min_length=1, max_length=200), PRINTABLE]
"""One line of text, never empty."""

Note = Annotated[str, StringConstraints(max_length=LONGEST_NOTE), BeforeValidator(_readable)]
"""Text of several lines."""

Currency = Annotated[str, StringConstraints(pattern=r"^[A-Z]{3}$")]
"""An ISO 4217 code."""
