"""Text pasted from a scan tool, taken apart into the answers of the car's control units.

Knows the lines as the common adapters print them: with or without spaces, with CAN headers of 11
or 29 bits, with the three header bytes and the check sum of older buses, a longer answer in
several lines, and the words an adapter prints between them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

from appraise.errors import AppraiseError

__all__ = ["Answer", "Answers", "BadAnswer", "Bus", "hex_bytes", "shown", "split_answers"]

Bus = Literal["CAN", "older"]

LONGEST = 100_000
SHOWN = 40
POSITIVE = range(0x41, 0x4B)
"""First bytes of positive answers to modes 01 to 0A."""
NEGATIVE = 0x7F
STILL_WORKING = 0x78
REFUSALS = {
    0x10: "refused",
    0x11: "it does not know this request",
    0x12: "it does not have what was asked for",
    0x21: "busy",
    0x22: "not possible as the car stands now",
    0x31: "asked for something out of its range",
    0x33: "locked",
}
"""Reasons of a negative answer (ISO 14229-1, negative response codes; from memory)."""

NOISE = re.compile(
    r"SEARCHING *\.*|BUS INIT:? *\.*(?: *OK\b)?(?: *ERROR\b)?|UNABLE TO CONNECT|STOPPED"
    r"|BUFFER FULL|CAN ERROR|BUS ERROR|BUS BUSY|FB ERROR|LV RESET|ACT ALERT|NO *DATA"
    r"|ELM ?\d+ *V?[\d.]*[A-Z]?|\bERR\d\d\b|\bOK\b"
)
BROKEN = re.compile(r"<? *(?:DATA|RX) ERROR")
COMMAND = re.compile(r"0[1-9A](?:[0-9A-F]{2}){0,6}[0-9A-F]?|(?:AT|ST) ?[A-Z].*")
TOTAL = re.compile(r"[01][0-9A-F]{2}")
PART = re.compile(r"([0-9A-F]):(.*)")
HEADER_11 = re.compile(r"(7E[8-9A-F])((?:[0-9A-F]{2})+)")
HEADER_29 = re.compile(r"(18DAF1[0-9A-F]{2})((?:[0-9A-F]{2})+)")


class BadAnswer(AppraiseError):
    """What was pasted is no answer of a car that can be read."""


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer of one control unit, put together from its lines.

    Attributes
    ----------
    data : from the byte that names the mode (41, 43 ...) to the last, without header and check sum.
    bus : what the lines themselves show; None if they do not.
    source : header of the control unit in hex, or an empty string.
    """

    data: bytes
    bus: Bus | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Answers:
    """All that a pasted text holds.

    Attributes
    ----------
    answers : in the order in which they were completed.
    notes : what was left out or corrected, each a sentence.
    """

    answers: tuple[Answer, ...]
    notes: tuple[str, ...] = ()


@dataclass(slots=True)
class _Longer:
    """An answer of several lines, so far."""

    total: int
    data: bytearray
    following: int = 1


@dataclass(slots=True)
class _Reading:
    """The state of going through the lines."""

    done: list[Answer] = field(default_factory=list)
    longer: dict[str, _Longer] = field(default_factory=dict)
    announced: int | None = None
    strays: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def shown(text: str) -> str:
    """Return the text in quotes, short enough for a message."""
    return repr(text if len(text) <= SHOWN else f"{text[:SHOWN]}...")


def hex_bytes(text: str) -> bytes:
    """Return the bytes that hex digits stand for, with or without spaces between bytes.

    Raises
    ------
    AppraiseError
        As `BadAnswer`: a sign is no hex digit, or a byte has only one digit.

    Examples
    --------
    >>> hex_bytes("41 05 6e").hex()
    '41056e'
    """
    tokens = text.split()
    for token in tokens:
        wrong = re.search(r"[^0-9A-Fa-f]", token)
        if wrong:
            raise BadAnswer(f"{shown(token)}: {wrong[0]!r} is not a hex digit (0-9, A-F)")
        if len(token) % 2:
            raise BadAnswer(
                f"{shown(token)}: an odd number of hex digits; every byte has two",
                hint="A digit was lost: paste the line again",
            )
    return bytes.fromhex("".join(tokens))


def split_answers(text: str) -> Answers:
    """Return the answers in a pasted text, whole, with what was left out.

    Raises
    ------
    AppraiseError
        As `BadAnswer`: there is no answer in it, it breaks off, or it is not hex.

    Examples
    --------
    >>> split_answers("7E8 03 41 05 6E 00 00 00 00").answers[0].data.hex()
    '41056e'
    """
    if len(text) > LONGEST:
        raise BadAnswer(f"is too long: {len(text)} characters, the most is {LONGEST}")
    if not text.strip():
        raise BadAnswer("is empty: paste what the scan tool printed")
    state = _Reading()
    for line in _lines(text, state):
        _take(line, state)
    _complete(state)
    if not state.done:
        raise _nothing(text, state)
    state.notes += [f"left out, no answer: {shown(one)}" for one in state.strays]
    state.notes += state.refused
    return Answers(tuple(state.done), tuple(dict.fromkeys(state.notes)))


def _lines(text: str, state: _Reading) -> Iterator[str]:
    """Yield lines in capitals, without prompts, an adapter's words and what was typed."""
    for raw in re.split(r"[\r\n>]+", text.upper()):
        if BROKEN.search(raw):
            state.notes.append("a line that the adapter marked as damaged was left out")
            continue
        if "BUFFER FULL" in raw:
            state.notes.append("the adapter ran out of room: answers may be missing")
        line = NOISE.sub(" ", raw)
        line = re.sub(r"\b0X(?=[0-9A-F])|[,;#]", " ", line).strip()
        if line not in ("", "?") and (
            TOTAL.fullmatch(line) or not COMMAND.fullmatch(line.replace(" ", ""))
        ):
            yield line


def _take(line: str, state: _Reading) -> None:
    if TOTAL.fullmatch(line):
        state.announced = int(line, 16)
        return
    part = PART.fullmatch(line)
    if part:
        _part(int(part[1], 16), hex_bytes(part[2]), state)
        return
    tokens = line.split()
    headed = len(tokens[0]) in (3, 8)
    if headed and len(tokens) > 1 and len(tokens[1]) == 1:  # the count of bytes, in one digit
        del tokens[1]
    for pattern, length in ((HEADER_11, 3), (HEADER_29, 8)):
        split = length == 8 and len(tokens[0]) == 2  # noqa: PLR2004 - 18 DA F1 10
        found = pattern.fullmatch("".join(tokens))
        if found and (split or len(tokens[0]) == length or len(tokens) == 1):
            _frame(found[1], hex_bytes(found[2]), state)
            return
    _bare(line, hex_bytes(line), state)


def _part(number: int, data: bytes, state: _Reading) -> None:
    """Take a line `0: ..`, `1: ..` of an answer whose headers the adapter took off."""
    if number == 0 and "" not in state.longer:
        state.longer[""] = _Longer(state.announced or 0, bytearray(data))
        state.announced = None
    else:
        _following("", number, data, state)
    _close("", state)


def _frame(source: str, frame: bytes, state: _Reading) -> None:
    """Take one CAN frame: its first bytes say how it goes on (ISO 15765-2)."""
    kind, low = divmod(frame[0], 16)
    if frame[0] in POSITIVE or frame[0] == NEGATIVE:
        _finish(Answer(frame, "CAN", source), state)
    elif kind == 0:
        if not 0 < low < len(frame):
            raise BadAnswer(f"a line of {source} is not as long as its length byte says")
        _finish(Answer(frame[1 : low + 1], "CAN", source), state)
    elif kind == 1 and len(frame) > 1:
        if source in state.longer:
            raise _breaks_off(state.longer[source])
        state.longer[source] = _Longer(low * 256 + frame[1], bytearray(frame[2:]))
        _close(source, state)
    elif kind == 2:  # noqa: PLR2004 - a frame that goes on
        _following(source, low, frame[1:], state)
        _close(source, state)
    elif kind != 3:  # noqa: PLR2004 - flow control, says nothing
        state.strays.append(f"{source} {frame.hex(' ').upper()}")


def _following(source: str, number: int, data: bytes, state: _Reading) -> None:
    longer = state.longer.get(source)
    if longer is None:
        raise BadAnswer("begins in the middle of a longer answer", hint="Paste all its lines")
    if number != longer.following % 16:
        raise BadAnswer(
            f"line {longer.following % 16:X} of a longer answer is missing",
            hint="Paste all its lines, in their order",
        )
    longer.following += 1
    longer.data += data


def _close(source: str, state: _Reading) -> None:
    """Finish a longer answer that has all its bytes; what follows them is filling."""
    longer = state.longer[source]
    if longer.total and len(longer.data) >= longer.total:
        del state.longer[source]
        _finish(Answer(bytes(longer.data[: longer.total]), "CAN", source), state)


def _complete(state: _Reading) -> None:
    """Finish what has no announced length; refuse what breaks off."""
    for source, longer in state.longer.items():
        if longer.total:
            raise _breaks_off(longer)
        _finish(Answer(bytes(longer.data), "CAN", source), state)


def _breaks_off(longer: _Longer) -> BadAnswer:
    return BadAnswer(
        f"a longer answer breaks off after {len(longer.data)} of {longer.total} bytes",
        hint="Paste all its lines",
    )


def _bare(line: str, data: bytes, state: _Reading) -> None:
    """Take a line without a CAN header; older buses print three header bytes and a check sum."""
    by_kind = data[:2] == b"\x48\x6b"
    by_length = data[:2] == bytes((0x80 + len(data) % 64 - 4, 0xF1))
    if len(data) > 4 and (by_kind or by_length):  # noqa: PLR2004
        _finish(Answer(data[3:-1], "older", data[:3].hex(" ").upper()), state)
    elif data[0] in POSITIVE or data[0] == NEGATIVE:
        _finish(Answer(data), state)
    else:
        state.strays.append(line)


def _finish(answer: Answer, state: _Reading) -> None:
    data = answer.data
    if not data:
        state.strays.append(answer.source)
    elif data[0] != NEGATIVE:
        state.done.append(answer)
    elif len(data) <= 2 or data[2] != STILL_WORKING:  # noqa: PLR2004 - 7F, mode, reason
        reason = REFUSALS.get(data[2], "refused") if len(data) > 2 else "refused"  # noqa: PLR2004
        what = data[:3].hex(" ").upper()
        state.refused.append(f"a control unit gave no answer ({what}): {reason}")


def _nothing(text: str, state: _Reading) -> BadAnswer:
    if state.refused:
        return BadAnswer(state.refused[0])
    if state.strays:
        return BadAnswer(
            f"{shown(state.strays[0])} is no answer of a car",
            hint="An answer begins with 41, 42, 43, 47 or 4A, with or without a header before it",
        )
    if re.search(r"NO *DATA|UNABLE TO CONNECT|ERROR", text.upper()):
        return BadAnswer(
            "no control unit answered: that is not the same as no codes",
            hint="Ignition on, plug pushed home, then ask again",
        )
    return BadAnswer("holds no answer of a car, only what was typed or the adapter's own words")
