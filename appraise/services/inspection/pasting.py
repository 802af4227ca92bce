"""Comparable cars pasted from a spreadsheet or typed as a list."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any, Literal

from pydantic import ValidationError

from appraise.errors import Problem
from appraise.intake.advert_line import Order, Reading, Role, read_line, role_of_heading
from appraise.models.market import Comparable, Condition, PriceKind, SoldBy
from appraise.models.problems import problems_of
from appraise.models.vehicle import age_in_years
from appraise.reference.load import Reference
from appraise.reports.wording import CONDITIONS as CONDITIONS_SAID
from appraise.services.cases.editing import free_id

__all__ = ["Order", "Pasted", "PastedRow", "paste_comparables"]

MOST_LINES = 500
LONGEST_LINE = 400
"""Characters; the time to look for the figures in an advert grows with their square."""
SHOWN = 100
"""Characters of a line that are quoted when it cannot be read."""
FEWEST_TO_FIT = 4
APART, LEAST_SPREAD = 3.0, 0.2
"""A row is marked from so many spreads of log price on, the spread never taken for less than a
fifth: a misread price is to stand out, not a dear car. Our estimate, no published source."""
SCALE_OF_MAD = 1.4826
"""Of the median absolute deviation to a normal's standard deviation: 1 / 0.6745."""

KINDS = {
    PriceKind.SOLD: r"(?<!not )(?<!be )sold(?! (?:as|with)\b)",
    PriceKind.ASKED: r"ask(?:ed|ing)",
}
OFFERED = {
    SoldBy.DEALER: r"dealer(?:s|ship)?",
    SoldBy.PRIVATE: r"private(?:ly)?(?: seller)?",
    SoldBy.AUCTION: r"auction(?:ed)?",
}
CONDITIONS = {
    Condition.TIDIER: r"(?:tidier|(?:in )?better(?: condition)?)",
    Condition.ALIKE: r"(?:alike|same condition)",
    Condition.ROUGHER: r"(?:rougher|(?:in )?worse(?: condition)?)",
}


@dataclass(frozen=True, slots=True)
class PastedRow:
    """What was understood of one line.

    Attributes
    ----------
    line : from 1.
    text : the line, cut where it is long.
    comparable : None if the line is not clear.
    problem : what is missing, or which two readings there are; empty if it is clear.
    remark : what only the order or a choice between words says.
    odd : that the price does not fit the others; empty if it does.
    """

    line: int
    text: str
    comparable: Comparable | None = None
    problem: str = ""
    remark: str = ""
    odd: str = ""


@dataclass(frozen=True, slots=True)
class Pasted:
    """What was read from pasted lines.

    Attributes
    ----------
    rows : one a line that holds a figure.
    rest : the text of what could not be read, with its headings; empty if all could.
    problems : what is said of the whole.
    """

    rows: tuple[PastedRow, ...]
    rest: str = ""
    problems: tuple[Problem, ...] = ()

    @property
    def comparables(self) -> tuple[Comparable, ...]:
        """Those of the lines that are clear."""
        return tuple(one.comparable for one in self.rows if one.comparable is not None)

    @property
    def unread(self) -> tuple[PastedRow, ...]:
        """The lines that are not."""
        return tuple(one for one in self.rows if one.comparable is None)


@dataclass(frozen=True, slots=True)
class _Choices:
    """What holds for every line that does not say it itself."""

    unit: Literal["mi", "km"]
    currency: str
    last_year: int
    order: Order | None
    kind: PriceKind | None
    sold_by: SoldBy | None


@dataclass(frozen=True, slots=True)
class _Heading:
    separator: str
    columns: tuple[tuple[Role, str], ...]


def paste_comparables(
    text: str,
    reference: Reference,
    *,
    unit: Literal["mi", "km"],
    currency: str,
    on: date,
    taken: Sequence[str] = (),
    before: Sequence[Comparable] = (),
    order: Order | None = None,
    kind: PriceKind | None = None,
    sold_by: SoldBy | None = None,
) -> Pasted:
    """Read comparables, a line each, and mark the rows that do not fit the others.

    Parameters
    ----------
    text : pasted lines; one without a digit is a heading, and names its columns if it can.
    unit : of distances that name none.
    currency : of the case; a line in another one is not taken.
    on : today.
    taken : ids that are in use.
    before : comparables that are there already.
    order : what comes first, distance or price, where nothing marks them; None to ask.
    kind, sold_by : of lines that do not say it.
    """
    choices = _Choices(unit, currency, on.year + 1, order, kind, sold_by)
    rows: list[PastedRow] = []
    problems: list[Problem] = []
    used = list(taken)
    heading: _Heading | None = None
    lines = _lines(text)
    for number, line in enumerate(lines[:MOST_LINES], start=1):
        if not re.search(r"\d", line[: LONGEST_LINE + 1]) and len(line) <= LONGEST_LINE:
            heading = _heading(line) or heading
            continue
        row = PastedRow(number, line.strip()[:SHOWN])
        if len(line) > LONGEST_LINE:
            row = replace(row, problem=f"is longer than {LONGEST_LINE:,} characters")
        else:
            row = _row(row, line, heading, choices, free_id("comp", used))
        if row.comparable is not None:
            used.append(row.comparable.id)
        rows.append(row)
    if len(lines) > MOST_LINES:
        said = f"and all after it are not read yet: {MOST_LINES} are read at once"
        problems.append(Problem(f"line {MOST_LINES + 1}", said, "stop", "They stay in the box"))
    rows = _marked(rows, before, reference, on, currency)
    return Pasted(tuple(rows), _rest(text, rows), tuple(problems))


def _rest(text: str, rows: list[PastedRow]) -> str:
    read = {one.line for one in rows if one.comparable is not None}
    done = {one.line for one in rows}
    lines = list(enumerate(text.splitlines(), start=1))
    if not any(number not in read for number, _ in lines if number in done or number > MOST_LINES):
        return ""
    return "\n".join(line for number, line in lines if number not in read and line.strip())


def _lines(text: str) -> list[str]:
    """Return the lines that are read, and one more if there are more."""
    kept = text[: (MOST_LINES + 1) * (LONGEST_LINE + 1)]
    return kept.splitlines()[: MOST_LINES + 1]


def _heading(line: str) -> _Heading | None:
    """Return what the columns are, if the line names two of the three."""
    for separator in ("\t", ";", "|", ","):
        columns = tuple(role_of_heading(one) for one in line.split(separator))
        if len({role for role, _ in columns if role}) > 1:
            return _Heading(separator, columns)
    return None


def _parts(line: str, heading: _Heading | None) -> list[tuple[str, Role, str]]:
    """Return the columns under a heading, or the whole line where there is none that fits."""
    if heading is not None:
        cells = next(csv.reader([line], delimiter=heading.separator, skipinitialspace=True), [])
        if len(cells) == len(heading.columns):
            return [
                (cell, role, unit)
                for cell, (role, unit) in zip(cells, heading.columns, strict=True)
            ]
    return [(line, "", "")]


def _row(
    row: PastedRow, line: str, heading: _Heading | None, choices: _Choices, name: str
) -> PastedRow:
    line, reading = read_line(
        _parts(line, heading),
        currency=choices.currency,
        last_year=choices.last_year,
        order=choices.order,
    )
    if reading.unclear:
        return replace(row, problem=reading.unclear)
    price = reading.figures["price"]
    if price.unit not in ("", choices.currency):
        said = f"the price is in {price.unit}: write it in {choices.currency}"
        return replace(row, problem=said)
    far = reading.figures["distance"]
    words = _without_figures(line, reading)
    remarks = []
    raw: dict[str, Any] = {
        "id": name,
        "model_year": int(reading.figures["year"].value),
        "odometer": {"value": far.value, "unit": far.unit or choices.unit},
        "price": price.value,
    }
    for field, known, default in (
        ("kind", KINDS, choices.kind),
        ("sold_by", OFFERED, choices.sold_by),
        ("condition", CONDITIONS, None),
    ):
        words, found = _take(words, known)
        if len(found) > 1:
            both = sorted(CONDITIONS_SAID.get(one, one) for one in found)
            remarks.append(f"{' and '.join(both)} are both in it: neither is taken")
        elif found or default is not None:
            raw[field] = found[0] if found else default
    if reading.by_order:
        what = "price" if far.unit or far.role == "distance" else "distance"
        figure = reading.figures[what]  # type: ignore[index]
        remarks.insert(0, f"{figure.text} read as the {what}: no unit, no sign")
    kept = (one.strip(",") for one in re.split(r"[\s;|]+", words))
    raw["note"] = " ".join(one for one in kept if re.search(r"\w", one))
    try:
        comparable = Comparable.model_validate(raw)
    except ValidationError as error:
        first = problems_of(error)[0]
        return replace(row, problem=f"{first.where} {first.message}")
    return replace(row, comparable=comparable, remark="; ".join(remarks))


def _without_figures(line: str, reading: Reading) -> str:
    for one in sorted(reading.figures.values(), key=lambda one: -one.start):
        line = line[: one.start] + " " + line[one.stop :]
    return line


def _take(words: str, known: dict[Any, str]) -> tuple[str, list[Any]]:
    """Return the words without those that are known, and what these say."""
    found = []
    for value, pattern in known.items():
        wanted = re.compile(rf"\b{pattern}\b", re.IGNORECASE)
        if wanted.search(words):
            found.append(value)
            words = wanted.sub(" ", words)
    return words, found


def _marked(
    rows: list[PastedRow],
    before: Sequence[Comparable],
    reference: Reference,
    on: date,
    currency: str,
) -> list[PastedRow]:
    """Mark the rows whose price lies far from what the others point to.

    Residuals of log price from the line with the usual slopes by age and distance through their
    median; spread by the median absolute deviation, at least the usual one.
    """
    import numpy as np  # noqa: PLC0415 - a bid from the command line does without

    from appraise.engine.catalog.values import Lookup  # noqa: PLC0415
    from appraise.engine.resale.resale import market_prior  # noqa: PLC0415

    there = [one for one in before if not one.left_out and one.currency in (None, currency)]
    new = [one.comparable for one in rows if one.comparable is not None]
    cars = [*new, *there]
    if len(cars) < FEWEST_TO_FIT or not new:
        return rows
    ages = np.array([age_in_years(one.model_year, on) for one in cars])
    miles = np.array([float(one.odometer.miles) for one in cars])
    prices = np.log([float(one.price) for one in cars])
    prior = market_prior(float(np.median(ages)), Lookup(reference))
    line = prior.mean[1] * ages + prior.mean[2] * miles / 10_000
    residuals = prices - line
    middle = float(np.median(residuals))
    away = residuals - middle
    spread = max(prior.scale, LEAST_SPREAD, SCALE_OF_MAD * float(np.median(np.abs(away))))
    out, at = [], 0
    for row in rows:
        if row.comparable is None:
            out.append(row)
            continue
        odd = ""
        if abs(away[at]) > APART * spread:
            usual = Decimal(float(np.exp(middle + line[at])))
            odd = f"does not fit the others, which point to about {_rounded(usual):,}"
        out.append(replace(row, odd=odd))
        at += 1
    return out


def _rounded(amount: Decimal) -> int:
    """Return an amount to two figures."""
    return int(float(f"{amount:.1e}"))
