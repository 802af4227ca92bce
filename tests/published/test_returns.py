"""Rates of return, interest and yearly figures: published examples, and two libraries' answers.

Where the libraries differ from `rates_of_return`, their own present value decides who is right:
`pyxirr` hands over one of several rates without saying so, rates of millions of percent and more
on short deals, and now and then None although its own present value changes its sign.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from math import expm1, log1p

import numpy as np
import numpy_financial
import pytest
import pyxirr

from appraise.engine.money.returns import (
    HIGHEST,
    LOWEST,
    Basis,
    CashFlow,
    Rates,
    annualized,
    break_even_price,
    rates_of_return,
    simple_annual,
    simple_interest,
)

XIRR_DAYS = tuple(
    date.fromisoformat(one)
    for one in ("2008-01-01", "2008-03-01", "2008-10-30", "2009-02-15", "2009-04-01")
)
XIRR = [
    CashFlow(day, amount)
    for day, amount in zip(XIRR_DAYS, (-10_000, 2750, 4250, 3250, 2750), strict=True)
]
"""The example in Microsoft's reference of the spreadsheet functions XIRR and XNPV."""


def yearly(amounts: Sequence[float]) -> list[CashFlow]:
    """Return payments 365 days apart: whole years by Act/365."""
    start = date(2021, 1, 1)
    return [CashFlow(start + timedelta(days=365 * at), amount) for at, amount in enumerate(amounts)]


def rates_of(amounts: Sequence[float]) -> Rates:
    return rates_of_return(yearly(amounts))


def at_a_price(flows: Sequence[CashFlow], price: float) -> tuple[float, ...]:
    """Return the rates once the payments are bought on their first day for a price."""
    first = min(one.day for one in flows)
    return rates_of_return([*flows, CashFlow(first, -price)]).rates


@pytest.mark.parametrize(
    ("amounts", "rates"),
    [
        # numpy-financial 1.0.0, docstring of irr: it prints one rate for each
        ([-100, 39, 59, 55, 20], [0.28095]),
        ([-100, 0, 0, 74], [-0.0955]),
        ([-100, 100, 0, -7], [-0.6789, -0.0833]),  # prints -0.0833; the third root is under -1
        ([-100, 100, 0, 7], [0.06206]),
        # Microsoft's reference of IRR; the shorter one from memory, recomputed
        ([-70_000, 12_000, 15_000, 18_000, 21_000, 26_000], [0.0866309]),
        ([-70_000, 12_000, 15_000, 18_000, 21_000], [-0.021245]),
        # two rates, a textbook's warning
        ([100, -230, 132], [0.1, 0.2]),
    ],
)
def test_published_rates_of_yearly_payments(amounts: list[float], rates: list[float]) -> None:
    """To half of the last digit printed."""
    assert rates_of(amounts).rates == pytest.approx(rates, abs=5.1e-5)


def test_the_rate_printed_to_more_digits() -> None:
    spreadsheet = [-70_000, 12_000, 15_000, 18_000, 21_000, 26_000]
    assert rates_of(spreadsheet).only == pytest.approx(0.0866309, abs=5e-8)
    assert rates_of([-100, 39, 59, 55, 20]).only == pytest.approx(0.28095, abs=5e-6)
    assert rates_of([-100, 100, 0, 7]).only == pytest.approx(0.06206, abs=5e-6)


def test_two_rates_are_told_as_no_figure() -> None:
    found = rates_of_return(yearly([100, -230, 132]))
    assert found.only is None
    assert found.words.startswith("Two rates solve it, 10 % and 20 %: no single figure means any")


def test_present_value_of_yearly_payments() -> None:
    """numpy-financial 1.0.0, docstring of npv: 3065.22267 at 8%; so much more paid earns 8%.

    Its last digit is worth 5e-11 of the rate.
    """
    (rate,) = at_a_price(yearly([-40_000, 5_000, 8_000, 12_000, 30_000]), 3065.22267)
    assert rate == pytest.approx(0.08, abs=1e-10)


def test_microsofts_dated_payments() -> None:
    """XIRR is printed as 0.373362535, which an iteration left 1.5e-9 off; XNPV at 9% 2086.6476."""
    found = rates_of_return(XIRR)
    assert [(day - XIRR_DAYS[0]).days for day in XIRR_DAYS] == [0, 60, 303, 411, 456]
    assert found.only == pytest.approx(0.373362535, abs=2e-9)
    assert found.only == pytest.approx(0.3733625335, abs=5e-11)
    assert at_a_price(XIRR, 2086.6476) == pytest.approx([0.09], abs=1e-8)


def test_rate_of_growth_of_one_sum() -> None:
    """Microsoft's reference of RRI: 10,000 to 11,000 in 96 months."""
    monthly = rates_of([-10_000, *[0] * 95, 11_000]).only
    assert monthly == pytest.approx(0.0009933, abs=5e-8)
    assert monthly == pytest.approx(0.00099330738, abs=5e-12)


def test_effective_rate_of_interest_paid_each_quarter() -> None:
    """Microsoft's reference of EFFECT, from memory, recomputed: 5.25% four times a year."""
    assert annualized(0.0525 / 4, 1, 365 / 4) == pytest.approx(0.0535427, abs=5e-8)


@pytest.mark.parametrize(
    ("margin", "days", "compounded", "simple"),
    [(12, 45, 1.5073, 0.9733), (-5, 60, -0.2680, -0.3042)],
)
def test_yearly_figures_of_short_deals(
    margin: float, days: int, compounded: float, simple: float
) -> None:
    """The definitions by hand; no published source."""
    assert annualized(margin, 100, days) == pytest.approx(compounded, abs=5e-5)
    assert simple_annual(margin, 100, days) == pytest.approx(simple, abs=5e-5)


@pytest.mark.parametrize(
    ("principal", "rate", "basis", "interest"),
    [
        (1500, 0.065, "Act/360", 2.71),  # 5 CFR 1315.17, U.S. Treasury: due 1 April, paid 11 April
        (1500, 0.066, "Act/360", 2.75),  # printed by the Treasury for 6.625%, having cut the rate
        (1500, 0.06625, "Act/360", 2.76),  # what 6.625% comes to
    ],
)
def test_interest_of_ten_days(principal: float, rate: float, basis: Basis, interest: float) -> None:
    days = (date(2026, 4, 11) - date(2026, 4, 1)).days
    assert simple_interest(principal, rate, days, basis) == pytest.approx(interest, abs=0.005)


def test_monthly_interest_added_then_days() -> None:
    """5 CFR 1315.17: 1,500 at 6% for two months and 15 days is 18.83; a month is 30 days of 360."""
    owed = 1500.0
    for days in (30, 30, 15):
        owed += simple_interest(owed, 0.06, days, "Act/360")
    assert owed - 1500 == pytest.approx(18.8251, abs=5e-5)


@pytest.mark.parametrize(
    ("basis", "interest"),
    # a student loan's 365.25 is published; the other two bases computed
    [("Act/365.25", 49.28), ("Act/365", 49.32), ("Act/360", 50.00)],
)
def test_interest_names_its_basis(basis: Basis, interest: float) -> None:
    assert simple_interest(10_000, 0.06, 30, basis) == pytest.approx(interest, abs=0.005)


def test_interest_on_a_car_for_six_weeks() -> None:
    """8,000 at 9% for 45 days; computed, no published source."""
    assert simple_interest(8000, 0.09, 45, "Act/365") == pytest.approx(88.767, abs=5e-4)


@pytest.mark.parametrize(
    ("fixed", "price", "variable", "units"),
    # B. Taylor, Introduction to Management Science, Western Clothing; from memory, recomputed
    [
        (10_000, 23, 8, 666.7),
        (10_000, 30, 8, 454.5),
        (10_000, 30, 12, 555.5),
        (13_000, 30, 12, 722.2),
    ],
)
def test_break_even_in_units_is_break_even_in_money(
    fixed: float, price: float, variable: float, units: float
) -> None:
    """What is taken at break-even, with the variable cost as a percentage of it.

    The book cuts 555.56 to 555.5: hence a tolerance of a whole last digit.
    """
    taken = break_even_price(fixed, 0, 100 * variable / price, 0)
    assert taken is not None
    assert taken / price == pytest.approx(units, abs=0.06)


def deal(generator: np.random.Generator, *, mixed: bool) -> list[CashFlow]:
    """Return random dated payments: money out and then in, or in any order."""
    count = int(generator.integers(2, 12))
    days = np.cumsum(generator.integers(1, 120, count))
    amounts = np.round(generator.normal(0, 3000, count), 2)
    if not mixed:
        out = int(generator.integers(1, count))
        amounts = np.abs(amounts) * np.where(np.arange(count) < out, -1, 1)
    return [
        CashFlow(date(2024, 1, 1) + timedelta(days=int(day)), float(amount))
        for day, amount in zip(days, amounts, strict=True)
    ]


def xnpv(flows: Sequence[CashFlow], growth: float) -> float:
    worth = pyxirr.xnpv(expm1(growth), [one.day for one in flows], [one.amount for one in flows])
    assert worth is not None
    return float(worth)


def xirr(flows: Sequence[CashFlow]) -> float | None:
    return pyxirr.xirr([one.day for one in flows], [one.amount for one in flows])


@pytest.mark.parametrize("seed", range(5))
def test_at_pyxirrs_present_value_its_rate_is_among_ours(seed: int) -> None:
    """Near a rate at which the value is flat, rounding moves it most: hence 1e-6 of the growth."""
    generator = np.random.default_rng(seed)
    for _ in range(200):
        flows = deal(generator, mixed=True)
        for rate in (-0.9, -0.3, 0.0, 0.05, 0.8, 12.0):
            found = at_a_price(flows, xnpv(flows, log1p(rate)))
            assert min(abs(log1p(one) - log1p(rate)) for one in found) < 1e-6


@pytest.mark.parametrize("seed", range(5))
def test_the_one_rate_of_money_out_and_then_in_is_pyxirrs(seed: int) -> None:
    """Its tolerance is in money: hence 1e-7 of the growth."""
    generator = np.random.default_rng(seed)
    compared = 0
    for _ in range(300):
        flows = deal(generator, mixed=False)
        found, other = rates_of_return(flows), xirr(flows)
        assert len(found.rates) + found.beyond == 1
        if found.only is not None and other is not None:
            compared += 1
            assert log1p(found.only) == pytest.approx(log1p(other), abs=1e-7)
    assert compared > 200


@pytest.mark.parametrize("seed", range(5))
def test_pyxirrs_rate_of_any_payments_is_among_ours_or_out_of_range(seed: int) -> None:
    """It stops within about 1e-6 of a rate near which the value is flat."""
    generator = np.random.default_rng(100 + seed)
    agreed = 0
    for _ in range(300):
        flows = deal(generator, mixed=True)
        if len({one.amount > 0 for one in flows}) == 1:
            continue
        found, other = rates_of_return(flows), xirr(flows)
        if other is None:
            continue
        if not LOWEST <= other <= HIGHEST:
            assert found.beyond
            continue
        agreed += 1
        assert min(abs(log1p(one) - log1p(other)) for one in found.rates) < 1e-6
    assert agreed > 150


@pytest.mark.parametrize("seed", range(5))
def test_pyxirrs_present_value_changes_its_sign_at_our_rates_and_nowhere_else(seed: int) -> None:
    """A fine grid in the growth; where it sees no change, an even number of rates lies between."""
    generator = np.random.default_rng(200 + seed)
    grid = np.linspace(log1p(LOWEST), log1p(HIGHEST), 400)
    several = 0
    for _ in range(40):
        flows = deal(generator, mixed=True)
        rates = np.log1p(rates_of_return(flows).rates)
        several += len(rates) > 1
        signs = np.sign([xnpv(flows, one) for one in grid.tolist()])
        between = np.histogram(rates, grid)[0]
        assert np.array_equal(between % 2 == 1, signs[1:] != signs[:-1])
    assert several


def test_a_rate_that_pyxirr_does_not_find() -> None:
    """Its own present value changes its sign at the rate told."""
    days = ["2024-03-17", "2024-05-06", "2024-05-21", "2024-09-15", "2024-10-15"]
    days += ["2024-11-26", "2025-01-06"]
    amounts = [6885.52, 70.75, -56.92, 2179.11, 5486.56, -3564.15, 263.07]
    flows = [
        CashFlow(date.fromisoformat(day), amount) for day, amount in zip(days, amounts, strict=True)
    ]
    found = rates_of_return(flows)
    assert found.rates == pytest.approx([-0.99924], abs=5e-6)
    assert found.beyond == 1
    growth = log1p(found.rates[0])
    assert xnpv(flows, growth - 1e-6) * xnpv(flows, growth + 1e-6) < 0


@pytest.mark.parametrize("seed", range(5))
def test_rates_a_period_are_the_real_roots_that_numpy_finds(seed: int) -> None:
    """All of them, with numpy-financial's choice among them."""
    generator = np.random.default_rng(300 + seed)
    for _ in range(100):
        amounts = np.round(generator.normal(0, 3000, int(generator.integers(3, 14))), 2)
        roots = np.roots(amounts)
        real = np.sort(roots.real[np.abs(roots.imag) <= 1e-9 * np.abs(roots)]) - 1
        inside = real[(real >= LOWEST) & (real <= HIGHEST)]
        found = rates_of(amounts.tolist())
        assert found.rates == pytest.approx(inside.tolist(), abs=1e-8)
        assert found.beyond == np.count_nonzero(real > -1) - len(inside)
        chosen = float(numpy_financial.irr(amounts))
        if LOWEST <= chosen <= HIGHEST:
            assert min(abs(one - chosen) for one in found.rates) < 1e-8
