"""Random cases for Hypothesis, and the engine run on them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st

from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Streams
from appraise.engine.faults.car import car_faults
from appraise.engine.repair.repair import RepairDraws, repair
from appraise.models.case import Case
from appraise.models.findings import Area, Look
from appraise.models.vehicle import TitleBrand
from appraise.reference.load import Reference, load_reference

settings.register_profile(
    "appraise",
    deadline=None,
    database=None,
    max_examples=25,
    phases=[Phase.explicit, Phase.generate, Phase.target, Phase.shrink],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.load_profile("appraise")

JOBS = tuple(f"job-{at}" for at in range(4))
ACCESS = (
    "car_raised",
    "wheels_off_front",
    "wheels_off_rear",
    "wheels_off_all",
    "engine_out",
    "cooling_drained",
    "accessory_belt_off",
    "transmission_out",
    "splash_shield_off",
)
Raw = dict[str, Any]


def cents(most: int, least: int = 0) -> st.SearchStrategy[str]:
    return st.integers(least * 100, most * 100).map(lambda at: str(Decimal(at) / 100))


@st.composite
def ranges(draw: st.DrawFn, most: int = 500, least: int = 0) -> Raw:
    edges = st.integers(max(1, least * 20), most * 20)
    low, likely, high = sorted(draw(edges) for _ in range(3))
    reads_as = draw(st.sampled_from(["tenths", "tenths", "bounds"]))
    names = zip(("low", "likely", "high"), (low, likely, high), strict=True)
    return {name: str(Decimal(at) / 20) for name, at in names} | {"reads_as": reads_as}


@st.composite
def jobs(draw: st.DrawFn, name: str) -> Raw:
    parts = [
        {"label": "part", "price": price, "quantity": quantity, "core": core}
        for price, quantity, core in draw(
            st.lists(st.tuples(ranges(), st.integers(1, 3), cents(60)), max_size=2)
        )
    ]
    return {
        "id": name,
        "label": name,
        "system": "brakes",
        "hours": draw(ranges(most=12)),
        "parts": parts,
        "consumables": draw(cents(20)),
        "access": draw(st.lists(st.sampled_from(ACCESS), max_size=2, unique=True)),
        "follows": draw(
            st.lists(st.sampled_from([one for one in JOBS if one != name]), max_size=1)
        ),
        "shop_only": draw(st.booleans()) and draw(st.booleans()),
    }


@st.composite
def choices(draw: st.DrawFn) -> list[Raw]:
    picked = draw(st.lists(st.sampled_from(JOBS), min_size=1, max_size=3, unique=True))
    return [{"job": name, "quantity": draw(st.integers(1, 3))} for name in picked]


@st.composite
def findings(draw: st.DrawFn, name: str) -> Raw:
    out: Raw = {
        "id": name,
        "area": draw(st.sampled_from(list(Area))).value,
        "visible": draw(st.booleans()),
        "look": draw(st.sampled_from([None, *(one.value for one in Look)])),
    }
    kind = draw(st.sampled_from(["fine", "jobs", "causes", "suspect", "suspect causes"]))
    if kind == "fine":
        return out | {"state": "fine"}
    out["state"] = "suspect" if "suspect" in kind else "faulty"
    if "suspect" in kind:
        out["chance"] = str(Decimal(draw(st.integers(0, 100))) / 100)
    if "causes" in kind:
        weights = draw(st.lists(st.integers(0, 30), min_size=1, max_size=3))
        out["causes"] = [
            {
                "id": f"cause-{at}",
                "label": "Cause",
                "chance": str(Decimal(weight) / 100),
                "jobs": draw(choices()),
            }
            for at, weight in enumerate(weights)
        ]
    else:
        out["jobs"] = draw(choices())
    return out


@st.composite
def fees(draw: st.DrawFn) -> list[Raw]:
    out = []
    for number in range(draw(st.integers(0, 2))):
        starts = draw(st.lists(st.integers(1, 6000), max_size=3, unique=True))
        steps = [
            {
                "starts_at": start,
                "flat": draw(cents(300)),
                "percent": str(Decimal(draw(st.integers(0, 120))) / 10),
                "cap": draw(st.none() | cents(600)),
            }
            for start in [0, *sorted(starts)]
        ]
        out.append({"name": f"fee {number}", "steps": steps})
    return out


@st.composite
def deals(draw: st.DrawFn) -> Raw:
    return {
        "asking_price": draw(st.none() | cents(9000, 1)),
        "goes_for": draw(st.none() | ranges(least=300, most=9000)),
        "fees": draw(fees()),
        "tax_percent": str(Decimal(draw(st.integers(0, 100))) / 10),
        "tax_on_fees": draw(st.booleans()),
        "title_and_registration": draw(cents(200)),
        "transport": draw(cents(200)),
        "holding_per_day": draw(cents(10)),
        "finance_percent": draw(st.sampled_from(["0", "0", "9.5", "24"])),
        "selling_percent": draw(st.sampled_from(["0", "5", "12.5"])),
        "selling_flat": draw(cents(200)),
        "own_rate": draw(cents(40)),
        "shop_rate": draw(st.none() | ranges(most=150)),
        "done_by": draw(st.sampled_from(["own_hands", "shop", "cheaper"])),
        "parts_tax_percent": draw(st.sampled_from(["0", "8.25"])),
        "target_margin": draw(cents(2500)),
        "confidence": draw(st.sampled_from(["0.5", "0.55", "0.8", "0.9", "0.95"])),
    }


@st.composite
def comparables(draw: st.DrawFn, at: int) -> Raw:
    return {
        "id": f"like-{at}",
        "price": draw(cents(16_000, 4000)),
        "kind": draw(st.sampled_from(["asked", "sold"])),
        "model_year": draw(st.integers(2008, 2020)),
        "odometer": {
            "value": draw(st.integers(5000, 250_000)),
            "unit": draw(st.sampled_from(["mi", "km"])),
        },
        "condition": draw(st.sampled_from(["tidier", "alike", "rougher"])),
        "title_brand": draw(st.sampled_from(list(TitleBrand))).value,
    }


@st.composite
def raw_cases(draw: st.DrawFn) -> Raw:
    count = draw(st.integers(0, 4))
    return {
        "id": "case",
        "title": "Case",
        "appraised_on": "2026-06-30",
        "vehicle": {
            "make": "Invented",
            "model": "One",
            "model_year": draw(st.integers(2002, 2024)),
            "odometer": {"value": draw(st.integers(0, 300_000)), "unit": "km"},
            "price_class": draw(st.sampled_from(["small", "mid_size", "premium", "van"])),
            "title_brand": draw(st.sampled_from(["clear", "clear", "rebuilt", "salvage"])),
        },
        "findings": [draw(findings(f"finding-{at}")) for at in range(count)],
        "own_jobs": [draw(jobs(name)) for name in JOBS],
        "market": {
            "comparables": [draw(comparables(at)) for at in range(draw(st.integers(1, 5)))],
            "days_to_sell": draw(st.none() | ranges(most=60)),
        },
        "deal": draw(deals()),
        "draws": 1000,
        "seed": draw(st.integers(0, 5)),
    }


@pytest.fixture(scope="session")
def cases() -> st.SearchStrategy[Raw]:
    """Return the strategy of cases as plain JSON, to be changed before they are read."""
    return raw_cases()


@pytest.fixture(scope="session")
def another_finding() -> st.SearchStrategy[Raw]:
    """Return the strategy of one more finding."""
    return findings("another")


@pytest.fixture(scope="session")
def some_deals() -> st.SearchStrategy[Raw]:
    return deals()


@pytest.fixture(scope="session")
def reference() -> Reference:
    return load_reference()


@pytest.fixture(scope="session")
def mend(reference: Reference) -> Callable[..., RepairDraws]:
    """Return the engine's repair of a case, with or without the areas not looked at."""

    def run(case: Case, *, unseen: bool = True) -> RepairDraws:
        lookup = Lookup(reference)
        prices = PriceList.of(case, lookup)
        streams = Streams(case.seed, case.draws)
        car = car_faults(case, streams, lookup)
        if not unseen:
            car = replace(car, hidden={}, doubts=())
        return repair(case, car, streams, prices, lookup)

    return run
