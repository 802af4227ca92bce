"""Distances against the published conversion factors."""

from __future__ import annotations

from decimal import Decimal

import pytest

from appraise.models.vehicle import KM_PER_MILE, Distance


def test_a_mile_is_exactly_the_international_one() -> None:
    """NIST SP 811, appendix B.8: mile to kilometer 1.609344, exact; inch to mm 25.4, exact."""
    assert Decimal("1.609344") == KM_PER_MILE
    assert Decimal("25.4") * 12 * 5280 / 1_000_000 == KM_PER_MILE


def test_a_mile_is_not_the_us_survey_mile() -> None:
    """NIST SP 811, appendix B.8: mile (U.S. survey) 1.609347."""
    assert abs(KM_PER_MILE - Decimal("1.609347")) > Decimal("0.000002")


@pytest.mark.parametrize(
    ("value", "unit", "km", "miles"),
    [
        ("100000", "mi", "160934.4", "100000"),
        ("160000", "km", "160000", "99419.39"),
        ("0", "km", "0", "0"),
    ],
)
def test_odometers_convert_both_ways(value: str, unit: str, km: str, miles: str) -> None:
    distance = Distance.model_validate({"value": value, "unit": unit})
    assert distance.km == Decimal(km)
    assert round(distance.miles, 2) == Decimal(miles)


def test_there_and_back_loses_nothing_that_matters() -> None:
    miles = Distance(value=Decimal(123_456), unit="mi")
    back = Distance(value=miles.km, unit="km").miles
    assert abs(back - 123_456) < Decimal("1e-18")
