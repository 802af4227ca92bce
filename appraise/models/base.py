"""What all models share: frozen, unknown keys refused, plain JSON in and out."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
)

from appraise.letters import cleaned, refused_in_line, refused_in_note

__all__ = [
    "PRINTABLE",
    "SANE",
    "Amount",
    "Certainty",
    "Chance",
    "Commission",
    "Currency",
    "Day",
    "Factor",
    "Id",
    "Label",
    "Model",
    "Money",
    "Note",
    "Number",
    "Percent",
    "Words",
    "WorkedOut",
]

LONGEST_NOTE = 20_000
LONGEST_SHOWN = 40


class Model(BaseModel):
    """A value that never changes after it is made and knows no key it was not given."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        allow_inf_nan=False,
        str_strip_whitespace=True,
        defer_build=True,  # a command builds the models that it uses, not all of them
        use_attribute_docstrings=False,
        validate_default=True,
    )


MOST_DIGITS = 12
LEAST, MOST = Decimal("1e-6"), Decimal("1e9")
MOST_WORKED_OUT = 24
"""Powers of ten of a figure that was worked out: many times the largest sum of amounts."""


def _sane(number: Decimal) -> Decimal:
    """Return a number that arithmetic can be done with, whatever it is multiplied by here."""
    if number and not LEAST <= abs(number) <= MOST:
        raise ValueError(f"{_short(number)} is not 0 and not between 0.000001 and a billion")
    if len(number.as_tuple().digits) > MOST_DIGITS:
        raise ValueError(f"{_short(number)} has more than {MOST_DIGITS} digits")
    return number


def _worked_out(number: Decimal) -> Decimal:
    if abs(number.adjusted()) > MOST_WORKED_OUT:
        raise ValueError(f"{_short(number)} is no figure of this program")
    return number


def _short(number: Decimal) -> str:
    shown = str(number)
    return shown if len(shown) <= LONGEST_SHOWN else f"{shown[:LONGEST_SHOWN]}..."


SANE = AfterValidator(_sane)
"""Finite, of 12 digits at most, 0 or 1e-6 to 1e9 either side of it. Stands after the bounds of a
number, so that these are in the schema too."""

Number = Annotated[Decimal, SANE]

WorkedOut = Annotated[Decimal, AfterValidator(_worked_out)]
"""A figure of an estimate, which may be kept with the case."""

Amount = Annotated[Decimal, Field(ge=0, le=Decimal(100_000_000)), SANE]
"""Money, hours or days, never below nothing."""

Money = Annotated[Decimal, Field(ge=0, le=Decimal(100_000_000), decimal_places=2), SANE]
"""An amount in the case's currency, to the cent, never below nothing."""

Percent = Annotated[Decimal, Field(ge=0, le=100), SANE]
"""A tax, fee or rate on top of an amount."""

Commission = Annotated[Decimal, Field(ge=0, le=90), SANE]
"""Percent off a price: it leaves a tenth of it at least."""

Chance = Annotated[Decimal, Field(ge=0, le=1), SANE]
"""A probability in [0, 1]."""

Certainty = Annotated[Decimal, Field(ge=0.1, le=0.99), SANE]
"""How sure one wants to be: from one in ten to what 1,000 draws can still tell."""

Factor = Annotated[Decimal, Field(ge=0.001, le=1000), SANE]
"""What amounts are multiplied by."""

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
