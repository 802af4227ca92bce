"""Whatever gets dearer, the bid never rises for it; and who does a job is chosen by mean cost."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from typing import Any

import numpy as np
import pytest

from appraise.engine.bid.simulation import Worked, work_out
from appraise.models.case import Case
from appraise.reference.load import Reference

Cases = Callable[..., Case]
KINDS = ("parts tax", "price level", "own rate", "shop rate")
CASES = 300
SHARES = (0.001, 0.02, 0.1, 0.5)


def random_deal(random_case: Cases, seed: int, done_by: str, **more: Any) -> Case:
    """Return a random case of one to six findings with a random deal."""
    generator = np.random.default_rng(seed)
    case = random_case(generator, int(generator.integers(1, 7)), draws=1000)
    deal = {
        "done_by": done_by,
        "holding_per_day": int(generator.choice([0, 4, 12])),
        "hours_per_day": int(generator.choice([2, 4, 8])),
        "own_rate": int(generator.choice([0, 20, 60, 100, 130])),
        "confidence": str(generator.choice(["0.5", "0.8", "0.9"])),
        "finance_percent": int(generator.choice([0, 9])),
    }
    raw = case.model_dump(mode="json")
    # One more, from the catalog, with tools and access of its own.
    raw["findings"].append(
        {
            "id": "catalog",
            "area": "transmission",
            "state": "faulty",
            "severity": str(generator.choice(["minor", "major"])),
        }
    )
    return Case.model_validate(raw | {"deal": raw["deal"] | deal | more})


def dearer(case: Case, kind: str, share: float) -> Case:
    """Return the case with one of its prices raised by a share."""
    deal = case.deal.model_dump(mode="json")
    if kind == "parts tax":
        deal["parts_tax_percent"] = float(deal["parts_tax_percent"]) + 100 * share
    elif kind == "price level":
        deal["price_level"] = 1 + share
    elif kind == "own rate":
        deal["own_rate"] = round(float(deal["own_rate"]) * (1 + share) + share, 2)
    else:
        for name in ("low", "likely", "high"):
            deal["shop_rate"][name] = round(float(deal["shop_rate"][name]) * (1 + share), 4)
    return Case.model_validate(case.model_dump(mode="json") | {"deal": deal})


def mean_cost(worked: Worked) -> float:
    """Return the mean of money, own hours at their rate and the days that the work takes."""
    days = worked.repair_days * float(worked.case.deal.holding_per_day)
    return float((worked.repair.total.money + worked.own_hours_paid + days).mean())


@pytest.mark.parametrize(
    ("done_by", "kind"), [*product(("own_hands", "shop"), KINDS), ("cheaper", "parts tax")]
)
def test_what_gets_dearer_never_raises_the_bid(
    done_by: str, kind: str, random_case: Cases, reference: Reference
) -> None:
    """In no draw is more left for the car, so at no certainty is the bid higher."""
    for seed in range(40):
        case = random_deal(random_case, seed, done_by)
        one = work_out(case, reference)
        other = work_out(dearer(case, kind, SHARES[seed % 4]), reference)
        assert np.all(other.rest.net <= one.rest.net + 1e-9)
        assert (other.limit or 0) <= (one.limit or 0)


@pytest.mark.parametrize("kind", KINDS)
def test_where_the_cheaper_does_it_what_gets_dearer_never_leaves_more_on_average(
    kind: str, random_case: Cases, reference: Reference
) -> None:
    """Who does a job is decided on means, so it is the mean that never rises.

    By 0.1 % of the repair at most: what covers other access is taken at its own mean. The bid, a
    quantile, may still move by what one is surer of than the other where the work changes hands.
    """
    for seed in range(60):
        case = random_deal(random_case, seed, "cheaper")
        one = work_out(case, reference)
        other = work_out(dearer(case, kind, SHARES[seed % 4]), reference)
        assert other.rest.net.mean() <= one.rest.net.mean() + 0.001 * mean_cost(one)


def test_the_cheaper_is_never_dearer_on_average_than_own_hands_or_a_shop_for_all(
    random_case: Cases, reference: Reference
) -> None:
    """By 1 % at most in any of 300 random cases, and in some it is cheaper than either."""
    ratios = []
    for seed in range(CASES):
        each = [
            mean_cost(work_out(random_deal(random_case, seed, who), reference))
            for who in ("own_hands", "shop", "cheaper")
        ]
        ratios.append(each[2] / min(each[:2]))
    assert max(ratios) <= 1.01
    assert sum(ratio < 0.995 for ratio in ratios) > CASES // 10
