"""Twenty cars whose faults are known: those faults lead among all that could be behind."""

from __future__ import annotations

import tomllib
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from appraise import services
from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Streams
from appraise.engine.faults.car import CarFaults, car_faults
from appraise.models.case import Case
from appraise.models.vehicle import Distance, Fuel, Vehicle

CARS: list[dict[str, Any]] = tomllib.loads(
    (Path(__file__).parent / "known_cars.toml").read_text(encoding="utf-8")
)["car"]
REFERENCE = services.reference_values()
LEADING = 17
"""Of the twenty; the rest may be named second by somebody of the trade as well."""


def faults_of(car: dict[str, Any]) -> CarFaults:
    """Return what is behind a car's signs; 12 years and 120,000 miles old."""
    vehicle = Vehicle(
        make="Any",
        model="car",
        model_year=2013,
        fuel=Fuel(car.get("fuel", "gasoline")),
        transmission=car.get("transmission", "automatic"),
        valve_drive=car.get("valve_drive"),
        odometer=Distance(value=Decimal(120_000), unit="mi"),
    )
    case = Case(id="known", title="Known", appraised_on=date(2025, 7, 1), vehicle=vehicle)
    for sign in car["signs"]:
        case = services.finding_from_symptom(case, sign, REFERENCE)
    for code in car.get("codes", ()):
        case = services.finding_from_code(case, code, REFERENCE)
    lookup = Lookup(REFERENCE)
    return car_faults(case, Streams(1, 20_000), lookup)


def lead(car: dict[str, Any]) -> list[str]:
    """Return the likeliest faults behind a car's signs."""
    behind = faults_of(car).behind
    return sorted(behind, key=lambda one: (-behind[one], one))


def test_the_true_faults_lead() -> None:
    right = [set(lead(car)[: len(car["true"])]) == set(car["true"]) for car in CARS]

    assert sum(right) >= LEADING


@pytest.mark.parametrize("car", CARS, ids=[car["true"][0] for car in CARS])
def test_every_true_fault_is_among_the_first_three(car: dict[str, Any]) -> None:
    assert set(car["true"]) <= set(lead(car)[:3])
