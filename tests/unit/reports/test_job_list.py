"""The list of jobs: likely hours with access, likely parts, by price class."""

from __future__ import annotations

from decimal import Decimal

import pytest

from appraise import services
from appraise.errors import AppraiseError
from appraise.models.jobs import Job
from appraise.models.vehicle import PriceClass
from appraise.reports.job_list import job_list, job_totals

REFERENCE = services.reference_values()


def job(**more: object) -> Job:
    return Job.model_validate(
        {
            "id": "own.one",
            "label": "Own",
            "system": "brakes",
            "hours": {"low": 1, "likely": 2, "high": 4},
            "hours_family": "same",
        }
        | more
    )


def factor(name: str, price_class: str) -> Decimal:
    table = REFERENCE.value(name).table
    assert table is not None
    return table[price_class]


def test_a_job_without_parts_or_access_takes_its_likely_hours() -> None:
    factor_of_same = factor("hours.class_factor.same", "mid_size")

    assert job_totals(job(), REFERENCE, "mid_size") == (2 * factor_of_same, 0)


@pytest.mark.parametrize("price_class", [one.value for one in PriceClass])
def test_parts_count_by_number_and_class_and_consumables_once(price_class: str) -> None:
    parts = [
        {
            "label": "a",
            "family": "unit",
            "quantity": 3,
            "price": {"low": 1, "likely": 10, "high": 99},
        },
        {"label": "b", "family": "light", "price": {"low": 1, "likely": 7, "high": 99}},
    ]
    found = job_totals(job(parts=parts, consumables="2.50"), REFERENCE, price_class)[1]

    unit = factor("parts.class_factor.unit", price_class)
    light = factor("parts.class_factor.light", price_class)
    assert found == Decimal("2.50") + 30 * unit + 7 * light


def test_access_adds_its_likely_hours() -> None:
    group = REFERENCE.access["car_raised"]
    more = group.hours.likely * factor(f"hours.class_factor.{group.hours_family}", "van")
    bare = job_totals(job(), REFERENCE, "van")[0]

    assert job_totals(job(access=["car_raised"]), REFERENCE, "van")[0] == bare + more
    assert more > 0


def test_a_deposit_is_no_part_of_the_price() -> None:
    """It comes back with the old unit."""
    parts = [
        {"label": "a", "family": "unit", "price": {"low": 1, "likely": 10, "high": 99}, "core": 50}
    ]

    assert job_totals(job(parts=parts), REFERENCE, "mid_size")[1] == 10


def test_every_job_of_the_catalog_is_listed_on_a_line_of_its_own() -> None:
    everything = services.find_jobs([], REFERENCE)
    lines = job_list(everything, REFERENCE, "mid_size").splitlines()

    assert len(lines) == len(everything) + 3
    for entry, line in zip(everything, lines[1:], strict=False):
        assert line.startswith(entry.job.id)
        assert line.endswith(entry.job.label)
    assert lines[-1].startswith(f"{len(everything)} jobs; ")


@pytest.mark.parametrize("price_class", [one.value for one in PriceClass])
def test_every_price_class_has_figures_for_every_job(price_class: str) -> None:
    for entry in services.find_jobs([], REFERENCE):
        hours, parts = job_totals(entry.job, REFERENCE, price_class)
        assert hours >= 0
        assert parts >= 0
        assert hours + parts > 0


def test_a_few_jobs_are_listed_with_their_details_and_many_are_not() -> None:
    one = services.find_jobs(["alternator_used"], REFERENCE)
    details = job_list(one, REFERENCE, "mid_size")
    entry = one[0]

    for words in (
        "part: 1 x alternator, used",
        f"first: {REFERENCE.access['accessory_belt_off'].label}",
        f"tool: {REFERENCE.tools['multimeter'].label}",
        f"source: {entry.provenance.kind.value}",
        f"! {REFERENCE.cautions['raised_car'].work}",
    ):
        assert words in details
    many = job_list(services.find_jobs([], REFERENCE), REFERENCE, "mid_size")
    assert "part: " not in many


def test_a_caution_is_shown_once_however_many_steps_ask_for_it() -> None:
    """The raised car is a caution of the job and of its access."""
    details = job_list(services.find_jobs(["alternator_used"], REFERENCE), REFERENCE, "mid_size")

    assert details.count(REFERENCE.cautions["raised_car"].text) == 1


def test_the_ground_under_the_figures_is_named() -> None:
    found = services.find_jobs(["alternator_used"], REFERENCE)
    last = job_list(found, REFERENCE, "mid_size").splitlines()[-1]

    entry = found[0]
    assert f"{entry.provenance.kind.value}, {entry.currency} {entry.base_year}" in last


@pytest.mark.parametrize("wrong", ["", "Premium", "tank"])
def test_an_unknown_class_is_refused_with_those_that_are_known(wrong: str) -> None:
    with pytest.raises(AppraiseError, match="light_truck") as refused:
        job_list(services.find_jobs(["alternator"], REFERENCE), REFERENCE, wrong)

    assert refused.value.where == "class"
