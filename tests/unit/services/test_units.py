"""What people type for a measurement, and its conversion."""

from __future__ import annotations

from decimal import Decimal
from itertools import permutations

import pytest

from appraise.intake.units import (
    UNITS,
    BadMeasure,
    Measure,
    convert_value,
    parse_measure,
)


@pytest.mark.parametrize(
    ("text", "default", "value", "unit"),
    [
        ("2/32", "in", "0.0625", "in"),
        ("2/32 in", "mm", "0.0625", "in"),
        ("2/32in", "mm", "0.0625", "in"),
        ("1 1/2 in", "mm", "1.5", "in"),
        ("1-1/2 in", "mm", "1.5", "in"),
        ("1½ in", "mm", "1.5", "in"),
        ("½ in", "mm", "0.5", "in"),
        ('1/32"', "mm", "0.03125", "in"),
        ("1/32”", "mm", "0.03125", "in"),
        ("1/32″", "mm", "0.03125", "in"),
        ("1.6 mm", "in", "1.6", "mm"),
        ("1,6 mm", "in", "1.6", "mm"),
        ("1,6mm", "in", "1.6", "mm"),
        (".5 mm", "in", "0.5", "mm"),
        ("0,005 in", "mm", "0.005", "in"),
        ("14.5 psi", "kPa", "14.5", "psi"),
        ("14.5 PSI", "kPa", "14.5", "psi"),
        ("1.0 bar", "psi", "1.0", "bar"),
        ("172 kPa", "psi", "172", "kPa"),
        ("172kpa", "psi", "172", "kPa"),
        ("20 inHg", "kPa", "20", "inHg"),
        ('20 "Hg', "kPa", "20", "inHg"),
        ("20 in. Hg", "kPa", "20", "inHg"),
        ("12,6 V", "V", "12.6", "V"),
        ("12.6V", "V", "12.6", "V"),
        ("50 mA", "mA", "50", "mA"),
        ("0.05 A", "mA", "0.05", "A"),
        ("-40 F", "degC", "-40", "degF"),
        ("\N{MINUS SIGN}40 °F", "degC", "-40", "degF"),
        ("195 °F", "degC", "195", "degF"),
        ("195°", "degF", "195", "degF"),
        ("90°C", "degF", "90", "degC"),
        ("80 %", "%", "80", "%"),
        ("80%", "%", "80", "%"),
        ("110 Nm", "lb-ft", "110", "Nm"),
        ("110 N·m", "lb-ft", "110", "Nm"),
        ("81 lb-ft", "Nm", "81", "lb-ft"),
        ("81 ft-lbs", "Nm", "81", "lb-ft"),
        ("25 lbf", "N", "25", "lbf"),
        ("25 lb", "N", "25", "lbf"),
        ("25 lb", "kg", "25", "lb"),
        ("150 µm", "um", "150", "um"),
        ("150 μm", "um", "150", "um"),
        ("150 um", "um", "150", "um"),
        ("6 mils", "um", "6", "mil"),
        ("1,234.5 mm", "mm", "1234.5", "mm"),
        ("1.234,5 mm", "mm", "1234.5", "mm"),
        ("1,234,567 mi", "mi", "1234567", "mi"),
        ("3", "cycles", "3", "cycles"),
        ("1 cycle", "cycles", "1", "cycles"),
        ("3 millimetres", "in", "3", "mm"),
        ("4.5 litres", "US gal", "4.5", "L"),
        ("10", "psi per 1,000 rpm", "10", "psi per 1,000 rpm"),
        ("  7\u00a0years ", "years", "7", "years"),
        ("-1/2 deg", "deg", "-0.5", "deg"),
        ("+0.2", "deg", "0.2", "deg"),
        ("5 gal", "L", "5", "US gal"),
        ("5 gal", "UK gal", "5", "UK gal"),
    ],
)
def test_what_people_type_is_understood(text: str, default: str, value: str, unit: str) -> None:
    assert parse_measure(text, default) == Measure(Decimal(value), unit)


@pytest.mark.parametrize(
    ("text", "default", "words"),
    [
        ("", "mm", "nothing is given"),
        ("  ", "mm", "nothing is given"),
        ("abc", "mm", "'abc' is not a measurement"),
        ("NaN", "mm", "is not a measurement"),
        ("inf mm", "mm", "is not a measurement"),
        ("2/0", "in", "parts something into 0"),
        ("1 2/0 in", "in", "parts something into 0"),
        ("1.6 furlongs", "mm", "'furlongs' is not a unit that is known. For length: in, mm"),
        ("1.6 kg", "mm", "'kg' is a unit of force, not of length. Give it in mm"),
        ("12 V", "mm", "'V' is a unit of voltage, not of length"),
        ("3 V", "cycles", "'V' is given where cycles is asked for"),
        ("1e3 mm", "mm", "'e3 mm' is not a unit"),
        ("99999999999 mm", "mm", "larger than anything"),
        ("9" * 70, "mm", "too long for a measurement"),
        ("12 6 V", "V", "is not a measurement"),
        ("1 2 3", "mm", "is not a measurement"),
        ("1..2", "mm", "is not a measurement"),
        ("5.", "mm", "is not a measurement"),
        ("1,2,3", "mm", "is not one number"),
        ("1,234.567.8", "mm", "is not one number"),
        ("1/2/3", "mm", "is not a measurement"),
        ("1,600 mm", "mm", "may mean 1600 or 1.600"),
        ("٣ mm", "mm", "is not a measurement"),
        ("1.6 mm\n3 mm", "mm", "is not a unit that is known"),
    ],
)
def test_what_cannot_be_read_is_refused_in_clear_words(text: str, default: str, words: str) -> None:
    with pytest.raises(BadMeasure) as caught:
        parse_measure(text, default)

    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected", "digits"),
    [
        # NIST SP 811, appendix B.8, as printed: rounded to seven digits
        ("1", "psi", "kPa", "6.894757", 6),
        ("1", "inHg", "kPa", "3.386389", 6),
        ("1", "atm", "kPa", "101.325", 3),
        ("1", "atm", "psi", "14.695949", 6),
        ("1", "lbf", "N", "4.448222", 6),
        ("1", "lb-ft", "Nm", "1.355818", 6),
        ("1", "lb-in", "Nm", "0.1129848", 7),
        ("1", "hp", "kW", "0.7456999", 7),
        ("1", "PS", "kW", "0.7354988", 7),
        ("1", "US gal", "L", "3.785412", 6),
        ("1", "inH2O", "Pa", "249.0819", 4),
        ("1", "mmHg", "kPa", "0.133322", 6),
        ("1", "mph", "m/s", "0.44704", 5),
        # computed from them
        ("32", "psi", "kPa", "220.632", 3),
        ("32", "psi", "inHg", "65.153", 3),
        ("2.2", "bar", "psi", "31.908", 3),
        ("1", "bar", "psi", "14.503774", 6),
        ("29.92126", "inHg", "kPa", "101.325", 3),
        ("100", "lb-ft", "Nm", "135.5818", 4),
        ("110", "Nm", "lb-ft", "81.132", 3),
        ("200", "hp", "kW", "149.140", 3),
        ("100", "PS", "hp", "98.632", 3),
        ("5", "US gal", "L", "18.92706", 5),
        ("195", "degF", "degC", "90.556", 3),
        ("100000", "mi", "km", "160934.4", 1),
        ("160000", "km", "mi", "99419.39", 2),
    ],
)
def test_conversions_are_those_of_nist(
    value: str, unit: str, to: str, expected: str, digits: int
) -> None:
    found = convert_value(Decimal(value), unit, to)

    assert round(found, digits) == round(Decimal(expected), digits)


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        ("1", "in", "mm", "25.4"),
        ("0.0625", "in", "mm", "1.5875"),
        ("1.5875", "mm", "in", "0.0625"),
        ("0.0005", "in", "mm", "0.0127"),
        ("1", "mil", "um", "25.4"),
        ("1", "mi", "km", "1.609344"),
        ("1", "UK gal", "L", "4.54609"),
        ("1", "US gal", "L", "3.785411784"),
        ("1", "bar", "kPa", "100"),
        ("25", "ft", "m", "7.62"),
        ("7.62", "m", "ft", "25"),
        ("-40", "degF", "degC", "-40"),
        ("212", "degF", "degC", "100"),
        ("0", "degC", "degF", "32"),
        ("123456.7", "km", "km", "123456.7"),
        ("18", "months", "years", "1.5"),
    ],
)
def test_what_is_exact_stays_exact(value: str, unit: str, to: str, expected: str) -> None:
    """Inch, mile and gallon are exact by definition (NIST SP 811, appendix B.8)."""
    assert convert_value(Decimal(value), unit, to) == Decimal(expected)


def test_an_odometer_of_123456_7_km_shows_76712_4_miles() -> None:
    assert round(convert_value(Decimal("123456.7"), "km", "mi"), 1) == Decimal("76712.4")


def test_every_unit_converts_to_every_other_of_its_kind_and_back() -> None:
    for units in UNITS.values():
        for one, other in permutations(units, 2):
            there = convert_value(Decimal("12.7"), one, other)
            back = convert_value(there, other, one)
            assert abs(back - Decimal("12.7")) < Decimal("1e-25"), (one, other)


@pytest.mark.parametrize(
    ("unit", "to", "words"),
    [
        ("mm", "kPa", "mm is a unit of length, kPa of pressure"),
        ("Nm", "N", "Nm is a unit of torque"),
        ("cycles", "mm", "'cycles' cannot be converted"),
        ("mm", "furlong", "'furlong' cannot be converted"),
    ],
)
def test_units_of_different_kinds_do_not_convert(unit: str, to: str, words: str) -> None:
    with pytest.raises(BadMeasure, match=words):
        convert_value(Decimal(1), unit, to)
