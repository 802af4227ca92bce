"""Comparable cars pasted from a spreadsheet or typed as a list."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Literal

from pydantic import ValidationError

from appraise.errors import Problem
from appraise.models.market import Comparable
from appraise.models.problems import problems_of
from appraise.services.editing import free_id

__all__ = ["Pasted", "paste_comparables"]

FIRST_YEAR, LAST_YEAR = 1950, 2100
FEWEST_FIELDS = 3
MOST_LINES = 500
LONGEST_LINE = 400
"""Characters; the time to look for the figures in an advert grows with their square."""
SHOWN = 100
"""Characters of a line that are quoted when it cannot be read."""
WORDS: dict[str, tuple[str, str]] = {
    "asked": ("kind", "asked"),
    "asking": ("kind", "asked"),
    "sold": ("kind", "sold"),
    "tidier": ("condition", "tidier"),
    "alike": ("condition", "alike"),
    "rougher": ("condition", "rougher"),
}


@dataclass(frozen=True, slots=True)
class Pasted:
    """What was read from pasted lines.

    Attributes
    ----------
    comparables : one a line that could be read.
    problems : one a line that could not, naming it.
    """

    comparables: tuple[Comparable, ...]
    problems: tuple[Problem, ...]


def paste_comparables(text: str, unit: Literal["mi", "km"], taken: tuple[str, ...]) -> Pasted:
    """Read comparables from lines of year, distance, price, then words in any order.

    Columns are parted by tabs, semicolons, bars, or commas followed by a space; a line with
    none of these by spaces. `118,000`, `118.000`, `118k` and `$7,450.00` are understood, `mi` or
    `km` after the distance too; `sold`, `asked`, `tidier`, `rougher` set the kind and condition
    and anything else becomes the note. A line of an advert is read too, if its distance has a unit
    and its price a sign. Lines without a digit are taken for headings.

    Parameters
    ----------
    text : pasted lines.
    unit : of distances that name none.
    taken : ids that are in use.
    """
    comps: list[Comparable] = []
    problems: list[Problem] = []
    used = list(taken)
    lines = _lines(text)
    for number, line in enumerate(lines[:MOST_LINES], start=1):
        if not re.search(r"\d", line):
            continue
        where, shown = f"line {number}", line.strip()[:SHOWN]
        if len(line) > LONGEST_LINE:
            said = f"is longer than {LONGEST_LINE:,} characters"
            problems.append(Problem(where, said, "stop", shown))
            continue
        fields = _fields(line)
        if len(fields) < FEWEST_FIELDS:
            said = "needs a year, a distance and a price"
            problems.append(Problem(where, said, "stop", shown))
            continue
        try:
            raw = _read(fields, unit)
        except ValueError as error:
            loose = _loose(line)
            if loose is None:
                problems.append(Problem(where, str(error), "stop", shown))
                continue
            raw = loose
        raw["id"] = free_id("comp", used)
        try:
            comp = Comparable.model_validate(raw)
        except ValidationError as error:
            first = problems_of(error)[0]
            problems.append(Problem(where, f"{first.where} {first.message}", "stop", shown))
            continue
        used.append(comp.id)
        comps.append(comp)
    if len(lines) > MOST_LINES:
        said = f"and all after it are left out: {MOST_LINES} are read at once"
        problems.append(Problem(f"line {MOST_LINES + 1}", said, "stop", "Paste the rest again"))
    return Pasted(tuple(comps), tuple(problems))


def _lines(text: str) -> list[str]:
    """Return the lines that are read, and one more if there are more."""
    kept = text[: (MOST_LINES + 1) * (LONGEST_LINE + 1)]
    return kept.splitlines()[: MOST_LINES + 1]


def _fields(line: str) -> list[str]:
    for parting in (r"\t", r"[;|]", r",\s+|,(?=\D)"):
        fields = [one.strip() for one in re.split(parting, line)]
        if len(fields) >= FEWEST_FIELDS:
            return [one for one in fields if one]
    if line.count(",") == FEWEST_FIELDS - 1:
        return [one.strip() for one in line.split(",")]
    return line.split()


def _read(fields: list[str], unit: str) -> dict[str, Any]:
    year = _number(fields[0], "year")
    if not FIRST_YEAR <= year <= LAST_YEAR or year != int(year):
        raise ValueError(f"{fields[0]!r} is not a model year: write year, distance, price")
    distance = fields[1].lower()
    if distance.endswith(("km", "mi", "miles")):
        unit = "km" if distance.endswith("km") else "mi"
    rest = fields[2:]
    if rest[0].lower() in ("mi", "km", "miles"):
        unit = "km" if rest[0].lower() == "km" else "mi"
        rest = rest[1:]
    if not rest:
        raise ValueError("has no price")
    raw: dict[str, Any] = {
        "model_year": int(year),
        "odometer": {"value": _number(fields[1], "distance"), "unit": unit},
        "price": _number(rest[0], "price"),
    }
    note = []
    for word in rest[1:]:
        known = WORDS.get(word.lower())
        if known:
            raw[known[0]] = known[1]
        else:
            note.append(word)
    raw["note"] = " ".join(note)
    return raw


def _loose(line: str) -> dict[str, Any] | None:
    """Read a line of an advert: a year anywhere, a distance with its unit, a price with its sign.

    None where it does not say which figure is which.
    """
    year = re.search(r"\b(19[5-9]\d|20\d\d)\b", line)
    figure = r"\d[\d.,]*\d|\d"
    far = re.search(rf"({figure})\s*(k?)\s*(miles|mi|km)\b", line, re.IGNORECASE)
    price = re.search(rf"(?:[$€£¥]|USD|EUR|GBP)\s*({figure})|({figure})\s*[$€£¥]", line)
    if year is None or far is None or price is None:
        return None
    rest = line
    for found in (year, far, price):
        rest = rest.replace(found.group(0), " ", 1)
    raw: dict[str, Any] = {
        "model_year": int(year.group(0)),
        "odometer": {
            "value": _number(far.group(1) + far.group(2), "distance"),
            "unit": "km" if far.group(3).lower() == "km" else "mi",
        },
        "price": _number(price.group(1) or price.group(2), "price"),
    }
    note = []
    for word in re.findall(r"[^\s,;|]+", rest):
        known = WORDS.get(word.lower())
        if known:
            raw[known[0]] = known[1]
        else:
            note.append(word)
    raw["note"] = " ".join(note)
    return raw


def _number(text: str, what: str) -> Decimal:
    """Read a number as people write it: marks of thousands, a currency, `k` for thousands."""
    cleaned = re.sub(r"(?i)[\s$€£¥']|usd|eur|gbp|miles|mi\b|km\b|mi$|km$", "", text)
    thousands = cleaned[-1:].lower() == "k"
    cleaned = cleaned.rstrip("kK")
    cleaned = re.sub(r"[.,](?=\d{3}(\D|$))", "", cleaned).replace(",", ".")
    if not re.fullmatch(r"\d+(\.\d+)?", cleaned):
        raise ValueError(f"{text!r} is not a {what}: write year, distance, price")
    return Decimal(cleaned) * (1000 if thousands else 1)
