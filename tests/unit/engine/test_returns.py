"""Rates of return: every shape of answer, and what is refused."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from math import inf, isfinite, nan, sqrt

import pytest

from appraise.engine.money.returns import (
    HIGHEST,
    LOWEST,
    CashFlow,
    annualized,
    break_even_price,
    per_hour,
    rates_of_return,
    simple_annual,
)

START = date(2025, 3, 1)
NO_FIGURE = "no single figure means anything; look at the profit instead."


def yearly(*amounts: float) -> list[CashFlow]:
    """Return payments 365 days apart."""
    return [CashFlow(START + timedelta(days=365 * at), amount) for at, amount in enumerate(amounts)]


def daily(*amounts: float) -> list[CashFlow]:
    return [CashFlow(START + timedelta(days=at), amount) for at, amount in enumerate(amounts)]


ANSWERS: list[tuple[Sequence[CashFlow], list[float], int, str]] = [
    (yearly(-100, 110), [0.1], 0, "One rate solves it: 10 % a year."),
    (yearly(-100, 50), [-0.5], 0, "One rate solves it: -50 % a year."),
    (yearly(-100, 100), [0], 0, "One rate solves it: 0 % a year."),
    (
        yearly(100, -110),
        [0.1],
        0,
        "One rate solves it, 10 % a year: money comes in first, and this is what it costs.",
    ),
    (
        yearly(-100, 230, -132),
        [0.1, 0.2],
        0,
        f"Two rates solve it, 10 % and 20 %: {NO_FIGURE}",
    ),
    (
        yearly(-1000, 3600, -4310, 1716),
        [0.1, 0.2, 0.3],
        0,
        f"Three rates solve it, 10 %, 20 % and 30 %: {NO_FIGURE}",
    ),
    (
        yearly(-100, 220, -121),
        [0.1],
        0,
        "One rate solves it, 10 % a year, and at every other rate more goes out than comes in.",
    ),
    (
        yearly(100, -220, 121),
        [0.1],
        0,
        "One rate solves it, 10 % a year, and at every other rate more comes in than goes out.",
    ),
    (
        yearly(-100, 150, -100),
        [],
        0,
        "No rate solves it: at every rate more goes out than comes in.",
    ),
    (
        yearly(100, -150, 100),
        [],
        0,
        "No rate solves it: at every rate more comes in than goes out.",
    ),
    (
        daily(-100, 110),
        [],
        1,
        "No rate up to 1,000,000 % a year solves it: too much in too short a time.",
    ),
    (
        daily(-100, 90),
        [],
        1,
        "No rate down to -99.99 % a year solves it: too much lost in too short a time.",
    ),
    (
        daily(-100, 220, -121),
        [],
        1,
        "No rate up to 1,000,000 % a year solves it: too much in too short a time.",
    ),
    (
        daily(-100, 250, -120),
        [],
        2,
        f"Two rates solve it, one under -99.99 % and one above 1,000,000 %: {NO_FIGURE}",
    ),
    (
        yearly(-1, 1.1 + 1e6, -1.1e6),
        [0.1],
        1,
        f"Two rates solve it, 10 % and one above 1,000,000 %: {NO_FIGURE}",
    ),
    (
        daily(-1, 3, -2.25),
        [],
        1,
        "No rate up to 1,000,000 % a year solves it: too much in too short a time.",
    ),
    ([], [], 0, "No rate solves it: no money moves, or it cancels out on its own day."),
    (yearly(0, 0.0), [], 0, "No rate solves it: no money moves, or it cancels out on its own day."),
    (yearly(-5), [], 0, "No rate solves it: money only goes out, and all on one day."),
    (yearly(-5, 0, -3), [], 0, "No rate solves it: money only goes out."),
    (yearly(5, 3), [], 0, "No rate solves it: money only comes in."),
    (
        [CashFlow(START, -100), CashFlow(START, 130)],
        [],
        0,
        "No rate solves it: money only comes in, and all on one day.",
    ),
    (
        [CashFlow(START, 0.1), CashFlow(START, 0.2), CashFlow(START, -0.3)],
        [],
        0,
        "No rate solves it: no money moves, or it cancels out on its own day.",
    ),
]


@pytest.mark.parametrize(("flows", "rates", "beyond", "words"), ANSWERS)
def test_every_shape_of_answer(
    flows: Sequence[CashFlow], rates: list[float], beyond: int, words: str
) -> None:
    found = rates_of_return(flows)
    assert found.words == words
    assert found.rates == pytest.approx(rates, abs=1e-9)
    assert found.beyond == beyond
    assert found.only == (found.rates[0] if len(rates) == 1 and not beyond else None)


def test_two_rates_that_nearly_meet_are_two_or_none_and_told_apart() -> None:
    """-100, 220 + e, -121: growth is ((220 + e) ± √((220 + e)² - 48,400)) / 200."""
    root = sqrt(220.0001**2 - 4 * 100 * 121)
    found = rates_of_return(yearly(-100, 220.0001, -121))
    assert found.rates == pytest.approx(
        [(220.0001 - root) / 200 - 1, (220.0001 + root) / 200 - 1], abs=1e-9
    )
    assert rates_of_return(yearly(-100, 219.9999, -121)).rates == ()
    near = rates_of_return(yearly(-100, 220 + 1e-9, -121))
    assert near.words.startswith("Two rates solve it, 9.9997 % and 10.0003 %:")


def test_order_zero_payments_and_split_payments_change_nothing() -> None:
    flows = [CashFlow(START, -4000), CashFlow(date(2025, 4, 9), -700), CashFlow(START, -250)]
    flows += [CashFlow(date(2025, 6, 20), 6100)]
    found = rates_of_return(flows)
    other = [*reversed(flows), CashFlow(date(2026, 1, 1), 0), CashFlow(date(2024, 1, 1), 0.0)]
    other += [CashFlow(date(2025, 6, 20), 50), CashFlow(date(2025, 6, 20), -50)]
    assert rates_of_return(other).rates == pytest.approx(found.rates, rel=1e-12)


@pytest.mark.parametrize("apart", [1e-1, 1e-2, 1e-3, 1e-4, 1e-5])
def test_two_rates_close_together_stay_two(apart: float) -> None:
    """(1 - g)(1 + apart - g): growths of 1 and of 1 + apart, worked out by hand."""
    found = rates_of_return(yearly(1, -2 - apart, 1 + apart))
    assert found.rates == pytest.approx([0, apart], abs=1e-9)


def test_a_rate_that_is_crossed_lying_flat_is_one() -> None:
    """(1 - g)^3."""
    assert rates_of_return(yearly(-1, 3, -3, 1)).rates == pytest.approx([0], abs=1e-3)


@pytest.mark.parametrize(
    "flows",
    [
        [CashFlow(date.min, -1e308), CashFlow(date.max, 1e308)],
        [CashFlow(START, -1.7e308), CashFlow(START, -1.7e308), CashFlow(date.max, 1.7e308)],
        [CashFlow(START, -5e-324), CashFlow(date(2026, 3, 1), 5e-324)],
        [CashFlow(START, -1e308), CashFlow(date(2026, 3, 1), 5e-324)],
        [CashFlow(START, -1e-300), CashFlow(date(2026, 3, 1), 1e10)],
    ],
)
def test_the_largest_and_smallest_amounts_and_days_get_an_answer(flows: list[CashFlow]) -> None:
    found = rates_of_return(flows)
    assert found.words
    assert all(LOWEST <= one <= HIGHEST and isfinite(one) for one in found.rates)


def test_hundreds_of_changes_of_sign_get_an_answer() -> None:
    amounts = [(-1.0) ** (at + 1) * (100 + at % 7) for at in range(300)]
    for rate in rates_of_return(yearly(*amounts)).rates:
        sizes = [abs(one) * (1 + rate) ** -at for at, one in enumerate(amounts)]
        worth = sum(one * (1 + rate) ** -at for at, one in enumerate(amounts))
        assert abs(worth) < 1e-9 * sum(sizes)


@pytest.mark.parametrize("wrong", [nan, inf, -inf])
def test_what_is_no_number_is_refused_by_name(wrong: float) -> None:
    with pytest.raises(ValueError, match="amount on 2025-03-01"):
        CashFlow(START, wrong)
    for name in ("margin", "money_in", "days"):
        given = {"margin": 1.0, "money_in": 1.0, "days": 1.0, name: wrong}
        for call in (annualized, simple_annual):
            with pytest.raises(ValueError, match=f"^{name} is"):
                call(**given)
    with pytest.raises(ValueError, match="selling_flat is"):
        break_even_price(1, 1, 1, wrong)
    with pytest.raises(ValueError, match="hours is"):
        per_hour(1, wrong)


@pytest.mark.parametrize(
    ("margin", "money_in", "days"),
    [(1, 0, 10), (1, -5, 10), (1, 100, 0), (1, 100, -3), (-100, 100, 10), (-101, 100, 10)],
)
def test_no_yearly_figure_without_money_time_or_anything_left(
    margin: float, money_in: float, days: float
) -> None:
    assert annualized(margin, money_in, days) is None
    assert simple_annual(margin, money_in, days) is None


def test_a_yearly_figure_ends_where_it_means_nothing() -> None:
    assert annualized(9_998, 1, 365) == pytest.approx(9_998)
    assert annualized(10_000, 1, 365) is None
    assert annualized(1e308, 1e-300, 5e-324) is None
    assert annualized(0, 100, 5e-324) == 0
    assert annualized(-99.999999, 100, 365) == pytest.approx(-0.99999999)
    assert simple_annual(9_999, 1, 365) == pytest.approx(9_999)
    assert simple_annual(10_001, 1, 365) is None
    assert simple_annual(-50, 100, 730) == -0.25


def test_break_even_price_brings_everything_back() -> None:
    price = break_even_price(6200, 1450, 8.5, 120)
    assert price is not None
    assert price * (1 - 0.085) - 120 - 1450 - 6200 == pytest.approx(0, abs=1e-9)
    assert break_even_price(0, 0, 10, 0) == 0
    assert break_even_price(-900, 500, 10, 100) == 0
    assert break_even_price(100, 0, 100, 0) is None
    assert break_even_price(100, 0, 120, 0) is None


def test_per_hour() -> None:
    assert per_hour(600, 24) == 25
    assert per_hour(-600, 24) == -25
    assert per_hour(600, 0) is None
    assert per_hour(600, -1) is None
