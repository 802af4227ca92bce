"""Ranges of trouble codes and their labels, spelled out."""

from __future__ import annotations

import pytest

from appraise.reference.code_ranges import spelled_out
from appraise.reference.schema import CodeGroup


def pairs(codes: str, label: str) -> list[tuple[str, str]]:
    return [(one["code"], one["label"]) for one in spelled_out(codes, label)]


@pytest.mark.parametrize(
    ("codes", "label", "expected"),
    [
        ("P0420", "plain", [("P0420", "plain")]),
        ("P0309-P0310", "cylinder {9-10}", [("P0309", "cylinder 9"), ("P0310", "cylinder 10")]),
        ("P20BE-P20C0", "{A-C}", [("P20BE", "A"), ("P20BF", "B"), ("P20C0", "C")]),
        ("P0263-P0269/3", "{1-3}", [("P0263", "1"), ("P0266", "2"), ("P0269", "3")]),
        ("P0171 P0174", "lean, bank {1|2}", [("P0171", "lean, bank 1"), ("P0174", "lean, bank 2")]),
        ("P0571-P0572", "switch{| low}", [("P0571", "switch"), ("P0572", "switch low")]),
    ],
)
def test_codes_and_labels_go_together_in_order(
    codes: str, label: str, expected: list[tuple[str, str]]
) -> None:
    assert pairs(codes, label) == expected


def test_the_last_choice_turns_fastest() -> None:
    found = dict(pairs("P0750-P0753", "solenoid {A-B}: {stuck|electrical}"))

    assert found["P0751"] == "solenoid A: electrical"
    assert found["P0752"] == "solenoid B: stuck"


@pytest.mark.parametrize(
    ("codes", "label", "words"),
    [
        ("P0301-P0303", "cylinder {1-4}", "3 codes with 4 labels"),
        ("P0301-P0401", "cylinder", "no code and no range"),
        ("X0301", "cylinder", "no code and no range"),
        ("P0303-P0301", "cylinder", "0 codes with 1 labels"),
    ],
)
def test_what_does_not_go_together_is_refused(codes: str, label: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        pairs(codes, label)


def test_a_row_of_another_shape_is_refused_by_its_group() -> None:
    with pytest.raises(ValueError, match="stray"):
        CodeGroup.model_validate(
            {"codes": [{"code": "P0301-P0302", "label": "{1-2}", "stray": 1}], "causes": []}
        )
