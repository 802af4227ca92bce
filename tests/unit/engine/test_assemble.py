"""The whole appraisal hangs together: sums, shares, the walk-away price, the seller's view."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from appraise import services
from appraise.engine import appraise
from appraise.engine.bid.appraisal import _annualized
from appraise.models.appraisal import Appraisal
from appraise.models.case import Case
from appraise.models.findings import Area
from appraise.reference.load import Reference

COSTS = {
    "holding_per_day": 4,
    "finance_percent": 9,
    "selling_percent": 5,
    "selling_flat": 60,
    "own_rate": 15,
    "tax_percent": 6,
    "transport": 90,
    "fees": [{"name": "premium", "steps": [{"starts_at": 0, "flat": 50, "percent": 8}]}],
    "asking_price": 4000,
}


@pytest.fixture
def run(random_case: Callable[..., Case], reference: Reference) -> Callable[..., Appraisal]:
    def make(seed: int, **deal: Any) -> Appraisal:
        case = random_case(np.random.default_rng(seed), 5, draws=4000)
        known = case.model_dump(mode="json")
        known["deal"] |= {"asking_price": 4000} | deal
        return appraise(Case.model_validate(known), reference)

    return make


@pytest.mark.parametrize("seed", range(6))
def test_shares_of_the_doubt_sum_to_one(seed: int, run: Callable[..., Appraisal]) -> None:
    drivers = run(seed, **COSTS).drivers
    assert len(drivers) >= 4
    # Each is rounded to four places.
    assert abs(sum(one.share for one in drivers) - 1) <= Decimal("0.00005") * (len(drivers) + 3)


@pytest.mark.parametrize("seed", range(6))
def test_the_steps_from_sale_to_margin_sum_to_the_mean_margin(
    seed: int, run: Callable[..., Appraisal]
) -> None:
    for outcome in (run(seed, **COSTS).outcome, run(seed, **COSTS).at_walk_away):
        if outcome is None:
            continue
        assert abs(sum(one.amount for one in outcome.steps) - outcome.margin.mean) <= Decimal(
            "0.06"
        )
        assert sum(one.amount for one in outcome.landed_lines) == outcome.landed_cost


def test_selling_at_the_break_even_price_leaves_nothing(run: Callable[..., Appraisal]) -> None:
    outcome = run(3, **COSTS).outcome
    assert outcome is not None
    steps = {one.label: float(one.amount) for one in outcome.steps}
    rest = sum(
        amount
        for label, amount in steps.items()
        if label not in ("Sale after repair", "Selling costs")
    )
    left = float(outcome.break_even_resale) * 0.95 - 60 + rest
    assert left == pytest.approx(0, abs=0.1)


def test_own_hours_are_all_that_parts_the_two_margins(run: Callable[..., Appraisal]) -> None:
    appraisal = run(1, done_by="own_hands", own_rate=15)
    outcome = appraisal.outcome
    assert outcome is not None
    apart = outcome.margin_unpaid.mean - outcome.margin.mean
    assert float(apart) == pytest.approx(15 * float(appraisal.repair.own_hours.mean), abs=0.1)
    assert appraisal.repair.own_hours.mean > 1
    hours = float(appraisal.repair.own_hours.mean)
    assert float(outcome.per_own_hour or 0) == pytest.approx(
        float(outcome.margin_unpaid.mean) / hours, rel=0.01
    )


def test_interest_is_simple_on_the_landed_cost(run: Callable[..., Appraisal]) -> None:
    """Simple interest, actual/365, on the mean days that the car is owned."""
    appraisal = run(2, **COSTS)
    outcome = appraisal.outcome
    assert outcome is not None
    days = float(appraisal.repair.days.mean + appraisal.resale.days_to_sell.mean)
    (interest,) = [one.amount for one in outcome.steps if one.label == "Interest"]
    expected = float(outcome.landed_cost) * 0.09 * days / 365
    assert -float(interest) == pytest.approx(expected, rel=1e-3)
    (holding,) = [one.amount for one in outcome.steps if one.label == "Holding"]
    assert -float(holding) == pytest.approx(4 * days, rel=1e-3)


@pytest.mark.parametrize(
    ("rate", "days", "yearly"), [(0.12, 45, "1.5073"), (-0.05, 60, "-0.2680"), (0.1, 365, "0.1000")]
)
def test_a_return_is_annualized_by_compounding(rate: float, days: float, yearly: str) -> None:
    """(1 + r)^(365/d) - 1: +12 % in 45 days is 150.73 % a year, -5 % in 60 days -26.80 %."""
    assert _annualized(rate * 7000, 7000, days) == Decimal(yearly)


def test_a_return_that_means_nothing_is_not_given() -> None:
    assert _annualized(-7000, 7000, 30) is None
    assert _annualized(100, 0, 30) is None
    assert _annualized(100, 100, 0) is None
    assert _annualized(7000, 100, 1) is None


@pytest.mark.parametrize("asking", [1, 3000, 5000, 7000, 20_000])
def test_the_sellers_percentile_is_the_share_of_bills_that_the_price_admits(
    asking: int, run: Callable[..., Appraisal]
) -> None:
    appraisal = run(4, asking_price=asking)
    seller = appraisal.seller
    assert seller is not None
    middle = float(seller.admitted) + asking
    assert middle == pytest.approx(float(appraisal.resale.mended.p50), rel=0.01)
    bill = appraisal.repair.shop_bill
    if float(seller.admitted) < float(bill.p10):
        assert seller.percentile <= Decimal("0.1")
        assert seller.verdict == "less"
    if float(seller.admitted) > float(bill.p90):
        assert seller.percentile >= Decimal("0.9")
        beyond = seller.admitted - seller.ordinary
        assert (seller.verdict == "more") == (beyond > bill.p90)
    if float(bill.p10) < float(seller.admitted) < float(bill.p50):
        assert Decimal("0.1") <= seller.percentile <= Decimal("0.5")


def test_a_seller_who_knows_leaves_less_than_one_who_does_not(
    run: Callable[..., Appraisal],
) -> None:
    """Being accepted is bad news: only the cars that are worth less to the seller are sold."""
    outcome = run(5, asking_price=5500).outcome
    assert outcome is not None
    assert outcome.if_seller_knows is not None
    assert 0 < outcome.seller_accepts < 1
    assert outcome.if_seller_knows < outcome.margin.mean


def test_a_seller_who_knows_the_faults_does_not_know_how_the_sale_will_go(
    case_of: Callable[..., Case], job: Callable[..., Any], reference: Reference
) -> None:
    """A fault of 3,000 at a shop or none, evenly: the seller of a bad car takes 6,500, no other.

    The price after repair is about 7,900. On average over the sale a bad car is worth 4,900 to its
    seller and a good one 7,900, so half of them accept, and the margin is that of the bad car.
    """
    fault = {
        "id": "fault",
        "area": "brakes",
        "state": "suspect",
        "chance": "0.5",
        "jobs": [{"job": "big"}],
    }
    deal = {"asking_price": 6500, "done_by": "shop", "selling_percent": 5}
    areas = [
        {"id": f"fine-{area.value}", "area": area.value, "state": "fine", "look": "measured"}
        for area in Area
    ]
    case = case_of([fault, *areas], [job("big", parts=[3000])], deal=deal)
    found = appraise(case, reference)
    outcome = found.outcome
    assert outcome is not None
    assert outcome.if_seller_knows is not None
    bill = float(found.repair.shop_bill.p90)
    mean = float(found.resale.mended.mean)

    assert mean - bill < 6500 < mean - 500
    # A measured look leaves a few hidden faults, which the seller knows as well.
    assert float(outcome.seller_accepts) == pytest.approx(0.5, abs=0.05)
    expected = 0.95 * mean - 6500 - bill
    assert float(outcome.if_seller_knows) == pytest.approx(expected, abs=250)


def test_a_car_with_nothing_found_is_not_told_that_its_price_admits_far_more(
    reference: Reference,
) -> None:
    """Its seller asks 23 % less than the middle: hassle, and like cars that are priced lower."""
    case = next(one for one in services.example_cases() if one.id == "dusk-curbside")
    seller = appraise(case, reference).seller
    assert seller is not None
    assert 0 < seller.admitted < seller.ordinary
    assert seller.verdict == "within"
    assert "trouble that was found" not in seller.words


def test_chances_of_loss_rise_along_the_curve(run: Callable[..., Appraisal]) -> None:
    curve = run(6, **COSTS).curve
    bids = [one.bid for one in curve]
    assert bids == sorted(set(bids))
    losses = [one.chance_of_loss for one in curve]
    assert losses == sorted(losses)
    targets = [one.chance_of_target for one in curve]
    assert targets == sorted(targets, reverse=True)


def test_a_hopeless_car_has_no_walk_away_price_and_says_so(run: Callable[..., Appraisal]) -> None:
    appraisal = run(1, target_margin=90_000, asking_price=None)
    assert appraisal.walk_away_price is None
    assert appraisal.walk_away_words.startswith("No bid")
    assert appraisal.outcome is None
    assert appraisal.judged == "nothing"


def test_a_price_hardly_below_a_sound_cars_is_no_bargain_however_little_was_found(
    case_of: Callable[..., Case], reference: Reference
) -> None:
    """With nothing found every bill is nought: the doubt about the price itself has to count."""
    free = appraise(case_of(deal={"asking_price": 1}), reference)
    assert free.seller is not None
    assert free.seller.verdict == "more"
    sound = int(free.seller.admitted) - 50
    near = appraise(case_of(deal={"asking_price": sound}), reference)
    assert near.seller is not None
    assert 0 < near.seller.admitted < 60
    assert near.seller.verdict != "more"


def test_what_was_really_paid_outweighs_the_plan(
    case_of: Callable[..., Case], reference: Reference
) -> None:
    """A fee of 75 that nobody planned is lost from the margin, to the cent."""
    planned = case_of(
        standing="owned", purchase={"bid": 2000, "bought_on": "2026-06-01"}, deal={"transport": 90}
    )
    paid = [
        {"label": "Price", "amount": 2000},
        {"label": "Transport", "amount": 90},
        {"label": "Gate", "amount": 75},
    ]
    known = planned.model_dump() | {
        "purchase": {"bid": 2000, "bought_on": "2026-06-01", "paid": paid}
    }
    before = appraise(planned, reference).outcome
    after = appraise(Case.model_validate(known), reference).outcome
    assert before is not None
    assert after is not None

    assert (before.landed_cost, after.landed_cost) == (2090, 2165)
    assert before.margin.mean - after.margin.mean == 75
    assert [one.label for one in after.landed_lines] == ["Price", "Transport", "Gate"]
