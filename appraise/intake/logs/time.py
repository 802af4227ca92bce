"""A log's column of time, however it is written, as seconds from its first row."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]

__all__ = ["FEWEST_ROWS", "PER_SECOND", "WORD", "in_seconds", "seconds_of", "spread_evenly"]

CLOCK = r"(?:(\d{1,3}):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)\s*([AaPp])?[Mm]?$"
"""Hours, minutes, seconds; minutes and seconds if there are two."""
QUICK = re.compile(r"\d{1,3}:\d{1,2}:\d{1,2}(?:[.,]\d+)?")
ISO = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}")
PER_SECOND = {"us": 1e6, "µs": 1e6, "ms": 1e3, "msec": 1e3, "s": 1.0, "min": 1 / 60, "h": 1 / 3600}
DAY = 86_400.0
COARSE = 10.0
"""Steps of whole numbers this large are taken for milliseconds."""
EPOCH_MS = 1e11
WORD = re.compile(r"(?i)(?:\b|_)(?:time|tine|zeit|clock|elapsed|run|secs?|seconds|stamp)(?:\b|_)")
"""Headings that speak of time, among other things."""
COUNTS = re.compile(
    r"(?i)(?:\b|_)(?:row|index|sample|frame|record|line|no|nr|number|count(?:er)?|id|column|dist\w*"
    r"|odometer|trip|mileage)(?:\b|_)|^#$"
)
"""Headings of what grows from row to row and is no time."""
FEWEST_ROWS = 20
LEAST_STEPS, MOST_FALLS, STRAIGHT = 0.1, 0.02, 0.98
"""New values a row; rows that fall back; square of the correlation with the count of rows. A tool
that asks for one value after the other writes the same second in several rows, or skips one. Our
estimate, no published source."""


def spread_evenly(values: Floats, heading: str) -> Floats | None:
    """Return a column that grows like a clock, rows of one value spread evenly to the next one.

    None if it does not: it falls, stands still for long, grows unevenly, or its heading counts
    something else.
    """
    if COUNTS.search(heading) or len(values) < FEWEST_ROWS:
        return None
    highest = np.fmax.accumulate(values)
    steps = np.flatnonzero(np.diff(highest, prepend=highest[0] - 1) > 0)
    rows = np.arange(len(values))
    falls = float(np.mean(~(values >= highest)))
    if len(steps) < LEAST_STEPS * len(values) or falls > MOST_FALLS:
        return None
    if not np.corrcoef(rows, highest)[0, 1] ** 2 >= STRAIGHT:
        return None
    out: Floats = np.interp(rows, steps, highest[steps])
    after = rows > steps[-1]
    a_row = (highest[steps[-1]] - highest[steps[0]]) / (steps[-1] - steps[0])
    out[after] += a_row * (rows[after] - steps[-1])
    return out


def seconds_of(cells: pd.Series, heading: str, unit: str) -> tuple[Floats | None, list[str]]:
    """Return seconds from the first row, and what was made of the column.

    Seconds, milliseconds, h:m:s with parts of a second (past midnight too) and ISO 8601 date-times
    are understood.

    Parameters
    ----------
    cells : the column as text.
    heading : which may say milliseconds.
    unit : as the file gives it, or an empty string.
    """
    filled = cells.dropna()
    first = "" if filled.empty else str(filled.iloc[0]).strip()
    said: list[str] = []
    words = cells.str.replace(",", ".", regex=False)
    if ISO.match(first):
        when = pd.to_datetime(words.str.strip(), format="ISO8601", errors="coerce", utc=True)
        seconds = _floats((when - pd.Timestamp(0, tz="UTC")).dt.total_seconds())
    elif re.search(CLOCK, first):
        seconds = _clock(words.str.strip(), first)
        midnights = np.diff(pd.Series(seconds).ffill(), prepend=np.nan) < -DAY / 2
        seconds = seconds + DAY * np.cumsum(midnights)
    else:
        seconds, said = in_seconds(_floats(pd.to_numeric(words, errors="coerce")), heading, unit)
    known = seconds[np.isfinite(seconds)]
    if len(known) == 0:
        return None, ["holds no time that can be read"]
    back = int((np.diff(known) < 0).sum())
    if back:
        times = "once" if back == 1 else f"{back:,} times"
        said.append(f"time runs backwards {times}: two logs in one, or lines out of order")
    return seconds - known[0], said


def _floats(cells: pd.Series) -> Floats:
    return cells.to_numpy(np.float64, na_value=np.nan)


def _clock(words: pd.Series, first: str) -> Floats:
    """Return seconds since midnight; the quick way if nothing but h:m:s stands there."""
    if QUICK.fullmatch(first):
        return _floats(pd.to_timedelta(words, errors="coerce").dt.total_seconds())
    parts = words.str.extract(CLOCK)
    hours, minutes, seconds = (
        _floats(pd.to_numeric(parts[at], errors="coerce")) for at in range(3)
    )
    hours = np.nan_to_num(hours)
    half = parts[3].str.lower()
    if half.notna().any():
        hours = hours % 12 + 12 * (half == "p").to_numpy(np.float64)
    return 3600 * hours + 60 * minutes + seconds


def in_seconds(numbers: Floats, heading: str, unit: str) -> tuple[Floats, list[str]]:
    """Return a column of numbers as seconds, and what was assumed of its unit."""
    word = unit.strip().lower()
    if word.startswith("sec"):
        word = "s"
    if not word and re.search(r"(?i)\bms\b|_ms\b|milli|msec", heading):
        word = "ms"
    if word in PER_SECOND:
        return numbers / PER_SECOND[word], []
    known = numbers[np.isfinite(numbers)]
    steps = np.diff(known)
    whole = bool(len(known)) and bool((known == np.round(known)).all())
    coarse = whole and len(steps) > 0 and float(np.median(steps)) >= COARSE
    if coarse or (len(known) > 0 and float(known[0]) > EPOCH_MS):
        return numbers / 1000, ["no unit is given: taken for milliseconds"]
    return numbers, [] if not word else [f"{unit!r} is no unit of time: taken for seconds"]
