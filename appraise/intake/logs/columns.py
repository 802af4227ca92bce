"""What the columns of a log are: known names, how their headings are written, their units."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from appraise.errors import Problem
from appraise.intake.units import BadMeasure, convert_value, unit_of

__all__ = ["KNOWN", "TIME", "Known", "Plan", "is_unit", "plan_columns", "split_unit"]

TIME = "time_s"
MOST_OTHERS = 100
"""Columns kept that are not of a known kind."""


@dataclass(frozen=True, slots=True)
class Known:
    """A kind of column.

    Attributes
    ----------
    name : under which it is kept.
    unit : in which it is kept; empty for a plain ratio.
    pattern : what its heading looks like, in lower case, units and underscores taken away.
    """

    name: str
    unit: str
    pattern: str


ASKED = r"\b(target|desired|command(ed)?|request(ed)?|specified|setpoint|set point|soll)\b"
KNOWN = (
    Known(
        TIME,
        "s",
        r"^(elapsed |device |log |gps |system )?(time|zeit)( ?stamp)?( ?(ms|msec|sec|seconds))?$"
        r"|^(t|seconds|timestamp|clock|offset|date ?time|elapsed|millis|msec|ms)$"
        r"|^time (of day|elapsed|since (engine )?start|from start)$",
    ),
    Known("pedal_pct", "%", r"pedal|\bapp\b|accelerator"),
    Known(
        "rpm",
        "rpm",
        r"^(?!.*(turbo|turbine|shaft|input|output|fan|pump|target|desired|idle)).*"
        r"(\brpm\b|engine (speed|revolutions|revs)|drehzahl)",
    ),
    Known("map_target_kpa", "kPa", rf"(?=.*{ASKED})(?=.*(\bmap\b|manifold|absolute|\babs\b))"),
    Known(
        "boost_target_kpa", "kPa", rf"(?=.*{ASKED})(?=.*(boost|charge pressure|turbo|ladedruck))"
    ),
    Known("lambda_target", "", rf"(?=.*{ASKED})(?=.*(lambda|equivalence))"),
    Known("baro_kpa", "kPa", r"\bbaro|atmospher|ambient (air )?pressure|umgebungsdruck"),
    Known(
        "map_kpa",
        "kPa",
        r"^(?!.*(temp|voltage|fuel|exhaust)).*(\bmap\b|manifold|intake (absolute |air )?pressure"
        r"|(boost|charge|turbo).*\b(abs|absolute)\b|saugrohrdruck)",
    ),
    Known(
        "boost_kpa",
        "kPa",
        r"^(?!.*(temp|duty|solenoid|control|voltage|error)).*"
        r"(\bboost\b|charge (air )?pressure|ladedruck|turbo pressure)",
    ),
    Known("throttle_pct", "%", r"^(?!.*(target|desired|command|voltage)).*(throttle|\btps\b)"),
    Known("load_pct", "%", r"(engine|calculated|calc|absolute) load|^load\b|motorlast"),
    Known("coolant_c", "degC", r"coolant|\bect\b|water temp|hlmittel"),
    Known("oil_c", "degC", r"oil temp"),
    Known("intake_c", "degC", r"(intake|inlet|charge|manifold).*temp|\biat\b|ansaugluft"),
    Known("ambient_c", "degC", r"(ambient|outside).*temp"),
    Known("maf_gs", "g/s", r"\bmaf\b|mass air ?flow|air flow rate|luftmasse"),
    Known("lambda", "", r"^(?!.*(voltage|current|correct)).*(lambda|equivalence ratio)"),
    Known("stft_pct", "%", r"short.*(trim|ft)\b|\bstft|\bstft1"),
    Known("ltft_pct", "%", r"long.*(trim|ft)\b|\bltft|\bltft1"),
    Known("timing_deg", "deg", r"(timing|ignition|spark) (advance|angle)|timing$"),
    Known("rail_kpa", "kPa", r"fuel rail.*pressure|rail pressure"),
    Known("wastegate_pct", "%", r"^(?!.*(target|desired)).*(wastegate|\bwgdc\b)"),
    Known(
        "voltage_v",
        "V",
        r"^(?!.*(o2|oxygen|sensor|lambda|throttle|pedal|map)).*(voltage|\bvpwr\b|battery)",
    ),
    Known(
        "speed_kmh",
        "km/h",
        r"^(?!.*(turbo|wheel|fan|engine|input|output|pump)).*(speed|\bvss\b|geschwindigkeit)",
    ),
)
BY_NAME = {one.name: one for one in KNOWN}
PATTERNS = tuple((one.name, re.compile(one.pattern)) for one in KNOWN)
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
    unit : as the file or the person gives it; empty if nobody does.
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
    if not text:
        return False
    for like in LIKE:
        try:
            unit_of(text, like)
        except BadMeasure:
            continue
        return True
    return False


def plan_columns(
    headings: Sequence[str],
    unit_row: Sequence[str],
    mapping: Mapping[str, str],
    units: Mapping[str, str],
) -> tuple[list[Plan], list[Problem]]:
    """Return what becomes of each column that is kept, and what is to be said.

    Parameters
    ----------
    headings : one a column, unique.
    unit_row : units below the headings, or nothing.
    mapping : heading to known name, or to an empty string for a column that is none; wins.
    units : heading to unit; wins.
    """
    problems: list[Problem] = []
    names = _names(headings, mapping)
    plans: list[Plan] = []
    assumed, others = [], 0
    for place, heading in enumerate(headings):
        label_unit = split_unit(heading)[1]
        below = unit_row[place].strip(" ()[]{}") if place < len(unit_row) else ""
        unit = units.get(heading, label_unit or below)
        name = names.get(heading, "")
        slope, offset = 1.0, 0.0
        if name and name != TIME:
            try:
                slope, offset = _factors(unit, BY_NAME[name].unit)
            except BadMeasure as error:
                problems.append(Problem(heading, f"left as it is: {error.message}"))
                name = ""
            else:
                if not unit and BY_NAME[name].unit not in ("", "rpm", "%"):
                    assumed.append(f"{heading} in {BY_NAME[name].unit}")
        others += not name
        if name or others <= MOST_OTHERS:
            plans.append(Plan(place, heading, name, unit, slope, offset))
    if others > MOST_OTHERS:
        problems.append(
            Problem(
                "columns",
                f"of {others} columns that are not of a known kind the first {MOST_OTHERS} are "
                f"kept and {others - MOST_OTHERS} left out; every known one is kept",
                "note",
            )
        )
    if assumed:
        problems.append(
            Problem("columns", "no unit is given; taken: " + ", ".join(assumed), "note")
        )
    return plans, problems


def _names(headings: Sequence[str], mapping: Mapping[str, str]) -> dict[str, str]:
    """Return the known name of each heading that has one; a name is given once."""
    out = {one: mapping[one] for one in headings if one in mapping}
    taken = set(out.values())
    for heading in headings:
        if heading in out:
            continue
        words = re.sub(r"[_\s.]+", " ", split_unit(heading)[0]).strip().lower()
        whole = re.sub(r"[_\s.]+", " ", heading).strip().lower()
        name = next((n for n, pattern in PATTERNS if pattern.search(words)), "") or next(
            (n for n, pattern in PATTERNS if pattern.search(whole)), ""
        )
        if name and name not in taken:
            taken.add(name)
            out[heading] = name
    return out


def _factors(unit: str, to: str) -> tuple[float, float]:
    """Return slope and offset from a unit as a log spells it into a known one."""
    spelt = _bare(unit)
    if not to:
        if spelt.lower() not in NO_UNIT:
            raise BadMeasure(f"{unit!r} is given where a plain ratio is expected")
        return 1.0, 0.0
    named = unit_of(spelt, to)
    if named == to:
        return 1.0, 0.0
    at_nothing = convert_value(Decimal(0), named, to)
    return float(convert_value(Decimal(1), named, to) - at_nothing), float(at_nothing)


def _bare(unit: str) -> str:
    """Return a unit without the word that says whether a pressure is absolute."""
    return re.sub(r"(?i)[\s(]+(abs|absolute|a|g|gauge|rel|relative)\)?$", "", unit).strip()
