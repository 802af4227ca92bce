"""What the live values of an engine's computer mean: the formulas of mode 01, as a table.

Identifiers and formulas of SAE J1979 / ISO 15031-5 as the open libraries `obd` 0.7.3 and `scapy`
2.8.0 and public tables give them; the standards themselves were not read. Faults found in the
libraries are not taken over. What stands here from memory says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

__all__ = ["FUEL_SYSTEM", "FUEL_TYPES", "PIDS", "STANDARDS", "Field", "Pid"]

ScaledBy = Literal["", "lambda", "volts", "milliamps", "map", "air"]


@dataclass(frozen=True, slots=True)
class Field:
    """One value in an answer: ``(raw * times + plus) / over``, whole numbers throughout.

    Attributes
    ----------
    at : first byte, from 0 behind the PID.
    size : bytes, the highest first.
    bit : bit of the first byte that says whether the car has this value; None if it need not.
    signed : the bytes are one number in two's complement.
    stops : a raw value of all ones means "this or more".
    unused : raw value that means that the sensor is not used for this.
    scaled_by : which maximum of PIDs 4F and 50 rescales it.
    note : what to know about it, or an empty string.
    """

    name: str
    unit: str
    at: int = 0
    size: int = 1
    times: int = 1
    plus: int = 0
    over: int = 1
    bit: int | None = None
    signed: bool = False
    stops: bool = False
    unused: int | None = None
    scaled_by: ScaledBy = ""
    note: str = ""

    @property
    def most(self) -> int:
        """The largest raw value: all ones."""
        return (1 << 8 * self.size) - 1


@dataclass(frozen=True, slots=True)
class Pid:
    """How one answer is read.

    Attributes
    ----------
    layouts : fields by the number of data bytes; two where cars send two forms.
    """

    name: str
    layouts: Mapping[int, tuple[Field, ...]]


TOP_OF_RANGE = "stands at the top of its range: clipped, not measured"
MAP_NOTE = f"{TOP_OF_RANGE}; PID 70 or 87 reads higher"

FUEL_SYSTEM = {
    0: "none",
    1: "open loop, engine cold",
    2: "closed loop",
    4: "open loop, engine load or overrun",
    8: "open loop, because of a fault",
    16: "closed loop, with a sensor fault",
}
STANDARDS = {
    1: "OBD-II (CARB)",
    2: "OBD (EPA)",
    3: "OBD and OBD-II",
    4: "OBD-I",
    5: "none",
    6: "EOBD",
    7: "EOBD and OBD-II",
    8: "EOBD and OBD",
    9: "EOBD, OBD and OBD-II",
    10: "JOBD",
    11: "JOBD and OBD-II",
    12: "JOBD and EOBD",
    13: "JOBD, EOBD and OBD-II",
}
FUEL_TYPES = {
    1: "gasoline",
    2: "methanol",
    3: "ethanol",
    4: "diesel",
    5: "LPG",
    6: "CNG",
    7: "propane",
    8: "electric",
    9: "two fuels, running on gasoline",
    12: "two fuels, running on LPG",
    13: "two fuels, running on CNG",
    17: "hybrid, gasoline",
    18: "hybrid, ethanol",
    19: "hybrid, diesel",
    20: "hybrid, electric",
}
"""Of the enumerations, what a used car is likely to say (open library `obd`, codes.py)."""


def _percent(name: str, at: int = 0, bit: int | None = None) -> Field:
    return Field(name, "%", at, times=100, over=255, bit=bit)


def _trim(name: str, at: int = 0, unused: int | None = None) -> Field:
    return Field(name, "%", at, times=100, plus=-12_800, over=128, unused=unused)


def _celsius(name: str, at: int = 0, bit: int | None = None) -> Field:
    return Field(name, "°C", at, plus=-40, bit=bit)


def _hot(name: str, at: int = 0, bit: int | None = None) -> Field:
    return Field(name, "°C", at, 2, plus=-400, over=10, bit=bit)


def _word(name: str, unit: str, times: int = 1, over: int = 1, plus: int = 0) -> Field:
    return Field(name, unit, 0, 2, times, plus, over)


def _counter(name: str, unit: str, size: int = 2) -> Field:
    return Field(name, unit, 0, size, stops=True, note="counts no further: this or more")


def _lambda(name: str) -> Field:
    return Field(name, "ratio", 0, 2, over=32_768, scaled_by="lambda")


def _pressure(name: str, at: int, over: int, bit: int, plus: int = 0) -> Field:
    return Field(name, "kPa", at, 2, plus=plus, over=over, bit=bit)


def _boost(bits: tuple[int, int, int, int]) -> tuple[Field, ...]:
    names = ("commanded boost A", "boost A", "commanded boost B", "boost B")
    return tuple(
        Field(
            f"{name}, absolute",
            "kPa",
            1 + 2 * at,
            2,
            over=32,
            bit=bit,
            stops=True,
            note=TOP_OF_RANGE,
        )
        for at, (name, bit) in enumerate(zip(names, bits, strict=True))
    )


def _vanes(what: str, bits: tuple[int, int, int, int]) -> tuple[Field, ...]:
    names = (f"commanded {what} A", f"{what} A", f"commanded {what} B", f"{what} B")
    return tuple(
        _percent(name, at, bit) for at, (name, bit) in enumerate(zip(names, bits, strict=True), 1)
    )


SHORT_BITS = (0, 1, 2, 3)
"""Support bits in the form without a status byte (open library `scapy`)."""
LONG_BITS = (0, 1, 3, 4)
"""Support bits in the form with a status byte at the end; from memory."""


def _turbo(letter: str) -> tuple[Field, ...]:
    return (
        _celsius(f"turbo {letter} compressor inlet temperature", 1, 0),
        _celsius(f"turbo {letter} compressor outlet temperature", 2, 1),
        _hot(f"turbo {letter} turbine inlet temperature", 3, 2),
        _hot(f"turbo {letter} turbine outlet temperature", 5, 3),
    )


def _filter(bank: int) -> tuple[Field, ...]:
    name = f"particulate filter bank {bank}"
    return (
        _pressure(f"{name} differential pressure", 1, 100, 0, -32_768),
        _pressure(f"{name} inlet pressure", 3, 100, 1),
        _pressure(f"{name} outlet pressure", 5, 100, 2),
    )


def _exhaust_gas(bank: int) -> tuple[Field, ...]:
    return tuple(
        _hot(f"exhaust gas temperature bank {bank} sensor {at + 1}", 1 + 2 * at, at)
        for at in range(4)
    )


def _sides(name: str) -> tuple[str, str]:
    return f"{name} bank 1", f"{name} bank 2"


SINGLE: dict[int, Field] = {
    0x04: _percent("calculated engine load"),
    0x05: _celsius("coolant temperature"),
    0x06: _trim("short-term fuel trim, bank 1"),
    0x07: _trim("long-term fuel trim, bank 1"),
    0x08: _trim("short-term fuel trim, bank 2"),
    0x09: _trim("long-term fuel trim, bank 2"),
    0x0A: Field("fuel pressure, gauge", "kPa", times=3),
    0x0B: Field(
        "intake manifold pressure, absolute", "kPa", stops=True, scaled_by="map", note=MAP_NOTE
    ),
    0x0C: _word("engine speed", "rpm", over=4),
    0x0D: Field("vehicle speed", "km/h"),
    0x0E: Field("ignition timing, cylinder 1, before top dead center", "°", plus=-128, over=2),
    0x0F: _celsius("intake air temperature"),
    0x10: Field("air mass flow", "g/s", 0, 2, over=100, scaled_by="air"),
    0x11: _percent("throttle position"),
    0x1F: _word("run time since start", "s"),
    0x21: _counter("distance with the light on", "km"),
    0x22: _word("fuel rail pressure, against the manifold", "kPa", 79, 1000),
    0x23: _word("fuel rail pressure, gauge", "kPa", 10),
    0x2C: _percent("commanded EGR"),
    0x2D: _trim("EGR error"),
    0x2E: _percent("commanded evaporative purge"),
    0x2F: _percent("fuel level"),
    0x30: _counter("warm-ups since codes were cleared", "count", 1),
    0x31: _counter("distance since codes were cleared", "km"),
    0x32: Field("evaporative system pressure", "Pa", 0, 2, over=4, signed=True),
    0x33: Field("barometric pressure, absolute", "kPa"),
    0x3C: _hot("catalyst temperature, bank 1 sensor 1"),
    0x3D: _hot("catalyst temperature, bank 2 sensor 1"),
    0x3E: _hot("catalyst temperature, bank 1 sensor 2"),
    0x3F: _hot("catalyst temperature, bank 2 sensor 2"),
    0x42: _word("control module voltage", "V", over=1000),
    0x43: _word("absolute load", "%", 100, 255),
    0x44: _word("commanded lambda", "ratio", over=32_768),
    0x45: _percent("relative throttle position"),
    0x46: _celsius("outside temperature"),
    0x47: _percent("throttle position B"),
    0x48: _percent("throttle position C"),
    0x49: _percent("accelerator pedal position D"),
    0x4A: _percent("accelerator pedal position E"),
    0x4B: _percent("accelerator pedal position F"),
    0x4C: _percent("commanded throttle"),
    0x4D: _counter("reported minutes with the light on", "min"),
    0x4E: _counter("reported minutes since codes were cleared", "min"),
    0x52: _percent("ethanol in the fuel"),
    0x53: _word("evaporative system pressure, absolute", "kPa", over=200),
    0x54: Field(
        "evaporative system pressure",
        "Pa",
        0,
        2,
        plus=-32_767,
        note="editions differ: some cars send a signed number, 00 00 for nothing",
    ),
    0x59: _word("fuel rail pressure, absolute", "kPa", 10),
    0x5A: _percent("relative accelerator pedal position"),
    0x5B: _percent("hybrid battery remaining life"),
    0x5C: _celsius("engine oil temperature"),
    0x5D: _word("fuel injection timing", "°", over=128, plus=-26_880),
    0x5E: _word("engine fuel rate", "L/h", over=20),
    0x61: Field("torque the driver asks for", "%", plus=-125),
    0x62: Field("engine torque", "%", plus=-125),
    0x63: _word("engine reference torque", "N·m"),
    0xA6: Field("odometer", "km", 0, 4, over=10),
}
"""PIDs with one value over all their bytes."""

SEVERAL: dict[int, dict[int, tuple[Field, ...]]] = {
    0x4F: {
        4: (
            Field("largest lambda", "ratio", 0),
            Field("largest oxygen sensor voltage", "V", 1),
            Field("largest oxygen sensor current", "mA", 2),
            Field("largest intake manifold pressure", "kPa", 3, times=10),
        )
    },
    0x50: {4: (Field("largest air mass flow", "g/s", 0, times=10),)},
    0x6F: {
        3: tuple(
            Field(
                f"turbo {letter} compressor inlet pressure, absolute",
                "kPa",
                at + 1,
                bit=at,
                stops=True,
                note=TOP_OF_RANGE,
            )
            for at, letter in enumerate("AB")
        )
    },
    0x70: {9: _boost(SHORT_BITS), 10: _boost(LONG_BITS)},
    0x71: {
        5: _vanes("turbo vane position", SHORT_BITS),
        6: _vanes("turbo vane position", LONG_BITS),
    },
    0x72: {5: _vanes("wastegate position", SHORT_BITS), 6: _vanes("wastegate position", LONG_BITS)},
    0x73: {
        5: tuple(
            _pressure(name, 1 + 2 * at, 100, at)
            for at, name in enumerate(_sides("exhaust pressure"))
        )
    },
    0x75: {7: _turbo("A")},
    0x76: {7: _turbo("B")},
    0x77: {
        5: tuple(
            _celsius(f"charge-air cooler temperature {place}", at + 1, at)
            for at, place in enumerate(
                f"bank {bank} sensor {sensor}" for bank in (1, 2) for sensor in (1, 2)
            )
        )
    },
    0x78: {9: _exhaust_gas(1)},
    0x79: {9: _exhaust_gas(2)},
    0x7A: {7: _filter(1)},
    0x7B: {7: _filter(2)},
    # length read, scale from memory
    0x87: {
        5: tuple(
            Field(
                f"intake manifold pressure {letter}, absolute, wide range",
                "kPa",
                1 + 2 * at,
                2,
                over=32,
                bit=at,
                stops=True,
                note=TOP_OF_RANGE,
            )
            for at, letter in enumerate("AB")
        )
    },
}
"""PIDs with several values; most begin with a byte of support bits."""


def _oxygen() -> Iterable[tuple[int, int, tuple[Field, ...]]]:
    """Yield the three kinds of oxygen sensor answers: narrow band, wide band by volts, by current.

    Sensor numbers 1 to 8 run over the banks as PID 13 or 1D says.
    """
    for number in range(1, 9):
        name = f"oxygen sensor {number}"
        yield (
            0x13 + number,
            2,
            (Field(f"{name} voltage", "V", over=200), _trim(f"{name} fuel trim", 1, unused=0xFF)),
        )
        volts = Field(f"{name} voltage", "V", 2, 2, over=8192, scaled_by="volts")
        current = Field(
            f"{name} current", "mA", 2, 2, plus=-32_768, over=256, scaled_by="milliamps"
        )
        yield 0x23 + number, 4, (_lambda(f"{name} lambda"), volts)
        yield 0x33 + number, 4, (_lambda(f"{name} lambda"), current)


def _all() -> Iterable[tuple[int, Pid]]:
    for pid, one in SINGLE.items():
        yield pid, Pid(one.name, {one.size: (one,)})
    for pid, layouts in SEVERAL.items():
        yield pid, Pid(next(iter(layouts.values()))[0].name, layouts)
    for pid, size, fields in _oxygen():
        yield pid, Pid(fields[0].name.rsplit(" ", 1)[0], {size: fields})


PIDS: Mapping[int, Pid] = MappingProxyType(dict(sorted(_all())))
"""Every PID that is read by formula; those that are bits or lists stand in `live_data`."""
