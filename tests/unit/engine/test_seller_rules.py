"""Counts over twelve months and what a job may not do: edges and bad input."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appraise.engine.papers.odometer import CHECK
from appraise.engine.papers.seller_rules import (
    Deal,
    odometer_dealer,
    salvage_reporter,
    used_car_dealer,
    year_before,
)

ON = date(2026, 6, 30)


@pytest.mark.parametrize(
    ("day", "before"),
    [
        (date(2026, 6, 30), date(2025, 6, 30)),
        (date(2024, 2, 29), date(2023, 2, 28)),
        (date(2025, 2, 28), date(2024, 2, 28)),
        (date(2024, 12, 31), date(2023, 12, 31)),
    ],
)
def test_a_year_before(day: date, before: date) -> None:
    assert year_before(day) == before


def test_a_car_counts_once_however_often_it_is_offered() -> None:
    twice = [Deal(ON, "Red  one", sold=False), Deal(ON - timedelta(40), "red one")]

    assert used_car_dealer(twice, ON).count == 1
    assert used_car_dealer([*twice, Deal(ON), Deal(ON)], ON).count == 3


def test_an_old_offer_of_a_car_sold_since_does_not_hide_the_sale() -> None:
    deals = [Deal(date(2024, 1, 1), "red", sold=False), Deal(ON, "red")]

    assert used_car_dealer(deals, ON).count == 1


def test_a_day_to_come_is_said_and_not_counted() -> None:
    found = used_car_dealer([Deal(ON + timedelta(1), "red"), Deal(ON, "blue")], ON)

    assert found.count == 1
    (problem,) = found.problems
    assert "red on 2026-07-01 lies after 2026-06-30" in problem.message


def test_no_deals_reach_nothing() -> None:
    for rule in (used_car_dealer, odometer_dealer, salvage_reporter):
        found = rule([], ON)
        assert (found.count, found.reached, found.left) == (0, False, 5)
        assert CHECK in found.words


def test_cars_that_are_not_salvage_are_not_reported() -> None:
    deals = [Deal(ON, f"car {at}", salvage=at < 4) for at in range(9)]

    assert salvage_reporter(deals, ON).count == 4


@given(
    st.lists(
        st.builds(
            Deal,
            day=st.dates(date(2024, 1, 1), date(2027, 1, 1)),
            car=st.text(max_size=2),
            sold=st.booleans(),
            for_resale=st.booleans(),
        )
    )
)
def test_the_odometer_law_never_counts_more_than_the_used_car_rule(deals: list[Deal]) -> None:
    wide, narrow = used_car_dealer(deals, ON), odometer_dealer(deals, ON)

    assert narrow.count <= wide.count <= len(deals)
    assert len(wide.problems) == sum(one.day > ON for one in deals)
    assert wide.left == max(0, 5 - wide.count)
