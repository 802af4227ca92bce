"""A fault that nobody priced costs what an unknown fault of its area and severity costs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from appraise.engine import appraise
from appraise.engine.repair.repair import RepairDraws
from appraise.models.appraisal import NOT_PRICED
from appraise.models.case import Case
from appraise.models.findings import Area
from appraise.reference.load import Reference

Make = Callable[..., dict[str, Any]]
Cases = Callable[..., Case]
Mend = Callable[..., RepairDraws]


def test_something_wrong_in_free_words_lowers_the_bid_and_says_what_its_cost_is(
    case_of: Cases, finding: Make, reference: Reference
) -> None:
    fine = case_of([finding("x", state="fine", look="close")])
    wrong = case_of([finding("x", look="close", label="It grinds")])
    before, after = (appraise(one, reference) for one in (fine, wrong))
    assert before.walk_away_price is not None
    assert after.walk_away_price is not None
    assert after.walk_away_price < before.walk_away_price - 50
    cost = after.repair.by_finding[0]
    assert cost.money.mean > 50
    assert cost.note == NOT_PRICED
    assert cost.words == f"It grinds ({NOT_PRICED})"
    assert any(NOT_PRICED in one.words for one in after.problems)


def test_it_costs_what_one_of_the_area_s_own_hidden_faults_would(
    case_of: Cases, mend: Mend, finding: Make
) -> None:
    """Of the same faults with the same weights: what differs is how many there are alone."""
    hidden = mend(case_of(draws=20_000), unseen=True)
    many = next(one.faults for one in hidden.car.doubts if one.area is Area.BRAKES)
    alone = mend(case_of([finding("x")], draws=20_000)).found
    assert alone.money.mean() == pytest.approx(hidden.by_area["brakes"].money / many, rel=0.04)
    assert alone.hours.mean() == pytest.approx(hidden.by_area["brakes"].hours / many, rel=0.04)


def test_it_says_that_the_car_was_kept_worse(case_of: Cases, mend: Mend, finding: Make) -> None:
    """What an area hides beside it hangs on how well the car was kept, and on nothing else."""
    look = {"state": "fine", "look": "glance"}
    kept = [
        mend(case_of([finding("x", **more)]), unseen=True).car
        for more in (
            look,
            {"state": "suspect", "chance": "0.3", "look": "glance"},
            {"look": "glance"},
        )
    ]
    means = [car.care.mean for car in kept]
    assert means == sorted(means)
    for car in kept:
        brakes = next(one for one in car.doubts if one.area is Area.BRAKES)
        assert brakes.chance < brakes.before or car.care.mean > 1


def test_a_suspected_one_costs_by_its_chance(
    case_of: Cases, mend: Mend, finding: Make, reference: Reference
) -> None:
    certain = mend(case_of([finding("x")], draws=20_000)).found.money
    half = float(reference.values["suspect.chance"].value or 0)
    for chance, share in ((None, half), ("0.2", 0.2), ("0", 0.0)):
        maybe = mend(case_of([finding("x", state="suspect", chance=chance)], draws=20_000))
        assert maybe.needs[0].chance == share
        # The same faults in the same draws; what is seldom needed takes its mean, which moves it.
        rows = maybe.needs[0].cause_rows[0]
        assert not maybe.found.money[~rows].any()
        assert maybe.found.money.mean() == pytest.approx(certain.mean() * share, rel=0.05)


def test_once_it_is_said_what_it_is_or_is_not_it_costs_that(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    jobs = [job("a", 1, parts=[100])]
    assert mend(case_of([finding("x", "a")], jobs)).found.money == pytest.approx(100)
    gone = finding("x", truth={"fault": False})
    assert not mend(case_of([gone])).found.money.any()
    nothing = {"id": "n", "label": "Nothing", "chance": "0.6", "jobs": []}
    some = mend(case_of([finding("x", causes=[nothing])]))
    assert not some.found.money.any()
    assert not any(one.typical for one in some.needs)


@pytest.mark.parametrize("area", list(Area))
def test_a_severer_fault_is_dearer_and_a_slighter_one_cheaper(
    area: Area, case_of: Cases, mend: Mend, finding: Make
) -> None:
    means = []
    for severity in ("cosmetic", "minor", None, "major", "dangerous"):
        one = finding("x", area=area.value, severity=severity)
        work = mend(case_of([one], draws=20_000, deal={"own_rate": 20}))
        # A shop's bill has parts and hours in one figure.
        means.append(float(work.found.bill.mean()))
    assert means[3] == means[4]
    assert means[:4] == sorted(means[:4])
    assert means[0] > 0
