"""A log's column of time, however it is written, as seconds from its first row."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = [
    "FEWEST_ROWS",
    "PER_SECOND",
    "holds_the_word",
    "in_seconds",
    "seconds_of",
    "spread_evenly",
]

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


def holds_the_word(heading: str) -> bool:
    """Whether a heading speaks of time, among other things."""
    return WORD.search(heading) is not None


def spread_evenly(values: Floats, heading: str) -> Floats | None:
    """Return a column that grows like a clock, rows of one value spread evenly to the next one.

    None if it does not: it falls, stands still for long, grows unevenly, or its heading counts
    something else.
    """
    import numpy as np  # noqa: PLC0415

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


def seconds_of(
    parts: Sequence[pd.Series], heading: str, unit: str
) -> tuple[Floats | None, list[str]]:
    """Return seconds from the first row, and what was made of the column.

    Seconds, milliseconds, h:m:s with parts of a second (past midnight too) and ISO 8601 date-times
    are understood.

    Parameters
    ----------
    parts : the column as text, in parts.
    heading : which may say milliseconds.
    unit : as the file gives it, or an empty string.
    """
    import numpy as np  # noqa: PLC0415

    first = next((str(one.dropna().iloc[0]).strip() for one in parts if one.notna().any()), "")
    said: list[str] = []
    if ISO.match(first):
        seconds = np.concatenate([_epoch(part) for part in parts])
    elif re.search(CLOCK, first):
        seconds = _past_midnight(np.concatenate([_clock(part, first) for part in parts]))
    else:
        numbers = np.concatenate([_numbers(part) for part in parts])
        seconds, said = in_seconds(numbers, heading, unit)
    known = np.flatnonzero(np.isfinite(seconds))
    if len(known) == 0:
        return None, ["holds no time that can be read"]
    seconds = seconds - seconds[known[0]]
    back = int((np.diff(seconds[known]) < 0).sum())
    if back:
        times = "once" if back == 1 else f"{back:,} times"
        said.append(f"time runs backwards {times}: two logs in one, or lines out of order")
    return seconds, said


def _numbers(cells: pd.Series) -> Floats:
    import numpy as np  # noqa: PLC0415
    import pandas as pd  # noqa: PLC0415

    words = cells.str.replace(",", ".", regex=False)
    return pd.to_numeric(words, errors="coerce").to_numpy(np.float64, na_value=np.nan)


def _epoch(cells: pd.Series) -> Floats:
    import numpy as np  # noqa: PLC0415
    import pandas as pd  # noqa: PLC0415

    when = pd.to_datetime(cells.str.strip(), format="ISO8601", errors="coerce", utc=True)
    spans = (when - pd.Timestamp(0, tz="UTC")).dt.total_seconds()
    return np.asarray(spans, dtype=np.float64)


def _clock(cells: pd.Series, first: str) -> Floats:
    """Return seconds since midnight; the quick way if nothing but h:m:s stands there."""
    import numpy as np  # noqa: PLC0415
    import pandas as pd  # noqa: PLC0415

    words = cells.str.replace(",", ".", regex=False).str.strip()
    if QUICK.fullmatch(first):
        spans = pd.to_timedelta(words, errors="coerce")
        return np.asarray(spans.dt.total_seconds(), dtype=np.float64)
    parts = words.str.extract(CLOCK)
    hours, minutes, whole = (
        pd.to_numeric(parts[at], errors="coerce").to_numpy(np.float64, na_value=np.nan)
        for at in range(3)
    )
    hours = np.nan_to_num(hours)
    half = parts[3].str.lower()
    if half.notna().any():
        hours = hours % 12 + 12 * (half == "p").to_numpy(np.float64)
    out: Floats = 3600 * hours + 60 * minutes + whole
    return out


def _past_midnight(seconds: Floats) -> Floats:
    import numpy as np  # noqa: PLC0415

    known = np.flatnonzero(np.isfinite(seconds))
    if len(known):
        midnights = np.concatenate([[0], np.cumsum(np.diff(seconds[known]) < -DAY / 2)])
        seconds[known] += DAY * midnights
    return seconds


def in_seconds(numbers: Floats, heading: str, unit: str) -> tuple[Floats, list[str]]:
    """Return a column of numbers as seconds, and what was assumed of its unit."""
    import numpy as np  # noqa: PLC0415

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
