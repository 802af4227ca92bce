"""Trouble codes: between bytes and text, from pasted answers, and what their letters mean.

SAE J2012 / ISO 15031-6; the standards themselves were not read: the rules are those of the open
library `obd` 0.7.3 and of public summaries, and say so where they are from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from appraise.engine.scan.answers import Answer, BadAnswer, Bus, shown, split_answers
from appraise.errors import AppraiseError

__all__ = [
    "BadCode",
    "Family",
    "List",
    "Message",
    "ReadCode",
    "decode_messages",
    "decode_two_bytes",
    "family",
    "parse_code",
    "read_code",
    "unlisted",
]

List = Literal["confirmed", "pending", "permanent"]

LETTERS = "PCBU"
BYTE = range(256)
NO_CODE = "P0000"
LISTS: dict[int, List] = {0x43: "confirmed", 0x47: "pending", 0x4A: "permanent"}
"""Answers to modes 03, 07 and 0A (0A from memory)."""
TRIPLE = 6
"""Bytes of codes in one answer of an older bus: three codes, filled up with 00 00 (from memory)."""
LIKELY_MOST = 0x20
"""A count above this without a header is rather the first byte of a code (common practice)."""
FILLING = (0x00, 0x55, 0xAA, 0xCC, 0xFF)

SYSTEMS = {
    "P": "powertrain",
    "C": "chassis: ABS, steering, suspension",
    "B": "body: air bags, seats, doors",
    "U": "network between control units",
}
GENERIC = "generic: the same on every make"
OWN = "the maker's own: means different things on different makes"
LISTS_DIFFER = "reserved on some public lists, generic on others"
COMMONLY = {"U3000": "control module, as it is commonly given"}
"""Codes of a family on which lists differ that are given alike all the same (common practice)."""

PARTS_P0 = {
    "0": "fuel and air metering, auxiliary emission controls",  # from memory
    "1": "fuel and air metering",
    "2": "fuel and air metering, injector circuits",
    "3": "ignition or misfire",
    "4": "auxiliary emission controls",
    "5": "vehicle speed, idle control",
    "6": "control module and its outputs",
    "7": "transmission",
    "8": "transmission",
    "9": "transmission",  # from memory
} | dict.fromkeys("ABCDEF", "hybrid or electric drive")  # from memory
"""What the third character of a P0 code says (public summaries of SAE J2012)."""

PARTS_P2 = dict.fromkeys("012", "fuel and air metering, auxiliary emission controls") | {
    "3": "ignition or misfire",
    "4": "auxiliary emission controls",
    "5": "auxiliary inputs",
    "6": "control module and its outputs",
    "7": "transmission",
    "A": "fuel and air metering",
}
"""The same for P2 codes; all from memory."""

READS_AS = {"O": "0", "I": "1"}
"""Letters often typed for the digit they look like."""
WHOLE = re.compile(r"([PCBU])([0-3])([0-9A-F]{3})([0-9A-F]{2})?")


class BadCode(AppraiseError):
    """What was typed is no trouble code."""


@dataclass(frozen=True, slots=True)
class Message:
    """What a pasted list of codes says.

    Attributes
    ----------
    mode : `confirmed` (mode 03), `pending` (07) or `permanent` (0A).
    codes : each once, in the order of the answer, capitals.
    notes : what was assumed or left out, each a sentence.
    """

    mode: List
    codes: tuple[str, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReadCode:
    """A code that somebody typed.

    Attributes
    ----------
    code : capitals, five characters.
    failure_type : two hex digits that some tools print behind it, or an empty string.
    notes : what was corrected.
    """

    code: str
    failure_type: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Family:
    """What the letter and the first digits of a code say.

    Attributes
    ----------
    letter : P, C, B or U.
    meaning : system, and whether the code is generic.
    generic : whether it means the same on every make.
    part : part of the system, or an empty string where it is not settled.
    """

    letter: str
    meaning: str
    generic: bool
    part: str = ""

    @property
    def asks_for_the_make(self) -> bool:
        """Whether the code may not be looked up without the make."""
        return not self.generic


def decode_two_bytes(a: int, b: int) -> str:
    """Return the code that two bytes stand for; an empty string for 00 00, which is filling.

    ``n = 256 a + b``; the letter is ``PCBU[n >> 14]``, then two bits, then three hex digits.

    Raises
    ------
    AppraiseError
        As `BadCode`: one of them is no byte.

    Examples
    --------
    >>> decode_two_bytes(0x04, 0x20), decode_two_bytes(0xC1, 0x00), decode_two_bytes(0, 0)
    ('P0420', 'U0100', '')
    """
    if a not in BYTE or b not in BYTE:
        raise BadCode(f"{a} and {b}: a byte is a whole number from 0 to 255")
    number = 256 * a + b
    if not number:
        return ""
    return f"{LETTERS[number >> 14]}{number >> 12 & 3}{number & 0xFFF:03X}"


def parse_code(text: str) -> str:
    """Return the code that somebody typed, in capitals, five characters.

    Raises
    ------
    AppraiseError
        As `BadCode`: it is no code.

    Examples
    --------
    >>> parse_code(" p 0420-00 ")
    'P0420'
    """
    return read_code(text).code


def read_code(text: str) -> ReadCode:
    """Return the code that somebody typed, with its failure type and what was corrected.

    Spaces and small letters are let be; O for 0 and I for 1 are corrected and noted.

    Examples
    --------
    >>> read_code("PO42O").notes
    ('the letter O was read as the digit 0',)
    """
    given = "".join(text.split()).upper()
    if not given:
        raise BadCode("is empty: a code is a letter and four digits, like P0420")
    body = given[1:].lstrip("-")
    notes = tuple(
        f"the letter {letter} was read as the digit {digit}"
        for letter, digit in READS_AS.items()
        if letter in body
    )
    for letter, digit in READS_AS.items():
        body = body.replace(letter, digit)
    clean = given[0] + re.sub(r"(?<=^.{4})[-:](?=.{2}$)", "", body)
    found = WHOLE.fullmatch(clean)
    if not found:
        raise _refusal(text, clean)
    code = "".join(found.group(1, 2, 3))
    if code == NO_CODE:
        raise BadCode(f"{NO_CODE} is no code: tools print it where there is none")
    return ReadCode(code, found[4] or "", notes)


def _refusal(text: str, clean: str) -> BadCode:
    """Say the first thing that is wrong with it."""
    what = shown(text.strip())
    if len(re.findall(r"[PCBU]\w{4}", text.upper())) > 1:
        return BadCode(f"{what} is more than one code: give one at a time")
    if re.fullmatch(r"[0-3][0-9A-F]{3}", clean):
        return BadCode(f"{what} has no letter before it", hint="P, C, B or U: which one?")
    if clean[0] not in LETTERS:
        return BadCode(f"{what}: a code begins with P, C, B or U, not with {clean[0]!r}")
    strange = re.search(r"[^0-9A-F]", clean[1:])
    if strange:
        return BadCode(f"{what}: {strange[0]!r} is not a digit of a code (0-9, A-F)")
    if clean[1:2] > "3":
        return BadCode(f"{what}: the digit after the letter is 0 to 3, not {clean[1]}")
    return BadCode(f"{what}: a code is a letter and four digits, not {len(clean) - 1}")


def family(code: str) -> Family:
    """Return what the letter and the first digits of a code say.

    Generic or not is from memory but for P0 and P1 (public summaries of SAE J2012). Of B3, C3, U3
    and P3A to P3F public lists say both reserved and generic; they are taken as not generic.

    Examples
    --------
    >>> family("P0301").part, family("P1234").asks_for_the_make
    ('ignition or misfire', True)
    """
    clean = parse_code(code)
    letter, second, third = clean[0], clean[1], clean[2]
    if letter == "P":
        if second == "3":
            whose = OWN if third in "0123" else GENERIC if third.isdigit() else LISTS_DIFFER
        else:
            whose = OWN if second == "1" else GENERIC
    else:
        whose = {"0": GENERIC, "3": LISTS_DIFFER}.get(second, OWN)
    parts = {"P0": PARTS_P0, "P2": PARTS_P2}.get(clean[:2], {})
    part = parts.get(third, "") or COMMONLY.get(clean, "")
    return Family(letter, f"{SYSTEMS[letter]}; {whose}", whose is GENERIC, part)


def unlisted(code: str) -> str:
    """Return what is to be done with a code that is not in the list of codes.

    Examples
    --------
    >>> unlisted("P1234")
    'look it up with the make in hand, never without'
    """
    if family(code).asks_for_the_make:
        return "look it up with the make in hand, never without"
    return "not in the list of generic codes (reserved, newer or left out): nothing is assumed"


def decode_messages(text: str, bus: Bus | None = None) -> tuple[Message, ...]:
    """Return the codes of a pasted text, a message for each list in it.

    On CAN the byte after 43, 47 or 4A is the number of codes; on older buses there is none and
    each answer holds three codes, filled up with 00 00 (from memory). Which was taken is noted.

    Parameters
    ----------
    text : as the scan tool printed it.
    bus : what it came from, where that is known; else it is told from the lines or assumed.

    """
    split = split_answers(text)
    notes = list(split.notes)
    lists: dict[List, list[Answer]] = {}
    for answer in split.answers:
        if answer.data[0] in LISTS:
            lists.setdefault(LISTS[answer.data[0]], []).append(answer)
        else:
            notes.append(f"left out, no list of codes: {answer.data.hex(' ').upper()}")
    if not lists:
        raise BadAnswer(
            "holds no list of codes", hint="One begins with 43, 47 or 4A: ask for mode 03, 07 or 0A"
        )
    return tuple(_message(mode, answers, notes, bus) for mode, answers in lists.items())


def _message(mode: List, answers: list[Answer], notes: list[str], bus: Bus | None) -> Message:
    notes = list(notes)
    codes: list[str] = []
    for answer in answers:
        pairs = _pairs(answer, bus, notes)
        codes += [decode_two_bytes(a, b) for a, b in zip(pairs[::2], pairs[1::2], strict=True)]
    sources = {answer.source for answer in answers}
    if len(sources) > 1:
        notes.append(f"the lists of {len(sources)} control units are put together")
    kept = tuple(dict.fromkeys(one for one in codes if one))
    return Message(mode, kept, tuple(dict.fromkeys(notes)))


def _pairs(answer: Answer, bus: Bus | None, notes: list[str]) -> bytes:
    """Return the bytes that are codes, two each; say what was assumed or left out."""
    name, body = answer.data[:1].hex().upper(), answer.data[1:]
    if not body:
        raise BadAnswer(f"breaks off after {name}", hint="Paste the whole answer")
    taken = bus or answer.bus or _likely_bus(body)
    if taken == "older":
        if not bus and not answer.bus:
            notes.append(
                f"taken as an answer of an older bus: no count after {name}, "
                f"codes filled up with 00 00{_otherwise(body)}"
            )
        return _even(body, notes)
    count, pairs = body[0], body[1:]
    if not bus and not answer.bus:
        notes.append(f"taken as an answer on CAN: {body[0]:02X} after {name} is the count of codes")
    if 2 * count > len(pairs):
        raise BadAnswer(
            f"says that it holds {count} codes, and {len(pairs) // 2} are here",
            hint="Paste the whole answer",
        )
    beyond = pairs[2 * count :]
    if any(beyond) and not _filling(beyond):
        left = beyond.hex(" ").upper()
        notes.append(
            f"an odd byte at the end was left out: {left}"
            if len(beyond) == 1
            else f"bytes beyond the {count} codes it counts were left out: {left}"
        )
    return pairs[: 2 * count]


def _even(pairs: bytes, notes: list[str]) -> bytes:
    if len(pairs) % 2:
        notes.append(f"an odd byte at the end was left out: {pairs[-1]:02X}")
        return pairs[:-1]
    return pairs


def _filling(data: bytes) -> bool:
    return len(set(data)) <= 1 and all(one in FILLING for one in data)


def _fits_count(body: bytes) -> bool:
    """Whether the first byte counts the codes that follow it, but for filling or an odd byte."""
    beyond = body[1 + 2 * body[0] :]
    return 0 < 2 * body[0] < len(body) and (len(beyond) == 1 or _filling(beyond))


def _likely_bus(body: bytes) -> Bus:
    """Tell the bus by the length: threes of codes, or a count and pairs."""
    count = body[0]
    if len(body) % 2 == 0:
        return "CAN" if len(body) % TRIPLE and _fits_count(body) else "older"
    if 2 * count >= len(body):
        return "CAN" if count <= LIKELY_MOST else "older"
    return "CAN" if _filling(body[1 + 2 * count :]) else "older"


def _otherwise(body: bytes) -> str:
    """Return what the same bytes would say on CAN, where that is as good a reading."""
    if not _fits_count(body):
        return ""
    codes = (decode_two_bytes(*body[at : at + 2]) for at in range(1, 1 + 2 * body[0], 2))
    return f" (on CAN it would be {', '.join(one or 'nothing' for one in codes)})"
