"""The catalog against what a practised pair of hands takes.

Source of every figure here: common practice, no published source. They are held within a factor,
because they bound what is reasonable and measure nothing.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from appraise import services
from appraise.engine.work.plan import bench_of, openings
from appraise.models.case import Case
from appraise.reference.load import Reference, load_reference
from appraise.services.ownership.working import add_job

NEAR = 1.5
"""A figure of practice is good to half as much again, no better."""


@pytest.fixture(scope="module")
def reference() -> Reference:
    return load_reference()


@pytest.fixture(scope="module")
def car() -> Case:
    """Return a mid-size car that is owned, without any job, its owner's tools complete."""
    base = services.load_case_file("auction-engine-light")
    raw: dict[str, Any] = base.model_dump() | {
        "standing": "owned",
        "purchase": {"bid": 1000, "bought_on": date(2026, 11, 20)},
        "work": {},
    }
    owned = services.changed(
        Case.model_validate(raw), ("deal", "tools_owned"), tuple(load_reference().tools)
    )
    return services.changed(owned, ("vehicle", "price_class"), "mid_size")


def likely(car: Case, reference: Reference, *jobs: str) -> tuple[float, float]:
    """Return the likely money and own hours of jobs done together, access once."""
    for name in jobs:
        car = add_job(car, name, reference)
    bench = bench_of(car, reference)
    wanted = [one for one in bench.jobs if one.planned.job in jobs]
    groups = {name: tuple(one.covers) for name, one in reference.access.items()}
    opened = [name for names in openings(wanted, groups).values() for name in names]
    access = sum(float(reference.access[name].hours.likely) for name in opened)
    money = sum(
        float(line.price.likely) * line.quantity for one in wanted for line in one.job.parts
    )
    return money, access + sum(float(one.job.hours.likely) for one in wanted)


def test_a_pair_of_easily_reached_engine_mounts_is_about_an_hour(
    car: Case, reference: Reference
) -> None:
    _, hours = likely(car, reference, "engine_mechanical.engine_mounts")

    assert 1 / NEAR <= hours <= NEAR


@pytest.mark.parametrize(
    "jobs",
    [
        (
            "engine_mechanical.torque_mount",
            "suspension.front_sway_bar_links",
            "transmission.speed_sensor",
        ),
        (
            "transmission.mount",
            "brakes.abs_wheel_sensor",
            "suspension.rear_sway_bar_links",
        ),
        (
            "engine_management.cam_sensor",
            "engine_management.crank_sensor",
            "steering.return_hose_and_clamps",
        ),
    ],
)
def test_three_modest_faults_are_about_120_dollars_and_two_hours(
    car: Case, reference: Reference, jobs: tuple[str, str, str]
) -> None:
    money, hours = likely(car, reference, *jobs)

    assert 120 / NEAR <= money <= 120 * NEAR
    assert 2 / NEAR <= hours <= 2 * NEAR


def test_work_on_a_suspension_arm_is_followed_by_an_alignment(
    car: Case, reference: Reference
) -> None:
    new = add_job(car, "suspension.front_lower_arm", reference)
    (arm,) = [one for one in new.work.jobs if one.job == "suspension.front_lower_arm"]
    (alignment,) = [one for one in new.work.jobs if one.job == "suspension.wheel_alignment"]

    assert alignment.after == (arm.id,)
