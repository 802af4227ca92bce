"""Measurements as they are typed: each fail becomes a finding, and goes with its measurement."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from appraise import services
from appraise.errors import AppraiseError
from appraise.models.case import Case
from appraise.models.findings import Area, Finding, Look, Severity, State
from appraise.models.vehicle import Fuel
from appraise.reference.schema import Kind, Limit
from appraise.services.inspection.measuring import (
    Measured,
    limits_of,
    take_measurement,
    verdict_of,
    without_measurement,
)

REFERENCE = services.reference_values()
EXAMPLES = {case.id: case for case in services.example_cases()}
CAR = EXAMPLES["dusk-curbside"]
LIMITS = REFERENCE.limits
NUMBERS = [one for one in LIMITS.values() if one.asks == "number"]
QUESTIONS = [one for one in LIMITS.values() if one.asks != "number"]
DAY = date(2026, 6, 30)


def named(limit: Limit) -> str:
    return limit.id


def step(bound: Decimal) -> Decimal:
    """Return a step that is small beside a bound."""
    return max(abs(bound) / 10, Decimal("0.01"))


def passing(limit: Limit) -> str:
    """Return a reading on the good bound: still good."""
    if limit.by is not None:
        return str(limit.by.points[0][1])
    bound = limit.good_at_most if limit.good_at_least is None else limit.good_at_least
    assert bound is not None
    return str(bound)


def failing(limit: Limit) -> str | None:
    """Return a reading beyond what is bad; for law what is not good is bad. None if none can be."""
    if limit.by is not None:
        return str(limit.by.points[0][1] + 1)
    law = limit.kind is Kind.LAW
    low = limit.good_at_least if law and limit.good_at_least is not None else limit.bad_below
    high = limit.good_at_most if law and limit.good_at_most is not None else limit.bad_above
    if low is not None:
        return str(low - step(low))
    return None if high is None else str(high + step(high))


def undecided(limit: Limit) -> str | None:
    """Return a reading between good and bad, or None if there is no between."""
    if limit.kind is Kind.LAW or limit.by is not None:
        return None
    pairs = ((limit.bad_below, limit.good_at_least), (limit.good_at_most, limit.bad_above))
    for low, high in pairs:
        if low is not None and high is not None and low < high:
            return str((low + high) / 2)
    return None


def take(limit: Limit, typed: str, case: Case = CAR) -> Measured:
    by = None if limit.by is None else limit.by.points[0][0]
    return take_measurement(case, limit.id, typed, REFERENCE, by=by, on=DAY)


def new_finding(measured: Measured, before: Case = CAR) -> Finding:
    known = {one.id for one in before.findings}
    (found,) = (one for one in measured.case.findings if one.id not in known)
    return found


FAILING = [(one, text) for one in NUMBERS if (text := failing(one)) is not None]
FAILING += [(one, "no" if one.asks == "yes" else "yes") for one in QUESTIONS]
UNDECIDED = [(one, text) for one in NUMBERS if (text := undecided(one)) is not None]


def test_every_limit_can_be_failed_but_those_without_a_bad_bound() -> None:
    tame = {one.id for one in LIMITS.values()} - {one.id for one, _ in FAILING}

    assert all(
        (LIMITS[name].bad_below, LIMITS[name].bad_above) == (None, None)
        and LIMITS[name].kind is not Kind.LAW
        for name in tame
    )
    assert len(FAILING) > 60
    assert len(UNDECIDED) > 15


@pytest.mark.parametrize(("limit", "typed"), FAILING, ids=lambda one: getattr(one, "id", one))
def test_a_fail_becomes_a_finding_of_its_severity_and_goes_with_its_measurement(
    limit: Limit, typed: str
) -> None:
    measured = take(limit, typed)
    found = new_finding(measured)

    assert measured.verdict.result == "fails"
    assert (found.state, found.look) == (State.FAULTY, Look.MEASURED)
    assert (found.severity, found.area) == (limit.severity, limit.area)
    assert found.label == limit.failed
    assert typed in found.note
    choices = [*found.jobs, *(job for cause in found.causes for job in cause.jobs)]
    assert {one.job for one in choices} <= set(limit.jobs)
    assert sum(one.chance for one in found.causes) <= 1
    (kept,) = measured.case.measurements
    assert without_measurement(measured.case, kept.id) == CAR


@pytest.mark.parametrize("limit", NUMBERS, ids=named)
def test_a_reading_on_the_good_bound_passes_and_gives_no_finding(limit: Limit) -> None:
    measured = take(limit, passing(limit))

    assert measured.verdict.result == "passes"
    assert measured.case.findings == CAR.findings
    assert len(measured.case.measurements) == 1


@pytest.mark.parametrize("limit", QUESTIONS, ids=named)
def test_the_good_answer_passes_and_gives_no_finding(limit: Limit) -> None:
    measured = take(limit, f" {limit.asks.upper()} ")

    assert measured.verdict.result == "passes"
    assert measured.case.findings == CAR.findings


@pytest.mark.parametrize(("limit", "typed"), UNDECIDED, ids=lambda one: getattr(one, "id", one))
def test_a_reading_between_good_and_bad_gives_no_finding(limit: Limit, typed: str) -> None:
    measured = take(limit, typed)

    assert measured.verdict.result == "cannot tell"
    assert measured.case.findings == CAR.findings


def test_a_limit_that_hangs_on_something_not_given_cannot_tell() -> None:
    """16 in wheel: 2 in of free play at most, 49 CFR 570.7(a), Table 1."""
    lash = LIMITS["us_570.steering_lash"]
    without = take_measurement(CAR, lash.id, "2.1", REFERENCE)
    given = take_measurement(CAR, lash.id, "2.1", REFERENCE, by=Decimal(16))

    assert without.verdict.result == "cannot tell"
    assert without.case.findings == CAR.findings
    assert given.verdict.result == "fails"


@pytest.mark.parametrize(
    ("typed", "unit", "value", "result"),
    [
        ("1/32 in", "in", "0.03125", "fails"),
        ("0,7 mm", "mm", "0.7", "fails"),
        ("2/32in", "in", "0.0625", "passes"),
        ("3 mm", "mm", "3", "passes"),
    ],
)
def test_a_reading_is_kept_in_the_unit_and_words_in_which_it_was_typed(
    typed: str, unit: str, value: str, result: str
) -> None:
    """A tread of 2/32 inch is the least: 49 CFR 570.9(a)."""
    measured = take_measurement(CAR, "us_570.tire_tread", f" {typed} ", REFERENCE, on=DAY)
    (kept,) = measured.case.measurements

    assert (kept.typed, kept.unit, kept.value) == (typed, unit, Decimal(value))
    assert kept.measured_on == DAY
    assert measured.verdict.result == result
    assert verdict_of(kept, REFERENCE) == measured.verdict


@pytest.mark.parametrize(
    ("limit", "typed", "words"),
    [
        ("us_570.tire_tread", "bald", "'bald' is not a measurement"),
        ("us_570.tire_tread", "", "nothing is given"),
        ("us_570.tire_tread", "3 psi", "psi"),
        ("us_570.tire_tread", "yes", "not a measurement"),
        ("us_570.tire_condition", "3 mm", "'3 mm' is neither yes nor no"),
        ("us_570.tire_condition", "", "neither yes nor no"),
        ("rule.crystal", "3", r"rule\.crystal: there is no such limit"),
    ],
)
def test_what_is_no_measurement_of_that_kind_is_refused_in_clear_words(
    limit: str, typed: str, words: str
) -> None:
    with pytest.raises(AppraiseError, match=words):
        take_measurement(CAR, limit, typed, REFERENCE)


def test_the_same_thing_measured_at_two_places_gives_two_findings() -> None:
    once = take_measurement(CAR, "rule.pad_thickness", "1 mm", REFERENCE, place="left front").case
    twice = take_measurement(once, "rule.pad_thickness", "1 mm", REFERENCE, place="left rear").case
    again = take_measurement(twice, "rule.pad_thickness", "1 mm", REFERENCE, place="left rear").case
    labels = [one.label for one in again.findings[len(CAR.findings) :]]

    assert [label.rsplit(", ", 1)[1] for label in labels] == [
        "left front",
        "left rear",
        "left rear",
    ]
    kept = without_measurement(again, again.measurements[1].id)
    assert len(kept.findings) == len(again.findings) - 1
    assert [one.id for one in kept.measurements] == [
        again.measurements[0].id,
        again.measurements[2].id,
    ]


@pytest.mark.parametrize("fuel", Fuel)
def test_no_fail_brings_a_job_that_the_car_cannot_have(fuel: Fuel) -> None:
    bare = {"fuel": fuel, "engine_liters": None, "cylinders": None}
    car = CAR.model_copy(update={"vehicle": CAR.vehicle.model_copy(update=bare)})
    for limit, typed in FAILING:
        found = new_finding(take(limit, typed, car), car)
        choices = [*found.jobs, *(job for cause in found.causes for job in cause.jobs)]
        for choice in choices:
            fuels = REFERENCE.jobs[choice.job].job.fuels
            assert not fuels or fuel in fuels, (limit.id, choice.job)


def test_several_jobs_that_may_mend_it_share_the_chance_evenly() -> None:
    found = new_finding(take(LIMITS["rule.oil_pressure"], "1"))

    assert [one.chance for one in found.causes] == [Decimal("0.3333")] * 3
    assert found.jobs == ()


def test_a_fail_with_a_repair_makes_the_car_dearer_and_taking_it_back_restores_the_price() -> None:
    before = services.appraise_case(CAR, REFERENCE)
    measured = take(LIMITS["rule.pad_thickness"], "1 mm")
    after = services.appraise_case(measured.case, REFERENCE)
    (kept,) = measured.case.measurements
    back = without_measurement(measured.case, kept.id)

    assert after.repair.money.mean > before.repair.money.mean
    assert (after.walk_away_price or 0) < (before.walk_away_price or 0)
    assert services.appraise_case(back, REFERENCE) == before


def test_a_measurement_of_a_limit_that_is_gone_is_refused_by_name() -> None:
    measured = take(LIMITS["rule.pad_thickness"], "1 mm")
    (kept,) = measured.case.measurements
    lost = kept.model_copy(update={"limit": "rule.crystal"})

    with pytest.raises(AppraiseError, match=r"rule\.crystal: there is no such limit"):
        verdict_of(lost, REFERENCE)


@pytest.mark.parametrize("area", Area)
def test_the_limits_of_an_area_are_its_own_by_label(area: Area) -> None:
    found = limits_of(area, REFERENCE)
    labels = [one.label for one in found]

    assert {one.id for one in found} == {one.id for one in LIMITS.values() if one.area is area}
    assert labels == sorted(labels)
    assert {one.severity for one in found} <= set(Severity)
