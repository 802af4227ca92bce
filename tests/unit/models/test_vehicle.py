"""The car: distances, ages, and what cannot be."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from pydantic import ValidationError

from appraise.models.vehicle import Distance, Vehicle


def car(**more: Any) -> Vehicle:
    raw: dict[str, Any] = {
        "make": "Invented",
        "model": "One",
        "model_year": 2015,
        "odometer": {"value": "100", "unit": "mi"},
    }
    return Vehicle.model_validate(raw | more)


def test_a_mile_is_exactly_1609_344_meters() -> None:
    """NIST SP 811 (2008), appendix B.8: mile to kilometer, 1.609 344 E+00, exact."""
    assert Distance(value=Decimal(1), unit="mi").km == Decimal("1.609344")
    assert Distance(value=Decimal("1.609344"), unit="km").miles == 1
    assert Distance(value=Decimal(7), unit="mi").miles == 7
    assert Distance(value=Decimal(7), unit="km").km == 7


@pytest.mark.parametrize("value", [-1, "-0.1", 10_000_000, "NaN", True, None])
def test_a_reading_no_odometer_shows_is_refused(value: Any) -> None:
    with pytest.raises(ValidationError) as refused:
        Distance.model_validate({"value": value, "unit": "km"})

    assert [one["loc"] for one in refused.value.errors()] == [("value",)]


@pytest.mark.parametrize("value", [0, "0.1", 4_000_000])
def test_a_reading_at_the_edge_is_kept(value: Any) -> None:
    assert Distance.model_validate({"value": value, "unit": "mi"}).value == Decimal(str(value))


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("model_year", 1800),
        ("model_year", 1885),
        ("model_year", 2101),
        ("model_year", 2014.5),
        ("model_year", "soon"),
        ("engine_liters", 0),
        ("engine_liters", 31),
        ("cylinders", 0),
        ("cylinders", 17),
        ("make", ""),
        ("make", "   "),
        ("make", "x" * 81),
        ("vin", "x" * 41),
        ("price_class", "Premium"),
        ("fuel", "coal"),
        ("transmission", ""),
        ("drive", "four"),
        ("title_brand", "11"),
        ("note", "x" * 20_001),
    ],
)
def test_what_no_car_has_is_refused_at_its_field(field: str, value: Any) -> None:
    with pytest.raises(ValidationError) as refused:
        car(**{field: value})

    assert [one["loc"] for one in refused.value.errors()] == [(field,)]


def test_the_first_model_year_is_that_of_the_first_patented_motor_car() -> None:
    """1886: patent DRP 37435 of 29 January 1886 (from memory)."""
    assert car(model_year=1886).model_year == 1886


@pytest.mark.parametrize("wrong", [{"engine_liters": 2}, {"cylinders": 4}])
def test_an_electric_car_has_no_cylinders(wrong: dict[str, int]) -> None:
    assert car(fuel="electric").cylinders is None
    with pytest.raises(ValidationError, match="electric car has no engine size"):
        car(fuel="electric", **wrong)


def test_a_name_is_year_make_and_model() -> None:
    assert car().name == "2015 Invented One"


@pytest.mark.parametrize(
    ("on", "years"),
    [
        # the middle of model year 2015 is 2 July, day 183 of 365
        (date(2015, 7, 2), 0.0),
        (date(2020, 7, 1), 5.0),
        (date(2025, 7, 2), 10.0),
        (date(2025, 1, 1), 9.5),
    ],
)
def test_an_age_counts_from_the_middle_of_the_model_year(on: date, years: float) -> None:
    # a day, since years differ in length
    assert car().age_years(on) == pytest.approx(years, abs=1 / 365)


def test_a_car_is_never_younger_than_new() -> None:
    assert car(model_year=2027).age_years(date(2026, 6, 1)) == 0


def test_blanks_around_a_word_are_taken_off() -> None:
    assert car(make="  Invented \n").make == "Invented"
