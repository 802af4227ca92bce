"""What like cars' prices say: like for like, the doubt of each adjustment, and as it stands."""

from __future__ import annotations

from collections.abc import Callable
from math import exp, log
from typing import Any

import numpy as np
import pytest
from scipy import stats

from appraise.engine.bid.simulation import work_out
from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Spread, Streams
from appraise.engine.resale.regression import fit_line
from appraise.engine.resale.resale import (
    EDGE,
    MarketFit,
    as_it_stands,
    fit_market,
    market_prior,
    mended_draws,
    nearness,
)
from appraise.errors import CannotPrice
from appraise.models.case import Case
from appraise.reference.load import Reference

Fit = Callable[..., MarketFit]


def like(at: int, **more: Any) -> dict[str, Any]:
    return {
        "id": f"like-{at}",
        "price": 8000 + 211 * (at * 7 % 5),
        "kind": "sold",
        "model_year": 2013 + at % 5,
        "odometer": {"value": 70_000 + 9000 * (at * 3 % 6), "unit": "mi"},
    } | more


@pytest.fixture
def lookup(reference: Reference) -> Lookup:
    return Lookup(reference)


@pytest.fixture
def fit(case_of: Callable[..., Case], lookup: Lookup) -> Fit:
    def run(*comparables: dict[str, Any], brand: str = "clear", **market: Any) -> MarketFit:
        car = {
            "make": "Invented",
            "model": "One",
            "model_year": 2015,
            "odometer": {"value": 90_000, "unit": "mi"},
            "title_brand": brand,
        }
        given = {"comparables": list(comparables), **market}
        return fit_market(case_of(market=given, vehicle=car), lookup)

    return run


@pytest.fixture
def log_sd() -> Callable[[MarketFit], float]:
    """Return the spread of log price in the draws."""

    def run(market: MarketFit) -> float:
        return float(np.log(mended_draws(market, Streams(1, 50_000))).std())

    return run


def test_no_comparable_is_no_price_and_says_what_to_do(fit: Fit) -> None:
    with pytest.raises(CannotPrice, match="comparable"):
        fit()
    with pytest.raises(CannotPrice):
        fit(like(1, left_out=True))


def test_few_comparables_are_wide_and_say_so(
    fit: Fit, log_sd: Callable[[MarketFit], float]
) -> None:
    few, many = fit(like(1)), fit(*(like(at) for at in range(10)))
    assert any("1 comparable only" in one.message for one in few.problems)
    assert not many.problems
    assert few.leave_one_out is None
    assert log_sd(few) > 1.2 * log_sd(many)


def test_prices_in_another_currency_and_those_left_out_do_not_count(fit: Fit) -> None:
    base = [like(at) for at in range(5)]
    plain = fit(*base)
    more = fit(*base, like(8, price=99_999, currency="EUR"), like(9, price=1, left_out=True))
    assert more.fit.coefficients == pytest.approx(plain.fit.coefficients, rel=1e-12)
    assert [one.where for one in more.problems] == ["market.comparables[5].currency"]


def test_a_fixed_asked_to_sold_ratio_scales_the_price(fit: Fit) -> None:
    sold = fit(*(like(at) for at in range(6)))
    ratio = {"low": "0.9", "likely": "0.9", "high": "0.9"}
    asked = fit(*(like(at, kind="asked") for at in range(6)), asked_to_sold=ratio)
    assert asked.middle == pytest.approx(0.9 * sold.middle)
    streams = Streams(1, 5000)
    assert mended_draws(asked, streams) == pytest.approx(0.9 * mended_draws(sold, streams))


@pytest.mark.parametrize("asked", [0, 3, 6])
def test_the_doubt_of_the_asked_ratio_counts_by_the_share_of_asked_prices(
    asked: int, fit: Fit
) -> None:
    ratio = {"low": "0.7", "likely": "0.9", "high": "0.99"}
    comps = [like(0, id=f"c-{at}", kind="asked" if at < asked else "sold") for at in range(6)]
    market = fit(*comps, asked_to_sold=ratio)
    streams = Streams(1, 5000)
    drawn = np.log(mended_draws(market, streams))
    still = fit(*comps, asked_to_sold={"low": "0.9", "likely": "0.9", "high": "0.9"})
    moved = drawn - np.log(mended_draws(still, streams))
    factor = streams.amounts("resale/resale.asked_to_sold", Spread(0.7, 0.9, 0.99)) / 0.9
    # Alike cars pull alike, so that the power of the factor is the share that was asked.
    assert moved == pytest.approx(asked / 6 * np.log(factor), abs=1e-9)


def test_a_mark_on_all_cars_alike_cancels(fit: Fit) -> None:
    plain = fit(*(like(0, id=f"c-{at}") for at in range(6)))
    marked = fit(
        *(like(0, id=f"c-{at}", title_brand="rebuilt") for at in range(6)), brand="rebuilt"
    )
    streams = Streams(1, 5000)
    assert marked.middle == pytest.approx(plain.middle)
    assert mended_draws(marked, streams) == pytest.approx(mended_draws(plain, streams))


def test_a_mark_on_this_car_alone_takes_its_factor_off_with_its_doubt(
    fit: Fit, lookup: Lookup, log_sd: Callable[[MarketFit], float]
) -> None:
    plain = fit(*(like(at) for at in range(6)))
    marked = fit(*(like(at) for at in range(6)), brand="salvage")
    factor = lookup.spread("brand.salvage")
    assert factor.likely < 0.9
    assert marked.middle == pytest.approx(plain.middle * factor.likely)
    drawn = np.log(Streams(1, 50_000).amounts("resale/brand.salvage", factor))
    assert log_sd(marked) == pytest.approx(
        (log_sd(plain) ** 2 + float(drawn.var())) ** 0.5, rel=0.02
    )


def test_a_mark_on_the_others_alone_puts_its_factor_on(fit: Fit, lookup: Lookup) -> None:
    plain = fit(*(like(at) for at in range(6)))
    others = fit(*(like(at, title_brand="salvage") for at in range(6)))
    assert others.middle == pytest.approx(plain.middle / lookup.spread("brand.salvage").likely)


@pytest.mark.parametrize("condition", ["tidier", "rougher"])
def test_other_conditions_are_made_like_this_car(condition: str, fit: Fit, lookup: Lookup) -> None:
    plain = fit(*(like(at) for at in range(6)))
    other = fit(*(like(at, condition=condition) for at in range(6)))
    factor = lookup.spread(f"resale.{condition}").likely
    assert other.middle == pytest.approx(plain.middle / factor)
    assert (factor > 1) is (condition == "tidier")


def test_the_line_falls_between_the_prior_and_least_squares(fit: Fit, lookup: Lookup) -> None:
    """Twelve cars whose prices fall 25 % a year pull the slope down, not all the way."""
    comps = [
        like(0, id=f"c-{at}", model_year=2012 + at % 7, price=round(8000 * 1.25 ** (at % 7 - 3)))
        for at in range(12)
    ]
    slope = float(fit(*comps).fit.coefficients[1])
    prior = market_prior(11.0, lookup).mean[1]
    assert -log(1.25) < slope < prior < 0


def test_the_middle_of_the_draws_is_the_line_and_its_tails_are_cut(fit: Fit) -> None:
    market = fit(*(like(at) for at in range(6)))
    drawn = mended_draws(market, Streams(1, 20_000))
    middle, _, scale = market.fit.at(np.array([1.0, 0.0, 0.0]))
    law = stats.t(market.fit.freedom)
    for share in (0.1, 0.5, 0.9):
        expected = exp(middle + scale * law.ppf(share))
        assert float(np.quantile(drawn, share)) == pytest.approx(expected, rel=1e-3)
    assert float(drawn.max()) <= exp(middle + scale * law.ppf(1 - EDGE)) * (1 + 1e-9)
    assert float(drawn.min()) >= exp(middle + scale * law.ppf(EDGE)) * (1 - 1e-9)


def test_leave_one_out_is_each_car_priced_from_the_others(fit: Fit, lookup: Lookup) -> None:
    comps = [like(at) for at in range(7)]
    market = fit(*comps)
    misses = []
    for left, out in enumerate(market.used):
        rest = [one for at, one in enumerate(market.used) if at != left]
        years = np.array([one.age - market.age for one in rest])
        miles = np.array([one.miles - 90_000 for one in rest])
        weights = nearness(years, miles, lookup)
        line = fit_line(
            np.log([one.like_price for one in rest]),
            np.column_stack([np.ones(len(rest)), years, miles / 10_000]),
            weights,
            market_prior(market.age, lookup),
            noise=weights**-0.5,
        )
        at = np.array([1.0, out.age - market.age, (out.miles - 90_000) / 10_000])
        misses.append(abs(exp(line.at(at)[0]) / out.like_price - 1))
    assert market.leave_one_out == pytest.approx(float(np.mean(misses)), rel=1e-9)


def test_a_price_that_does_not_fit_is_named_and_hardly_counts(fit: Fit) -> None:
    clean = fit(*(like(at) for at in range(8)))
    comps = [like(at) for at in range(8)]
    comps[3] = like(3, price=comps[3]["price"] * 10)
    market = fit(like(9, left_out=True), *comps)
    (problem,) = market.problems
    assert problem.where == "market.comparables[4]"
    assert problem.message == (
        "row 5 (price 82,110): 8.8 times what the others say; counted almost not at all"
    )
    assert problem.hint
    assert market.used[3].weight < 0.001
    assert market.middle == pytest.approx(clean.middle, rel=0.03)
    assert market.leave_one_out == pytest.approx(clean.leave_one_out, rel=0.5)


def test_a_price_far_too_low_is_named_by_its_share(fit: Fit) -> None:
    market = fit(*(like(at) for at in range(7)), like(7, price=840))
    assert [one.message for one in market.problems] == [
        "row 8 (price 840): 11 % of what the others say; counted almost not at all"
    ]


def test_of_two_prices_that_differ_tenfold_neither_is_blamed(fit: Fit) -> None:
    market = fit(like(0, price=900), like(1, price=9000))
    assert not any("others say" in one.message for one in market.problems)


@pytest.mark.parametrize(("year", "far"), [(2018, True), (2017, False), (2012, True)])
def test_comparables_three_years_away_are_said_to_be_far(year: int, *, far: bool, fit: Fit) -> None:
    market = fit(*(like(at, model_year=year) for at in range(6)))
    assert any("far from this car in age" in one.message for one in market.problems) is far


def test_the_fall_is_that_of_the_ages_between(fit: Fit, lookup: Lookup) -> None:
    """A car of 11.1 years from cars of 8.1, 36,000 miles less: Germany, 2016, and U.K., 2020.

    By the steepest slopes of the figures, those of the older car, it came 7 % lower.
    """
    age = fit(like(0)).age
    young = fit(*(like(0, id=f"c-{at}", model_year=2018, price=9000) for at in range(8)))
    steps = age - 3 + (np.arange(1000) + 0.5) * 3 / 1000
    ages = [4, 7.5, 12.5, 18]
    a_year = float(np.interp(steps, ages, [-0.093, -0.121, -0.159, -0.125]).mean())
    in_miles = float(np.interp(steps, ages, [-0.055, -0.061, -0.092, -0.088]).mean())
    expected = 9000 * exp(3 * a_year + 2 * in_miles)
    assert young.middle == pytest.approx(expected, rel=1e-3)
    flat = 3 * lookup.curve("resale.slope_age", age) + 2 * lookup.curve("resale.slope_miles", age)
    assert young.middle > 1.04 * 9000 * exp(flat)


@pytest.mark.parametrize("seller", ["dealer", "auction"])
def test_a_dealers_and_an_auction_price_become_a_private_sellers(
    seller: str, fit: Fit, lookup: Lookup
) -> None:
    private = fit(*(like(at, sold_by="private") for at in range(6)))
    other = fit(*(like(at, sold_by=seller) for at in range(6)))
    factor = lookup.spread(f"resale.{seller}")
    assert other.middle == pytest.approx(private.middle * factor.likely, rel=0.01)
    assert other.adjustment_variance == pytest.approx(
        (log(factor.high / factor.low) / 2.5631) ** 2, rel=0.01
    )
    assert factor.low < factor.high < 1 if seller == "dealer" else 1 < factor.low < factor.high


def test_young_private_cars_scatter_more_and_old_ones_as_before(fit: Fit, lookup: Lookup) -> None:
    for age, wider in ((2.0, True), (4.0, True), (7.0, True), (8.0, False), (15.0, False)):
        plain = market_prior(age, lookup).scale
        private = market_prior(age, lookup, private=True).scale
        assert (private > plain * 1.05) is wider
        assert private >= plain
    unknown = fit(*(like(at) for at in range(6)))
    assert fit(*(like(at, sold_by="private") for at in range(6))).fit.scale == unknown.fit.scale


def test_a_car_one_reach_away_counts_half(lookup: Lookup) -> None:
    years, miles = lookup.number("resale.reach_years"), lookup.number("resale.reach_miles")
    near = nearness(np.array([0.0, years, 0.0, -years]), np.array([0.0, 0.0, miles, miles]), lookup)
    assert near == pytest.approx([1, 1 / 2, 1 / 2, 1 / 3])


def test_as_it_stands_a_buyer_fears_the_worst_fifth(lookup: Lookup) -> None:
    streams = Streams(1, 10_000)
    mended = np.full(10_000, 9000.0)
    bill = np.linspace(0, 2000, 10_000)
    hassle = streams.amounts("resale/hassle", lookup.spread("as_it_stands.hassle"))
    most = lookup.number("as_it_stands.most")
    for unseen in (0.0, 700.0):
        # The worst fifth of an even spread up to 2,000 has the mean 1,800.
        feared = (1800 + unseen) / 9000
        fear = most * feared / (most + feared)
        # Half of the mean hassle brings all of it, and what nobody inspected is part of that.
        whole = hassle.mean() * 9000 / 2
        short = max(whole - unseen, 0)
        share = 1 - short / 2000 * short / 2 / whole
        standing = as_it_stands(mended, bill, 400.0, streams, lookup, unseen=unseen)
        assert standing == pytest.approx(9000 * (1 - fear - hassle * share), abs=1.0)


def test_what_is_taken_off_is_continuous_in_the_bill_rises_and_is_a_trifle_for_a_trifle(
    lookup: Lookup,
) -> None:
    """The last small fault must not hold back the whole hassle: 13 % of the price for 1 %."""
    streams = Streams(1, 2000)
    price = 8000.0
    mended = np.full(2000, price)
    bills = np.linspace(0, 2 * price, 1601)
    off = np.array(
        [
            price - float(as_it_stands(mended, np.full(2000, bill), 0.0, streams, lookup).mean())
            for bill in bills
        ]
    )
    assert off[0] == 0
    assert np.all(np.diff(off) > 0)
    assert np.all(off <= 3 * bills + 1e-9)
    assert np.all(np.diff(off) <= 3 * np.diff(bills) + 1e-9)
    at = {share: float(np.interp(share * price, bills, off)) / price for share in (0.01, 0.2, 1, 2)}
    assert 0.02 < at[0.01] <= 0.03
    assert 0.25 < at[0.2] < 0.3
    assert lookup.number("as_it_stands.most") < at[1] < at[2] < 0.5


def test_as_it_stands_is_never_below_scrap_nor_touched_without_a_fault(lookup: Lookup) -> None:
    streams = Streams(1, 2000)
    mended = np.full(2000, 600.0)
    assert np.all(as_it_stands(mended, np.full(2000, 8e3), 420.0, streams, lookup) == 420.0)
    assert np.array_equal(as_it_stands(mended, np.zeros(2000), 400.0, streams, lookup), mended)


def test_as_it_stands_does_not_jump_where_a_suspicion_grows(lookup: Lookup) -> None:
    """It fell by half between 19 and 21 %: an 80th percentile is nought below a chance of 20 %."""
    streams = Streams(1, 10_000)
    mended, order = np.full(10_000, 8000.0), np.linspace(0, 1, 10_000, endpoint=False)
    prices = [
        float(as_it_stands(mended, 3000.0 * (order < at), 400.0, streams, lookup).mean())
        for at in np.linspace(0, 1, 101)
    ]
    steps = np.diff(prices)
    assert np.all(steps <= 0)
    assert np.all(steps > -0.02 * 8000)
    assert prices[19] == pytest.approx(prices[21], rel=0.02)


def test_a_car_suspected_at_19_and_at_21_percent_brings_about_the_same(
    case_of: Callable[..., Case],
    job: Callable[..., dict[str, Any]],
    finding: Callable[..., dict[str, Any]],
    reference: Reference,
) -> None:
    dear = job("dear", (10, 15, 24), [(900, 1500, 2600)])
    prices = [
        float(
            work_out(
                case_of([finding("f", "dear", state="suspect", chance=chance)], [dear]), reference
            ).standing.mean()
        )
        for chance in ("0.17", "0.19", "0.21", "0.23")
    ]
    assert prices == sorted(prices, reverse=True)
    assert prices[1] == pytest.approx(prices[2], rel=0.02)


def test_more_to_fear_never_raises_the_price_as_it_stands(lookup: Lookup) -> None:
    generator = np.random.default_rng(5)
    streams = Streams(1, 1000)
    for _ in range(200):
        mended = np.exp(generator.normal(8.3, generator.uniform(0.05, 0.5), 1000))
        bill = np.exp(generator.normal(6.5, 1, 1000)) * (
            generator.random(1000) < generator.random()
        )
        more = bill + np.exp(generator.normal(5, 1, 1000)) * (
            generator.random(1000) < generator.random()
        )
        unseen = float(generator.exponential(500))
        less = as_it_stands(mended, bill, 400.0, streams, lookup, unseen=unseen)
        assert np.all(less >= as_it_stands(mended, more, 400.0, streams, lookup, unseen=unseen))
        assert np.all(less >= as_it_stands(mended, bill, 400.0, streams, lookup, unseen=unseen + 9))


@pytest.mark.parametrize("brand", ["clear", "salvage"])
def test_the_band_at_this_cars_distance_is_the_price_itself(brand: str, fit: Fit) -> None:
    """One doubt, two places that show it.

    The band takes each adjustment's doubt as even to both sides: with the widest title mark that
    moves a tenth by under 5 %, and the width by under 4 %.
    """
    market = fit(*(like(at, kind="asked") for at in range(6)), brand=brand)
    shares = (0.1, 0.5, 0.9)
    drawn = np.quantile(mended_draws(market, Streams(1, 50_000)), shares)
    band = market.quantiles(shares, market.miles)
    assert band == pytest.approx(drawn.tolist(), rel=0.05)
    assert log(band[2] / band[0]) == pytest.approx(log(drawn[2] / drawn[0]), rel=0.04)
