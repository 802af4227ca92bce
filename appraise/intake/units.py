"""What people type for a measurement, and the same measurement in another unit.

The list of units is closed: a spelling that is not in it is refused, so that a slip never becomes
a figure. Factors are those of Pint, kept as fractions: what is exact (an inch is 25.4 mm) stays so.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from functools import lru_cache
from typing import Any

from appraise.errors import AppraiseError

__all__ = [
    "BadMeasure",
    "Measure",
    "convert_value",
    "parse_measure",
    "unit_of",
]

LONGEST = 60
MOST = Decimal(1_000_000_000)
THOUSAND = 3
"""Digits after a mark of thousands."""
DIGITS = 40
"""Kept in a quotient that has no end; more than any limit and any typed figure has."""

UNITS: dict[str, dict[str, tuple[str, str]]] = {
    "length": {
        "in": ("inch", 'inch inches "'),
        "mm": ("millimeter", "millimeter millimeters millimetre millimetres"),
        "cm": ("centimeter", ""),
        "m": ("meter", "meter meters metre metres"),
        "um": ("micrometer", "micron microns"),
        "mil": ("thou", "mils thou"),
        "ft": ("foot", "foot feet '"),
        "km": ("kilometer", ""),
        "mi": ("mile", "mile miles"),
    },
    "pressure": {
        "psi": ("psi", "lbf/in2 lb/in2 psig psia"),
        "kPa": ("kilopascal", ""),
        "bar": ("bar", ""),
        "mbar": ("millibar", ""),
        "hPa": ("hectopascal", ""),
        "Pa": ("pascal", ""),
        "MPa": ("megapascal", ""),
        "inHg": ("inHg", '"Hg inchHg'),
        "mmHg": ("mmHg", ""),
        "inH2O": ("inch_H2O_39F", "inwc"),
        "atm": ("atm", ""),
    },
    "voltage": {"V": ("volt", "volt volts"), "mV": ("millivolt", "")},
    "current": {"A": ("ampere", "amp amps"), "mA": ("milliampere", "milliamp milliamps")},
    "resistance": {"ohm": ("ohm", "ohms Ω"), "kohm": ("kiloohm", "kohms kΩ")},
    "temperature": {
        "degC": ("degC", "°C C celsius °"),
        "degF": ("degF", "°F F fahrenheit °"),
    },
    "share": {"%": ("percent", "percent pct")},
    "torque": {
        "Nm": ("newton*meter", "newtonmetre newtonmetres"),
        "lb-ft": ("force_pound*foot", "lbft lbfft ftlb ftlbs ftlbf footpounds"),
        "lb-in": ("force_pound*inch", "lbin lbfin inlb inlbs inchpounds"),
    },
    "force": {
        "lbf": ("force_pound", "lb lbs pound pounds"),
        "N": ("newton", ""),
        "daN": ("decanewton", ""),
        "kgf": ("kilogram_force", "kg kilo kilos"),
    },
    "mass": {"kg": ("kilogram", "kilo kilos"), "lb": ("pound", "lbs pound pounds")},
    "angle": {"deg": ("degree", "° degree degrees"), "arcmin": ("arcminute", "'")},
    "time": {
        "s": ("second", "sec second seconds"),
        "ms": ("millisecond", "msec millis milliseconds"),
        "us": ("microsecond", ""),
        "min": ("minute", "minute minutes"),
        "h": ("hour", "hour hours"),
        "days": ("day", "day d"),
        "weeks": ("week", "week"),
        "months": ("month", "month"),
        "years": ("year", "year yr yrs"),
    },
    "speed": {
        "km/h": ("kilometer/hour", "kmh kph kmph km/hr"),
        "mph": ("mile/hour", ""),
        "m/s": ("m/s", ""),
    },
    "engine speed": {"rpm": ("rpm", "r/min 1/min U/min /min")},
    "air flow": {
        "g/s": ("gram/second", "gs"),
        "kg/h": ("kilogram/hour", ""),
        "lb/min": ("pound/minute", ""),
    },
    "charge": {"Ah": ("ampere*hour", "")},
    "power": {
        "kW": ("kilowatt", ""),
        "hp": ("horsepower", "bhp"),
        "PS": ("metric_horsepower", "cv"),
    },
    "volume": {
        "L": ("liter", "liter liters litre litres"),
        "mL": ("milliliter", ""),
        "US gal": ("US_liquid_gallon", "gal"),
        "UK gal": ("imperial_gallon", "gal"),
    },
}
GROUP = {unit: group for group, units in UNITS.items() for unit in units}

PLAIN = str.maketrans(
    {
        "\N{DOUBLE PRIME}": '"',
        "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
        "\N{PRIME}": "'",
        "\N{RIGHT SINGLE QUOTATION MARK}": "'",
        "\N{MINUS SIGN}": "-",
        "\N{FRACTION SLASH}": "/",
        "\N{GREEK SMALL LETTER MU}": "u",
        "\N{MICRO SIGN}": "u",
    }
)
DECIMAL = r"[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+"
NUMBER = re.compile(
    rf"(?P<sign>[-+]?) ?(?:(?:(?P<whole>[0-9]+)[ -])?(?P<top>[0-9]+) ?/ ?(?P<bottom>[0-9]+)"
    rf"|(?P<plain>{DECIMAL})) ?(?P<unit>[^0-9.,/ -].*)?"
)


class BadMeasure(AppraiseError):
    """A measurement that cannot be read, or that is of another kind than what is asked for."""


@dataclass(frozen=True, slots=True)
class Measure:
    """A value in a unit of the closed list, or in a limit's own unit, such as cycles."""

    value: Decimal
    unit: str


def parse_measure(text: str, default_unit: str) -> Measure:
    """Read a measurement as people type it.

    Parameters
    ----------
    text : a whole number, a decimal with point or comma, or a fraction as in 2/32 or 1 1/2; then a
        unit or none.
    default_unit : unit if the text names none; a unit of another kind is refused. A unit outside
        the list (cycles, psi per 1,000 rpm) stands for itself alone.

    Examples
    --------
    >>> parse_measure("1 1/2 in", "mm")
    Measure(value=Decimal('1.5'), unit='in')
    >>> parse_measure("1,6", "mm")
    Measure(value=Decimal('1.6'), unit='mm')
    """
    if len(text) > LONGEST:
        raise BadMeasure(f"{text[:LONGEST]!r}… is too long for a measurement")
    if not text.strip():
        raise BadMeasure("nothing is given", hint="Write a number and its unit")
    found = NUMBER.fullmatch(_plain(text))
    if found is None:
        raise BadMeasure(
            f"{text.strip()!r} is not a measurement", hint=f"Write it as 12.6 {default_unit}"
        )
    value = _value(found, text.strip())
    if abs(value) > MOST:
        raise BadMeasure(f"{text.strip()!r} is larger than anything that is measured on a car")
    return Measure(value, unit_of(found["unit"] or "", default_unit))


def convert_value(value: Decimal, unit: str, to: str) -> Decimal:
    """Return a value of one unit in another; the form in which the engine asks for it."""
    if unit == to:
        return value
    for one in (unit, to):
        if one not in GROUP:
            raise BadMeasure(f"{one!r} cannot be converted")
    if GROUP[unit] != GROUP[to]:
        raise BadMeasure(f"{unit} is a unit of {GROUP[unit]}, {to} of {GROUP[to]}")
    names = [UNITS[GROUP[one]][one][0] for one in (unit, to)]
    exact: Fraction = _registry().Quantity(Fraction(value), names[0]).to(names[1]).magnitude
    with localcontext() as context:
        context.prec = DIGITS
        return Decimal(exact.numerator) / Decimal(exact.denominator)


@lru_cache(maxsize=1)
def _registry() -> Any:  # noqa: ANN401 - a registry made of fractions has no type of its own
    import pint  # noqa: PLC0415

    return pint.UnitRegistry(non_int_type=Fraction, cache_folder=None)


def _plain(text: str) -> str:
    """Return text with its fractions, quotes, signs and spaces in their plain forms."""
    parted = "".join(
        f" {one}" if "FRACTION" in unicodedata.name(one, "") and one.isnumeric() else one
        for one in text.translate(PLAIN)
    )
    plain = unicodedata.normalize("NFKC", parted).translate(PLAIN)
    return re.sub(r"\s+", " ", plain).strip()


def _value(found: re.Match[str], text: str) -> Decimal:
    sign = -1 if found["sign"] == "-" else 1
    if found["plain"] is not None:
        return sign * _decimal(found["plain"], text)
    top, bottom = int(found["top"]), int(found["bottom"])
    if bottom == 0:
        raise BadMeasure(f"{text!r} parts something into 0")
    whole = int(found["whole"] or 0)
    return sign * (whole + Decimal(top) / Decimal(bottom))


def _decimal(text: str, whole_text: str) -> Decimal:
    """Read a decimal with point or comma; marks of thousands only where they cannot be mistaken."""
    marks = [one for one in text if one in ".,"]
    if len(marks) == 1:
        before, after = re.split(r"[.,]", text)
        if marks == [","] and len(after) == THOUSAND and before and not before.startswith("0"):
            raise BadMeasure(
                f"{whole_text!r} may mean {before}{after} or {before}.{after}",
                hint="Write it without the comma, or with a point",
            )
        return Decimal(f"{before or 0}.{after}")
    if not marks:
        return Decimal(text)
    mark = marks[-1] if len(set(marks)) > 1 else ""
    head, _, tail = text.rpartition(mark) if mark else (text, "", "")
    first, *groups = re.split(r"[.,]", head)
    if mark in marks[:-1] or len(first) > THOUSAND or any(len(one) != THOUSAND for one in groups):
        raise BadMeasure(f"{whole_text!r} is not one number")
    return Decimal("".join((first, *groups)) + (f".{tail}" if mark else ""))


def _key(text: str) -> str:
    return re.sub(r"[\s.·⋅*_-]", "", _plain(text))


@lru_cache(maxsize=1)
def _spellings() -> dict[str, tuple[str, ...]]:
    """Return every spelling with the units that it may stand for; lower case as a second try."""
    out: dict[str, tuple[str, ...]] = {}
    for units in UNITS.values():
        for unit, (_, others) in units.items():
            for spelling in (unit, *others.split()):
                key = _key(spelling)
                out[key] = (*out.get(key, ()), unit)
    for key, names in list(out.items()):
        lower = key.lower()
        if lower not in out:
            out[lower] = names
    return out


def unit_of(text: str, default_unit: str) -> str:
    """Return the unit that a spelling names, given what kind is asked for; none is the default."""
    if not text:
        return default_unit
    wanted = GROUP.get(default_unit)
    if wanted is None:
        if _key(text).lower().rstrip("s") == _key(default_unit).lower().rstrip("s"):
            return default_unit
        raise BadMeasure(f"{text!r} is given where {default_unit} is asked for")
    spellings = _spellings()
    names = spellings.get(_key(text)) or spellings.get(_key(text).lower())
    if names is None:
        near = ", ".join(UNITS[wanted])
        raise BadMeasure(f"{text!r} is not a unit that is known", hint=f"For {wanted}: {near}")
    if default_unit in names:
        return default_unit
    for name in names:
        if GROUP[name] == wanted:
            return name
    raise BadMeasure(
        f"{text!r} is a unit of {GROUP[names[0]]}, not of {wanted}",
        hint=f"Give it in {default_unit}",
    )
