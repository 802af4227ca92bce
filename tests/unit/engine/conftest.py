"""Cases built from a few words, and a plain simulation that shares nothing with the engine."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest

from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Streams
from appraise.engine.faults.car import car_faults
from appraise.engine.repair.repair import RepairDraws, repair
from appraise.models.case import Case
from appraise.models.ranges import Range
from appraise.reference.load import Reference, load_reference

Floats = np.ndarray


@pytest.fixture(scope="session")
def reference() -> Reference:
    return load_reference()


def _range(given: Any) -> Any:
    if isinstance(given, (int, float, str)):
        given = (given, given, given)
    if isinstance(given, tuple):
        return dict(zip(("low", "likely", "high"), map(str, given), strict=True))
    return given


def _job(name: str, hours: Any = 0, parts: Any = (), **more: Any) -> dict[str, Any]:
    lines = [{"label": f"part {at}", "price": _range(price)} for at, price in enumerate(parts)]
    return {
        "id": name,
        "label": name,
        "system": "brakes",
        "hours": _range(hours),
        "parts": lines,
        **more,
    }


@pytest.fixture(scope="session")
def job() -> Callable[..., dict[str, Any]]:
    """Return a maker of own jobs: name, hours, prices of parts, whatever else a job has."""
    return _job


@pytest.fixture(scope="session")
def finding() -> Callable[..., dict[str, Any]]:
    """Return a maker of findings: name, then its jobs by name."""

    def make(name: str, *jobs: str, **more: Any) -> dict[str, Any]:
        return {
            "id": name,
            "area": "brakes",
            "state": "faulty",
            "jobs": [{"job": one} for one in jobs],
            **more,
        }

    return make


@pytest.fixture(scope="session")
def case_of() -> Callable[..., Case]:
    """Return a maker of cases from findings, own jobs and what is to differ."""

    def make(
        findings: Any = (), own_jobs: Any = (), *, deal: Any = None, market: Any = None, **more: Any
    ) -> Case:
        like = [
            {
                "id": f"like-{at}",
                "price": 8000 + 150 * at,
                "kind": "sold",
                "model_year": 2014 + at % 3,
                "odometer": {"value": 80_000 + 4000 * at, "unit": "mi"},
            }
            for at in range(6)
        ]
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
            "findings": list(findings),
            "own_jobs": list(own_jobs),
            "deal": deal or {},
            "market": market or {"comparables": like},
        }
        return Case.model_validate(raw | more)

    return make


@pytest.fixture(scope="session")
def mend(reference: Reference) -> Callable[..., RepairDraws]:
    """Return the engine's repair of a case, with or without the areas not looked at."""

    def run(case: Case, *, unseen: bool = False) -> RepairDraws:
        lookup = Lookup(reference)
        prices = PriceList.of(case, lookup)
        streams = Streams(case.seed, case.draws)
        car = car_faults(case, streams, lookup)
        if not unseen:
            car = replace(car, hidden={}, doubts=())
        return repair(case, car, streams, prices, lookup)

    return run


@dataclass
class Plain:
    """A second, plain working out of what a repair takes, from the words of the models.

    Own jobs of a mid-size car at price level 1, all done by one and the same; access groups that
    do not cover each other; no tools.
    """

    case: Case
    reference: Reference
    generator: np.random.Generator
    count: int

    def __post_init__(self) -> None:
        """Draw what all prices, and all hours, have in common."""
        self.parts_factor = self.normal()
        self.hours_factor = self.normal()
        self.jobs = {one.id: one for one in self.case.own_jobs}

    def normal(self) -> Floats:
        return self.generator.standard_normal(self.count)

    def figure(self, name: str) -> float:
        value = self.reference.values[name].value
        assert value is not None
        return float(value)

    def amount(self, given: Range, common: Floats | None, rho: float) -> Floats:
        low, likely, high = (float(one) for one in (given.low, given.likely, given.high))
        if low == high:
            return np.full(self.count, likely)
        z = self.normal()
        if common is not None:
            z = np.sqrt(rho) * common + np.sqrt(1 - rho) * z
        return np.where(
            z < 0,
            likely * (low / likely) ** (-z / 1.2815515655446004),
            likely * (high / likely) ** (z / 1.2815515655446004),
        )

    def wanted(self) -> dict[str, Floats]:
        """Return how often each job is needed, by name: (count,)."""
        out: dict[str, Floats] = {}

        def want(choices: Any, rows: Floats) -> None:
            for choice in choices:
                times = rows * choice.quantity
                out[choice.job] = np.maximum(out.get(choice.job, 0), times)
                for after in self.jobs[choice.job].follows:
                    out[after] = np.maximum(out.get(after, 0), rows)

        for one in self.case.findings:
            if one.causes:
                anything = self.generator.random(self.count) < float(
                    1 if one.chance is None else one.chance
                )
                chances = [float(cause.chance) for cause in one.causes]
                which = self.generator.choice(
                    len(chances) + 1, size=self.count, p=[*chances, max(0.0, 1 - sum(chances))]
                )
                for at, cause in enumerate(one.causes):
                    want(cause.jobs, anything & (which == at))
            else:
                chance = 1 if one.chance is None else float(one.chance)
                want(one.jobs, self.generator.random(self.count) < chance)
        return out

    def total(self) -> tuple[Floats, Floats]:
        """Return money out and own hours: each (count,)."""
        deal = self.case.deal
        shop = deal.done_by.value == "shop"
        markup = self.figure("shop.parts_markup") if shop else 1.0
        tax = 1 + float(deal.parts_tax_percent) / 100
        rho_parts, rho_hours = self.figure("dependence.parts"), self.figure("dependence.hours")
        money, hours = np.zeros(self.count), np.zeros(self.count)
        access: dict[str, Floats] = {}
        for name, times in self.wanted().items():
            one = self.jobs[name]
            each = np.full(self.count, float(one.consumables))
            for line in one.parts:
                price = self.amount(line.price, self.parts_factor, rho_parts)
                each += price * line.quantity * tax * markup
                if line.core and not shop:
                    assert len(one.parts) == 1
                    lost = self.generator.random(self.count) > self.figure("core.returned")
                    each += lost * float(line.core) * line.quantity
            money += each * times
            hours += self.amount(one.hours, self.hours_factor, rho_hours) * times
            for group in one.access:
                access[group] = access.get(group, False) | (times > 0)
        for group, rows in access.items():
            given = self.reference.access[group].hours
            hours += rows * self.amount(given, self.hours_factor, rho_hours)
        if not shop:
            return money, hours
        assert deal.shop_rate is not None
        return money + hours * self.amount(deal.shop_rate, None, 0), np.zeros(self.count)


@pytest.fixture(scope="session")
def plain(reference: Reference) -> Callable[..., tuple[Floats, Floats]]:
    """Return the plain simulation: (case, generator, count) to (money, own hours)."""

    def run(case: Case, generator: np.random.Generator, count: int) -> tuple[Floats, Floats]:
        return Plain(case, reference, generator, count).total()

    return run


def _amount(generator: np.random.Generator, least: float, most: float) -> dict[str, Any]:
    likely = float(np.exp(generator.uniform(np.log(least), np.log(most))))
    low = likely / float(generator.uniform(1.05, 2.0))
    high = likely * float(generator.uniform(1.05, 3.0))
    return _range(tuple(f"{one:.2f}" for one in (low, likely, high)))


def _random_job(generator: np.random.Generator, at: int) -> dict[str, Any]:
    groups = ("cowl_off", "battery_out", "front_bumper_off", "door_panel_off")
    out = _job(
        f"job-{at}",
        hours=_amount(generator, 0.5, 8),
        parts=[_amount(generator, 15, 600) for _ in range(int(generator.integers(1, 3)))],
        consumables=int(generator.integers(0, 20)),
        access=[name for name in groups if generator.random() < 0.25],
    )
    if len(out["parts"]) == 1 and generator.random() < 0.3:
        out["parts"][0]["core"] = int(generator.integers(20, 150))
    if at > 1 and generator.random() < 0.15:
        out["follows"] = [f"job-{int(generator.integers(0, 2))}"]
    return out


def _random_choices(generator: np.random.Generator, jobs: int) -> list[dict[str, Any]]:
    picked = generator.choice(jobs, int(generator.integers(1, 3)), replace=False)
    return [{"job": f"job-{at}", "quantity": 2 if generator.random() < 0.2 else 1} for at in picked]


def _random_finding(generator: np.random.Generator, at: int, jobs: int) -> dict[str, Any]:
    """Return a finding; the first is certain, so that a total is never nought."""
    out: dict[str, Any] = {"id": f"finding-{at}", "area": "brakes", "state": "faulty"}
    if at and generator.random() < 0.5:
        parts = generator.dirichlet(np.ones(int(generator.integers(2, 5))))
        out["causes"] = [
            {
                "id": f"cause-{number}",
                "label": "Cause",
                "chance": f"{max(0.0, share - 0.0001):.4f}",
                "jobs": _random_choices(generator, jobs) if generator.random() < 0.9 else [],
            }
            for number, share in enumerate(parts[:-1] if at % 2 else parts)
        ]
        if generator.random() < 0.3:
            out |= {"state": "suspect", "chance": f"{generator.uniform(0.2, 0.9):.3f}"}
    elif at and generator.random() < 0.5:
        out |= {"state": "suspect", "chance": f"{generator.uniform(0.1, 0.9):.3f}"}
        out["jobs"] = _random_choices(generator, jobs)
    else:
        out["jobs"] = _random_choices(generator, jobs)
    return out


@pytest.fixture(scope="session")
def random_case(case_of: Callable[..., Case]) -> Callable[..., Case]:
    """Return a maker of cases with random findings, causes, ranges, access and follow-ups."""

    def make(generator: np.random.Generator, findings: int, **more: Any) -> Case:
        jobs = 2 * findings
        deal = {
            "done_by": "shop" if generator.random() < 0.4 else "own_hands",
            "shop_rate": _amount(generator, 70, 150),
            "own_rate": int(generator.integers(0, 40)),
            "parts_tax_percent": int(generator.integers(0, 10)),
        }
        own_jobs = [_random_job(generator, at) for at in range(jobs)]
        listed = [_random_finding(generator, at, jobs) for at in range(findings)]
        return case_of(listed, own_jobs, deal=deal, **more)

    return make
