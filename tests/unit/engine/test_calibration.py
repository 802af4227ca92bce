"""Of 80 % intervals about four in five hold the truth, and the truths are drawn elsewhere."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Streams
from appraise.engine.repair.repair import RepairDraws
from appraise.engine.resale.resale import fit_market, market_prior, mended_draws, nearness
from appraise.models.case import Case
from appraise.reference.load import Reference

# The band of 77 to 83 % is 3.3 standard errors of a share of 80 % among 2,000: of 1,000 it would
# be only 2.4.
CASES = 2000
LEAST, MOST = 0.77, 0.83


def covered(shares: list[float]) -> float:
    return float(np.mean([0.1 <= one <= 0.9 for one in shares]))


def rank(draws: np.ndarray, truth: float) -> float:
    """Return the share of the draws below the truth."""
    return float((draws < truth).mean())


def market_case(
    case_of: Callable[..., Case], years: list[int], miles: np.ndarray, prices: np.ndarray
) -> Case:
    """Return a case whose car is the last of the list and whose comparables are the others."""
    comparables = [
        {
            "id": f"like-{at}",
            "price": f"{price:.2f}",
            "kind": "sold",
            "model_year": year,
            "odometer": {"value": int(distance), "unit": "mi"},
        }
        for at, (year, distance, price) in enumerate(
            zip(years[:-1], miles[:-1], prices[:-1], strict=True)
        )
    ]
    vehicle: dict[str, Any] = {
        "make": "Invented",
        "model": "One",
        "model_year": years[-1],
        "odometer": {"value": int(miles[-1]), "unit": "mi"},
    }
    return case_of(market={"comparables": comparables}, vehicle=vehicle, appraised_on="2026-07-02")


def test_resale_intervals_hold_four_in_five_cars_of_markets_drawn_from_the_prior(
    case_of: Callable[..., Case], reference: Reference
) -> None:
    """Slopes, spread and noise follow the model's own prior: normal-inverse-gamma.

    The spread's square is scaled inverse chi-square; a slope's spread goes with it; a far car's
    price varies more, by the root of the weight it is given; slopes change from age to age.
    """
    generator = np.random.default_rng(31_415)
    lookup = Lookup(reference)
    shares = []
    for at in range(CASES):
        count = int(generator.integers(3, 13))
        car_year = int(generator.integers(2004, 2024))
        years = [*(car_year + generator.integers(-3, 3, count)).tolist(), car_year]
        ages = np.array([2026.5 - (year + 0.5) for year in years])
        miles = np.round(
            np.clip(9000 * ages[-1] + 15_000 * generator.standard_normal(count + 1), 0, None)
        )
        prior = market_prior(float(ages[-1]), lookup)
        sigma = prior.scale * (prior.freedom / generator.chisquare(prior.freedom)) ** 0.5
        slopes = prior.mean[1:] + prior.sd[1:] * sigma / prior.scale * generator.standard_normal(2)
        off = np.column_stack([ages - ages[-1], miles - miles[-1]])
        weights = nearness(off[:, 0], off[:, 1], lookup)
        noise = sigma / weights**0.25 * generator.standard_normal(count + 1)
        bend = [
            [lookup.mean(f"resale.slope_{name}", ages[-1], age) for name in ("age", "miles")]
            for age in ages
        ]
        falls = slopes + np.array(bend) - prior.mean[1:]
        log_price = 9.0 + (off / [1, 10_000] * falls).sum(axis=1) + noise
        prices = np.exp(np.clip(log_price, 3, 17))
        case = market_case(case_of, years, miles, prices)
        draws = mended_draws(fit_market(case, lookup), Streams(at, 2000))
        shares.append(rank(draws, float(prices[-1])))
    assert LEAST <= covered(shares) <= MOST
    assert abs(float(np.mean(np.array(shares) < 0.5)) - 0.5) < 0.034


def test_resale_meets_the_bars_of_the_open_listings(
    case_of: Callable[..., Case], reference: Reference
) -> None:
    """Markets drawn from the spread between groups of 99,164 dealer listings (U.K., 2020).

    There, with 8 like cars, the mean of their prices missed by 10.2 %, least squares by 8.6 %, a
    line with priors by 8.0 % (interval .82, width .24); about 7.3 % is the floor.
    """
    generator = np.random.default_rng(27_182)
    lookup = Lookup(reference)
    misses, naive, shares, widths = [], [], [], []
    for at in range(1000):
        car_year = int(generator.integers(2019, 2025))
        years = [*(car_year + generator.integers(-2, 3, 8)).tolist(), car_year]
        ages = np.array([max(0.0, 2026.5 - (year + 0.5)) for year in years])
        miles = np.round(np.clip(8000 * ages + 8000 * generator.standard_normal(9), 500, None))
        slope = generator.normal([-0.093, -0.055], [0.028, 0.024])
        log_price = 9.6 + ages * slope[0] + miles / 10_000 * slope[1]
        prices = np.exp(log_price + generator.normal(0, 0.095, 9))
        case = market_case(case_of, years, miles, prices)
        market = fit_market(case, lookup)
        low, high = np.quantile(mended_draws(market, Streams(at, 2000)), [0.1, 0.9])
        truth = float(prices[-1])
        misses.append(abs(market.middle / truth - 1))
        naive.append(abs(float(prices[:-1].mean()) / truth - 1))
        shares.append(rank(mended_draws(market, Streams(at, 2000)), truth))
        widths.append((high - low) / market.middle)
    assert float(np.mean(misses)) < 0.086 < float(np.mean(naive))
    # A normal spread of .095 alone misses by .076: below that would be too good to be true.
    assert float(np.mean(misses)) > 0.073
    assert 0.77 <= covered(shares) <= 0.87
    assert 0.20 <= float(np.mean(widths)) <= 0.29


def test_repair_intervals_hold_four_in_five_truths_drawn_by_a_plain_simulation(
    random_case: Callable[..., Case],
    mend: Callable[..., RepairDraws],
    plain: Callable[..., tuple[np.ndarray, np.ndarray]],
) -> None:
    generator = np.random.default_rng(16_180)
    shares = []
    for at in range(CASES):
        case = random_case(generator, int(generator.integers(1, 7)), seed=at, draws=2000)
        rate = float(case.deal.own_rate)
        money, hours = plain(case, generator, 1)
        found = mend(case).found
        shares.append(rank(found.money + rate * found.hours, float(money[0] + rate * hours[0])))
    assert LEAST <= covered(shares) <= MOST
    assert abs(float(np.mean(np.array(shares) < 0.5)) - 0.5) < 0.034


def test_a_spread_that_is_too_narrow_would_be_noticed() -> None:
    """The check can fail: intervals of a spread a quarter too small hold only 66 %."""
    generator = np.random.default_rng(1)
    draws = 0.75 * np.random.default_rng(2).standard_normal(2000)
    shares = [rank(draws, truth) for truth in generator.standard_normal(CASES)]
    assert covered(shares) < LEAST
