"""The shipped reference values against figures computed from open listing data and statistics.

U: 99,164 dealer listings, United Kingdom, 2020 ("100,000 UK used car data set").
D: about 18,700 classified adverts, Germany, 2016 ("used cars database"), damage admitted or not.
Asking prices, not sales: bounds of reason, not truths.
"""

from __future__ import annotations

from math import exp

import numpy as np
import pytest
from scipy.stats import spearmanr

from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.ranges import two_piece
from appraise.models.findings import Area
from appraise.reference.load import load_reference


@pytest.fixture(scope="module")
def lookup() -> Lookup:
    return Lookup(load_reference())


@pytest.mark.parametrize(
    ("age", "low", "high"),
    [
        # U, mostly 0 to 8 years: P10 -.126, P90 -.058 over 165 groups, mean -.093.
        (4, -0.126, -0.058),
        # D: -.121 at 5-10, -.159 at 10-15, -.125 at 15-21; U's spread of .028 either side.
        (7.5, -0.149, -0.093),
        (12.5, -0.187, -0.131),
        (18, -0.153, -0.097),
    ],
)
def test_price_falls_by_age_as_in_the_listings(
    lookup: Lookup, age: float, low: float, high: float
) -> None:
    assert low <= lookup.curve("resale.slope_age", age) <= high


@pytest.mark.parametrize(
    ("age", "low", "high"),
    [
        # U: P10 -.077, P90 -.033, mean -.055.
        (4, -0.077, -0.033),
        # D: -.061, -.092, -.088; U's spread of .024 either side.
        (7.5, -0.085, -0.037),
        (12.5, -0.116, -0.068),
        (18, -0.112, -0.064),
    ],
)
def test_price_falls_by_distance_as_in_the_listings(
    lookup: Lookup, age: float, low: float, high: float
) -> None:
    assert low <= lookup.curve("resale.slope_miles", age) <= high


def test_groups_differ_in_their_slopes_by_what_the_listings_show(lookup: Lookup) -> None:
    """U: between groups sd .028 by age and .024 by distance; doubt does not shrink with age."""
    assert lookup.curve("resale.slope_age_sd", 4) == pytest.approx(0.028, abs=0.002)
    assert lookup.curve("resale.slope_miles_sd", 4) == pytest.approx(0.024, abs=0.002)
    for name in ("resale.slope_age_sd", "resale.slope_miles_sd"):
        assert np.all(np.diff([lookup.curve(name, age) for age in range(30)]) >= 0)


@pytest.mark.parametrize(
    ("age", "low", "high"),
    [
        # U: residual sd P10 .069, median .095, P90 .128.
        (4, 0.069, 0.128),
        # D: median .20, .31, .44 and P90 .30, .42, .52, an upper bound as its groups are coarse.
        (7.5, 0.095, 0.30),
        (12.5, 0.20, 0.42),
        (18, 0.31, 0.52),
    ],
)
def test_like_cars_differ_by_what_the_listings_show(
    lookup: Lookup, age: float, low: float, high: float
) -> None:
    assert low <= lookup.curve("resale.scale", age) <= high


def test_doubt_about_a_price_grows_with_age(lookup: Lookup) -> None:
    scales = [lookup.curve("resale.scale", age) for age in np.linspace(0, 25, 101)]
    assert np.all(np.diff(scales) >= 0)
    assert scales[-1] > 3 * scales[0]


@pytest.mark.parametrize(("age", "share"), [(7.5, 0.32), (12.5, 0.42), (18.5, 0.44)])
def test_admitted_damage_takes_off_what_the_adverts_show(
    lookup: Lookup, age: float, share: float
) -> None:
    """D: 9.7 % of 10,052 adverts admit damage, and ask 43.6 % less; by age 32, 42, 44 %."""
    assert lookup.curve("as_it_stands.advert_discount", age) == pytest.approx(share, abs=0.02)


@pytest.mark.parametrize(
    ("value_id", "median", "quarter"),
    [
        ("sell.days_under_1500", 7, 2),
        ("sell.days_1500_to_4000", 10, 3),
        ("sell.days_4000_to_10000", 15, 5),
        ("sell.days_over_10000", 26, 8),
    ],
)
def test_adverts_stand_as_long_as_in_the_data(
    lookup: Lookup, value_id: str, median: float, quarter: float
) -> None:
    """D, Kaplan-Meier by asking price: days by which half, and a quarter, were gone."""
    spread = lookup.spread(value_id)
    assert spread.likely == median
    ours = float(two_piece(spread.low, spread.likely, spread.high, np.array([-0.67449]))[0])
    # Whole days were printed, and advert ends are not sales: within half a day or a third.
    assert ours == pytest.approx(quarter, rel=0.34, abs=0.5)


AT_THE_YEARLY_TEST = {
    Area.FRAME_AND_BODY: 4.3,
    Area.BRAKES: 8.1,
    Area.EXHAUST: 3.6,
    Area.WHEELS: 0.3,
    Area.AIR_BAGS: 1.3,
    Area.STEERING: 2.0,
    Area.SUSPENSION: 9.7,
    Area.TIRES: 6.8,
}
"""Percent: DVSA table MOT/03, classes 3 and 4, July to September 2019, initial failures by cause.

Of cars of all ages from three years on, which their owners may have prepared: ours are twelve years
old and unprepared.
"""


@pytest.mark.parametrize("area", AT_THE_YEARLY_TEST)
def test_no_area_is_at_fault_less_often_than_at_the_yearly_test(lookup: Lookup, area: Area) -> None:
    assert 100 * lookup.reference.areas[area].rate > AT_THE_YEARLY_TEST[area]


def test_areas_are_at_fault_in_about_the_order_of_the_yearly_test(lookup: Lookup) -> None:
    """Spearman's rank correlation of eight pairs is above .881 by chance less than 1 time in 100.

    So its tables of critical values, two-sided.
    """
    ours = [float(lookup.reference.areas[area].rate) for area in AT_THE_YEARLY_TEST]
    assert spearmanr(ours, list(AT_THE_YEARLY_TEST.values())).statistic > 0.881


def test_an_hour_in_a_shop_is_a_multiple_of_the_wage(lookup: Lookup) -> None:
    """Wages of occupation 49-3023, 2020: P10 11.90, median 20.54, P90 33.60 dollars an hour.

    Three to five times the wage is common practice, from memory; wages rose since.
    """
    rate = lookup.spread("shop.rate")
    assert 3 * 20.54 <= rate.likely <= 6.5 * 20.54
    assert 3 * 11.90 <= rate.low < rate.high <= 6.5 * 33.60


def test_a_typical_car_halves_in_a_believable_time(lookup: Lookup) -> None:
    """At 12,000 miles a year and U's means it loses 15 % a year, a half in 4 to 5 years."""
    yearly = lookup.curve("resale.slope_age", 4) + 1.2 * lookup.curve("resale.slope_miles", 4)
    assert exp(yearly) == pytest.approx(0.853, abs=0.02)
