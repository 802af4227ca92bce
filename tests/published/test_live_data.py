"""Live data against published worked examples and the open library `obd` 0.7.3.

Where no other source is named, a worked example is from the test suite of `obd` (test_decoders.py,
test_uas.py), decoded again by the formula of the table.
"""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from obd.commands import __mode1__ as commands

from appraise.engine.scan.live_data import Reading, decode, decode_answer, supported
from appraise.engine.scan.pids import pids


def readings(text: str) -> tuple[Reading, ...]:
    [one] = decode_answer(text).values
    return one.readings


def value(text: str) -> float | str | None:
    [one] = readings(text)
    return one.value


def by_library(pid: int, data: bytes) -> object:
    """Return what `obd` makes of the data, which it wants behind two more bytes."""
    decoder = next(one.decode for one in commands if one.pid == pid)
    return decoder([SimpleNamespace(data=bytearray(b"\x41" + bytes([pid]) + data))])


@pytest.mark.parametrize(
    ("text", "expected", "unit"),
    [
        ("41 05 6E", 70.0, "°C"),  # scapy test suite
        ("41 0C 0A 6B", 666.75, "rpm"),  # scapy test suite
        ("41 0C 0E 70", 924.0, "rpm"),  # docs.racket-lang.org/obd2
        ("41 0A 80", 384.0, "kPa"),
        ("41 06 00", -100.0, "%"),
        ("41 06 80", 0.0, "%"),
        ("41 06 FF", 99.21875, "%"),
        ("41 0E 00", -64.0, "°"),
        ("41 0E FF", 63.5, "°"),
        ("41 42 00 01", 0.001, "V"),
        ("41 42 FF FF", 65.535, "V"),
        ("41 3C 00 DC", -18.0, "°C"),
        ("41 3C 01 90", 0.0, "°C"),
        ("41 3C FF FF", 6513.5, "°C"),
        ("41 22 00 01", 0.079, "kPa"),
        ("41 22 FF FF", 5177.265, "kPa"),
        ("41 23 00 01", 10.0, "kPa"),
        ("41 23 FF FF", 655_350.0, "kPa"),
        ("41 31 FF FF", 65_535.0, "km"),
        ("41 4E 0E 10", 3600.0, "min"),
        ("41 1F 0E 10", 3600.0, "s"),
        ("41 5E FF FF", 3276.75, "L/h"),
        ("41 43 FF FF", 25_700.0, "%"),
        ("41 54 7F FF", 0.0, "Pa"),
        ("41 0B AC", 172.0, "kPa"),  # computed by the formula of the table, as the next three
        ("41 33 65", 101.0, "kPa"),
        ("41 42 35 FC", 13.82, "V"),
        ("41 A6 00 12 D6 87", 123_456.7, "km"),
    ],
)
def test_worked_examples(text: str, expected: float, unit: str) -> None:
    [one] = readings(text)
    assert one.value == expected
    assert one.unit == unit


def test_the_odometer_in_miles() -> None:
    """123,456.7 km are 76,712.4 mi at 1.609344 km a mile (NIST SP 811)."""
    km = value("41 A6 00 12 D6 87")
    assert isinstance(km, float)
    assert round(km / 1.609344, 1) == 76_712.4


def test_a_narrow_band_sensor_has_voltage_and_trim() -> None:
    """Scapy test suite: 41 15 A0 78 is 0.8 V and -6.25 %; `obd` drops the trim."""
    assert [one.value for one in readings("41 15 A0 78")] == [0.8, -6.25]


def test_a_trim_of_ff_is_a_sensor_not_used_for_trim() -> None:
    """Public PID table: B = FF, not used in trim."""
    volts, trim = readings("41 15 A0 FF")
    assert volts.value == 0.8
    assert (trim.value, trim.state) == (None, "not used")


def test_fuel_system_status() -> None:
    """Scapy test suite: 41 03 02 00, system 1 closed loop, system 2 none."""
    assert [one.value for one in readings("41 03 02 00")] == ["closed loop", "none"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # scapy test suite
        ("41 00 BF BF A8 91", "01 03-09 0B-11 13 15 19 1C 20"),
        # docs.racket-lang.org/obd2
        ("41 00 BE 1F A8 13", "01 03-07 0C-11 13 15 1C 1F 20"),
    ],
)
def test_lists_of_supported_pids(text: str, expected: str) -> None:
    wanted = set[int]()
    for part in expected.split():
        first, _, last = part.partition("-")
        wanted |= set(range(int(first, 16), int(last or first, 16) + 1))
    assert supported(0x00, bytes.fromhex(text)[2:]) == wanted
    assert value(text) == " ".join(f"{one:02X}" for one in sorted(wanted))


def test_turbo_temperatures_with_their_support_bits() -> None:
    """Scapy test suite: 41 75 0A 00 11 22 33 44 55; 0A names compressor and turbine outlet."""
    found = readings("41 75 0A 00 11 22 33 44 55")
    assert [(one.value, one.state) for one in found] == [
        (None, "not supported"),
        (-23.0, "measured"),
        (None, "not supported"),
        (1709.3, "measured"),
    ]


def test_freeze_frames() -> None:
    """Scapy test suite: 42 0C 00 20 80 / 42 04 00 80 / 42 05 00 28 is 2080 rpm, 50.196 %, 0 °C."""
    found = decode_answer("42 0C 00 20 80\n42 04 00 80\n42 05 00 28").values
    assert [one.frame for one in found] == [0, 0, 0]
    rpm, load, coolant = (one.readings[0].value for one in found)
    assert rpm == 2080.0
    assert load == pytest.approx(50.196, abs=0.0005)  # printed to three places
    assert coolant == 0.0


def test_boost_commanded_and_actual() -> None:
    """Computed by scapy's layout of PID 70: words of 1/32 kPa, flags for A only."""
    found = readings("41 70 03 19 00 18 00 00 00 00 00")
    assert [one.value for one in found] == [200.0, 192.0, None, None]
    assert [one.unit for one in found] == ["kPa"] * 4


# --- the table: both ends of every range ---------------------------------------------------------

ENDS: dict[int, tuple[float, float]] = {
    0x04: (0, 100),
    0x05: (-40, 215),
    0x06: (-100, 99.21875),
    0x09: (-100, 99.21875),
    0x0A: (0, 765),
    0x0B: (0, 255),
    0x0C: (0, 16_383.75),
    0x0D: (0, 255),
    0x0E: (-64, 63.5),
    0x0F: (-40, 215),
    0x10: (0, 655.35),
    0x11: (0, 100),
    0x1F: (0, 65_535),
    0x21: (0, 65_535),
    0x22: (0, 5177.265),
    0x23: (0, 655_350),
    0x2C: (0, 100),
    0x2D: (-100, 99.21875),
    0x2E: (0, 100),
    0x2F: (0, 100),
    0x30: (0, 255),
    0x31: (0, 65_535),
    0x33: (0, 255),
    0x3F: (-40, 6513.5),
    0x42: (0, 65.535),
    0x43: (0, 25_700),
    0x45: (0, 100),
    0x46: (-40, 215),
    0x47: (0, 100),
    0x4B: (0, 100),
    0x4C: (0, 100),
    0x4D: (0, 65_535),
    0x4E: (0, 65_535),
    0x52: (0, 100),
    0x53: (0, 327.675),
    0x59: (0, 655_350),
    0x5A: (0, 100),
    0x5B: (0, 100),
    0x5C: (-40, 215),
    0x5D: (-210, 301.9921875),
    0x5E: (0, 3276.75),
    0x61: (-125, 130),
    0x62: (-125, 130),
    0x63: (0, 65_535),
    0xA6: (0, 429_496_729.5),
}
"""Public PID tables; printed there to at most three places."""


@pytest.mark.parametrize("pid", ENDS)
def test_the_ends_of_a_range(pid: int) -> None:
    [size] = pids()[pid].layouts
    found = [decode(pid, bytes([one]) * size)[0].value for one in (0x00, 0xFF)]
    assert tuple(found) == ENDS[pid]


@pytest.mark.parametrize(
    ("pid", "low", "high"),
    [
        (0x6F, 0, 255),
        (0x70, 0, 2047.96875),
        (0x71, 0, 100),
        (0x72, 0, 100),
        (0x73, 0, 655.35),
        (0x77, -40, 215),
        (0x78, -40, 6513.5),
        (0x79, -40, 6513.5),
        (0x7B, 0, 655.35),
        (0x87, 0, 2047.96875),
    ],
)
def test_the_ends_of_a_range_with_support_bits(pid: int, low: float, high: float) -> None:
    """Scapy 2.8.0, pids_60_7F.py; the scale of 87 is from memory."""
    size = min(pids()[pid].layouts)
    assert decode(pid, b"\xff" + bytes(size - 1))[-1].value == low
    assert decode(pid, b"\xff" * size)[-1].value == high


def test_the_particulate_filters_differential_pressure_goes_below_nothing() -> None:
    """Scapy 2.8.0: -327.68 .. 327.67 kPa."""
    assert decode(0x7A, b"\x07" + bytes(6))[0].value == -327.68
    assert decode(0x7A, b"\x07" + b"\xff" * 6)[0].value == 327.67


OTHERWISE = {0x32, 0x54, *range(0x14, 0x1C), *range(0x24, 0x2C), *range(0x34, 0x3C)}
"""Decoded wrongly or in part by `obd` 0.7.3 (54 rightly: it is a worked example above)."""
LIBRARY = sorted(
    {one.pid for one in commands}
    & {pid for pid in pids() if len(pids()[pid].layouts) == 1} - OTHERWISE
)
SCALED_ROUGHLY = {0x44, 0x4F}


@pytest.mark.parametrize("pid", sorted(set(LIBRARY) - SCALED_ROUGHLY))
@pytest.mark.parametrize("first", [0x00, 0x3C, 0x80, 0xFF])
def test_the_open_library_says_the_same(pid: int, first: int) -> None:
    [size] = pids()[pid].layouts
    data = bytes([first, 0x5A, 0x01, 0xFE][:size])
    theirs = by_library(pid, data)
    magnitude = theirs.magnitude if hasattr(theirs, "magnitude") else theirs
    # both are floats; the last digit may differ
    assert decode(pid, data)[0].value == pytest.approx(magnitude, rel=1e-12, abs=1e-9)


def test_enough_of_the_table_was_compared() -> None:
    assert len(set(LIBRARY) - SCALED_ROUGHLY) >= 38


# --- faults of the open libraries that are not taken over -----------------------------------------


@pytest.mark.parametrize(("data", "pascal"), [("FF 80", -32.0), ("00 80", 32.0), ("80 00", -8192)])
def test_the_evaporative_pressure_is_one_signed_number(data: str, pascal: float) -> None:
    """Public PID table: AB is one number in two's complement; `obd` signs each byte."""
    assert value(f"41 32 {data}") == pascal
    assert by_library(0x32, bytes.fromhex("FF80")).magnitude == -96.0


def test_lambda_one_is_exactly_one() -> None:
    """Scale 1/32768; `obd` has 0.0000305 and gives 0.9994."""
    assert value("41 44 80 00") == 1.0
    assert readings("41 24 80 00 00 00")[0].value == 1.0
    assert float(by_library(0x44, b"\x80\x00").magnitude) == pytest.approx(0.9994, abs=5e-5)


def test_a_wide_band_sensor_keeps_its_lambda() -> None:
    """Public PID table; `obd` returns the voltage or current alone."""
    by_volts, by_current = readings("41 24 80 00 80 00"), readings("41 34 80 00 80 00")
    assert [(one.value, one.unit) for one in by_volts] == [(1.0, "ratio"), (4.0, "V")]
    assert [(one.value, one.unit) for one in by_current] == [(1.0, "ratio"), (0.0, "mA")]


def test_a_single_bank_car_has_its_two_sensors_on_bank_1() -> None:
    """Public PID table: bit 0 of 13 is bank 1 sensor 1; `obd` reads from the other end."""
    assert value("41 13 03") == "bank 1 sensor 1, bank 1 sensor 2"
    assert value("41 13 10") == "bank 2 sensor 1"
    assert by_library(0x13, b"\x03")[2] == (False, False, True, True)


def test_four_banks_of_two_by_the_other_list() -> None:
    """Scapy 2.8.0, PID 1D: bit 2 is bank 2 sensor 1."""
    assert value("41 1D 85") == "bank 1 sensor 1, bank 2 sensor 1, bank 4 sensor 2"
