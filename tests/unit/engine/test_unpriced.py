"""A fault that nobody priced costs what an unknown fault of its area and severity costs."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from typing import Any

import numpy as np
import pytest

from appraise.engine import appraise
from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.engine.faults.unseen import typical_of_fault
from appraise.engine.repair.repair import RepairDraws
from appraise.models.appraisal import NOT_PRICED
from appraise.models.case import Case
from appraise.models.findings import Area, Severity
from appraise.models.vehicle import DriveWheels, Fuel, Transmission
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


def test_it_costs_what_the_area_s_own_hidden_fault_would(
    case_of: Cases, mend: Mend, finding: Make
) -> None:
    """Of the same repairs with the same weights: what differs is the chance alone."""
    doubt = mend(case_of(draws=20_000), unseen=True)
    chance = next(one.chance for one in doubt.doubts if one.area is Area.BRAKES)
    alone = mend(case_of([finding("x")], draws=20_000)).found
    assert alone.money.mean() == pytest.approx(doubt.by_area["brakes"].money / chance, rel=0.02)
    assert alone.hours.mean() == pytest.approx(doubt.by_area["brakes"].hours / chance, rel=0.02)


def test_it_takes_the_place_of_the_area_s_own_allowance(
    case_of: Cases, mend: Mend, finding: Make
) -> None:
    """Seen for certain, nothing is left of it; suspected with a chance q, p (1 - q) is."""
    seen = finding("y", state="fine", look="glance")
    before = {one.area: one for one in mend(case_of([seen]), unseen=True).doubts}
    for state, chance, left in (("faulty", None, 0.0), ("suspect", "0.3", 0.7)):
        one = finding("x", state=state, chance=chance, look="glance")
        after = {one.area: one for one in mend(case_of([one]), unseen=True).doubts}
        brakes = after.pop(Area.BRAKES)
        assert brakes.chance == pytest.approx(left * before[Area.BRAKES].chance)
        assert brakes.before == before[Area.BRAKES].before
        assert all(after[area] == before[area] for area in after)
    priced = finding("x", look="glance", jobs=[{"job": "brakes.front_pads_and_rotors"}])
    after = {one.area: one for one in mend(case_of([priced]), unseen=True).doubts}
    assert after == before


def test_a_suspected_one_costs_by_its_chance(
    case_of: Cases, mend: Mend, finding: Make, reference: Reference
) -> None:
    certain = mend(case_of([finding("x")], draws=20_000)).found.money
    half = float(reference.values["suspect.chance"].value or 0)
    for chance, share in ((None, half), ("0.2", 0.2), ("0", 0.0)):
        maybe = mend(case_of([finding("x", state="suspect", chance=chance)], draws=20_000))
        assert maybe.needs[0].chance == share
        # The same draws where there is a fault, nothing where there is none.
        rows = maybe.needs[0].cause_rows[0]
        assert np.array_equal(maybe.found.money, np.where(rows, certain, 0))


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
    assert all(one.stands_for is None for one in some.needs)


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


def test_on_every_car_every_area_has_a_typical_repair(case_of: Cases, reference: Reference) -> None:
    for fuel, transmission, drive in product(Fuel, Transmission, DriveWheels):
        case = case_of()
        kind = {"fuel": fuel, "transmission": transmission, "drive": drive}
        car = case.vehicle.model_copy(update=kind)
        lookup = Lookup(reference)
        prices = PriceList.of(case.model_copy(update={"vehicle": car}), lookup)
        for area, severity in product(Area, (None, *Severity)):
            typical = typical_of_fault(area, severity, prices, lookup)
            assert sum(weight for _, weight in typical) == pytest.approx(1)
