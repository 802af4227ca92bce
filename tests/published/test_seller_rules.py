"""Small sellers: 16 CFR 455, 49 U.S.C. 32702, 28 CFR 25.56, 42 U.S.C. 7522, 49 U.S.C. 30122."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from appraise.engine.papers.seller_rules import (
    Count,
    Deal,
    SellerKind,
    odometer_dealer,
    salvage_reporter,
    used_car_dealer,
)

ON = date(2026, 6, 30)


def cars(count: int, **more: bool) -> list[Deal]:
    return [Deal(ON - timedelta(days=30 * at), f"car {at}", **more) for at in range(count)]


@pytest.mark.parametrize(("before", "dealer"), [(0, False), (4, False), (5, True), (12, True)])
def test_the_sixth_car_in_twelve_months_is_a_dealer_s(before: int, *, dealer: bool) -> None:
    """16 CFR 455.1(d)(3): offers one after selling or offering five or more."""
    found = used_car_dealer(cars(before, sold=False), ON)

    assert (found.count, found.reached, found.left) == (before, dealer, max(0, 5 - before))
    assert found.section == "16 CFR 455.1(d)(3)"


def test_twelve_months_and_a_day_ago_no_longer_counts() -> None:
    """16 CFR 455.1(d)(3): the previous twelve months."""
    four = cars(4)

    assert used_car_dealer([*four, Deal(date(2025, 6, 29), "old")], ON).reached is False
    assert used_car_dealer([*four, Deal(date(2025, 6, 30), "old")], ON).reached is True


@pytest.mark.parametrize("seller", ["bank", "to_own_employee", "lessor_to_lessee"])
def test_some_sellers_are_no_dealers(seller: SellerKind) -> None:
    """16 CFR 455.1(d)(3)."""
    found = used_car_dealer(cars(12), ON, seller)

    assert (found.count, found.reached) == (12, False)


@pytest.mark.parametrize(
    ("rule", "flags", "section"),
    [
        # at least 5 sold to buyers not for resale
        (odometer_dealer, {"sold": True}, "49 U.S.C. 32702(2)"),
        # less than five salvage cars a year are excused
        (salvage_reporter, {"salvage": True}, "28 CFR 25.56(g)"),
    ],
)
def test_five_are_enough_for_the_other_two_counts(
    rule: Callable[[list[Deal], date], Count], flags: dict[str, bool], section: str
) -> None:
    assert (rule(cars(4, **flags), ON).reached, rule(cars(5, **flags), ON).reached) == (False, True)
    assert rule(cars(5, **flags), ON).section == section


def test_only_sales_not_for_resale_count_for_the_odometer_law() -> None:
    """49 U.S.C. 32702(2)."""
    mixed = [*cars(4), Deal(ON, "offered", sold=False), Deal(ON, "trade", for_resale=True)]

    assert odometer_dealer(mixed, ON).count == 4
    assert used_car_dealer(mixed, ON).count == 6
