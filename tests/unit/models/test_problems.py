"""A bound that is not kept is told as a person says it, never in a library's sentence."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from appraise.models.base import Day
from appraise.models.deal import Deal
from appraise.models.problems import problems_of
from appraise.models.vehicle import Vehicle


def said(model: Any, given: Any) -> str:
    with pytest.raises(ValidationError) as told:
        TypeAdapter(model).validate_python(given)
    return next(one.message for one in problems_of(told.value))


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"confidence": "0.05"}, "must be 0.1 (10 %) or more, not '0.05'"),
        ({"confidence": Decimal(1)}, "must be 0.99 (99 %) or less, not 1"),
        ({"target_margin": Decimal(200_000_000)}, "must be 100,000,000 or less, not 200000000"),
        ({"price_level": 0}, "must be 0.001 or more, not 0"),
        ({"done_by": "friend"}, "'friend' must be 'own_hands', 'shop' or 'cheaper'"),
    ],
)
def test_a_bound_of_a_number_is_said_with_what_was_given(given: Any, words: str) -> None:
    assert said(Deal, given) == words


def test_a_year_or_a_day_is_too_early_not_too_small() -> None:
    car = {
        "make": "Dorn",
        "model": "Vale",
        "model_year": 1700,
        "odometer": {"value": 1, "unit": "mi"},
        "price_class": "mid_size",
    }

    assert said(Vehicle, car).startswith("must be 1886 or later, not 1700")
    assert said(Day, date(1800, 1, 1)) == "must be 1886-01-01 or later"
