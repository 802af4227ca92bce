"""Low, likely, high: what can be one and what cannot."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from appraise.models.ranges import Range


def make(low: Any, likely: Any, high: Any, **more: Any) -> Range:
    return Range.model_validate({"low": low, "likely": likely, "high": high, **more})


def test_a_range_is_read_as_tenths_unless_it_says_bounds() -> None:
    assert make(1, 2, 3).reads_as == "tenths"
    assert make(1, 2, 3, reads_as="bounds").reads_as == "bounds"


@pytest.mark.parametrize(
    ("low", "likely", "high", "reason"),
    [
        (9, 5, 10, r"low \(9\) is above likely \(5\)"),
        (3, 5, 4, r"high \(4\) is below likely \(5\)"),
        (0, 5, 10, "low is 0"),
        (0, 0, 10, "low is 0"),
    ],
)
def test_tenths_that_cannot_be_are_refused(low: int, likely: int, high: int, reason: str) -> None:
    with pytest.raises(ValidationError, match=reason):
        make(low, likely, high)


def test_equal_points_are_in_order() -> None:
    assert make(2, 2, 3).likely == 2
    assert make(1, 2, 2).high == 2


def test_nothing_at_all_is_a_fixed_amount() -> None:
    assert make(0, 0, 0).is_fixed


def test_bounds_may_start_at_nothing() -> None:
    """A beta between true bounds is defined from 0; a lognormal is not."""
    assert make(0, 5, 10, reads_as="bounds").low == 0


@pytest.mark.parametrize("wrong", ["-0.01", "NaN", "Infinity", "100000000.01", True, None, "x"])
@pytest.mark.parametrize("place", ["low", "likely", "high"])
def test_each_of_the_three_is_an_amount(place: str, wrong: Any) -> None:
    raw = {"low": 1, "likely": 2, "high": 3, place: wrong}
    with pytest.raises(ValidationError) as refused:
        Range.model_validate(raw)

    assert {one["loc"] for one in refused.value.errors()} == {(place,)}


def test_only_a_range_without_doubt_is_fixed() -> None:
    assert make(3, 3, 3).is_fixed
    assert not make(2, 2, 3).is_fixed
