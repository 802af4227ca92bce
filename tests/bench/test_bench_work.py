"""How long choosing and forecasting take: reported; only generous bounds asserted."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.engine.decide.choose import choices
from appraise.engine.work.forecast import forecast
from appraise.models.case import Case
from appraise.reference.load import Reference, load_reference
from appraise.services import example_cases

JOBS, ENTRIES = 30, 300
ON = date(2026, 11, 25)
SLOW = 10
"""Target times the allowance for a machine that is shared, slow or measures for coverage."""


@pytest.fixture(scope="module")
def reference() -> Reference:
    return load_reference()


@pytest.fixture(scope="module")
def busy(reference: Reference) -> Case:
    """Return an owned car with 30 open jobs that share access, and 300 ledger lines."""
    base = next(one for one in example_cases() if one.id == "premium-overheats")
    prices = PriceList.of(base, Lookup(reference))
    fitting = [
        entry.job.id
        for entry in reference.jobs.values()
        if entry.job.access and not prices.fits(entry.job) and not entry.job.shop_only
    ]
    picked = fitting[:: len(fitting) // JOBS][:JOBS]
    names = [f"job-{at}" for at in range(JOBS)]
    raw: dict[str, Any] = base.model_dump() | {
        "standing": "owned",
        "purchase": {"bid": 1500, "bought_on": date(2026, 11, 1)},
        "work": {
            "jobs": [{"id": name, "job": job} for name, job in zip(names, picked, strict=True)],
            "at_most_one": [names[:2], names[5:7], names[11:13]],
            "money_limit": 3000,
            "hours_limit": 60,
            "entries": [
                {
                    "id": f"e{at}",
                    "on": date(2026, 11, 2 + at % 20),
                    "kind": "part",
                    "amount": "3.10",
                    "job": names[at % JOBS],
                }
                for at in range(ENTRIES)
            ],
        },
    }
    return Case.model_validate(raw)


def median(benchmark: Any) -> float:
    """Return the seconds that half the rounds took at most; skip where nothing is measured."""
    if benchmark.stats is None:
        pytest.skip("nothing is measured: --benchmark-disable")
    return float(benchmark.stats.stats.median)


def test_choosing_among_thirty_jobs(benchmark: Any, busy: Case, reference: Reference) -> None:
    """Within 1 s, with 20,000 draws behind each option."""
    assert busy.draws == 20_000
    found = choices(busy, reference, ON)
    assert len(found.items) >= JOBS
    assert sum(bool(reference.jobs[job.job].job.access) for job in busy.work.jobs) == JOBS

    benchmark.pedantic(choices, args=(busy, reference, ON), rounds=5, warmup_rounds=1)
    assert median(benchmark) < 1 * SLOW


def test_forecasting_with_three_hundred_lines(
    benchmark: Any, busy: Case, reference: Reference
) -> None:
    """Within 100 ms."""
    assert len(busy.work.entries) == ENTRIES

    benchmark.pedantic(forecast, args=(busy, reference, ON), rounds=9, warmup_rounds=2)
    assert median(benchmark) < 0.1 * SLOW
