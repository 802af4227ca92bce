"""Days as people write them: year first, day first, month first, the month as a word."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime

from appraise.errors import AppraiseError

__all__ = ["ReadDay", "read_day"]

WRITTEN = re.compile(r"\d{8}|(?!\d+$)[\da-z\s,./-]{6,40}", re.ASCII | re.IGNORECASE)
"""No time of day, and not six figures in a row, which have three readings."""
FIRST_YEAR = 1886
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
    days = _days(" ".join(text.split()), today, (not month_first, month_first))
    if not days:
        raise AppraiseError(f"{text.strip()!r} is not a day", hint=EXAMPLE)
    past = [one for one in days if one <= today]
    if not past:
        raise AppraiseError(f"{_long(days[0])} lies in the future: no paper is dated so")
    if past[0].year < FIRST_YEAR:
        message = f"the year {past[0].year} is not one of a car's papers"
        raise AppraiseError(message, hint=EXAMPLE)
    return ReadDay(*past)


def _days(plain: str, today: date, orders: tuple[bool, bool]) -> list[date]:
    """Return the days that a text may mean, the first order's first."""
    from dateutil import parser  # noqa: PLC0415 - only where a day is typed

    def whole_year(year: int, century_specified: bool) -> int:  # noqa: FBT001 - the library's way
        """Take two figures of a year as one of the last hundred."""
        return year if century_specified else today.year - (today.year - year) % 100

    info = parser.parserinfo()
    info.convertyear = whole_year
    if not WRITTEN.fullmatch(plain):
        return []
    found: list[date] = []
    for day_first in orders if not plain[:4].isdigit() else (False,):
        # what the text does not say is taken from the default: two defaults show that
        defaults = (datetime(2000, 1, 1), datetime(2004, 2, 2))  # noqa: DTZ001 - days alone
        try:
            read = {
                parser.parse(plain, info, default=one, dayfirst=day_first, ignoretz=True).date()
                for one in defaults
            }
        except (ValueError, OverflowError):
            continue
        if len(read) == 1:
            found += read - set(found)
    return found


def _long(day: date) -> str:
    return f"{day.day} {day.strftime('%B')} {day.year}"
