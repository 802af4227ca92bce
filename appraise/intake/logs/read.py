"""A log from a scan tool, read from CSV as it comes: its columns, their names and units."""

from __future__ import annotations

import codecs
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from appraise.errors import AppraiseError, Problem
from appraise.given import TooLarge, file_bytes
from appraise.intake.logs.columns import KNOWN, TIME, Plan, plan_columns
from appraise.intake.logs.layout import GAPS, Layout, find_layout
from appraise.intake.logs.time import (
    FEWEST_ROWS,
    PER_SECOND,
    holds_the_word,
    in_seconds,
    seconds_of,
    spread_evenly,
)

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["MOST_BYTES", "BadLog", "Log", "read_log"]

MOST_BYTES = 64 * 2**20
MOST_ROWS = 2_000_000
MOST_LINES = 4_000_000
"""Looked at for rows, blank and broken ones among them."""
CHUNK = 20_000
SAMPLE = 2**18
ABSOLUTE_KPA = 80.0
NAMED = 8
"""Headings named in one message."""
SIGNATURES = {b"PK\x03\x04": "a spreadsheet or an archive", b"%PDF": "a PDF", b"\x1f\x8b": "packed"}


class BadLog(AppraiseError):
    """A file that cannot be read as a log."""


@dataclass(frozen=True, slots=True)
class Log:
    """A log by columns; gaps are NaN.

    Attributes
    ----------
    columns : known name to (rows,) values in the unit of the name; `time_s` counts from the first
        row. Without a column of time there is `row` instead.
    other : heading to (rows,) values of columns that are not of a known kind, as they stand.
    mapping : heading to known name, as used; may be kept and given again.
    units : heading to unit, as read or given.
    problems : what a person should know of it.
    """

    columns: Mapping[str, Floats]
    other: Mapping[str, Floats]
    mapping: Mapping[str, str]
    units: Mapping[str, str]
    rows: int
    separator: str
    decimal: str
    encoding: str
    problems: tuple[Problem, ...] = ()


@dataclass(slots=True)
class _Reading:
    """What is gathered while the file is read; `said` are the headings that a person mapped."""

    layout: Layout
    encoding: str
    plans: list[Plan]
    problems: list[Problem]
    rows: int = 0
    lines: int = 0
    parts: dict[int, list[Floats]] = field(default_factory=dict)
    times: list[pd.Series] = field(default_factory=list)
    texts: dict[int, int] = field(default_factory=dict)
    said: frozenset[str] = frozenset()


def read_log(
    source: bytes | Path,
    *,
    mapping: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
) -> Log:
    """Read a log.

    Parameters
    ----------
    source : the file, or what is in it.
    mapping : heading to known name (`rpm`, `map_kpa`, ...), or to an empty string for a column
        that is to be left alone; wins over what the headings look like.
    units : heading to unit; wins over what the file says.

    Raises
    ------
    BadLog
        It is too large, empty, no text, or holds no table of numbers.
    """
    mapping = dict(mapping or {})
    for heading, name in mapping.items():
        if name and name not in {one.name for one in KNOWN}:
            raise BadLog(f"{name!r} is not a kind of column that is known", where=heading)
    given = [name for name in mapping.values() if name]
    data, encoding = _text(_bytes(source))
    layout = find_layout(data[:SAMPLE].decode(encoding, errors="replace"))
    if isinstance(layout, str):
        raise BadLog(layout)
    problems = list(layout.problems)
    twice = {one for one in given if [mapping.get(h) for h in layout.headings].count(one) > 1}
    if twice:
        raise BadLog(f"two columns are given as {min(twice)}")
    plans, more = plan_columns(layout.headings, layout.units, mapping, units or {})
    reading = _Reading(layout, encoding, plans, [*problems, *more], said=frozenset(mapping))
    _read(data, reading)
    return _log(reading)


def _bytes(source: bytes | Path) -> bytes:
    try:
        data = source if isinstance(source, bytes) else file_bytes(source, MOST_BYTES)
    except TooLarge as error:
        raise _too_large(error.size) from error
    except AppraiseError as error:
        raise BadLog(error.message, where=error.where) from error
    if len(data) > MOST_BYTES:
        raise _too_large(len(data))
    return data


def _too_large(size: int) -> BadLog:
    return BadLog(
        f"{size / 2**20:.0f} MB is more than a log may have, {MOST_BYTES // 2**20} MB",
        hint="Cut out the drive that matters",
    )


def _text(data: bytes) -> tuple[bytes, str]:
    """Return the file as text with plain line ends, and its encoding."""
    if not data.strip():
        raise BadLog("the file is empty")
    for signature, what in SIGNATURES.items():
        if data.startswith(signature):
            raise BadLog(f"this is {what}, not a CSV", hint="Export the log as CSV")
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        data = data.decode("utf-16", errors="replace").encode()
    data = data.removeprefix(codecs.BOM_UTF8)
    if b"\0" in data:
        raise BadLog("holds NUL bytes: it is not text, or was cut off while it was written")
    start = data[:SAMPLE]
    control = len(re.findall(rb"[\x01-\x08\x0e-\x1a\x1c-\x1f\x7f]", start))
    if control > len(start) // 200:
        raise BadLog("this is not text", hint="Export the log as CSV")
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return data, "utf-8" if _is_utf8(data) else "latin-1"


def _is_utf8(data: bytes) -> bool:
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        for at in range(0, len(data), 2**20):
            decoder.decode(data[at : at + 2**20])
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def _read(data: bytes, reading: _Reading) -> None:
    """Read the lines of numbers into columns, part by part so that little is held at once."""
    import pandas as pd  # noqa: PLC0415

    layout = reading.layout
    start = 0
    for _ in range(layout.start):
        start = data.index(b"\n", start) + 1
    text = BytesIO(data)
    text.seek(start)
    times = {one.place for one in reading.plans if one.name == TIME}
    beyond = layout.width
    try:
        chunks = pd.read_csv(
            text,
            sep=layout.separator,
            header=None,
            names=list(range(layout.width + 1)),
            on_bad_lines="skip",
            index_col=False,
            dtype=dict.fromkeys({*times, beyond}, str),
            decimal=layout.decimal,
            na_values=list(GAPS),
            skipinitialspace=True,
            encoding=reading.encoding,
            encoding_errors="replace",
            chunksize=CHUNK,
            low_memory=False,
        )
        with chunks:
            for chunk in chunks:
                _take(chunk, reading, times)
                reading.lines += len(chunk)
                if reading.rows >= MOST_ROWS or reading.lines >= MOST_LINES:
                    message = f"only the first {reading.rows:,} rows are read"
                    reading.problems.append(Problem("rows", message))
                    break
    except pd.errors.ParserError as error:
        words = "a quotation mark is opened and never closed"
        if "EOF inside string" not in str(error):
            words = "the lines of numbers cannot be parted into columns"
        raise BadLog(words) from error
    except pd.errors.EmptyDataError as error:
        raise BadLog("no line of numbers stands under the heading") from error
    if reading.rows < MOST_ROWS and reading.lines < MOST_LINES:
        _count_left_out(data, start, reading)


def _take(chunk: pd.DataFrame, reading: _Reading, times: set[int]) -> None:
    """Add one part of the file to the columns.

    Lines without a number and without a time are left out, and so are those with too many fields:
    a column beyond the last catches what they have too much.
    """
    import numpy as np  # noqa: PLC0415
    import pandas as pd  # noqa: PLC0415

    numbers: dict[int, Floats] = {}
    for plan in reading.plans:
        place = plan.place
        if place in times:
            continue
        cells = chunk[place]
        if not pd.api.types.is_numeric_dtype(cells):
            words = cells.astype(str)
            if reading.layout.decimal == ",":
                words = words.str.replace(",", ".", regex=False)
            made = pd.to_numeric(words, errors="coerce")
            reading.texts[place] = reading.texts.get(place, 0) + int(
                (made.isna() & cells.notna()).sum()
            )
            cells = made
        values = cells.to_numpy(dtype=np.float64, na_value=np.nan)
        numbers[place] = np.where(np.isfinite(values), values, np.nan)
    some = np.zeros(len(chunk), dtype=bool)
    for values in numbers.values():
        some |= ~np.isnan(values)
    for place in times:
        some |= chunk[place].str.match(r"\s*[-+]?\d").fillna(value=False).to_numpy(dtype=bool)
    some &= chunk[reading.layout.width].isna().to_numpy()
    for place, values in numbers.items():
        reading.parts.setdefault(place, []).append(values[some])
    for place in times:
        reading.times.append(chunk[place][some])
    reading.rows += int(some.sum())


def _count_left_out(data: bytes, start: int, reading: _Reading) -> None:
    import numpy as np  # noqa: PLC0415

    ends = np.flatnonzero(np.frombuffer(data, np.uint8)[start:] == ord("\n"))
    blank = int((np.diff(ends, prepend=-1) == 1).sum())
    lines = len(ends) - blank + (not data.endswith(b"\n"))
    left_out = lines - reading.rows
    if left_out > 0:
        words = "1 line holds" if left_out == 1 else f"{left_out:,} lines hold"
        reading.problems.append(
            Problem("rows", f"{words} no numbers, or too many fields, and are left out")
        )


def _log(reading: _Reading) -> Log:
    """Put the parts together, in known units."""
    if reading.rows == 0:
        raise BadLog("no line of numbers stands under the heading")
    if reading.rows == 1:
        reading.problems.append(Problem("rows", "one row only: nothing can be seen to change"))
    columns, other = _columns(reading)
    _find_time(columns, other, reading)
    _say_what_is_odd(columns, reading)
    layout = reading.layout
    return Log(
        columns,
        other,
        {one.heading: one.name for one in reading.plans if one.name in columns},
        {one.heading: one.unit for one in reading.plans if one.unit},
        reading.rows,
        layout.separator,
        layout.decimal,
        reading.encoding,
        tuple(reading.problems),
    )


def _columns(reading: _Reading) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Return known and other columns; those of words are left out and said."""
    import numpy as np  # noqa: PLC0415

    columns: dict[str, Floats] = {}
    other: dict[str, Floats] = {}
    words: list[str] = []
    mixed: list[str] = []
    for plan in reading.plans:
        if plan.name == TIME:
            _take_time(plan, columns, reading)
            continue
        values = np.concatenate(reading.parts.pop(plan.place))
        if np.isnan(values).all():
            words.append(plan.heading)
            continue
        if reading.texts.get(plan.place):
            mixed.append(f"{plan.heading} {reading.texts[plan.place]:,}")
        if (plan.slope, plan.offset) != (1.0, 0.0):
            values = values * plan.slope + plan.offset
        (columns if plan.name else other)[plan.name or plan.heading] = values
    for names, what in (
        (words, "hold no numbers and are left out: "),
        (mixed, "cells that are no numbers become gaps: "),
    ):
        if names:
            more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
            message = f"{what}{', '.join(names[:NAMED])}{more}"
            reading.problems.append(Problem("columns", message, "note"))
    return columns, other


def _take_time(plan: Plan, columns: dict[str, Floats], reading: _Reading) -> None:
    """Take the column that is called time, unless it stands still; say what was made of it."""
    seconds, said = seconds_of(reading.times, plan.heading, plan.unit)
    if seconds is not None:
        changes = int((seconds[1:] != seconds[:-1]).sum())
        even = spread_evenly(seconds, "") if 2 * changes < len(seconds) else None
        if len(seconds) >= FEWEST_ROWS and not changes and plan.heading not in reading.said:
            said = ["stands still: not taken for the time"]
        elif even is not None:
            columns[TIME] = even
            said = [*said, "stands in several rows: spread evenly over them"]
        else:
            columns[TIME] = seconds
    reading.problems += [Problem(plan.heading, one, "note") for one in said]


def _find_time(columns: dict[str, Floats], other: dict[str, Floats], reading: _Reading) -> None:
    """Take the column that grows evenly for the time; say which, and what only holds the word."""
    if TIME in columns:
        return
    places = {one.heading: at for at, one in enumerate(reading.plans) if one.heading in other}
    for heading in sorted(places, key=lambda one: not holds_the_word(one)):
        plan = reading.plans[places[heading]]
        timed = not plan.unit or plan.unit.lower() in PER_SECOND
        free = timed and TIME not in columns and heading not in reading.said
        even = spread_evenly(other[heading], heading) if free else None
        if even is not None:
            del other[heading]
            seconds, said = in_seconds(even, heading, plan.unit)
            columns[TIME] = seconds - seconds[0]
            reading.plans[places[heading]] = replace(plan, name=TIME)
            words = "; ".join(["grows evenly from row to row: taken for the time", *said])
            reading.problems.append(Problem(heading, words, "note"))
        elif holds_the_word(heading):
            message = "holds a word for time, but is not what grows evenly: not taken for the time"
            reading.problems.append(Problem(heading, message, "note"))


def _say_what_is_odd(columns: dict[str, Floats], reading: _Reading) -> None:
    import numpy as np  # noqa: PLC0415

    if TIME not in columns:
        columns["row"] = np.arange(reading.rows, dtype=np.float64)
        reading.problems.append(Problem(TIME, "no column of time: rows are counted instead"))
    for name in ("boost_kpa", "boost_target_kpa"):
        if name in columns and np.nanmin(columns[name]) > ABSOLUTE_KPA:
            low = f"never below {np.nanmin(columns[name]):.0f} kPa: it may be absolute"
            hint = f"If so, give it as {name.replace('boost', 'map')}"
            reading.problems.append(Problem(name, low, "warning", hint))
