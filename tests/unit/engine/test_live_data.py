"""Live data: what is missing is never 0, what is clipped is never measured."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appraise.engine.scan.answers import BadAnswer
from appraise.engine.scan.live_data import (
    LiveData,
    Reading,
    Scales,
    decode,
    decode_answer,
    not_supported,
    supported,
)
from appraise.engine.scan.pids import pids
from appraise.errors import AppraiseError

Answered = TypeVar("Answered")


def only(pid: int, data: str, scales: Scales | None = None) -> Reading:
    [one] = decode(pid, bytes.fromhex(data), scales=scales or Scales())
    return one


# --- what the car does not have -------------------------------------------------------------------


def test_a_pid_that_the_bitmap_leaves_out_has_no_value() -> None:
    has = supported(0x00, bytes.fromhex("BE1FA813"))
    [one] = decode(0x0B, b"\x00", has=has)
    assert (one.value, one.state) == (None, "not supported")
    assert decode(0x0C, b"\x00\x00", has=has)[0].value == 0.0


@pytest.mark.parametrize("pid", [*pids(), 0x01, 0x13])
def test_not_supported_is_never_nought(pid: int) -> None:
    found = not_supported(pid)
    assert found
    assert {(one.value, one.state) for one in found} == {(None, "not supported")}


@pytest.mark.parametrize("pid", [0x6F, 0x70, 0x71, 0x72, 0x73, 0x75, 0x77, 0x78, 0x7A, 0x7B, 0x87])
def test_without_their_support_bits_values_are_missing(pid: int) -> None:
    for size in pids()[pid].layouts:
        found = decode(pid, b"\x00" + b"\x7f" * (size - 1))
        assert {(one.value, one.state) for one in found} == {(None, "not supported")}


@pytest.mark.parametrize("pid", [0x6F, 0x70, 0x71, 0x72, 0x73, 0x75, 0x77, 0x78, 0x7A, 0x7B, 0x87])
def test_each_support_bit_shows_one_value(pid: int) -> None:
    for size, fields in pids()[pid].layouts.items():
        for at, one in enumerate(fields):
            assert one.bit is not None
            found = decode(pid, bytes([1 << one.bit]) + b"\x7f" * (size - 1))
            assert [place for place, each in enumerate(found) if each.value is not None] == [at]


def test_from_memory_the_longer_form_of_boost_has_its_b_side_one_bit_up() -> None:
    commanded, actual, commanded_b, actual_b = decode(
        0x70, bytes.fromhex("1B 1900 1800 1700 1600 00")
    )
    assert [commanded.value, actual.value] == [200.0, 192.0]
    assert [commanded_b.value, actual_b.value] == [184.0, 176.0]


# --- what stands at its end -----------------------------------------------------------------------


def test_a_manifold_pressure_of_255_is_clipped() -> None:
    assert only(0x0B, "FF").state == "clipped"
    assert "clipped, not measured" in only(0x0B, "FF").note
    assert only(0x0B, "FE") == Reading("intake manifold pressure, absolute", 254.0, "kPa")


def test_from_memory_4f_widens_the_manifold_pressure() -> None:
    """4F D = 33 is 510 kPa over the whole byte: a reading of 255 lies in its middle then."""
    scales = Scales.of(bytes.fromhex("00000033"))
    half = only(0x0B, "80", scales)
    assert half.value == pytest.approx(256.0)
    assert half.state == "measured"
    top = only(0x0B, "FF", scales)
    assert (top.value, top.state) == (510.0, "clipped")


def test_a_4f_of_noughts_changes_nothing() -> None:
    scales = Scales.of(bytes(4), bytes(4))
    assert scales == Scales()
    assert only(0x0B, "FF", scales).state == "clipped"


def test_from_memory_4f_and_50_rescale_lambda_voltage_current_and_air() -> None:
    scales = Scales.of(bytes.fromhex("04 10 80 00"), bytes.fromhex("A0000000"))
    ratio, volts = decode(0x24, bytes.fromhex("8000 FFFF"), scales=scales)
    assert ratio.value == pytest.approx(4 * 0x8000 / 0xFFFF)
    assert volts.value == 16.0
    assert decode(0x34, bytes.fromhex("0000 0000"), scales=scales)[1].value == -128.0
    assert decode(0x34, bytes.fromhex("0000 8000"), scales=scales)[1].value == 0.0
    assert only(0x10, "FFFF", scales).value == 1600.0


def test_4f_in_the_same_paste_is_used_for_its_own_control_unit() -> None:
    text = "7E8 06 41 4F 00 00 00 33\n7E8 03 41 0B 80\n7E9 03 41 0B 80"
    found = [(one.source, one.readings[0].value) for one in decode_answer(text).values[1:]]
    assert found == [("7E8", pytest.approx(256.0)), ("7E9", 128.0)]


@pytest.mark.parametrize(
    ("pid", "data"), [(0x30, "FF"), (0x21, "FFFF"), (0x31, "FFFF"), (0x4D, "FFFF"), (0x4E, "FFFF")]
)
def test_from_memory_a_counter_at_its_end_is_this_or_more(pid: int, data: str) -> None:
    assert only(pid, data).state == "clipped"
    assert "or more" in only(pid, data).note
    assert only(pid, "01" * (len(data) // 2)).state == "measured"


# --- pasted ---------------------------------------------------------------------------------------


def values(found: LiveData) -> list[float | str | None]:
    return [reading.value for one in found.values for reading in one.readings]


@pytest.mark.parametrize(
    "text",
    [
        "41 05 6E",
        "41056e",
        ">0105\rSEARCHING...\r41 05 6E \r\r>",
        "7E8 03 41 05 6E 00 00 00 00",
        "7E80341056E00000000",
        "7E8#0341056E55555555",
        "18 DA F1 10 03 41 05 6E",
        "18DAF110 03 41 05 6E",
        "48 6B 10 41 05 6E BF",
        "83 F1 10 41 05 6E 38",
        "41 05 6E 00 00 00 00",
        "41 05 6E AA AA",
    ],
)
def test_one_value_in_every_dress(text: str) -> None:
    assert values(decode_answer(text)) == [70.0]


def test_one_answer_may_hold_several_values() -> None:
    found = decode_answer("41 05 6E 0C 0A 6B 15 A0 78 00 00")
    assert values(found) == [70.0, 666.75, 0.8, -6.25]
    assert [one.pid for one in found.values] == [0x05, 0x0C, 0x15]


def test_the_bytes_are_kept_for_the_monitors() -> None:
    [one] = decode_answer("41 01 83 33 FF 63").values
    assert one.data == bytes.fromhex("8333FF63")
    shown = {reading.name: reading.value for reading in one.readings}
    assert shown["malfunction light"] == "on"
    assert shown["confirmed codes"] == 3
    assert shown["monitor: catalyst"] == "not complete"
    assert shown["monitor: EGR and VVT"] == "complete"
    assert shown["monitor: components"] is None


def test_a_status_of_one_drive_does_not_speak_of_the_light() -> None:
    names = {one.name for one in decode(0x41, bytes.fromhex("0007FF00"))}
    assert "malfunction light" not in names
    assert "monitor: misfire" in names


def test_the_code_of_a_freeze_frame() -> None:
    assert values(decode_answer("42 02 00 04 20\n42 02 00 00 00")) == ["P0420", "none"]


@pytest.mark.parametrize(
    ("pid", "data", "word"),
    [
        (0x1C, "06", "EOBD"),
        (0x51, "04", "diesel"),
        (0x51, "11", "hybrid, gasoline"),
        (0x51, "C8", "not known (200)"),
        (0x03, "1000", "closed loop, with a sensor fault"),
        (0x13, "00", "none"),
        (0x20, "00000000", "none"),
    ],
)
def test_what_is_a_word_is_shown_as_one(pid: int, data: str, word: str) -> None:
    assert decode(pid, bytes.fromhex(data))[0].value == word


def test_a_pid_that_is_not_known_is_said_and_what_was_read_is_kept() -> None:
    found = decode_answer("41 05 6E 9E 01")
    assert values(found) == [70.0]
    assert found.notes == ("PID 9E is not known here: this and what follows it were not read",)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("41", "breaks off after 41"),
        ("41 0C 0A", "has 2 data bytes, and 1 are here"),
        ("42 0C", "has 2 data bytes, and 0 are here"),
        ("41 9E 01", "PID 9E is not known here"),
        ("43 01 04 20", "no live data"),
        ("41 05 6", "odd number of hex digits"),
        ("NO DATA", "no control unit answered"),
        ("7F 01 12", "does not have what was asked for"),
    ],
)
def test_what_cannot_be_read_is_refused_with_the_reason(text: str, words: str) -> None:
    with pytest.raises(BadAnswer) as refused:
        decode_answer(text)
    assert words in str(refused.value)


@pytest.mark.parametrize(
    ("pid", "data", "words"),
    [
        (0x05, b"", "has 1 data bytes, not 0"),
        (0x05, b"\x01\x02", "has 1 data bytes, not 2"),
        (0x70, bytes(8), "has 9 or 10 data bytes, not 8"),
        (0x01, bytes(3), "has 4 data bytes, not 3"),
        (0x9E, b"\x00", "not known here"),
        (-1, b"\x00", "no PID"),
        (999, b"\x00", "no PID"),
    ],
)
def test_another_length_or_pid_is_refused(pid: int, data: bytes, words: str) -> None:
    with pytest.raises(BadAnswer) as refused:
        decode(pid, data)
    assert words in str(refused.value)


@pytest.mark.parametrize(("pid", "size"), [(0x01, 4), (0x00, 3), (0x100, 4), (-32, 4)])
def test_only_a_bitmap_says_what_is_supported(pid: int, size: int) -> None:
    with pytest.raises(BadAnswer):
        supported(pid, bytes(size))


# --- anything at all ------------------------------------------------------------------------------


def told(work: Callable[[], Answered]) -> Answered | str:
    """Return what comes out, or the words of the refusal."""
    try:
        return work()
    except AppraiseError as refused:
        return str(refused)


@given(st.integers(0, 255), st.binary(max_size=12))
def test_any_pid_and_bytes_are_read_or_refused(pid: int, data: bytes) -> None:
    found = told(lambda: decode(pid, data))
    if isinstance(found, str):
        assert found.isprintable()
    else:
        assert found
        assert all((one.value is None) == (one.state.startswith("not")) for one in found)


@given(st.sampled_from(sorted(pids())), st.data())
def test_any_bytes_of_the_right_length_are_read(pid: int, data: st.DataObject) -> None:
    size = data.draw(st.sampled_from(sorted(pids()[pid].layouts)))
    found = decode(pid, data.draw(st.binary(min_size=size, max_size=size)))
    assert len(found) == len(pids()[pid].layouts[size])


@given(st.binary(max_size=30), st.sampled_from(["41", "42", "7E8 06 41", "7E8 10 0A 41", ""]))
def test_any_pasted_bytes_are_read_or_refused(data: bytes, before: str) -> None:
    found = told(lambda: decode_answer(f"{before} {data.hex(' ')}"))
    assert found if isinstance(found, str) else found.values


@given(st.sets(st.integers(1, 32)), st.sampled_from(range(0, 0xC1, 0x20)))
def test_a_bitmap_goes_to_pids_and_back(there: set[int], base: int) -> None:
    bits = sum(1 << (32 - at) for at in there)
    assert supported(base, bits.to_bytes(4, "big")) == {base + at for at in there}
