"""How many faults of each kind a car of this age, distance and build has on average."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import TypeVar

from appraise.engine.catalog.values import Lookup
from appraise.engine.faults.care import faults_of_share
from appraise.models.case import Case
from appraise.models.findings import Area
from appraise.models.vehicle import (
    Aspiration,
    Distance,
    DriveWheels,
    Fits,
    Fuel,
    Transmission,
    ValveDrive,
    Vehicle,
)
from appraise.reference.load import Reference
from appraise.reference.schema import Fault

__all__ = ["CarFault", "Remedies", "faults_of_car", "share_that_fits"]

Remedies = tuple[tuple[tuple[str, ...], float], ...]
"""(jobs, chance) of the ways a fault is repaired on this car; the chances sum to 1."""


Built = TypeVar("Built", Aspiration, ValveDrive)


@dataclass(frozen=True, slots=True)
class CarFault:
    """A fault that this car can have.

    Attributes
    ----------
    rate : how many of it a car like this has on average, kept as cars usually are.
    remedies : those whose jobs fit this car.
    """

    id: str
    label: str
    area: Area
    rate: float
    remedies: Remedies


def share_that_fits(fits: Fits, car: Vehicle, lookup: Lookup) -> float:
    """Return the share of cars like this one, as far as it is known, that something fits."""
    if not fits.allows(car):
        return 0.0
    share = 1.0
    if fits.aspiration:
        turbo = lookup.entry("turbo.share", car.fuel.value)
        blown = lookup.entry("supercharger.share", car.fuel.value)
        kinds = {
            Aspiration.TURBO: turbo,
            Aspiration.SUPERCHARGER: blown,
            Aspiration.NATURAL: 1 - turbo - blown,
        }
        share *= _share(fits.aspiration, car.aspiration, kinds)
    if fits.valve_drive:
        belt = lookup.entry("timing_belt.share", car.fuel.value)
        share *= _share(
            fits.valve_drive, car.valve_drive, {ValveDrive.BELT: belt, ValveDrive.CHAIN: 1 - belt}
        )
    return share


def _share(allowed: tuple[Built, ...], has: Built | None, shares: Mapping[Built, float]) -> float:
    if has is None:
        return sum(shares.get(one, 0.0) for one in allowed)
    return float(has in allowed)


def faults_of_car(case: Case, lookup: Lookup) -> dict[str, CarFault]:
    """Return the faults that the car can have, by id.

    An area's rate is moved by age, by miles and by salted roads, and shared out among its faults
    by how often each occurs: a car of which it is not known whether it has a turbo or a timing
    belt meets the area's rate.

    Parameters
    ----------
    case : the car, on the day of the appraisal.
    lookup : the reference values.
    """
    car, reference = case.vehicle, lookup.reference
    unknown = car.model_copy(update={"aspiration": None, "valve_drive": None})
    built = _fitting(reference, *_build(car))
    kept: list[tuple[Fault, float, Remedies]] = []
    total: defaultdict[Area, float] = defaultdict(float)
    for name in _fitting(reference, *_build(unknown)):
        fault = reference.causes[name]
        usual = share_that_fits(fault, unknown, lookup)
        total[fault.area] += usual * float(fault.often)
        share = usual if car == unknown else share_that_fits(fault, car, lookup)
        if share and name in built:
            kept.append((fault, share * float(fault.often), built[name]))
    means = {area: _faults_in(area, case, lookup) for area in total}
    return {
        fault.id: CarFault(
            fault.id,
            fault.label,
            fault.area,
            means[fault.area] * often / total[fault.area],
            remedies,
        )
        for fault, often, remedies in kept
    }


def _build(car: Vehicle) -> tuple[Fuel, Transmission, DriveWheels, str, str]:
    """Return what decides which faults and jobs fit a car."""
    return car.fuel, car.transmission, car.drive, car.aspiration or "", car.valve_drive or ""


@lru_cache(maxsize=64)
def _fitting(
    reference: Reference,
    fuel: Fuel,
    transmission: Transmission,
    drive: DriveWheels,
    aspiration: str,
    valve_drive: str,
) -> dict[str, Remedies]:
    """Return the faults that a car of this build can have, with the ways they can be repaired.

    Kept from one appraisal to the next: it hangs on nothing but what is passed in.
    """
    car = Vehicle(
        make="any",
        model="car",
        model_year=2000,
        fuel=fuel,
        transmission=transmission,
        drive=drive,
        aspiration=Aspiration(aspiration) if aspiration else None,
        valve_drive=ValveDrive(valve_drive) if valve_drive else None,
        odometer=Distance(value=Decimal(0), unit="mi"),
    )
    out = {}
    for fault in reference.causes.values():
        fitting = [
            (one.jobs, float(one.weight))
            for one in fault.remedies
            if all(
                name not in reference.jobs or reference.jobs[name].job.allows(car)
                for name in one.jobs
            )
        ]
        total = sum(weight for _, weight in fitting)
        if fitting and fault.allows(car):
            out[fault.id] = tuple((jobs, weight / total) for jobs, weight in fitting)
    return out


def _faults_in(area: Area, case: Case, lookup: Lookup) -> float:
    """Return how many faults an area of this car has on average."""
    known, car = lookup.reference.areas[area], case.vehicle
    if car.fuel in known.not_for:
        return 0.0
    lookup.used.add(f"area.{area.value}")
    mean = faults_of_share(float(known.rate), lookup.number("care.shape"))
    mean *= lookup.curve(f"fault.age.{known.curve}", car.age_years(case.appraised_on))
    mean *= lookup.curve(f"fault.miles.{known.curve}", float(car.odometer.miles))
    if car.salted_roads is not None:
        value = "fault.salted" if car.salted_roads else "fault.not_salted"
        if area.value in (lookup.reference.values[value].table or {}):
            mean *= lookup.entry(value, area.value)
    return mean
