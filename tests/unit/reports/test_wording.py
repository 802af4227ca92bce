"""A chance has one form on every face: the percentage, and one in so many where that agrees."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from appraise.reports.wording import about, chance_words, percent

HALF = 50


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        ("0", "under 1 %"),
        ("0.004", "under 1 %"),
        ("0.01", "1 % (about 1 in 100)"),
        ("0.02", "2 % (about 1 in 50)"),
        ("0.05", "5 % (about 1 in 20)"),
        ("0.1", "10 % (about 1 in 10)"),
        ("0.1140", "11 % (about 1 in 9)"),
        ("0.125", "13 % (about 1 in 8)"),
        ("0.14", "14 % (about 1 in 7)"),
        ("0.15", "15 %"),
        ("0.1667", "17 % (about 1 in 6)"),
        ("0.2", "20 % (about 1 in 5)"),
        ("0.3333", "33 % (about 1 in 3)"),
        ("0.38", "38 %"),
        ("0.5", "50 % (about 1 in 2)"),
        ("0.69", "69 %"),
        ("0.97", "97 %"),
        ("0.996", "over 99 %"),
        ("1", "over 99 %"),
    ],
)
def test_a_chance_is_said_in_words(chance: str, words: str) -> None:
    assert chance_words(Decimal(chance)) == words


def test_over_all_percentages_the_words_never_contradict_the_figure() -> None:
    """Every tenth of a thousandth: 1 in 10 stood beside 14 % and beside 5 %."""
    least, said_of = 10**9, {}
    for at in range(10_001):
        chance = Decimal(at) / 10_000
        shown, said = percent(chance), about(chance)
        figure = re.fullmatch(r"(\d+) %", shown)
        if figure is None:
            assert shown == ("under 1 %" if at < HALF else "over 99 %")
            assert said == ""
            continue
        hundredths = int(figure[1])
        assert abs(hundredths - 100 * chance) <= Decimal("0.5")
        assert said_of.setdefault(shown, said) == said, "one percentage, one form"
        if said:
            whole = int(said.removeprefix("about 1 in "))
            assert abs(Decimal(100) / whole - hundredths) <= Decimal("0.5")
            assert hundredths <= HALF
            assert whole <= least, "a greater chance is never one in more"
            least = whole
    assert len(said_of) == 99
    assert {said_of[f"{at} %"] for at in range(1, 15)} - {""} == {
        f"about 1 in {one}" for one in (100, 50, 33, 25, 20, 17, 14, 12, 11, 10, 9, 8, 7)
    }
