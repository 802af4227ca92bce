"""What a vehicle identification number is made of: characters, check digit, model year.

The rules are those of 49 CFR 565. They bind vehicles made for sale in the United States; elsewhere
position 9 and position 10 may hold anything. A number that reads well proves no car: it is checked
against misreading, not against theft.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import Final

from appraise.engine.papers.vin_country import Place
from appraise.errors import Problem

__all__ = [
    "CYCLE",
    "DIGITS",
    "LENGTH",
    "LOOKALIKES",
    "NEVER",
    "STANDARD_FROM",
    "VALUES",
    "WEIGHTS",
    "YEAR_CODES",
    "CheckDigit",
    "Correction",
    "Vin",
    "alike",
    "check_digit",
    "model_years",
    "tidy",
]

LENGTH: Final = 17
"""49 CFR 565.13(b)."""
CHECK: Final = 8
"""Index of the check digit, position 9 (565.15(c))."""
VALUES: Final = {
    symbol: value
    for value, symbols in enumerate(
        ("0", "AJ1", "BKS2", "CLT3", "DMU4", "ENV5", "FW6", "GPX7", "HY8", "RZ9")
    )
    for symbol in symbols
}
"""565.15(c), Table III; no I, O, Q (565.13(g))."""
WEIGHTS: Final = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
"""565.15(c), Table IV."""
DIGITS: Final = "0123456789X"
"""565.15(c)(4), Table V, by the whole remainder; its decimals are misprinted for 7 (.634)."""
YEAR_CODES: Final = "ABCDEFGHJKLMNPRSTVWXY123456789"
"""565.15(d)(1), Table VII, from 1980 (565.25, Table XIII) on; no U, Z, 0."""
FIRST_YEAR: Final = 1980
CYCLE: Final = len(YEAR_CODES)
STANDARD_FROM: Final = 1981
"""Model year from which numbers are of this standard; from memory. Table XIII begins at 1980."""
NEVER: Final = {"I": "1", "O": "0", "Q": "0"}
"""Letters never in a number (565.13(g)), and the digit each is usually a misreading of: common
practice."""
LOOKALIKES: Final = ("0O", "0Q", "1I", "5S", "8B", "2Z", "6G", "0D", "UV", "17")
"""Pairs that are taken for each other on a worn plate or a copy: common practice."""


@dataclass(frozen=True, slots=True)
class CheckDigit:
    """The check digit worked out, beside the one that stands there.

    Attributes
    ----------
    products : value times weight, position by position.
    remainder : of their sum, divided by 11.
    due, found : the digit that belongs in position 9, and what is there.
    """

    products: tuple[int, ...]
    total: int
    remainder: int
    due: str
    found: str

    @property
    def holds(self) -> bool:
        """Whether the digit that stands there is the one that belongs there."""
        return self.due == self.found


@dataclass(frozen=True, slots=True)
class Correction:
    """A letter that no number holds, and the digit proposed in its place."""

    position: int
    written: str
    read: str


NOWHERE: Final = Place("", "")


@dataclass(frozen=True, slots=True)
class Vin:
    """What a vehicle identification number says.

    Attributes
    ----------
    text : as written, without spaces and dashes, in capitals.
    number : what all else is read from: the text, or the text with `corrections`; empty if it is
        no number of this standard.
    check : None without a number.
    required : whether 49 CFR 565 asks for the check digit, judged by the first two characters.
    years : model years that it may mean; none if unknown.
    maker : positions 1 to 3, and 12 to 14 for a maker of few vehicles.
    problems : what is wrong or doubtful, form first.
    """

    text: str
    number: str = ""
    corrections: tuple[Correction, ...] = ()
    check: CheckDigit | None = None
    required: bool = False
    years: tuple[int, ...] = ()
    maker: str = ""
    low_volume: bool = False
    place: Place = NOWHERE
    problems: tuple[Problem, ...] = ()


def tidy(text: str) -> str:
    """Return a number as written, without spaces, dashes and the stars at its ends, in capitals.

    Only the letters a to z become capitals; letters of other alphabets stay, to be named.

    Examples
    --------
    >>> tidy(" *1g4ah-59h4 5g118341* ")
    '1G4AH59H45G118341'
    """
    kept = "".join(
        one.upper() if one.isascii() else one
        for one in text
        if not (one.isspace() or one == "\N{MINUS SIGN}")
        and unicodedata.category(one) not in {"Pd", "Cf"}
    )
    return kept.strip("*")


def alike(first: str, second: str) -> bool:
    """Return whether two characters are easily taken for each other."""
    return any({first, second} == set(pair) for pair in LOOKALIKES)


def check_digit(number: str) -> CheckDigit:
    """Return the check digit of a number: the sum of value times weight, modulo 11, 10 being X.

    Parameters
    ----------
    number : 17 characters without I, O, Q; what stands in position 9 does not matter.

    Raises
    ------
    ValueError
        The number is not of that form.

    Examples
    --------
    >>> check_digit("1G4AH59H?5G118341").total, check_digit("1G4AH59H?5G118341").due
    (411, '4')
    """
    rest = number[:CHECK] + number[CHECK + 1 :]
    if len(number) != LENGTH or any(one not in VALUES for one in rest):
        raise ValueError(
            "a check digit needs 17 characters, letters A to Z without I, O, Q, or 0-9"
        )
    products = tuple(
        weight * VALUES.get(one, 0) for one, weight in zip(number, WEIGHTS, strict=True)
    )
    remainder = sum(products) % 11
    return CheckDigit(products, sum(products), remainder, DIGITS[remainder], number[CHECK])


def model_years(number: str, *, light: bool = True) -> tuple[int, ...]:
    """Return the model years that positions 7 and 10 may mean; none if position 10 has no year.

    Parameters
    ----------
    number : of 17 characters.
    light : a car, or a truck or van up to 10,000 lb (4,536 kg) gross: position 7 is then a digit
        to 2009 and a letter from 2010 on. Of anything else the code recurs after 30 years.

    Examples
    --------
    >>> model_years("1G4AH59H45G118341"), model_years("1J9RP1A36A1644345", light=False)
    ((2005,), (1980, 2010))
    """
    code = number[9:10]
    if not code or code not in YEAR_CODES:
        return ()
    early = FIRST_YEAR + YEAR_CODES.index(code)
    if not light:
        return (early, early + CYCLE)
    return (early if number[6].isdecimal() else early + CYCLE,)
