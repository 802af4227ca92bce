"""Live values and freeze frames: what the bytes of modes 01 and 02 say.

A value that the car does not have is never shown as 0, and one that stands at the end of its range
is never shown as measured.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Literal

from appraise.engine.scan.answers import Answer, BadAnswer, split_answers
from appraise.engine.scan.monitors import monitor_status
from appraise.engine.scan.pids import enumeration, pids
from appraise.engine.scan.trouble_codes import decode_two_bytes
from appraise.reference.schema import PidField

__all__ = [
    "STANDARD_SCALES",
    "LiveData",
    "PidValue",
    "Reading",
    "Scales",
    "decode",
    "decode_answer",
    "not_supported",
    "supported",
]

State = Literal["measured", "clipped", "not used", "not supported"]

LIVE = 0x41
FREEZE_FRAME = 0x42
MAXIMA = 0x4F
LARGEST_AIR = 0x50
PER_BITMAP = 32
LAST_BITMAP = 0xC0
FILLING = (0x00, 0x55, 0xAA, 0xCC, 0xFF)
OTHER_LINES = "left out, no live data"
NOT_SUPPORTED = "the car does not report this"


@dataclass(frozen=True, slots=True)
class Reading:
    """One value.

    Attributes
    ----------
    value : number in `unit`, words, or None where there is nothing to show.
    state : `clipped` (this or more), `not used` or `not supported` where it is not measured.
    note : what to know about it, or an empty string.
    """

    name: str
    value: float | str | None
    unit: str
    state: State = "measured"
    note: str = ""


@dataclass(frozen=True, slots=True)
class Scales:
    """What PIDs 4F and 50 say other values reach at most; 0 leaves the usual formula.

    That they rescale lambda, voltage, current, manifold pressure and air mass is from memory.
    """

    lambda_most: int = 0
    volts_most: int = 0
    milliamps_most: int = 0
    map_kpa_most: int = 0
    air_g_s_most: int = 0

    @staticmethod
    def of(maxima: bytes = b"", air: bytes = b"") -> Scales:
        """Return the scales that the data of PID 4F and of PID 50 give."""
        ratio, volts, current, pressure = maxima[:4] if len(maxima) >= 4 else bytes(4)  # noqa: PLR2004
        return Scales(ratio, volts, current, pressure * 10, air[0] * 10 if air else 0)


STANDARD_SCALES = Scales()


@dataclass(frozen=True, slots=True)
class PidValue:
    """What an answer says about one PID.

    Attributes
    ----------
    frame : number of the freeze frame; None for live data.
    data : bytes behind the PID (and the frame number).
    source : header of the control unit in hex, or an empty string.
    """

    pid: int
    frame: int | None
    data: bytes
    readings: tuple[Reading, ...]
    source: str = ""


@dataclass(frozen=True, slots=True)
class LiveData:
    """What a pasted text holds.

    Attributes
    ----------
    notes : what was left out, each a sentence.
    """

    values: tuple[PidValue, ...]
    notes: tuple[str, ...] = ()


def supported(pid: int, data: bytes) -> frozenset[int]:
    """Return the PIDs that a bitmap (PID 00, 20, 40 ...) says the car has.

    Bit 7 of the first byte is the next PID, bit 0 of the fourth the 32nd.

    Raises
    ------
    AppraiseError
        As `BadAnswer`: no bitmap stands there, or it is not four bytes.

    Examples
    --------
    >>> sorted(supported(0x00, bytes.fromhex("80000001")))
    [1, 32]
    """
    if pid % PER_BITMAP or not 0 <= pid <= LAST_BITMAP:
        raise BadAnswer(f"PID {pid:02X} is no list of supported PIDs: those are 00, 20, 40 ... C0")
    _check_size(pid, data, (4,))
    bits = int.from_bytes(data, "big")
    return frozenset(pid + at for at in range(1, 33) if bits >> (PER_BITMAP - at) & 1)


def not_supported(pid: int) -> tuple[Reading, ...]:
    """Return what to show for a PID that the car's bitmaps leave out: its values, without one."""
    if pid in pids():
        fields = next(iter(pids()[pid].layouts.values()))
        return tuple(_missing(one) for one in fields)
    if pid in SPECIAL:
        return (Reading(SPECIAL[pid][0], None, "", "not supported", NOT_SUPPORTED),)
    raise _unknown(pid)


def decode(
    pid: int,
    data: bytes,
    *,
    scales: Scales = STANDARD_SCALES,
    has: Collection[int] | None = None,
) -> tuple[Reading, ...]:
    """Return the values of a PID.

    Parameters
    ----------
    pid : in [0x00, 0xFF].
    data : bytes behind `41 PID`, no more and no less.
    scales : of the same control unit.
    has : PIDs that the car's bitmaps name, where they were read.

    Raises
    ------
    AppraiseError
        As `BadAnswer`: the PID is not known, or the data have another length.

    Examples
    --------
    >>> [one] = decode(0x0C, bytes.fromhex("0A6B"))
    >>> one.name, one.value, one.unit
    ('engine speed', 666.75, 'rpm')
    """
    if pid not in pids() and pid not in SPECIAL:
        raise _unknown(pid)
    if has is not None and pid not in has and pid % PER_BITMAP:
        return not_supported(pid)
    if pid in SPECIAL:
        _name, size, read = SPECIAL[pid]
        _check_size(pid, data, (size,))
        return read(pid, data)
    layouts = pids()[pid].layouts
    _check_size(pid, data, tuple(layouts))
    return tuple(_read(one, data, scales) for one in layouts[len(data)])


def _read(field: PidField, data: bytes, scales: Scales) -> Reading:
    if field.bit is not None and not data[0] >> field.bit & 1:
        return _missing(field)
    piece = data[field.at : field.at + field.size]
    raw = int.from_bytes(piece, "big", signed=field.signed)
    if raw == field.unused:
        return Reading(field.name, None, field.unit, "not used", "not used by this sensor")
    value = _scaled(field, raw, scales)
    if field.stops and raw == field.most:
        return Reading(field.name, value, field.unit, "clipped", field.note)
    return Reading(field.name, value, field.unit, note="" if field.stops else field.note)


def _scaled(field: PidField, raw: int, scales: Scales) -> float:
    """Return the value by the usual formula, or by the maximum that the car gives."""
    most = {
        "lambda": scales.lambda_most,
        "volts": scales.volts_most,
        "milliamps": scales.milliamps_most,
        "map": scales.map_kpa_most,
        "air": scales.air_g_s_most,
    }.get(field.scaled_by, 0)
    if not most:
        return (raw * field.times + field.plus) / field.over
    if field.scaled_by == "milliamps":
        return (raw + field.plus) * most / -field.plus
    return raw * most / field.most


def _missing(field: PidField) -> Reading:
    return Reading(field.name, None, field.unit, "not supported", NOT_SUPPORTED)


def _check_size(pid: int, data: bytes, sizes: tuple[int, ...]) -> None:
    if len(data) not in sizes:
        wanted = " or ".join(str(one) for one in sizes)
        raise BadAnswer(f"PID {pid:02X} has {wanted} data bytes, not {len(data)}")


def _unknown(pid: int) -> BadAnswer:
    return BadAnswer(f"PID {pid:02X} is not known here" if 0 <= pid <= 0xFF else f"{pid}: no PID")  # noqa: PLR2004


# --- what is bits or a list, not a number ---------------------------------------------------------


def _monitors(pid: int, data: bytes) -> tuple[Reading, ...]:
    status = monitor_status(data, pid)
    head = []
    if status.light_on is not None:
        head = [
            Reading("malfunction light", "on" if status.light_on else "off", ""),
            Reading("confirmed codes", status.confirmed, "count"),
        ]
    words = {True: "complete", False: "not complete"}
    return (
        *head,
        *(
            Reading(f"monitor: {one.name}", words[one.complete], "")
            if one.complete is not None
            else Reading(f"monitor: {one.name}", None, "", "not supported", NOT_SUPPORTED)
            for one in status.monitors
        ),
    )


def _frame_code(_pid: int, data: bytes) -> tuple[Reading, ...]:
    return (Reading("code that froze the frame", decode_two_bytes(*data) or "none", ""),)


def _fuel_systems(_pid: int, data: bytes) -> tuple[Reading, ...]:
    return tuple(
        Reading(f"fuel system {at}", enumeration(0x03).get(one, f"not known ({one:02X})"), "")
        for at, one in enumerate(data, 1)
    )


def _sensors(pid: int, data: bytes) -> tuple[Reading, ...]:
    """Bit 0 is bank 1 sensor 1; PID 13 has four sensors a bank, PID 1D two."""
    a_bank = 4 if pid == 0x13 else 2  # noqa: PLR2004
    there = (
        f"bank {at // a_bank + 1} sensor {at % a_bank + 1}" for at in range(8) if data[0] >> at & 1
    )
    return (Reading(SPECIAL[pid][0], ", ".join(there) or "none", ""),)


def _listed(pid: int, data: bytes) -> tuple[Reading, ...]:
    words = enumeration(pid)
    return (Reading(SPECIAL[pid][0], words.get(data[0], f"not known ({data[0]})"), ""),)


def _bitmap(pid: int, data: bytes) -> tuple[Reading, ...]:
    names = " ".join(f"{one:02X}" for one in sorted(supported(pid, data)))
    return (Reading(SPECIAL[pid][0], names or "none", ""),)


Reader = Callable[[int, bytes], tuple[Reading, ...]]
SPECIAL: dict[int, tuple[str, int, Reader]] = {
    0x01: ("monitor status since codes were cleared", 4, _monitors),
    0x02: ("code that froze the frame", 2, _frame_code),
    0x03: ("fuel system status", 2, _fuel_systems),
    0x13: ("oxygen sensors present", 1, _sensors),
    0x1C: ("standard that the car meets", 1, _listed),
    0x1D: ("oxygen sensors present", 1, _sensors),
    0x41: ("monitor status of this drive", 4, _monitors),
    0x51: ("fuel type", 1, _listed),
}
SPECIAL.update(
    (base, (f"supported PIDs {base + 1:02X} to {base + PER_BITMAP:02X}", 4, _bitmap))
    for base in range(0, LAST_BITMAP + 1, PER_BITMAP)
)


# --- pasted answers -------------------------------------------------------------------------------


def decode_answer(text: str) -> LiveData:
    """Return the values of a pasted text: answers that begin with 41, or 42 for a freeze frame.

    An answer may hold several PIDs. Where PID 4F or 50 is among the answers of a control unit,
    its other values are scaled by it.

    Raises
    ------
    AppraiseError
        As `BadAnswer`: it holds none that can be read.

    Examples
    --------
    >>> [one] = decode_answer("41 05 6E").values
    >>> one.readings[0].value
    70.0
    """
    split = split_answers(text)
    notes = list(split.notes)
    pieces = [
        (answer, piece)
        for answer in split.answers
        if _is_live(answer, notes)
        for piece in _pieces(answer, notes)
    ]
    if not pieces:
        why = [one for one in notes if not one.startswith(OTHER_LINES)] or notes
        raise BadAnswer(why[-1] if why else "holds no live data", hint="One begins with 41")
    scales: dict[str, dict[int, bytes]] = {}
    for answer, (pid, frame, data) in pieces:
        if pid in (MAXIMA, LARGEST_AIR) and frame is None:
            scales.setdefault(answer.source, {})[pid] = data
    values = []
    for answer, (pid, frame, data) in pieces:
        given = scales.get(answer.source, {})
        by = Scales.of(given.get(MAXIMA, b""), given.get(LARGEST_AIR, b""))
        values.append(PidValue(pid, frame, data, decode(pid, data, scales=by), answer.source))
    return LiveData(tuple(values), tuple(dict.fromkeys(notes)))


def _is_live(answer: Answer, notes: list[str]) -> bool:
    if answer.data[0] in (LIVE, FREEZE_FRAME):
        return True
    notes.append(f"{OTHER_LINES}: {answer.data.hex(' ').upper()}")
    return False


def _pieces(answer: Answer, notes: list[str]) -> list[tuple[int, int | None, bytes]]:
    """Return PID, frame and data of each value in an answer."""
    ahead = 1 if answer.data[0] == LIVE else 2
    rest, out = answer.data[1:], list[tuple[int, int | None, bytes]]()
    if not rest:
        notes.append(f"breaks off after {answer.data[0]:02X}")
    while rest:
        if out and len(set(rest)) == 1 and rest[0] in FILLING:
            break
        pid, data = rest[0], rest[ahead:]
        size = _size(pid, len(data))
        if size is None:
            what = "this and what follows it were not read"
            notes.append(f"PID {pid:02X} is not known here: {what}")
            break
        if len(data) < size:
            notes.append(f"PID {pid:02X} has {size} data bytes, and {len(data)} are here")
            break
        out.append((pid, rest[1] if ahead > 1 else None, data[:size]))
        rest = data[size:]
    return out


def _size(pid: int, there: int) -> int | None:
    """Return the number of data bytes of a PID; of two forms the one that fits to the end."""
    if pid in SPECIAL:
        return SPECIAL[pid][1]
    if pid not in pids():
        return None
    sizes = tuple(pids()[pid].layouts)
    return there if there in sizes else sizes[0]
