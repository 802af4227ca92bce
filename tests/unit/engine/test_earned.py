"""What a car earned: every figure from the same few payments."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from appraise.engine.money.earned import earned
from appraise.errors import BadCase
from appraise.models.case import Case

BOUGHT = {"bid": 1000, "bought_on": "2026-01-01"}
DEAL = {"selling_percent": 10, "selling_flat": 50, "own_rate": 20}
ENTRIES = [
    {"id": "a", "on": "2026-01-10", "kind": "part", "amount": 250},
    {"id": "b", "on": "2026-01-10", "kind": "core_deposit", "amount": 40},
    {"id": "c", "on": "2026-01-20", "kind": "core_returned", "amount": 40},
    {"id": "d", "on": "2026-01-11", "kind": "hours", "hours": 10},
]


@pytest.fixture
def car(case_of: Callable[..., Case]) -> Callable[..., Case]:
    def make(**more: Any) -> Case:
        return case_of(
            standing="owned", purchase=BOUGHT, deal=DEAL, work={"entries": ENTRIES}, **more
        )

    return make


def test_a_sale_that_is_supposed(car: Callable[..., Case]) -> None:
    """2,000 less 10 % and 50 leaves 1,750; 1,250 went in: 500 in 90 days for ten hours."""
    found = earned(car(), date(2026, 4, 1), Decimal(2000))

    assert (found.sold, found.margin, found.margin_paid) == (False, 500, 300)
    assert (found.landed, found.repair, found.sale_costs) == (1000, 250, 250)
    assert (found.per_hour, found.days) == (50, 90)
    assert float(found.annualized or 0) == pytest.approx(1.4 ** (365 / 90) - 1, abs=1e-4)
    assert float(found.simple_annual or 0) == pytest.approx(0.4 * 365 / 90, abs=1e-4)
    assert found.break_even == Decimal("1444.44")
    assert found.break_even_hours == Decimal("1666.67")
    assert sum(one.amount for one in found.flows) == found.margin


def test_a_sale_that_took_place_outweighs_what_is_supposed(car: Callable[..., Case]) -> None:
    sale = {"price": 1900, "sold_on": "2026-03-02", "costs": 30}
    found = earned(car(sale=sale), date(2026, 4, 1), Decimal(9999))

    assert (found.sold, found.price, found.sale_costs, found.days) == (True, 1900, 30, 60)
    assert found.margin == 1900 - 30 - 1250


def test_what_was_really_paid_counts_for_the_purchase(car: Callable[..., Case]) -> None:
    paid = [{"label": "Price", "amount": 1000}, {"label": "Gate", "amount": 75}]
    with_lines = car().model_dump() | {"purchase": BOUGHT | {"paid": paid}}

    found = earned(Case.model_validate(with_lines), date(2026, 4, 1), Decimal(2000))
    assert (found.landed, found.margin) == (1075, 425)


def test_one_rate_solves_a_plain_car(car: Callable[..., Case]) -> None:
    found = earned(car(), date(2026, 4, 1), Decimal(2000))
    (rate,) = found.rates
    years = [(date.fromisoformat("2026-01-10"), -290), (date.fromisoformat("2026-01-20"), 40)]
    worth = -1000 + sum(
        amount / (1 + float(rate)) ** ((day - date(2026, 1, 1)).days / 365)
        for day, amount in [*years, (date(2026, 4, 1), 1750)]
    )

    assert worth == pytest.approx(0, abs=0.05), "the rate is told to four places"


def test_a_sale_before_the_purchase_and_a_car_not_bought_are_refused(
    car: Callable[..., Case], case_of: Callable[..., Case]
) -> None:
    with pytest.raises(BadCase, match="before the purchase"):
        earned(car(), date(2025, 12, 31), Decimal(2000))
    with pytest.raises(BadCase, match="not bought yet"):
        earned(case_of(), date(2026, 4, 1), Decimal(2000))
