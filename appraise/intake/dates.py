"""Days as people write them: year first, day first, month first, the month as a word."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from appraise.errors import AppraiseError

__all__ = ["ReadDay", "read_day"]

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
NUMBERS = re.compile(r"^(\d{1,4})\s*[-./ ]\s*(\d{1,2})\s*[-./ ]\s*(\d{1,4})$", re.ASCII)
COMPACT = re.compile(r"^(\d{4})(\d{2})(\d{2})$", re.ASCII)
DAY_AND_WORD = re.compile(
    r"^(\d{1,2})(?:st|nd|rd|th)?[\s.-]*([a-z]{3,9})\.?,?[\s-]*(\d{2}|\d{4})$", re.ASCII
)
WORD_AND_DAY = re.compile(
    r"^([a-z]{3,9})\.?\s*(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{2}|\d{4})$", re.ASCII
)
FIRST_YEAR, LAST_YEAR = 1886, 2100
TWO_DIGITS = 100
EXAMPLE = "Write it as 2025-03-14 or 14 March 2025."


@dataclass(frozen=True, slots=True)
class ReadDay:
    """A day, and what else the text might have meant.

    Attributes
    ----------
    other : the day it is if day and month stand the other way round, or None.
    """

    day: date
    other: date | None = None

    @property
    def words(self) -> str:
        """Say which of the two was taken, or nothing if there is only one."""
        if self.other is None:
            return ""
        return f"read as {_long(self.day)}; it could be {_long(self.other)} too"


def read_day(text: str, *, today: date, month_first: bool = True) -> ReadDay:
    """Return the day in a text.

    A year in front is unmistakable, and so is a month as a word. With numbers alone a value over 12
    tells which is the day; where both could be either, `month_first` decides and the other reading
    is told. Two figures of a year are those of the last hundred years.

    Parameters
    ----------
    today : no paper is younger; it also settles years of two figures.
    month_first : how numbers are read that could be either.

    Raises
    ------
    AppraiseError
        It is no day, or lies after `today`, or before there were cars.

    Examples
    --------
    >>> read_day("14/03/2025", today=date(2026, 1, 1)).day
    datetime.date(2025, 3, 14)
    >>> read_day("3 Feb. 24", today=date(2026, 1, 1)).day
    datetime.date(2024, 2, 3)
    >>> read_day("03/04/2025", today=date(2026, 1, 1)).words
    'read as 4 March 2025; it could be 3 April 2025 too'
    """
    plain = " ".join(text.strip().lower().split())
    found = _read(plain, text, today, month_first=month_first)
    if found.day > today:
        other = found.other
        if other is not None and other <= today:
            return ReadDay(other)
        raise AppraiseError(f"{_long(found.day)} lies in the future: no paper is dated so")
    if found.other is not None and found.other > today:
        return ReadDay(found.day)
    return found


def _read(plain: str, text: str, today: date, *, month_first: bool) -> ReadDay:
    compact = COMPACT.match(plain)
    if compact:
        return ReadDay(_day(*compact.groups(), text=text, today=today))
    numbers = NUMBERS.match(plain)
    if numbers:
        first, second, third = numbers.groups()
        if len(first) > 2:  # noqa: PLR2004 - only a year has more than two figures
            return ReadDay(_day(first, second, third, text=text, today=today))
        return _either(first, second, third, text, today, month_first=month_first)
    named = DAY_AND_WORD.match(plain)
    day, word, year = named.groups() if named else ("", "", "")
    if not named:
        other = WORD_AND_DAY.match(plain)
        if not other:
            raise AppraiseError(f"{text.strip()!r} is not a day", hint=EXAMPLE)
        word, day, year = other.groups()
    month = next((at for at, one in enumerate(MONTHS, 1) if word.startswith(one)), None)
    if month is None:
        raise AppraiseError(f"{word!r} is not a month", hint=EXAMPLE)
    return ReadDay(_day(year, str(month), day, text=text, today=today))


def _either(
    first: str, second: str, year: str, text: str, today: date, *, month_first: bool
) -> ReadDay:
    """Return the day of two numbers and a year: the one that can be, or the one that is usual."""
    orders = [(first, second), (second, first)]
    if not month_first:
        orders.reverse()
    days: list[date] = []
    for month, day in orders:
        try:
            days.append(_day(year, month, day, text=text, today=today))
        except AppraiseError:
            continue
    if not days:
        raise AppraiseError(f"{text.strip()!r} is not a day", hint=EXAMPLE)
    other = days[1] if len(days) > 1 and days[1] != days[0] else None
    return ReadDay(days[0], other)


def _day(year: str, month: str, day: str, *, text: str, today: date) -> date:
    number = int(year)
    if len(year) <= 2:  # noqa: PLR2004 - written with two figures
        number += today.year - today.year % TWO_DIGITS
        if number > today.year:
            number -= TWO_DIGITS
    try:
        found = date(number, int(month), int(day))
    except ValueError as error:
        raise AppraiseError(f"{text.strip()!r} is not a day", hint=EXAMPLE) from error
    if not FIRST_YEAR <= number <= LAST_YEAR:
        raise AppraiseError(f"the year {number} is not one of a car's papers", hint=EXAMPLE)
    return found


def _long(day: date) -> str:
    return f"{day.day} {day.strftime('%B')} {day.year}"
