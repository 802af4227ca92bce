"""Reading codes that people type and answers that they paste."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appraise.engine.scan.answers import BadAnswer, hex_bytes
from appraise.engine.scan.trouble_codes import (
    BadCode,
    Message,
    ReadCode,
    decode_messages,
    decode_two_bytes,
    family,
    parse_code,
    read_code,
)
from appraise.errors import AppraiseError

Answered = TypeVar("Answered")


@pytest.mark.parametrize(
    "text", ["P0420", "p0420", " p 0420 ", "P-0420", "P0 420", "PO420", "PO42O", "P0420-00"]
)
def test_a_code_is_read_as_people_type_it(text: str) -> None:
    assert parse_code(text) == "P0420"


def test_what_was_corrected_is_said() -> None:
    assert read_code("P0420").notes == ()
    assert read_code("po420").notes == ("the letter O was read as the digit 0",)
    assert read_code("P0I71").notes == ("the letter I was read as the digit 1",)


@pytest.mark.parametrize("text", ["C0035-1F", "C0035:1F", "C0035 1f", "C00351F"])
def test_the_failure_type_is_split_off(text: str) -> None:
    assert read_code(text) == ReadCode("C0035", "1F")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("P0G99", "'G' is not a digit"),
        ("", "is empty"),
        ("   ", "is empty"),
        ("0420", "has no letter"),
        ("P4420", "0 to 3, not 4"),
        ("X0420", "begins with P, C, B or U, not with 'X'"),
        ("P04", "a letter and four digits, not 2"),
        ("P04201", "a letter and four digits, not 5"),
        ("P", "a letter and four digits, not 0"),
        ("P0420 P0301", "more than one code"),
        ("P0000", "is no code"),
        ("P0٤20", "'٤' is not a digit"),
        ("-", "not with '-'"),
        ("P0420" * 30, "more than one code"),
    ],
)
def test_what_is_no_code_is_refused_with_the_reason(text: str, words: str) -> None:
    with pytest.raises(BadCode) as refused:
        parse_code(text)
    assert words in str(refused.value)
    assert len(str(refused.value)) < 120
    assert str(refused.value).isprintable()


@pytest.mark.parametrize("pair", [(-1, 0), (0, 256), (1000, 2)])
def test_what_is_no_byte_is_refused(pair: tuple[int, int]) -> None:
    with pytest.raises(BadCode, match="0 to 255"):
        decode_two_bytes(*pair)


def test_a_makers_own_code_asks_for_the_make() -> None:
    assert family("P1234").asks_for_the_make
    assert "different things on different makes" in family("P1234").meaning
    assert not family("P0420").asks_for_the_make


# --- which bus ------------------------------------------------------------------------------------


def test_a_count_is_noted_as_an_assumption_only_without_a_header() -> None:
    assert decode_messages("43 01 04 20")[0].notes == (
        "taken as an answer on CAN: 01 after 43 is the count of codes",
    )
    assert decode_messages("7E8 04 43 01 04 20")[0].notes == ()


def test_three_codes_filled_up_are_an_older_bus() -> None:
    message = decode_messages("43 01 71 03 00 00 00")[0]
    assert message.codes == ("P0171", "P0300")
    assert message.notes[0].startswith("taken as an answer of an older bus")


def test_where_both_readings_fit_the_other_one_is_said() -> None:
    message = decode_messages("43 01 04 20 00 00 00")[0]
    assert message.codes == ("P0104", "P2000")
    assert "on CAN it would be P0420" in message.notes[0]


def test_the_bus_can_be_told() -> None:
    text = "43 01 04 20 00 00 00"
    assert decode_messages(text, "CAN")[0] == Message("confirmed", ("P0420",))
    assert decode_messages(text, "older")[0] == Message("confirmed", ("P0104", "P2000"))


@pytest.mark.parametrize(
    "text", ["48 6B 10 43 01 04 03 01 00 00 C5", "87 F1 10 43 01 04 03 01 00 00 D4"]
)
def test_headers_of_older_buses_are_taken_off(text: str) -> None:
    assert decode_messages(text)[0] == Message("confirmed", ("P0104", "P0301"))


def test_several_answers_of_an_older_bus_are_one_list() -> None:
    message = decode_messages("43 01 04 03 01 03 02\n43 03 03 01 04 00 00")[0]
    assert message.codes == ("P0104", "P0301", "P0302", "P0303")


def test_two_control_units_are_put_together() -> None:
    message = decode_messages("7E8 04 43 01 01 71\n7E9 04 43 01 07 00")[0]
    assert message.codes == ("P0171", "P0700")
    assert message.notes == ("the lists of 2 control units are put together",)


def test_two_control_units_that_take_turns_are_told_apart() -> None:
    text = """
    7E8 10 0A 43 04 01 01 01 02
    7E9 10 0A 43 04 07 01 07 02
    7E8 21 01 03 01 04
    7E9 21 07 03 07 04
    """
    assert decode_messages(text)[0].codes == tuple(
        f"P0{number}" for number in (101, 102, 103, 104, 701, 702, 703, 704)
    )


@pytest.mark.parametrize(
    "text", ["43 00", "43 00 00 00 00 00 00", "7E8 02 43 00 00 00 00 00 00", "4700"]
)
def test_an_empty_list_holds_no_codes(text: str) -> None:
    assert decode_messages(text)[0].codes == ()


def test_two_lists_are_two_messages() -> None:
    text = "43 00\n4A 01 04 20"
    assert [(one.mode, one.codes) for one in decode_messages(text)] == [
        ("confirmed", ()),
        ("permanent", ("P0420",)),
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        (" \n ", "is empty"),
        ("43 0", "odd number of hex digits"),
        ("4301 042", "odd number of hex digits"),
        ("43 01 0G 20", "'G' is not a hex digit"),
        ("43 ?? 20", "'?' is not a hex digit"),
        ("NO DATA", "not the same as no codes"),
        ("SEARCHING...\nUNABLE TO CONNECT\n>", "not the same as no codes"),
        (">03", "only what was typed"),
        ("43", "breaks off after 43"),
        ("43 06 01 43", "holds 6 codes, and 1 are here"),
        ("7F 03 11", "does not know this request"),
        ("41 05 6E", "no list of codes"),
        ("99 04 20", "is no answer of a car"),
        ("00E\n0: 43 06 01 43 01 96\n1: 02 34", "breaks off after 8 of 14 bytes"),
        ("00E\n0: 43 06 01 43 01 96\n2: 24", "line 1 of a longer answer is missing"),
        ("1: 43 06 01 43", "begins in the middle"),
        ("7E8 06 43 02 01", "not as long as its length byte says"),
        ("43 00 " * 40_000, "is too long"),
    ],
)
def test_an_answer_that_cannot_be_read_is_never_a_clean_list(text: str, words: str) -> None:
    with pytest.raises(BadAnswer) as refused:
        decode_messages(text)[0]
    assert words in str(refused.value)


def test_a_control_unit_still_working_is_waited_for() -> None:
    assert decode_messages("7E8 03 7F 03 78\n7E8 04 43 01 04 20")[0].codes == ("P0420",)


def test_a_damaged_line_is_left_out_and_said() -> None:
    message = decode_messages("43 01 04 20 <DATA ERROR\n43 01 03 01")[0]
    assert message.codes == ("P0301",)
    assert "a line that the adapter marked as damaged was left out" in message.notes


def test_hex_of_any_dress_is_the_same_bytes() -> None:
    assert hex_bytes("41 05 6e") == hex_bytes("41056E") == b"\x41\x05\x6e"
    assert decode_messages("0x43, 0x01, 0x04, 0x20")[0].codes == ("P0420",)


# --- anything at all ------------------------------------------------------------------------------

PASTED = st.text(alphabet="0123456789ABCDEF43 \n:>7E8", max_size=80)


def told(work: Callable[[str], Answered], text: str) -> Answered | str:
    """Return what comes out, or the words of the refusal."""
    try:
        return work(text)
    except AppraiseError as refused:
        return str(refused)


@given(st.binary(max_size=40), st.sampled_from(["43", "47", "4A", "7E8 06 43", ""]))
def test_any_bytes_are_a_list_or_a_clear_refusal(data: bytes, before: str) -> None:
    found = told(decode_messages, f"{before} {data.hex(' ')}")
    if isinstance(found, str):
        assert found.isprintable()
        assert found
    else:
        assert all(parse_code(code) == code for one in found for code in one.codes)
        assert sum(len(one.codes) for one in found) <= len(data) // 2


@given(PASTED | st.text(max_size=60))
def test_any_pasted_text_is_read_or_refused(text: str) -> None:
    found = told(decode_messages, text)
    assert found
    assert not isinstance(found, str) or found.isprintable()


@given(st.text(max_size=12) | st.from_regex(r"[PCBUpcbu][0-9A-Ga-gOo]{0,6}", fullmatch=True))
def test_any_typed_text_is_a_code_or_refused(text: str) -> None:
    found = told(read_code, text)
    if isinstance(found, str):
        assert found.isprintable()
        assert found
    else:
        assert parse_code(found.code) == found.code
        assert family(found.code).letter == found.code[0]
