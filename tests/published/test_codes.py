"""Trouble codes against the published bytes and the open library `obd` 0.7.3."""

from __future__ import annotations

import re

import pytest
from obd.codes import DTC
from obd.decoders import parse_dtc

from appraise.engine.scan.trouble_codes import decode_messages, decode_two_bytes, family
from appraise.reference.load import load_reference

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


# --- the list of codes against the names in `obd` 0.7.3, codes.DTC --------------------------------

LABELS = {
    one.code: one.label for group in load_reference().code_groups.values() for one in group.codes
}
RESERVED = {code for code, name in DTC.items() if "Reserved" in name}
LEFT_OUT = (
    {"P0219", "P0297", "P0574", "P2029", "P2030", "P2561"}
    | {f"P{number}" for number in (*range(2512, 2515), *range(2567, 2578))}
    | {f"U{number:04d}" for number in range(187, 197)}
)
"""Overspeed, fuel-fired heater, ozone catalyst, data recorder, disc player: no fault of ours."""


def test_every_generic_code_of_the_open_library_has_an_entry() -> None:
    """`obd` 0.7.3: every name that does not say "reserved"."""
    named = DTC.keys() - RESERVED
    assert named - LABELS.keys() - LEFT_OUT == set()
    assert len(named & LABELS.keys()) == 1995


def test_a_code_that_is_reserved_has_no_entry() -> None:
    """`obd` 0.7.3: P0364, P0383, P0384 and others stand in a row and mean nothing."""
    assert {"P0364", "P0383", "P0384", "U0074"} <= RESERVED
    assert RESERVED & LABELS.keys() == set()


def test_every_code_names_the_cylinder_of_the_open_library() -> None:
    """`obd` 0.7.3: injectors, misfires, glow plugs, knock, shut-off; 12 cylinders each."""
    cylinders = {
        code: found[1]
        for code, name in DTC.items()
        if code in LABELS and (found := re.search(r"Cylinder #?(\d+)", name))
    }
    astray = {
        code: LABELS[code]
        for code, number in cylinders.items()
        if not re.search(rf"cylinder {number}\b", LABELS[code])
    }
    assert len(cylinders) == 15 * 12
    assert astray == {}


def test_every_code_names_the_letter_of_the_open_library() -> None:
    """`obd` 0.7.3: coils A to L, solenoids A to F, sensors B and C; an A may go without saying."""
    lettered = {
        (code, letter)
        for code, name in DTC.items()
        if code in LABELS
        for letter in re.findall(r"'([B-L])'", name)
    }
    astray = {one for one in lettered if not re.search(rf"\b{one[1]}\b", LABELS[one[0]])}
    assert len(lettered) > 250
    assert astray == set()


@pytest.mark.parametrize("word", ["Low", "High", "Intermittent"])
def test_every_circuit_code_is_low_high_or_intermittent_as_in_the_open_library(word: str) -> None:
    """`obd` 0.7.3: what the circuit does stands last in the name."""
    ends = re.compile(rf"(Circuit|Sensor|Switch|Signal|Level) {word}( Input| Voltage)?$")
    codes = {code for code, name in DTC.items() if code in LABELS and ends.search(name)}
    astray = {code: LABELS[code] for code in codes if word.lower() not in LABELS[code].lower()}
    assert len(codes) > 80
    assert astray == {}


@pytest.mark.parametrize(
    ("codes", "words"),
    [
        # obd_error_codes.h of the open engine control firmware rusEFI: bank 1 sensor 1 and so on
        ("P0030 P0031 P0053 P0130 P0131 P0134 P0135", "front bank_1"),
        ("P0036 P0038 P0054 P0136 P0137 P0140 P0141", "rear bank_1"),
        ("P0042 P0044 P0055 P0142 P0143 P0146 P0147", "third bank_1"),
        ("P0050 P0052 P0059 P0150 P0151 P0154 P0155", "front bank_2"),
        ("P0056 P0058 P0060 P0156 P0157 P0160 P0161", "rear bank_2"),
        ("P0062 P0064 P0061 P0162 P0163 P0166 P0167", "third bank_2"),
        ("P0008 P0010 P0011 P0015 P0016 P0026 P0075 P0171", "bank_1"),
        ("P0009 P0020 P0021 P0025 P0018 P0028 P0081 P0174", "bank_2"),
        ("P0026 P0075 P0081", "intake"),
        ("P0027 P0078 P0084", "exhaust"),
        # from memory: no open list that was read gives the place of these
        ("P2195 P2196 P2237 P2A00", "front bank_1"),
        ("P2197 P2198 P2240 P2A03", "front bank_2"),
        ("P2270 P2271 P2232 P2A01", "rear bank_1"),
        ("P2272 P2273 P2235 P2A04", "rear bank_2"),
        ("P2088 P2089 P2090 P2091 P2096", "bank_1"),
        ("P2092 P2093 P2094 P2095 P2098", "bank_2"),
        ("P0345 P0349 P0390 P0394", "bank_2"),
        ("P000A P000B P013A P013E P014C P015A P219A", "bank_1"),
        ("P000C P000D P013C P014A P014E P015C P219B", "bank_2"),
    ],
)
def test_bank_and_place_of_a_sensor(codes: str, words: str) -> None:
    for code in codes.split():
        for word in words.split():
            assert word.replace("_", " ") in LABELS[code], code


@pytest.mark.parametrize(
    ("code", "sensor"),
    [
        ("P0135", "management.oxygen_sensor_front"),  # rusEFI: bank 1 sensor 1
        ("P0155", "management.oxygen_sensor_front"),  # bank 2 sensor 1
        ("P0141", "management.oxygen_sensor_rear"),  # bank 1 sensor 2
        ("P0161", "management.oxygen_sensor_rear"),  # bank 2 sensor 2
    ],
)
def test_a_heater_code_means_its_own_sensor(code: str, sensor: str) -> None:
    behind = [one.cause for one in load_reference().group_of_code[code].causes]
    assert behind[0] == sensor
    assert len([one for one in behind if "oxygen_sensor" in one]) == 1
