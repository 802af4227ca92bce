"""What the columns of a log are: known names, how their headings are written, their units."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from decimal import Decimal
from importlib.resources import files

from appraise.errors import Problem
from appraise.given import toml_of
from appraise.intake.units import BadMeasure, convert_value, unit_of

__all__ = ["KNOWN", "TIME", "Plan", "is_unit", "plan_columns"]

TIME = "time_s"
MOST_OTHERS = 100
"""Columns kept that are not of a known kind."""


TABLE = toml_of(files(__package__).joinpath("headings.toml").read_text(encoding="utf-8"))
ASKED = TABLE["asked"]
KNOWN = {one["name"]: one["unit"] for one in TABLE["column"]}
"""Names under which columns are kept, each with its unit; empty for a plain ratio."""
PATTERNS = {
    one["name"]: re.compile(one["pattern"].replace("{asked}", ASKED)) for one in TABLE["column"]
}
BRACKETED = re.compile(r"^(?P<label>.*?)\s*[(\[{]\s*(?P<unit>[^()\[\]{}]*)\s*[)\]}]\s*$")
QUALIFIER = re.compile(
    rf"(?i){ASKED}|\b(actual|act|ist|measured|current|sensor|bank|b[12]|abs|absolute)\b"
)
"""What stands in brackets behind a heading and is no unit."""
NO_UNIT = {"", "-", "λ", "lambda", "ratio", "none", "n/a"}
LIKE = ("kPa", "%", "degC", "rpm", "s", "km/h", "V", "g/s", "deg", "A", "Nm", "mm", "L", "kW")


@dataclass(frozen=True, slots=True)
class Plan:
    """What becomes of one column of the file.

    Attributes
    ----------
    place : from 0.
    heading : as it stands in the file, made unique.
    name : known name, or an empty string.
    unit : as the file gives it; empty if it does not.
    slope, offset : into the unit of the known name.
    """

    place: int
    heading: str
    name: str
    unit: str
    slope: float = 1.0
    offset: float = 0.0


def split_unit(heading: str) -> tuple[str, str]:
    """Return a heading's words and its unit: `MAP (kPa)`, `Boost [psi]`, `map_kpa`, `Speed, mph`.

    Examples
    --------
    >>> split_unit("Boost [psi]")
    ('Boost', 'psi')
    """
    found = BRACKETED.match(heading)
    if found and found["label"]:
        if QUALIFIER.search(found["unit"]) and not is_unit(_bare(found["unit"])):
            return f"{found['label']} {found['unit']}", ""
        return found["label"], found["unit"]
    for mark in (",", "_", " "):
        label, _, last = heading.rpartition(mark)
        last = last.strip()
        lone = len(last) == 1 and last != "%" and not (mark == "_" and last.lower() in "cfv")
        if label and last.lower() != "rpm" and not lone and is_unit(last):
            return label, last
    return heading, ""


def is_unit(text: str) -> bool:
    """Whether a text is the spelling of a unit that is known."""
    for like in LIKE:
        with suppress(BadMeasure):
            return bool(text and unit_of(text, like))
    return False


def plan_columns(
    headings: Mapping[str, str], mapping: Mapping[str, str]
) -> tuple[list[Plan], list[Problem]]:
    """Return what becomes of each column that is kept, and what is to be said.

    Parameters
    ----------
    headings : heading to the unit in a row below the headings, or to an empty string.
    mapping : heading to known name, or to an empty string for a column that is none; wins.
    """
    problems: list[Problem] = []
    names = _names(headings, mapping)
    plans: list[Plan] = []
    assumed, others = [], 0
    for place, (heading, below) in enumerate(headings.items()):
        unit = split_unit(heading)[1] or below
        name = names.get(heading, "")
        factors = (1.0, 0.0)
        if name and name != TIME:
            try:
                factors = _factors(unit, KNOWN[name])
            except BadMeasure as error:
                problems.append(Problem(heading, f"left as it is: {error.message}"))
                name = ""
            else:
                if not unit and KNOWN[name] not in ("", "rpm", "%"):
                    assumed.append(f"{heading} in {KNOWN[name]}")
        others += not name
        if name or others <= MOST_OTHERS:
            plans.append(Plan(place, heading, name, unit, *factors))
    if others > MOST_OTHERS:
        message = (
            f"of {others} columns that are not of a known kind the first {MOST_OTHERS} are "
            f"kept and {others - MOST_OTHERS} left out; every known one is kept"
        )
        problems.append(Problem("columns", message, "note"))
    if assumed:
        message = "no unit is given; taken: " + ", ".join(assumed)
        problems.append(Problem("columns", message, "note"))
    return plans, problems


def _names(headings: Mapping[str, str], mapping: Mapping[str, str]) -> dict[str, str]:
    """Return the known name of each heading that has one; a name is given once."""
    out = {one: mapping[one] for one in headings if one in mapping}
    for heading in [one for one in headings if one not in out]:
        words, whole = (
            re.sub(r"[_\s.]+", " ", one).strip().lower()
            for one in (split_unit(heading)[0], heading)
        )
        fits = (
            name for text in (words, whole) for name, look in PATTERNS.items() if look.search(text)
        )
        name = next(fits, "")
        if name and name not in out.values():
            out[heading] = name
    return out


def _factors(unit: str, to: str) -> tuple[float, float]:
    """Return slope and offset from a unit as a log spells it into a known one."""
    spelled = _bare(unit)
    if not to:
        if spelled.lower() not in NO_UNIT:
            raise BadMeasure(f"{unit!r} is given where a plain ratio is expected")
        return 1.0, 0.0
    named = unit_of(spelled, to)
    nothing, one = (convert_value(Decimal(at), named, to) for at in (0, 1))
    return float(one - nothing), float(nothing)


def _bare(unit: str) -> str:
    """Return a unit without the word that says whether a pressure is absolute."""
    return re.sub(r"(?i)[\s(]+(abs|absolute|a|g|gauge|rel|relative)\)?$", "", unit).strip()
