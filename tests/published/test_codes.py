"""Trouble codes against the published bytes and the open library `obd` 0.7.3."""

from __future__ import annotations

import pytest
from obd.decoders import parse_dtc

from appraise.engine.scan.trouble_codes import decode_messages, decode_two_bytes, family

PUBLISHED = "43 06 01 43 01 96 02 34 02 CD 03 57 0A 24"
"""Test suite of the open library scapy, contrib/automotive/obd."""
ITS_CODES = ("P0143", "P0196", "P0234", "P02CD", "P0357", "P0A24")


@pytest.mark.parametrize(
    ("a", "b", "code"),
    [
        (0x01, 0x04, "P0104"),  # test suite of the open library obd
        (0x41, 0x23, "C0123"),  # the same
        (0x80, 0x03, "B0003"),  # the same
        (0x03, 0x01, "P0301"),  # these by the rule of SAE J2012 that obd follows
        (0x0A, 0x80, "P0A80"),
        (0x04, 0x20, "P0420"),
        (0x22, 0x63, "P2263"),
        (0x20, 0xEE, "P20EE"),
        (0xC1, 0x00, "U0100"),
        (0x40, 0x35, "C0035"),
    ],
)
def test_two_bytes_and_their_code(a: int, b: int, code: str) -> None:
    assert decode_two_bytes(a, b) == code


def test_two_zero_bytes_are_filling() -> None:
    """Test suite of obd: 00 00 is no code."""
    assert decode_two_bytes(0, 0) == ""
    assert parse_dtc((0, 0)) is None


def test_every_two_bytes_are_the_code_of_the_open_library() -> None:
    """`obd` 0.7.3, decoders.parse_dtc, but for its small hex letters."""
    for number in range(1, 65_536):
        a, b = divmod(number, 256)
        code = decode_two_bytes(a, b)
        assert code == parse_dtc((a, b))[0].upper()


def test_the_small_letters_of_the_open_library_are_not_taken_over() -> None:
    """`obd` 0.7.3 gives P20ee, which a list keyed P20EE misses."""
    assert parse_dtc((0x20, 0xEE))[0] == "P20ee"
    assert decode_two_bytes(0x20, 0xEE) == "P20EE"


@pytest.mark.parametrize(
    "text",
    [
        PUBLISHED,
        PUBLISHED.replace(" ", ""),
        PUBLISHED.lower(),
        f"SEARCHING...\r{PUBLISHED}\r\r>",
        f">03\r{PUBLISHED}\r",
        "00E\n0: 43 06 01 43 01 96\n1: 02 34 02 CD 03 57 0A\n2: 24 00 00 00 00 00 00\n>",
        "00E\n0:430601430196\n1:023402CD03570A\n2:24AAAAAAAAAAAA",
        "7E8 10 0E 43 06 01 43 01 96\n7E8 21 02 34 02 CD 03 57 0A\n7E8 22 24 55 55 55 55 55 55",
        "7E8100E430601430196\n7E821023402CD03570A\n7E82224000000000000",
        "18DAF110100E430601430196\n18DAF11021023402CD03570A\n18DAF1102224",
        "18 DA F1 10 10 0E 43 06 01 43 01 96\n18 DA F1 10 21 02 34 02 CD 03 57 0A 24",
    ],
)
def test_the_published_message_in_every_dress(text: str) -> None:
    """Bytes of scapy's test suite; lines as ISO 15765-2 splits them."""
    message = decode_messages(text)[0]
    assert message.codes == ITS_CODES
    assert message.mode == "confirmed"


def test_an_odd_byte_at_the_end_is_dropped() -> None:
    """Test suite of obd: `01 04 80 03 41` holds P0104 and B0003."""
    message = decode_messages("43 01 04 80 03 41")[0]
    assert message.codes == ("P0104", "B0003")
    assert "an odd byte at the end was left out: 41" in message.notes
    longer = decode_messages(f"{PUBLISHED} 99")[0]
    assert longer.codes == ITS_CODES
    assert "an odd byte at the end was left out: 99" in longer.notes


@pytest.mark.parametrize(("first", "mode"), [("43", "confirmed"), ("47", "pending")])
def test_which_list_it_came_from(first: str, mode: str) -> None:
    """Public table: mode 03 confirmed, 07 pending."""
    assert decode_messages(f"{first} 01 04 20")[0].mode == mode


def test_from_memory_0a_is_the_permanent_list() -> None:
    assert decode_messages("4A 01 04 20")[0].mode == "permanent"


@pytest.mark.parametrize(
    ("code", "generic", "words"),
    [
        ("P0420", True, "powertrain"),  # public summaries of SAE J2012
        ("P1234", False, "powertrain"),  # the same
        ("P2263", True, "powertrain"),  # from memory; some older summaries call only P0 generic
        ("P3000", False, "powertrain"),  # from memory
        ("P3399", False, "powertrain"),  # from memory
        ("P3400", True, "powertrain"),  # from memory
        ("P3999", True, "powertrain"),  # from memory
        ("B0001", True, "body"),  # letters: public summaries; digits: from memory
        ("B1000", False, "body"),
        ("C0035", True, "chassis"),
        ("C2100", False, "chassis"),
        ("U0100", True, "network"),
        ("U1000", False, "network"),
        # of U3 a scan tool's manual says generic, other public summaries reserved
        ("U3000", False, "reserved on some public lists, generic on others"),
    ],
)
def test_families(code: str, generic: bool, words: str) -> None:  # noqa: FBT001
    found = family(code)
    assert found.letter == code[0]
    assert found.generic is generic
    assert words in found.meaning
    assert found.asks_for_the_make is not generic


@pytest.mark.parametrize(
    ("code", "part"),
    [
        ("P0171", "fuel and air metering"),
        ("P0201", "fuel and air metering, injector circuits"),
        ("P0301", "ignition or misfire"),
        ("P0420", "auxiliary emission controls"),
        ("P0500", "vehicle speed, idle control"),
        ("P0606", "control module and its outputs"),
        ("P0700", "transmission"),
        ("P0841", "transmission"),
        ("P0A80", "hybrid or electric drive"),  # from memory
        ("P2300", "ignition or misfire"),  # from memory
        ("P1234", ""),
        ("U0100", ""),
        ("U3000", "control module, as it is commonly given"),  # common practice
        ("U3001", ""),
    ],
)
def test_the_third_character_names_the_part(code: str, part: str) -> None:
    """Public summaries of SAE J2012 for P0; P2 is split otherwise; a maker's own not at all."""
    assert family(code).part == part
