"""The worth of a check before the purchase, against a simulation that shares only the draws."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy import stats

from appraise import services
from appraise.engine.bid.diagnosis import diagnose
from appraise.engine.bid.simulation import Worked, work_out
from appraise.engine.bid.value_of_checks import Bidding, Known
from appraise.models.case import Case
from appraise.reference.load import Reference

CASES = 200
EACH = 60
"""Sales, prices and outcomes simulated for every draw of the case."""
BATCHES = 10
SURE = 5.0
"""Standard errors allowed, of a standard error that is itself estimated from ten batches."""
ASKED_TO_SOLD = (0.86, 0.93, 0.98)
Z90 = 1.2815515655446004
"""The standard normal quantile at 0.9."""


@pytest.fixture(scope="module")
def suspect(case_of: Callable[..., Case], job: Callable[..., Any]) -> Callable[..., Case]:
    """Return a maker of random cars with one noise of three causes and two other doubts."""

    def make(generator: np.random.Generator) -> Case:
        chances = generator.dirichlet([1.5, 1.5, 1.5, 1.5]).round(3)
        noise = {
            "id": "noise",
            "area": "brakes",
            "state": "faulty",
            "causes": [
                {"id": name, "label": name, "chance": str(chance), "jobs": [{"job": name}]}
                for name, chance in zip("abc", chances[:3], strict=True)
            ],
        }
        jobs = [
            job(name, hours=(1, 3, 6), parts=[tuple((cost * np.array([0.7, 1, 1.6])).round(1))])
            for name, cost in zip("abc", generator.uniform(50, 3000, 3).round(), strict=True)
        ]
        deal = {
            "asking_price": int(generator.uniform(3500, 6500)),
            "target_margin": int(generator.uniform(0, 1500)),
            "confidence": str(generator.choice(["0.4", "0.5", "0.65", "0.8", "0.9"])),
            "own_rate": 15,
            "selling_percent": str(generator.choice(["0", "6"])),
            "finance_percent": str(generator.choice(["0", "20"])),
            "tax_percent": 5,
            "fees": [
                {
                    "name": "premium",
                    "steps": [
                        {"starts_at": 0, "flat": 40, "percent": 4},
                        {"starts_at": 4000, "flat": 120, "percent": 6},
                    ],
                }
            ],
        }
        seed = int(generator.integers(1, 10_000))
        return case_of([noise], jobs, deal=deal, draws=1000, seed=seed)

    return make


def causes_of(worked: Worked) -> np.ndarray:
    """Return which of the noise's causes each draw has: (draws,)."""
    (needs,) = worked.repair.needs
    return np.argmax(np.array(needs.cause_rows), axis=0)


def weighed(worked: Worked) -> tuple[Bidding, Known]:
    """Return the bidding of a car, and what each cause brings."""
    bidding = Bidding.of(worked)
    return bidding, bidding.known(causes_of(worked), 4)


def landed(prices: np.ndarray) -> np.ndarray:
    """Return the landed cost in the deal of `suspect`."""
    fee = np.where(prices >= 4000, 120 + 0.06 * prices, 40 + 0.04 * prices)
    return prices * 1.05 + fee


def simulated(
    worked: Worked, likelihood: np.ndarray, generator: np.random.Generator, rows: slice
) -> float:
    """Return the worth of a check by playing it out: sale, outcome and price drawn each time."""
    deal, reach = worked.case.deal, worked.reach
    wanted, target = float(deal.confidence), float(deal.target_margin)
    causes = causes_of(worked)
    pick = np.tile(np.arange(len(causes)), EACH)[rows]
    size = len(pick)
    score = generator.standard_t(reach.freedom, size)
    score = score.clip(*stats.t.ppf([0.001, 0.999], reach.freedom))
    room = np.exp(reach.level)[pick] * np.exp(reach.scale * score)
    room = (room - reach.cost[pick] - target) / reach.growth[pick]
    z = generator.standard_normal(size)
    low, likely, high = ASKED_TO_SOLD
    ratio = likely * np.where(z > 0, high / likely, likely / low) ** (z / Z90)
    paid = landed(float(deal.asking_price or 0) * ratio)
    edges = np.cumsum(likelihood, axis=1)[causes[pick]]
    outcome = (generator.random(size)[:, None] > edges[:, :-1]).sum(axis=1)

    def limit(of: np.ndarray) -> float:
        return float(np.sort(of)[len(of) - int(np.ceil(wanted * len(of)))])

    now = limit(room)
    growth = reach.growth[pick]
    over = (room - now) * growth
    short = over[over > 0].sum() / -over[over < 0].sum()
    beyond = (room - paid) * growth
    felt = np.where(beyond > 0, beyond, short * beyond) / (wanted + short * (1 - wanted))
    worth = 0.0
    for one in range(likelihood.shape[1]):
        seen = outcome == one
        if not seen.any():
            continue
        then = limit(room[seen])
        more = felt[seen] * ((paid[seen] <= then).astype(float) - (paid[seen] <= now))
        worth += max(0.0, float(more.sum()) / size)
    return worth


def random_check(generator: np.random.Generator) -> np.ndarray:
    return generator.dirichlet([0.7] * int(generator.integers(2, 4)), 4)


def test_the_worth_is_what_a_simulation_of_200_random_cars_and_checks_shows(
    suspect: Callable[..., Case], reference: Reference
) -> None:
    off, played, errors = [], [], []
    for at in range(CASES):
        generator = np.random.default_rng(at)
        worked = work_out(suspect(generator), reference)
        bidding, known = weighed(worked)
        check = random_check(generator)
        worth, most = bidding.worth_of(known, check), bidding.certainty(known)
        assert 0 <= worth <= most + 1e-9
        whole = simulated(worked, check, generator, slice(None))
        size = 1000 * EACH // BATCHES
        batches = [
            simulated(worked, check, generator, slice(one * size, (one + 1) * size))
            for one in range(BATCHES)
        ]
        error = float(np.std(batches, ddof=1)) / BATCHES**0.5
        played.append(whole)
        errors.append(error)
        off.append(worth - whole)
        # A slice of price is 1/64 of the spread; within it the worth is taken at its middle.
        assert abs(worth - whole) <= SURE * error + 0.3 + 0.01 * whole, at
    assert np.sum(np.array(played) > 5) > CASES / 5  # not a comparison of noughts
    # An outcome never brings less than nothing, so luck raises what is played out: by .4 of its
    # standard error where it brings nothing (the mean of a normal's positive part).
    luck = float(np.mean(errors))
    assert -luck - 0.2 < float(np.mean(off)) < 0.2, luck


def test_a_check_that_says_nothing_is_worth_nothing_and_a_faint_one_hardly_anything(
    suspect: Callable[..., Case], reference: Reference
) -> None:
    """What is known moves the limit by little, and the worth by the square of that."""
    for at in range(20):
        generator = np.random.default_rng(at)
        worked = work_out(suspect(generator), reference)
        bidding, known = weighed(worked)
        tilt = np.array([1.0, -1.0, 0.5, -0.5])
        checks = [
            np.column_stack([0.5 + by * tilt, 0.5 - by * tilt]) for by in (0.0, 0.02, 0.2, 0.5)
        ]
        worths, most = [bidding.worth_of(known, one) for one in checks], bidding.certainty(known)
        assert worths[0] == pytest.approx(0, abs=0.02)  # the limit is read between 96 levels
        assert worths[1] <= 0.05 * worths[2] + 0.15
        assert worths[2] <= worths[3] + 0.02 <= most + 0.04


def test_knowing_the_cause_is_worth_what_certainty_is(
    suspect: Callable[..., Case], reference: Reference
) -> None:
    worked = work_out(suspect(np.random.default_rng(3)), reference)
    bidding, known = weighed(worked)
    worth, most = bidding.worth_of(known, np.eye(4)), bidding.certainty(known)
    assert worth == pytest.approx(most)
    assert worth > 1


def test_a_fixed_price_beyond_every_limit_or_below_them_makes_checks_worthless(
    suspect: Callable[..., Case], reference: Reference
) -> None:
    case = suspect(np.random.default_rng(3))
    for price in (50, 20_000):
        fixed = {"low": price, "likely": price, "high": price}
        deal = case.deal.model_dump() | {"goes_for": fixed}
        worked = work_out(Case.model_validate(case.model_dump() | {"deal": deal}), reference)
        bidding, known = weighed(worked)
        assert bidding.worth_of(known, np.eye(4)) == 0
        assert bidding.certainty(known) == 0


def test_without_an_asking_price_the_limit_now_is_the_middle_of_the_prices(
    suspect: Callable[..., Case], reference: Reference
) -> None:
    case = suspect(np.random.default_rng(5))
    deal = case.deal.model_copy(update={"asking_price": None})
    worked = work_out(case.model_copy(update={"deal": deal}), reference)
    assert worked.limit is not None
    edges = Bidding.of(worked).edges
    middle = float(landed(np.array([float(worked.limit)]))[0])
    assert float(np.median(edges)) == pytest.approx(middle, abs=0.02)


def test_a_price_after_an_outcome_comes_from_the_same_chances_as_the_price_now(
    suspect: Callable[..., Case], reference: Reference
) -> None:
    """Weighing all draws the same gives the walk-away price itself."""
    for at in range(10):
        worked = work_out(suspect(np.random.default_rng(at)), reference)
        same = Bidding.of(worked).walk_away(np.full(1000, 0.25))
        assert worked.walk_away is not None
        assert same == pytest.approx(worked.walk_away, abs=20)  # one step


def test_at_least_one_example_has_a_check_that_pays_and_its_advice_names_prices(
    reference: Reference,
) -> None:
    found = [
        (diagnosis, diagnosis.next[0])
        for case in services.example_cases()
        if (diagnosis := diagnose(case, reference)).decision == "how high to bid"
        if diagnosis.next and diagnosis.next[0].net > 0
    ]

    assert found
    for diagnosis, best in found:
        words = diagnosis.advice
        assert words.startswith(f"{best.label}: worth {best.worth:,.0f}")
        assert f"Walk-away price: {diagnosis.walk_away_price:,} now; " in words
        for view in best.outcomes:
            price = "no bid" if view.walk_away_price is None else f"{view.walk_away_price:,}"
            assert f"{price} after {view.label!r}" in words
        assert all(0 <= one.worth <= diagnosis.most for one in diagnosis.next)
