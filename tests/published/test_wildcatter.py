"""The oil wildcatter as the purchase of a car, from the case to the worth of its check.

H. Raiffa, Decision Analysis (1968), the oil drilling problem: dry .5, wet .3, soaking .2; drilling
costs 70 and brings 0, 120 or 270 (thousand dollars); a seismic test costs 10 and shows no, open or
closed structure with chances .6 .3 .1 (dry), .3 .4 .3 (wet), .1 .4 .5 (soaking). Drilling brings
20, certainty is worth 35, the test 12.5 and 2.5 beyond its cost. Everything here is ten times that
in dollars: 200, 350, 125 and 25.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from appraise.engine.bid.diagnosis import diagnose
from appraise.engine.bid.simulation import work_out
from appraise.models.case import Case
from appraise.models.findings import Area
from appraise.reference.load import load_reference
from appraise.reference.schema import Check
from appraise.reference.tables import Diagnosing

CHANCES = {"dry": "0.5", "wet": "0.3", "soaking": "0.2"}
GAINS = {"dry": -700, "wet": 500, "soaking": 2000}
SHOWN = {"dry": [6, 3, 1], "wet": [3, 4, 3], "soaking": [1, 4, 5]}
SEISMIC = Check.model_validate(
    {
        "kind": "own",
        "id": "seismic",
        "label": "Seismic test",
        "minutes": {"low": 6, "likely": 6, "high": 6},
        "how": "Sound the ground below the site.",
        "needs": "standing",
        "cost": 100,
        "outcomes": ["no structure", "open", "closed"],
        "given": [
            {"causes": [name], "chances": [str(Decimal(one) / 10) for one in row]}
            for name, row in SHOWN.items()
        ],
        "otherwise": ["0.4", "0.3", "0.3"],
    }
)
REFERENCE = replace(
    load_reference(), diagnosing=lambda: Diagnosing({}, {}, {}, {}, {"seismic": SEISMIC}, {})
)


def car(**deal: Any) -> Case:
    """Return a car whose three causes leave what the three sites bring, at one and the same bid."""

    def job(name: str) -> dict[str, Any]:
        cost = 2500 - GAINS[name]
        price = dict.fromkeys(("low", "likely", "high"), cost)
        line = {"label": "part", "price": price}
        none = dict.fromkeys(("low", "likely", "high"), 0)
        return {"id": name, "label": name, "system": "brakes", "hours": none, "parts": [line]}

    site = {
        "id": "site",
        "area": "engine",
        "state": "faulty",
        "causes": [
            {"id": name, "label": name, "chance": chance, "jobs": [{"job": name}]}
            for name, chance in CHANCES.items()
        ],
    }
    fine = [
        {"id": f"fine-{area.value}", "area": area.value, "state": "fine", "look": "measured"}
        for area in Area
    ]
    sold = [
        {
            "id": f"like-{at}",
            "price": 9000,
            "kind": "sold",
            "model_year": 2015,
            "odometer": {"value": 90_000, "unit": "mi"},
        }
        for at in range(40)
    ]
    vehicle = {
        "make": "Invented",
        "model": "One",
        "model_year": 2015,
        "odometer": {"value": 90_000, "unit": "mi"},
    }
    raw = {
        "id": "wildcatter",
        "title": "Wildcatter",
        "appraised_on": "2026-06-30",
        "vehicle": vehicle,
        "findings": [site, *fine],
        "own_jobs": [job(name) for name in CHANCES],
        "market": {"comparables": sold},
        "deal": {"target_margin": 0} | deal,
        "draws": 20_000,
    }
    return Case.model_validate(raw)


def test_the_wildcatter_as_a_whole_case() -> None:
    """The driller goes by the mean: the certainty wanted is the one whose limit is the mean.

    The car goes for 200 less than that limit, which is what drilling brings.
    """
    worked = work_out(car(), REFERENCE)
    mean = float(worked.reach.net().mean())
    certainty = str(round(Decimal(worked.reach.chance(mean, 0.0)), 6))
    price = dict.fromkeys(("low", "likely", "high"), round(Decimal(mean - 200), 2))
    case = car(confidence=certainty, goes_for=price)
    found = diagnose(case, REFERENCE)
    (test,) = (one for one in found.next if one.kind == "check")

    # Repairs that nobody looked for differ a little from cause to cause by chance.
    assert float(found.most) == pytest.approx(350, abs=4)
    assert float(test.worth) == pytest.approx(125, abs=4)
    assert float(test.net) == pytest.approx(25, abs=4)
    assert test.cost == 100
    assert work_out(case, REFERENCE).limit == pytest.approx(mean, abs=1)
    # Drill on open or closed structure, not on none; chances .41, .35 and .24.
    assert np.array([float(one.chance) for one in test.outcomes]) == pytest.approx(
        [0.41, 0.35, 0.24], abs=0.002
    )
    drills = [(one.walk_away_price or 0) > mean - 200 for one in test.outcomes]
    assert drills == [False, True, True]
