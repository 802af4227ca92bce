"""A log from a scan tool, read from CSV as it comes: its columns, their names and units."""

from __future__ import annotations

import codecs
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from io import BytesIO
from pathlib import Path
from statistics import mode
from typing import Literal

import numpy as np
import pandas as pd

from appraise.errors import AppraiseError, Problem
from appraise.given import TooLarge, file_bytes
from appraise.intake.logs.columns import KNOWN, TIME, Plan, plan_columns
from appraise.intake.logs.layout import GAPS, BadLog, Layout, find_layout
from appraise.intake.logs.time import (
    FEWEST_ROWS,
    PER_SECOND,
    WORD,
    Floats,
    in_seconds,
    seconds_of,
    spread_evenly,
)

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


@dataclass(frozen=True, slots=True)
class Log:
    """A log by columns; gaps are NaN.

    Attributes
    ----------
    columns : known name to (rows,) values in the unit of the name; `time_s` counts from the first
        row. Without a column of time there is `row` instead.
    other : heading to (rows,) values of columns that are not of a known kind, as they stand.
    mapping : heading to known name, as used; may be kept and given again.
    units : heading to unit, as read.
    problems : what a person should know of it.
    """

    columns: Mapping[str, Floats]
    other: Mapping[str, Floats]
    mapping: Mapping[str, str]
    units: Mapping[str, str]
    rows: int
    problems: tuple[Problem, ...]

    @property
    def barometer_kpa(self) -> float | None:
        """The middle of what the log's own barometer says; None without one."""
        baro = self.columns.get("baro_kpa")
        return None if baro is None else float(np.nanmedian(baro))


def read_log(source: bytes | Path, *, mapping: Mapping[str, str] | None = None) -> Log:
    """Read a log.

    Parameters
    ----------
    source : the file, or what is in it.
    mapping : heading to known name (`rpm`, `map_kpa`, ...), or to an empty string for a column
        that is to be left alone; wins over what the headings look like.

    Raises
    ------
    BadLog
        It is too large, empty, no text, or holds no table of numbers.
    """
    mapping = dict(mapping or {})
    for heading, name in mapping.items():
        if name and name not in KNOWN:
            raise BadLog(f"{name!r} is not a kind of column that is known", where=heading)
    data, encoding = _text(_bytes(source))
    layout = find_layout(data[:SAMPLE].decode(encoding, errors="replace"))
    given = [mapping[one] for one in layout.headings if mapping.get(one)]
    if len(set(given)) < len(given):
        raise BadLog(f"two columns are given as {mode(sorted(given))}")
    plans, problems = plan_columns(layout.headings, mapping)
    reading = _Reading(layout, encoding, plans, [*layout.problems, *problems], mapping)
    return reading.log(data.split(b"\n", layout.start)[-1])


def _bytes(source: bytes | Path) -> bytes:
    try:
        data = source if isinstance(source, bytes) else file_bytes(source, MOST_BYTES)
        size = len(data)
    except TooLarge as error:
        size = error.size
    except AppraiseError as error:
        raise BadLog(error.message, where=error.where) from error
    if size > MOST_BYTES:
        raise BadLog(
            f"{size / 2**20:.0f} MB is more than a log may have, {MOST_BYTES // 2**20} MB",
            hint="Cut out the drive that matters",
        )
    return data


def _text(data: bytes) -> tuple[bytes, str]:
    """Return the file as text with plain line ends and no blank lines, and its encoding."""
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
    if len(re.findall(rb"[\x01-\x08\x0e-\x1a\x1c-\x1f\x7f]", start)) > len(start) // 200:
        raise BadLog("this is not text", hint="Export the log as CSV")
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if b"\n\n" in data:
        data = re.sub(rb"\n\n+", b"\n", data)
    try:
        data.decode()
    except UnicodeDecodeError:
        return data, "latin-1"
    return data, "utf-8"


@dataclass(slots=True)
class _Reading:
    """What is known while a file is read; `texts` counts a place's cells that are no numbers."""

    layout: Layout
    encoding: str
    plans: list[Plan]
    problems: list[Problem]
    mapping: Mapping[str, str]
    texts: Counter[int] = field(default_factory=Counter)

    def log(self, body: bytes) -> Log:
        """Return the log that lines of numbers hold, in known units."""
        frame = self.frame(body)
        if frame.empty:
            raise BadLog("no line of numbers stands under the heading")
        if len(frame) == 1:
            self.say("rows", "one row only: nothing can be seen to change", "warning")
        columns, other = self.columns(frame)
        if TIME not in columns:
            self.find_time(columns, other)
        if TIME not in columns:
            columns["row"] = np.arange(len(frame), dtype=np.float64)
            self.say(TIME, "no column of time: rows are counted instead", "warning")
        for name in ("boost_kpa", "boost_target_kpa"):
            if name in columns and (lowest := np.nanmin(columns[name])) > ABSOLUTE_KPA:
                low = f"never below {lowest:.0f} kPa: it may be absolute"
                hint = f"If so, give it as {name.replace('boost', 'map')}"
                self.problems.append(Problem(name, low, "warning", hint))
        return Log(
            columns,
            other,
            {one.heading: one.name for one in self.plans if one.name in columns},
            {one.heading: one.unit for one in self.plans if one.unit},
            len(frame),
            tuple(self.problems),
        )

    def say(self, where: str, message: str, weight: Literal["note", "warning"] = "note") -> None:
        """Keep something that a person should know of the log."""
        self.problems.append(Problem(where, message, weight))

    def frame(self, body: bytes) -> pd.DataFrame:
        """Return the rows by place of the column, part by part so that little is held at once."""
        width = len(self.layout.headings)
        times = [one.place for one in self.plans if one.name == TIME]
        parts: list[pd.DataFrame] = []
        rows = lines = 0
        try:
            with pd.read_csv(
                BytesIO(body),
                sep=self.layout.separator,
                header=None,
                names=list(range(width + 1)),
                on_bad_lines="skip",
                index_col=False,
                dtype=dict.fromkeys([*times, width], str),
                decimal=self.layout.decimal,
                na_values=GAPS,
                skipinitialspace=True,
                encoding=self.encoding,
                encoding_errors="replace",
                chunksize=CHUNK,
                low_memory=False,
            ) as chunks:
                for chunk in chunks:
                    parts.append(self.rows(chunk, times))
                    rows, lines = rows + len(parts[-1]), lines + len(chunk)
                    if rows >= MOST_ROWS or lines >= MOST_LINES:
                        self.say("rows", f"only the first {rows:,} rows are read", "warning")
                        return pd.concat(parts, ignore_index=True)
        except pd.errors.ParserError as error:
            words = "a quotation mark is opened and never closed"
            if "EOF inside string" not in str(error):
                words = "the lines of numbers cannot be parted into columns"
            raise BadLog(words) from error
        left_out = body.count(b"\n") + (not body.endswith(b"\n")) - rows
        if left_out > 0:
            words = "1 line holds" if left_out == 1 else f"{left_out:,} lines hold"
            message = f"{words} no numbers, or too many fields, and are left out"
            self.say("rows", message, "warning")
        return pd.concat(parts, ignore_index=True)

    def rows(self, chunk: pd.DataFrame, times: list[int]) -> pd.DataFrame:
        """Return the rows of one part of the file: numbers, and times as they are written.

        Lines without a number and without a time are left out, and so are those with too many
        fields: a column beyond the last catches what they have too much.
        """
        places = [one.place for one in self.plans if one.place not in times]
        for place in places:
            cells = chunk[place]
            if not pd.api.types.is_numeric_dtype(cells):
                words = cells.astype(str).str.replace(self.layout.decimal, ".", regex=False)
                chunk[place] = pd.to_numeric(words, errors="coerce")
                self.texts[place] += int((chunk[place].isna() & cells.notna()).sum())
        values = chunk[places].to_numpy(np.float64)
        finite = np.isfinite(values)
        out = pd.DataFrame(np.where(finite, values, np.nan), chunk.index, places)
        some = pd.Series(finite.any(axis=1), chunk.index)
        for place in times:
            out[place] = chunk[place]
            if not some.all():
                some |= chunk[place].str.match(r"\s*[-+]?\d").eq(other=True)
        return out[some & chunk[len(self.layout.headings)].isna()]

    def columns(self, frame: pd.DataFrame) -> tuple[dict[str, Floats], dict[str, Floats]]:
        """Return known and other columns; those of words are left out and said."""
        columns: dict[str, Floats] = {}
        other: dict[str, Floats] = {}
        words: list[str] = []
        mixed: list[str] = []
        for plan in self.plans:
            if plan.name == TIME:
                seconds = self.time(frame[plan.place], plan)
                if seconds is not None:
                    columns[TIME] = seconds
                continue
            values = frame[plan.place].to_numpy()
            if np.isnan(values).all():
                words.append(plan.heading)
                continue
            if self.texts[plan.place]:
                mixed.append(f"{plan.heading} {self.texts[plan.place]:,}")
            if (plan.slope, plan.offset) != (1.0, 0.0):
                values = values * plan.slope + plan.offset
            (columns if plan.name else other)[plan.name or plan.heading] = values
        for names, what in (
            (words, "hold no numbers and are left out: "),
            (mixed, "cells that are no numbers become gaps: "),
        ):
            if names:
                more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
                self.say("columns", f"{what}{', '.join(names[:NAMED])}{more}")
        return columns, other

    def time(self, cells: pd.Series, plan: Plan) -> Floats | None:
        """Return the column called time, unless it stands still; say what was made of it."""
        seconds, said = seconds_of(cells, plan.heading, plan.unit)
        if seconds is not None:
            changes = int((seconds[1:] != seconds[:-1]).sum())
            even = spread_evenly(seconds, "") if 2 * changes < len(seconds) else None
            if len(seconds) >= FEWEST_ROWS and not changes and plan.heading not in self.mapping:
                seconds, said = None, ["stands still: not taken for the time"]
            elif even is not None:
                seconds, said = even, [*said, "stands in several rows: spread evenly over them"]
        for one in said:
            self.say(plan.heading, one)
        return seconds

    def find_time(self, columns: dict[str, Floats], other: dict[str, Floats]) -> None:
        """Take what grows evenly for the time; say which, and what only holds the word."""
        places = [at for at, one in enumerate(self.plans) if one.heading in other]
        for at in sorted(places, key=lambda at: not WORD.search(self.plans[at].heading)):
            plan = self.plans[at]
            heading = plan.heading
            timed = not plan.unit or plan.unit.lower() in PER_SECOND
            free = timed and TIME not in columns and heading not in self.mapping
            even = spread_evenly(other[heading], heading) if free else None
            if even is not None:
                del other[heading]
                seconds, said = in_seconds(even, heading, plan.unit)
                columns[TIME] = seconds - seconds[0]
                self.plans[at] = replace(plan, name=TIME)
                evenly = "grows evenly from row to row: taken for the time"
                self.say(heading, "; ".join([evenly, *said]))
            elif WORD.search(heading):
                words = "holds a word for time, but is not what grows evenly"
                self.say(heading, f"{words}: not taken for the time")
