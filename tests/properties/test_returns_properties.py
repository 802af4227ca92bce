"""What holds of all rates of return, whatever the payments."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise
from math import fsum, isfinite, log1p

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from appraise.engine.money.returns import (
    HIGHEST,
    LOWEST,
    CashFlow,
    annualized,
    break_even_price,
    rates_of_return,
    simple_annual,
    simple_interest,
)

START = date(2023, 1, 1)
money = st.integers(-2_000_000, 2_000_000).map(lambda cents: cents / 100)
flows = st.lists(
    st.builds(CashFlow, st.integers(0, 2000).map(lambda days: START + timedelta(days=days)), money),
    max_size=12,
)
growths = st.lists(st.integers(8, 60), min_size=1, max_size=5, unique=True).map(
    lambda twentieths: [one / 20 for one in sorted(twentieths)]
)
margins = st.floats(-0.99, 3)


def yearly(amounts: Sequence[float]) -> list[CashFlow]:
    return [CashFlow(START + timedelta(days=365 * at), one) for at, one in enumerate(amounts)]


def worth(flows: Sequence[CashFlow], rate: float) -> float:
    """Return the present value on the first day, from its definition."""
    first = min(one.day for one in flows)
    return fsum(one.amount * (1 + rate) ** -((one.day - first).days / 365) for one in flows)


def netted(given: Sequence[CashFlow]) -> list[float]:
    """Return what moves on each day, to the cent, without days on which nothing does."""
    days = sorted({one.day for one in given})
    net = [round(fsum(one.amount for one in given if one.day == day), 2) for day in days]
    return [one for one in net if one]


@settings(max_examples=300)
@given(given_flows=flows)
def test_any_payments_get_a_clear_answer(given_flows: list[CashFlow]) -> None:
    found = rates_of_return(given_flows)
    assert found.words.endswith(".")
    assert "\n" not in found.words
    assert list(found.rates) == sorted(set(found.rates))
    assert all(isfinite(one) and LOWEST <= one <= HIGHEST for one in found.rates)
    net = netted(given_flows)
    changes = sum(one * two < 0 for one, two in pairwise(net))
    assert len(found.rates) + found.beyond <= changes, "Descartes' rule of signs"
    if net and net[0] * net[-1] < 0:
        assert len(found.rates) + found.beyond >= 1


@settings(max_examples=300)
@given(given_flows=flows)
def test_payments_are_worth_nought_at_every_rate_told(given_flows: list[CashFlow]) -> None:
    for rate in rates_of_return(given_flows).rates:
        sizes = [replace(one, amount=abs(one.amount)) for one in given_flows]
        assert abs(worth(given_flows, rate)) <= 1e-9 * worth(sizes, rate)


@given(
    given_flows=flows, power=st.integers(-30, 30), later=st.integers(-3000, 3000), data=st.data()
)
def test_currency_order_side_and_date_of_the_deal_change_nothing(
    given_flows: list[CashFlow], power: int, later: int, data: st.DataObject
) -> None:
    """Exactly: the scale is a power of two."""
    found = rates_of_return(given_flows)
    shuffled = data.draw(st.permutations(given_flows))
    moved = timedelta(days=later)
    assert rates_of_return(shuffled) == found
    assert rates_of_return([replace(one, day=one.day + moved) for one in given_flows]) == found
    scaled = [replace(one, amount=one.amount * 2.0**power) for one in given_flows]
    assert rates_of_return(scaled) == found
    other_side = [replace(one, amount=-one.amount) for one in given_flows]
    assert rates_of_return(other_side).rates == found.rates


def polynomial(roots: Sequence[float]) -> list[float]:
    return [float(one) for one in np.poly(roots)]


@settings(max_examples=200)
@given(roots=growths)
def test_every_rate_that_payments_were_made_from_is_found(roots: list[float]) -> None:
    """Payments whose growth factors are known, a twentieth or more apart."""
    expected = [one - 1 for one in roots]
    found = rates_of_return(yearly(polynomial(roots)))
    # Payments rounded to 53 bits already move five growths a twentieth apart by some 1e-8.
    assert found.rates == pytest.approx(expected, abs=1e-7)
    assert not found.beyond


@given(roots=growths)
def test_a_rate_that_is_only_touched_counts_once(roots: list[float]) -> None:
    twice = [one for one in roots[:2] for _ in range(2)]
    found = rates_of_return(yearly(polynomial(twice)))
    assert found.rates == pytest.approx([one - 1 for one in roots[:2]], abs=1e-6)


def remainder(one: list[Fraction], other: list[Fraction]) -> list[Fraction]:
    """Return the remainder of two polynomials, highest power first, without leading noughts."""
    left = list(one)
    while len(left) >= len(other):
        factor = left[0] / other[0]
        left = [a - factor * b for a, b in zip(left, other, strict=False)][1:] + left[len(other) :]
    while left and not left[0]:
        left = left[1:]
    return left


def positive_roots(amounts: Sequence[int]) -> int:
    """Count the distinct roots above 0 by Sturm's theorem, in exact fractions."""
    chain = [[Fraction(one) for one in amounts]]
    degree = len(amounts) - 1
    slope = [one * (degree - at) for at, one in enumerate(chain[0][:-1])]
    while slope:
        chain.append(slope)
        slope = [-one for one in remainder(chain[-2], chain[-1])]
    at_nought, at_infinity = [one[-1] for one in chain], [one[0] for one in chain]

    def changes(values: list[Fraction]) -> int:
        signs = [one > 0 for one in values if one]
        return sum(one != two for one, two in pairwise(signs))

    return changes(at_nought) - changes(at_infinity)


def test_sturms_theorem_counts_known_roots() -> None:
    assert positive_roots([1, -6, 11, -6]) == 3  # 1, 2, 3
    assert positive_roots([1, -4, 5, -2]) == 2  # 1 twice, 2
    assert positive_roots([1, 0, 1]) == 0
    assert positive_roots([1, 1, -2]) == 1  # 1 and -2


@settings(max_examples=400)
@given(amounts=st.lists(st.integers(-20, 20), min_size=2, max_size=8))
def test_as_many_rates_as_sturms_theorem_counts(amounts: list[int]) -> None:
    """Exact arithmetic, which shares nothing with the search."""
    assume(amounts[0] and amounts[-1])
    found = rates_of_return(yearly(amounts))
    assert len(found.rates) + found.beyond == positive_roots(amounts)


@given(gain=margins, days=st.integers(20, 2000), put_in=st.floats(1, 1e5))
def test_the_yearly_figure_of_a_deal_is_its_rate_of_return(
    gain: float, days: int, put_in: float
) -> None:
    figure = annualized(gain * put_in, put_in, days)
    back = put_in + gain * put_in
    found = rates_of_return(
        [
            CashFlow(START, -put_in),
            CashFlow(START + timedelta(days=days), back),
        ]
    )
    if figure is None or not LOWEST < figure < HIGHEST - 1:
        return
    assert found.only is not None
    assert log1p(found.only) == pytest.approx(log1p(figure), abs=1e-9)


@given(gain=margins, days=st.integers(1, 2000))
def test_compounding_helps_within_a_year_and_costs_beyond(gain: float, days: int) -> None:
    """Bernoulli's inequality."""
    compounded, simple = annualized(gain, 1, days), simple_annual(gain, 1, days)
    if compounded is None or simple is None:
        return
    slack = 1e-12 * max(1, abs(compounded), abs(simple))
    if days <= 365:
        assert compounded >= simple - slack
    if days >= 365:
        assert compounded <= simple + slack


@given(
    spent=st.floats(0, 1e5),
    to_spend=st.floats(0, 1e5),
    percent=st.floats(0, 95),
    flat=st.floats(0, 1e3),
)
def test_at_the_break_even_price_nothing_is_won_or_lost(
    spent: float, to_spend: float, percent: float, flat: float
) -> None:
    price = break_even_price(spent, to_spend, percent, flat)
    assert price is not None
    left = price - price * percent / 100 - flat - to_spend - spent
    assert left == pytest.approx(0, abs=1e-9 * (1 + price))


@given(
    principal=st.floats(0, 1e6),
    rate=st.floats(0, 1),
    first=st.integers(0, 900),
    second=st.integers(0, 900),
)
def test_interest_adds_up_by_days_and_a_shorter_year_takes_more(
    principal: float, rate: float, first: int, second: int
) -> None:
    whole = simple_interest(principal, rate, first + second, "Act/365")
    parts = [simple_interest(principal, rate, one, "Act/365") for one in (first, second)]
    assert whole == pytest.approx(sum(parts), rel=1e-12)
    assert (
        simple_interest(principal, rate, first, "Act/360")
        >= simple_interest(principal, rate, first, "Act/365")
        >= simple_interest(principal, rate, first, "Act/365.25")
    )
