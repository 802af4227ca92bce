"""When a tire was made, from the last group of its identification number (49 CFR 574.5)."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta

__all__ = ["Age", "Number", "TireDate", "age", "date_window", "read_date_code", "read_number"]

SYMBOLS = frozenset("ABCDEFHJKLMNPRTUVWXY0123456789")
"""49 CFR 574.5(f): no G, I, O, Q, S, Z."""
NEW_LENGTH, RETREAD_LENGTH = 13, 7
"""49 CFR 574.5(a): 3 plant + 6 maker + 4 date; 3 plant + 4 date."""
OLD_LENGTHS = range(8, 13)
"""With two-symbol plant codes, used until 13 April 2025 (49 CFR 574.5(g)), or with a maker's group
that was left short; the lengths are from memory."""
SHORT, LONG = 3, 4
SUNDAY = 6
OLD_DECADES = (1990, 1980, 1970)
DAYS_A_YEAR = 365.2425
OLDER_THAN_CAR = 1
"""Years by which a first tire may be older than the model year: common practice."""


@dataclass(frozen=True, slots=True)
class TireDate:
    """What a date code says.

    Attributes
    ----------
    code : its digits.
    first, last : days between which the tire was made; None if the code cannot be. Of a code of
        three digits the youngest of what it may mean.
    years : years that the code may mean; more than one for three digits, which name no decade.
    problems : what is wrong or doubtful, each a sentence.
    """

    code: str
    first: date | None
    last: date | None
    years: tuple[int, ...] = ()
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Age:
    """How old a tire is on a day, in years, at least and at most.

    Attributes
    ----------
    at_most : None if the code does not name the decade.
    """

    at_least: float
    at_most: float | None


@dataclass(frozen=True, slots=True)
class Number:
    """A tire identification number in its groups.

    Attributes
    ----------
    symbols : without "DOT", spaces and dashes.
    plant, maker : empty if the length leaves open where they end.
    problems : what is wrong or doubtful, each a sentence.
    """

    symbols: str
    plant: str
    maker: str
    made: TireDate
    problems: tuple[str, ...] = ()


def date_window(week: int, year: int) -> tuple[date, date] | None:
    """Return the Sunday and the Saturday of a week, or None if the year has no such week.

    Week 01 is the first full calendar week, Sunday to Saturday, of the year; the last week may
    run up to 6 days into the next (49 CFR 574.5(b)(3)). This is not the week of ISO 8601.

    Examples
    --------
    >>> [day.isoformat() for day in date_window(1, 2009)]
    ['2009-01-04', '2009-01-10']
    """
    start = date(year, 1, 1)
    first_sunday = start + timedelta(days=(SUNDAY - start.weekday()) % 7)
    sunday = first_sunday + timedelta(weeks=week - 1)
    if week < 1 or sunday.year != year:
        return None
    return sunday, sunday + timedelta(days=6)


def read_date_code(code: str, on: date, model_year: int | None = None) -> TireDate:
    """Return when a tire was made: week and year as in 3523, or three digits from before 2000.

    Parameters
    ----------
    code : as it stands on the tire.
    on : day of the look: a tire made after it cannot be.
    model_year : of the car; a tire made long before it came from elsewhere.
    """
    digits = code.strip()
    if not re.fullmatch(r"[0-9]{3,4}", digits):
        return TireDate(digits, None, None, (), ("a date code is three or four digits",))
    week = int(digits[:2])
    if len(digits) == SHORT:
        return _three_digits(digits, week)
    year = 2000 + int(digits[2:])
    window = date_window(week, year)
    if window is None:
        return TireDate(digits, None, None, (year,), (f"{year} has no week {week:02d}",))
    problems = []
    first, last = window
    if first > on:
        problems.append(
            f"made from {first.isoformat()} on, which is after {on.isoformat()}: misread"
        )
    if model_year is not None and year < model_year - OLDER_THAN_CAR:
        problems.append(f"made in {year}, before the car of {model_year}: it came from elsewhere")
    return TireDate(digits, first, last, (year,), tuple(problems))


def _three_digits(digits: str, week: int) -> TireDate:
    years = tuple(decade + int(digits[2]) for decade in OLD_DECADES)
    windows = [(year, window) for year in years if (window := date_window(week, year))]
    if not windows:
        return TireDate(digits, None, None, years, (f"no year has a week {week:02d}",))
    decade = "three digits: made before 2000, and the decade is not said; far too old to drive on"
    first, last = windows[0][1]
    return TireDate(digits, first, last, tuple(year for year, _ in windows), (decade,))


def age(made: TireDate, on: date) -> Age | None:
    """Return a tire's age on a day, or None if its code says no day or one after it.

    Parameters
    ----------
    made : as read from the code.
    on : day on which it is asked for.

    Examples
    --------
    >>> round(age(read_date_code("0109", date(2019, 1, 9)), date(2019, 1, 9)).at_most, 2)
    10.01
    """
    if made.first is None or made.last is None or made.first > on:
        return None
    least = max(0, (on - made.last).days) / DAYS_A_YEAR
    if len(made.years) > 1:
        return Age(least, None)
    return Age(least, (on - made.first).days / DAYS_A_YEAR)


def read_number(text: str, on: date, model_year: int | None = None) -> Number:
    """Return the groups of a tire identification number, with or without "DOT" before it.

    Parameters
    ----------
    text : as it stands on the tire, spaces and dashes as they come.
    on : day of the look.
    model_year : of the car.
    """
    symbols = re.sub(r"[\s-]", "", text.upper()).removeprefix("DOT")
    problems = []
    wrong = sorted(set(symbols) - SYMBOLS)
    if wrong:
        problems.append(f"{', '.join(wrong)}: never stands in a tire's number")
    count = len(symbols)
    size = LONG if symbols[-LONG:].isdecimal() else SHORT
    plant, maker = "", ""
    if count in (NEW_LENGTH, RETREAD_LENGTH):
        size = LONG
        plant, maker = symbols[:3], symbols[3:-LONG]
    elif count not in OLD_LENGTHS:
        problems.append(
            f"{count} symbols, where a new tire has {NEW_LENGTH}, a retread {RETREAD_LENGTH}, and "
            f"an old number {OLD_LENGTHS[0]} to {OLD_LENGTHS[-1]}"
        )
    made = read_date_code(symbols[-size:], on, model_year)
    return Number(symbols, plant, maker, made, tuple(problems))
