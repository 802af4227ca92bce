"""The order in which faults are looked for against the published order of least cost."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.engine.faults.search import Step, steps_of
from appraise.models.case import Case
from appraise.reference.load import load_reference
from appraise.reference.schema import Check


@pytest.fixture(scope="module")
def case() -> Case:
    raw = {
        "id": "case",
        "title": "Case",
        "appraised_on": "2026-06-30",
        "vehicle": {
            "make": "Invented",
            "model": "One",
            "model_year": 2015,
            "odometer": {"value": 90_000, "unit": "mi"},
        },
        "deal": {"own_rate": 30},
    }
    return Case.model_validate(raw)


def check_of(name: str, cost: float, minutes: float) -> Check:
    raw = {
        "kind": "own",
        "id": name,
        "label": f"The check of {name}",
        "minutes": dict.fromkeys(("low", "likely", "high"), f"{minutes:.2f}"),
        "cost": f"{cost:.2f}",
        "how": "Look at it closely, then decide.",
        "needs": "standing",
        "outcomes": ["good", "bad"],
        "given": [{"causes": [name], "chances": ["0.1", "0.9"]}],
        "otherwise": ["1", "0"],
    }
    return Check.model_validate(raw)


def expected_cost(order: tuple[Step, ...]) -> float:
    """Return what the steps cost on average, of faults of which exactly one is there.

    A check is paid whenever it is come to; a repair too, but where it is right it is not in vain.
    """
    left, total = 1.0, 0.0
    for step in order:
        total += step.cost * (left if step.check else left - step.chance)
        left -= step.chance
    return total


@pytest.mark.parametrize("seed", range(60))
def test_no_other_order_costs_less(case: Case, seed: int) -> None:
    """D. Heckerman, J. S. Breese, K. Rommelse, Decision-theoretic troubleshooting, CACM 38 (1995).

    One fault, checks and repairs that fail independently: chance over cost, highest first. All
    orders of up to six faults, some with a check and some with a repair tried.
    """
    generator = np.random.default_rng(seed)
    count = int(generator.integers(2, 7))
    names = [chr(97 + at) for at in range(count)]
    chances = dict(zip(names, generator.dirichlet(np.ones(count)).tolist(), strict=True))
    repairs = {
        name: (float(generator.uniform(5, 600)), float(generator.uniform(0, 5))) for name in names
    }
    settling = {
        name: check_of(name, float(generator.uniform(0, 80)), float(generator.uniform(1, 60)))
        for name in names
        if generator.random() < 0.6
    }
    prices = PriceList.of(case, Lookup(load_reference()))
    steps = steps_of(chances, repairs, settling, case, prices)
    least = min(expected_cost(order) for order in permutations(steps))

    assert {step.fault for step in steps} == set(names)
    assert expected_cost(tuple(steps)) == pytest.approx(least, rel=1e-9)
