"""Days: of a shop's work, and from advert to sale."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from appraise.engine import appraise
from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Streams
from appraise.engine.resale.resale import days_to_sell
from appraise.models.case import Case
from appraise.reference.load import Reference

Cases = Callable[..., Case]
Make = Callable[..., dict[str, Any]]
STREAMS = Streams(1, 20_000)
BANDS = {950: 7, 2450: 10, 6300: 15, 15_800: 26}
"""Median days that adverts of four price bands stood (Germany 2016, 361,000 adverts), and the
price within each for which its days stand, which is ours."""


@pytest.fixture
def days(reference: Reference) -> Callable[..., np.ndarray]:
    return lambda case, price: days_to_sell(case, price, STREAMS, Lookup(reference))


@pytest.mark.parametrize(("price", "median"), BANDS.items())
def test_in_the_middle_of_a_band_its_own_days_hold(
    price: float, median: float, days: Callable[..., np.ndarray], case_of: Cases
) -> None:
    assert float(np.median(days(case_of(), price))) == pytest.approx(median, rel=2e-3)


def test_a_dearer_car_stands_longer_and_no_price_stands_at_a_jump(
    days: Callable[..., np.ndarray], case_of: Cases
) -> None:
    shares = (0.1, 0.25, 0.5, 0.75, 0.9, 0.99)
    before = np.quantile(days(case_of(), 1), shares)
    for price in range(100, 20_000, 100):
        now = np.quantile(days(case_of(), price), shares)
        assert np.all(now >= before)
        assert np.all(now < 1.05 * before)
        before = now
    assert np.array_equal(days(case_of(), 900), days(case_of(), 1))
    assert np.array_equal(days(case_of(), 1e6), days(case_of(), 16_000))


def test_the_price_level_turns_another_money_and_moves_no_days_in_the_catalog_s_own(
    days: Callable[..., np.ndarray], case_of: Cases
) -> None:
    here = days(case_of(), 5000)
    assert np.array_equal(days(case_of(deal={"price_level": 1.3}), 5000), here)
    yen = case_of(currency="JPY", deal={"price_level": 150})
    assert np.allclose(days(yen, 150 * 5000), here)


def test_a_shop_s_hours_take_days(
    case_of: Cases, job: Make, finding: Make, reference: Reference
) -> None:
    """Twenty hours at the five a day that a shop gets done on one car."""
    one = job("a", 20, access=[])
    for done_by, expected in (("shop", 20 / 5), ("own_hands", 20 / 4)):
        deal = {"done_by": done_by, "hours_per_day": 4}
        looks = [
            finding(f"l-{at}", area=area.value, state="fine", look="measured")
            for at, area in enumerate(reference.areas)
        ]
        without = case_of(looks, [one], deal=deal)
        with_it = case_of([*looks, finding("x", "a")], [one], deal=deal)
        mended = [float(appraise(each, reference).repair.days.mean) for each in (without, with_it)]
        # A fault more says that the car was kept worse: the rest may hide an hour more.
        assert mended[1] - mended[0] == pytest.approx(expected, abs=0.3)
        assert mended[1] - mended[0] > expected
