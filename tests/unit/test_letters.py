"""Which characters a text may hold: the same under every Python, whatever its Unicode knows."""

from __future__ import annotations

import ast
import json
import sys
from pathlib import Path

import pytest
from pydantic import TypeAdapter, ValidationError

import appraise
from appraise import letters, services
from appraise.errors import one_line, plain_json
from appraise.intake.file_names import name_to_save
from appraise.models.base import Label, Note, Words
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings

LINE, LABEL, NOTE = TypeAdapter(Words), TypeAdapter(Label), TypeAdapter(Note)
CONTROLS = [*range(0x20), *range(0x7F, 0xA0)]
"""C0, DEL and C1 (ISO/IEC 6429, section 5)."""
TURNING = [*range(0x202A, 0x202F), *range(0x2066, 0x206A)]
"""Embeddings, overrides and isolates (Unicode Standard Annex 9, section 2)."""
SPACES = [0xA0, 0x1680, *range(0x2000, 0x200B), 0x202F, 0x205F, 0x3000]
"""General category Zs but the plain one (Unicode Character Database)."""
UNSEEN = [0xAD, 0x200B, 0x2060, 0xFEFF]
KEPT = [
    0x1FAE9,  # a face of Unicode 16.0 that no Python before 3.14 knows
    0x0378,  # no character yet
    0x10FFFD,  # private use
    0xFDD0,  # a noncharacter that XML takes
    0x200E,  # a mark of direction
    0xE0067,  # of a flag's tag
]


@pytest.mark.parametrize("code", [*CONTROLS, *TURNING, 0x2028, 0x2029, 0xD800, 0xDFFF, 0xFFFE])
def test_a_line_holds_no_control_no_break_and_nothing_turned(code: int) -> None:
    with pytest.raises(ValidationError):
        LINE.validate_python(f"a{chr(code)}b")


@pytest.mark.parametrize("code", [*CONTROLS, *TURNING, 0xD800, 0xFFFF])
def test_a_note_may_have_lines_and_nothing_else_of_these(code: int) -> None:
    if chr(code) in "\t\n\r":
        assert NOTE.validate_python(f"a{chr(code)}b") == f"a{chr(code)}b"
    else:
        with pytest.raises(ValidationError):
            NOTE.validate_python(f"a{chr(code)}b")


@pytest.mark.parametrize("code", SPACES)
def test_every_space_becomes_a_plain_one(code: int) -> None:
    assert LINE.validate_python(f"4{chr(code)}150 mi{chr(code)}") == "4 150 mi"


@pytest.mark.parametrize("code", UNSEEN)
def test_what_is_no_part_of_a_text_is_left_out(code: int) -> None:
    assert LINE.validate_python(f"{chr(code)}time{chr(code)}ing belt") == "timeing belt"
    with pytest.raises(ValidationError):
        LABEL.validate_python(chr(code) * 3)


@pytest.mark.parametrize(
    "text",
    [
        "\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645",  # Persian, as it is spelled
        "\U0001f469\u200d\U0001f527",  # a mechanic: woman, joiner, spanner
        "\u0915\u094d\u200d\u0937",
    ],
)
def test_a_joiner_is_kept_within_a_text_and_not_at_its_ends(text: str) -> None:
    assert LINE.validate_python(f"\u200d{text}\u200c") == text


@pytest.mark.parametrize("code", KEPT)
def test_the_rest_is_kept_whether_this_python_knows_it_or_not(code: int) -> None:
    text = f"a{chr(code)}b"

    assert LINE.validate_python(text) == NOTE.validate_python(text) == text


def test_every_character_is_taken_or_refused_alike_when_read_again() -> None:
    """Of all code points, so that a car that was saved opens, and stays as it was saved."""
    refused = []
    for code in range(sys.maxunicode + 1):
        text = f"a{chr(code)}b"
        try:
            found = LINE.validate_python(text)
        except ValidationError:
            refused.append(code)
            continue
        if found != text:
            assert LINE.validate_python(found) == found
    expected = [*CONTROLS, 0x2028, 0x2029, *TURNING, *range(0xD800, 0xE000), 0xFFFE, 0xFFFF]
    assert refused == sorted(expected)


def test_what_python_called_printable_is_taken_as_it_is() -> None:
    """So that every car that was saved until now opens unchanged."""
    for code in range(sys.maxunicode + 1):
        letter = chr(code)
        if letter.isprintable():
            assert not letters.refused_in_line(letter), hex(code)
            assert letters.cleaned(f"a{letter}b") == f"a{letter}b"


def test_a_car_titled_with_a_newer_emoji_opens_from_the_store(tmp_path: Path) -> None:
    workspace = open_workspace(Settings(data_folder=tmp_path))
    raw = json.loads(services.case_text(services.example_cases()[0]))
    case = services.read_case(json.dumps(raw | {"id": "newer", "title": "Tired \U0001fae9"}))
    workspace.cases.add(case)

    assert workspace.cases.load("newer").case.title == "Tired \U0001fae9"


@pytest.mark.parametrize("code", [*CONTROLS, *TURNING, 0x61C, 0x200E, 0x200F, 0x2028, 0xFEFF, 0xAD])
def test_a_terminal_gets_it_written_out(code: int) -> None:
    shown = one_line(f"a{chr(code)}b")

    assert shown.isascii()
    assert shown.startswith("a\\")
    if code != 0x0A:
        assert json.loads(plain_json(f'["{chr(code)}"]'), strict=False) == [chr(code)]
        assert chr(code) not in plain_json(f'["{chr(code)}"]')


def test_a_terminal_gets_an_emoji_as_it_is() -> None:
    assert (
        one_line("\U0001f469\u200d\U0001f527 \U0001fae9") == "\U0001f469\u200d\U0001f527 \U0001fae9"
    )


def test_a_file_is_never_named_by_a_joiner_alone() -> None:
    assert name_to_save("\u200d", ".pdf") == "file.pdf"


def test_only_the_table_says_what_may_be_written() -> None:
    """`str.isprintable` says another thing under each version of Python."""
    folder = Path(appraise.__file__).parent
    asking = [
        f"{file.name}:{node.lineno}"
        for place in (folder, folder.parent / "ui")
        for file in place.rglob("*.py")
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.Attribute) and node.attr == "isprintable"
    ]

    assert asking == []
