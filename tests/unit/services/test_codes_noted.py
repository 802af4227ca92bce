"""What is noted of a trouble code that no list knows, and of one that it knows."""

from __future__ import annotations

import pytest

from appraise import services

REFERENCE = services.reference_values()
CASE = services.example_cases()[0].model_copy(update={"findings": ()})


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("P1234", "look it up with the make in hand"),
        ("P3000", "look it up with the make in hand"),
        ("B1318", "look it up with the make in hand"),
        ("C1201", "look it up with the make in hand"),
        ("U1000", "look it up with the make in hand"),
        ("P0383", "not in the list of generic codes"),  # reserved: obd 0.7.3, codes.DTC
        ("P0310", "misfire, cylinder 10"),
        ("P0161", "rear O2 heater, bank 2"),
        ("P0768", "shift solenoid D electrical"),
        ("U0293", "not in the list of generic codes"),
    ],
)
def test_a_code_noted_says_what_it_means_or_what_to_do(code: str, words: str) -> None:
    (found,) = services.finding_from_code(CASE, code, REFERENCE).findings

    assert found.codes == (code,)
    assert words in found.label
