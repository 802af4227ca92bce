"""The highest bid that still pays: constructed cases with known answers, and brute force."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from itertools import pairwise
from math import ceil, floor

import numpy as np
import pytest
from scipy import special, stats

from appraise.engine.draws.order_statistics import quantile_error
from appraise.engine.draws.streams import Streams
from appraise.engine.money.margin import (
    HIGHEST_BID,
    Rest,
    budget_for,
    fee_due,
    highest_bid,
    landed_cost,
)
from appraise.models.deal import Deal

# PMBOK Guide, 5th edition, figure 11-13: design, build, test, in millions.
BUDGET = {"design": (4, 6, 10), "build": (16, 20, 35), "test": (11, 15, 23)}


@pytest.mark.parametrize(("confidence", "expected"), [(0.75, 9.97), (0.8, 9.02), (0.9, 6.56)])
def test_most_for_a_thing_worth_60_with_the_pmbok_cost(confidence: float, expected: float) -> None:
    """Worth 60 less the quantile of the published cost: 60 - 50.03, - 50.98, - 53.44."""
    streams = Streams(13, 200_000)
    cost = np.zeros(streams.draws)
    for name, (low, mode, high) in BUDGET.items():
        cost += stats.triang((mode - low) / (high - low), low, high - low).ppf(
            streams.uniforms(name)
        )
    budget = budget_for(Rest(60 - cost, np.ones(streams.draws)), 0.0, confidence)
    # Four Monte-Carlo standard errors, and half a unit of the last printed place.
    allowed = 4 * quantile_error(np.sort(cost), confidence) + 0.005
    assert budget == pytest.approx(expected, abs=allowed)


def test_most_for_a_normal_resale_and_a_normal_cost() -> None:
    """N(12000, 1200) - N(3000, 900) is N(9000, 1500): 9000 - 500 - 0.8416 * 1500 = 7237.57."""
    assert stats.norm(8500, 1500).ppf(0.2) == pytest.approx(7237.57, abs=0.005)
    streams = Streams(17, 200_000)
    net = 12_000 + 1200 * streams.normals("resale") - 3000 - 900 * streams.normals("cost")
    budget = budget_for(Rest(net, np.ones(streams.draws)), 500.0, 0.8)
    allowed = 4 * quantile_error(np.sort(net), 0.2)
    assert allowed < 25
    assert budget == pytest.approx(7237.57, abs=allowed)
    # On a grid of exact quantiles instead of draws there is no Monte-Carlo error.
    grid = 9000 + 1500 * special.ndtri((np.arange(100_000) + 0.5) / 100_000)
    exact = budget_for(Rest(grid, np.ones(len(grid))), 500.0, 0.8)
    assert exact == pytest.approx(7237.57, abs=0.05)


@pytest.mark.parametrize("draws", [1000, 1001, 1003, 20_000])
@pytest.mark.parametrize("confidence", [0.001, 0.1, 0.29, 0.5, 0.55, 0.7, 0.8, 0.9, 0.95, 0.999])
def test_the_budget_is_the_exact_order_statistic(draws: int, confidence: float) -> None:
    """At the budget enough draws reach the target; at the next draw above it too few do.

    Confidences such as 0.29 and 0.55 are not exact in binary: 0.55 * 1000 is 550.0000000000001.
    """
    net = np.random.default_rng(draws).normal(5000, 1500, draws)
    budget = budget_for(Rest(net, np.ones(draws)), 700.0, confidence)
    needed = ceil(Decimal(str(confidence)) * draws)
    assert int(np.count_nonzero(net - 700.0 >= budget)) == needed
    assert int(np.count_nonzero(net - 700.0 > budget)) == needed - 1


def money(generator: np.random.Generator, most: int) -> Decimal:
    return Decimal(int(generator.integers(0, most * 100))) / 100


def some_deal(generator: np.random.Generator, most: int) -> Deal:
    """Return a deal with fees that step up and down, caps, tax, and fixed costs."""
    fees = []
    for number in range(int(generator.integers(0, 4))):
        starts = sorted({0, *(generator.integers(1, most, int(generator.integers(0, 6)))).tolist()})
        cents = generator.random() < 0.3
        steps = []
        for start in starts:
            percent = Decimal(int(generator.integers(0, 120))) / 10
            steps.append(
                {
                    "starts_at": Decimal(start) + (Decimal("0.5") if cents and start else 0),
                    "flat": money(generator, most // 5),
                    "percent": percent if generator.random() < 0.7 else Decimal(0),
                    "cap": money(generator, most // 4) if generator.random() < 0.3 else None,
                }
            )
        fees.append({"name": f"fee {number}", "steps": steps})
    return Deal.model_validate(
        {
            "fees": fees,
            "tax_percent": Decimal(int(generator.integers(0, 90))) / 10,
            "tax_on_fees": bool(generator.random() < 0.5),
            "title_and_registration": money(generator, most // 20),
            "transport": money(generator, most // 20),
        }
    )


def cost_by_hand(deal: Deal, bid: int) -> Decimal:
    """Return the landed cost, worked out here from the words of the model."""
    cent = Decimal("0.01")
    fees = Decimal(0)
    for schedule in deal.fees:
        for step in schedule.steps:
            if step.starts_at <= bid:
                due = step.flat + step.percent * bid / 100
                held = due if step.cap is None or due < step.cap else step.cap
        fees += held.quantize(cent)
    taxed = bid + fees if deal.tax_on_fees else Decimal(bid)
    tax = (taxed * deal.tax_percent / 100).quantize(cent)
    return bid + fees + tax + deal.title_and_registration + deal.transport


@pytest.mark.parametrize("seed", range(60))
def test_the_highest_bid_is_the_one_found_by_trying_every_whole_amount(seed: int) -> None:
    generator = np.random.default_rng(seed)
    most = 400
    deal = some_deal(generator, most)
    costs = {bid: cost_by_hand(deal, bid) for bid in range(1, 2 * most)}
    assert all(landed_cost(deal, Decimal(bid)) == cost for bid, cost in costs.items())
    for _ in range(12):
        budget = round(float(generator.uniform(0, 1.5 * most)), 2)
        affordable = [bid for bid, cost in costs.items() if cost <= Decimal(str(budget))]
        assert highest_bid(deal, budget) == max(affordable, default=None)
    # A budget that is met to the cent is enough.
    for bid in generator.integers(1, most, 8).tolist():
        exact = float(costs[bid])
        affordable = [at for at, cost in costs.items() if cost <= costs[bid]]
        assert highest_bid(deal, exact) == max(affordable)


def test_some_of_the_random_fees_fall_at_a_step() -> None:
    """Brute force is worth something only where the landed cost is not in order."""
    falling = 0
    for seed in range(60):
        deal = some_deal(np.random.default_rng(seed), 400)
        costs = [landed_cost(deal, Decimal(bid)) for bid in range(1, 400)]
        falling += any(after < before for before, after in pairwise(costs))
    assert falling >= 20


@pytest.mark.parametrize("seed", range(25))
def test_with_financing_the_highest_bid_is_still_the_one_found_by_trying(seed: int) -> None:
    """Interest makes each draw's cost of a bid its own: tried on every draw at every amount."""
    generator = np.random.default_rng(1000 + seed)
    deal = some_deal(generator, 400)
    draws = 300
    net = generator.normal(350, 120, draws)
    growth = 1 + generator.uniform(0, 0.3, draws)
    rest = Rest(net, growth)
    target = float(generator.integers(-50, 150))
    confidence = float(generator.choice([0.5, 0.75, 0.8, 0.9, 0.95]))
    needed = ceil(Decimal(str(confidence)) * draws)
    works = [
        bid
        for bid in range(1, 1200)
        if np.count_nonzero(net - float(cost_by_hand(deal, bid)) * growth >= target) >= needed
    ]
    assert highest_bid(deal, budget_for(rest, target, confidence)) == max(works, default=None)


def test_a_fee_that_falls_at_a_step_is_used_and_not_tripped_over(
    fee: Callable[..., Deal],
) -> None:
    """From 1,000 on the fee falls from 300 to 50: with 1,100 the bid is 1,050, not 800."""
    deal = fee((0, 300, 0), (1000, 50, 0))
    assert highest_bid(deal, 1100) == 1050
    assert highest_bid(deal, 1049.99) == 749
    assert highest_bid(deal, 1050) == 1000
    assert highest_bid(deal, 300.99) is None
    assert highest_bid(deal, 301) == 1


def test_a_cap_holds_flat_and_percent_together(fee: Callable[..., Deal]) -> None:
    deal = fee((0, 100, 10, 250))
    (schedule,) = deal.fees
    assert [fee_due(schedule, Decimal(bid)) for bid in (0, 1000, 1500, 9000)] == [
        100,
        200,
        250,
        250,
    ]
    assert highest_bid(deal, 9250) == 9000


def test_no_budget_is_no_bid_and_a_boundless_one_stops_at_the_highest() -> None:
    deal = Deal()
    for nothing in (0.0, -5.0, float("nan"), float("inf"), 0.99):
        assert highest_bid(deal, nothing) is None
    assert highest_bid(deal, 1e12) == HIGHEST_BID
    assert highest_bid(deal, 1234.999) == floor(1234.999)


@pytest.fixture
def fee() -> Callable[..., Deal]:
    def make(*steps: tuple[float, ...]) -> Deal:
        keys = ("starts_at", "flat", "percent", "cap")
        entry = {
            "name": "premium",
            "steps": [dict(zip(keys, step, strict=False)) for step in steps],
        }
        return Deal.model_validate({"fees": [entry]})

    return make
