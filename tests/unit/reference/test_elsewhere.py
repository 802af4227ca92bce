"""A British word finds what its American one finds."""

from __future__ import annotations

import pytest

from appraise import services
from appraise.reference.elsewhere import WORDS, here


@pytest.mark.parametrize("word", ["tyres", *WORDS])
def test_a_british_word_finds_the_american_jobs(word: str) -> None:
    reference = services.reference_values()
    found = services.find_jobs([word], reference)
    american = here(word)[-1]

    assert any(american in one.job.label.lower() for one in found)
    assert set(services.find_jobs([american], reference)) <= set(found)


def test_a_word_that_is_the_same_on_both_sides_stays_alone() -> None:
    assert here("brake") == ("brake",)
    assert all(here(one) == (one, WORDS[one]) for one in WORDS)
