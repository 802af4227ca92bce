"""The shipped causes, symptoms, codes and checks: whole, unchanged by accident, and sensible.

The shares are common practice without a published source, so the tests of sense hold only what a
workshop would agree on: which cause leads, which is among those behind a symptom, which is not.

Run as a script, this file prints the pins for the data as they stand:
``python tests/health/test_diagnosis_data.py``. Put them in by hand after reading the change.
"""

from __future__ import annotations

import hashlib
import re
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from decimal import Decimal
from importlib.resources import files
from itertools import product

import pytest

from appraise.models.findings import Area
from appraise.models.jobs import Job
from appraise.models.vehicle import DriveWheels, Fuel, Gearbox
from appraise.reference.load import Reference, load_reference
from appraise.reference.schema import Check, Kind, Symptom, WeightedCause

COUNTS: dict[str, int] = {}

CHECK_SUMS: dict[str, str] = {}

FOLDERS = ("causes", "checks")
FEWEST_SYMPTOMS = 60
FEWEST_CHECKS = 60
CODES = 241
GROUPS = 99
CODE = re.compile(r"[PBCU][0-3][0-9A-F]{3}")
BURNS = {Fuel.PETROL, Fuel.DIESEL, Fuel.HYBRID, Fuel.PLUG_IN_HYBRID, Fuel.GAS}
AUTOMATED = {Gearbox.AUTOMATIC, Gearbox.CONTINUOUS, Gearbox.TWIN_CLUTCH}


def check_sums() -> dict[str, str]:
    """Return the first sixteen hexadecimal digits of each data file's SHA-256."""
    data = files("appraise.reference") / "data"
    return {
        f"{folder}/{entry.name}": hashlib.sha256(
            entry.read_bytes().replace(b"\r\n", b"\n")  # the line ends of any system made alike
        ).hexdigest()[:16]
        for folder in FOLDERS
        for entry in sorted((data / folder).iterdir(), key=lambda one: one.name)
        if entry.name.endswith(".toml")
    }


def counts(reference: Reference) -> dict[str, int]:
    """Return how many entries each table of the diagnosis has."""
    return {
        "causes": len(reference.causes),
        "symptoms": len(reference.symptoms),
        "code groups": len(reference.code_groups),
        "codes": sum(len(group.codes) for group in reference.code_groups.values()),
        "checks": len(reference.checks),
    }


def total(causes: Iterable[WeightedCause]) -> Decimal:
    return sum((one.share for one in causes), Decimal(0))


def behind(reference: Reference) -> dict[str, tuple[WeightedCause, ...]]:
    """Return the causes of every symptom and code group, by its id."""
    return {
        **{f"symptom {one.id}": one.causes for one in reference.symptoms.values()},
        **{f"codes {one.id}": one.causes for one in reference.code_groups.values()},
    }


def phrases(symptom: Symptom) -> tuple[str, ...]:
    return (symptom.label, *symptom.ask)


def fits_some_car(jobs: Iterable[Job]) -> bool:
    """Return whether there is a car that all the jobs are for."""
    wanted = list(jobs)
    return any(
        all(
            (not job.fuels or fuel in job.fuels)
            and (not job.gearboxes or gearbox in job.gearboxes)
            and (not job.drives or drive in job.drives)
            for job in wanted
        )
        for fuel, gearbox, drive in product(Fuel, Gearbox, DriveWheels)
    )


def mended_on(reference: Reference, cause_id: str, fuel: Fuel) -> bool:
    """Return whether a cause can be there on a car of that fuel: what mends it is for such cars."""
    jobs = [reference.jobs[job_id].job for job_id in reference.causes[cause_id].jobs]
    return not jobs or any(not job.fuels or fuel in job.fuels for job in jobs)


def chances(check: Check, cause_id: str) -> tuple[Decimal, ...]:
    """Return the chances of a check's outcomes under a cause."""
    return next(
        (one.chances for one in check.given if cause_id in one.causes),
        check.otherwise,
    )


@pytest.fixture(scope="module")
def reference() -> Reference:
    return load_reference()


# --- whole, and as it was -------------------------------------------------------------------------


def test_no_file_of_causes_or_checks_changed_without_its_pin() -> None:
    """An edit, meant or not, fails here until the pin moves in the same change."""
    assert check_sums() == CHECK_SUMS


def test_the_number_of_entries_of_each_table_is_pinned(reference: Reference) -> None:
    assert counts(reference) == COUNTS


def test_there_are_enough_symptoms_and_checks(reference: Reference) -> None:
    assert len(reference.symptoms) >= FEWEST_SYMPTOMS
    assert len(reference.checks) >= FEWEST_CHECKS


# --- causes ---------------------------------------------------------------------------------------


def test_no_two_causes_share_a_label(reference: Reference) -> None:
    labels = Counter(cause.label.casefold() for cause in reference.causes.values())
    assert [label for label, count in labels.items() if count > 1] == []


def test_what_mends_a_cause_can_all_be_done_on_one_car(reference: Reference) -> None:
    """No cause asks for a job for diesels beside one for petrol cars."""
    clashes = [
        cause.id
        for cause in reference.causes.values()
        if not fits_some_car(reference.jobs[job_id].job for job_id in cause.jobs)
    ]
    assert clashes == []


def test_a_cause_names_each_job_once_and_none_that_follows_from_another_of_its_jobs(
    reference: Reference,
) -> None:
    """What follows comes along by itself, and would be paid twice."""
    twice = [
        (cause.id, job_id)
        for cause in reference.causes.values()
        for job_id in cause.jobs
        if cause.jobs.count(job_id) > 1
        or any(job_id in reference.jobs[other].job.follows for other in cause.jobs)
    ]
    assert twice == []


def test_a_cause_without_a_job_says_why(reference: Reference) -> None:
    silent = [one.id for one in reference.causes.values() if not one.jobs and not one.note]
    assert silent == []


def test_every_cause_stands_behind_a_symptom_or_a_code(reference: Reference) -> None:
    used = {one.cause for causes in behind(reference).values() for one in causes}
    assert sorted(set(reference.causes) - used) == []


# --- symptoms -------------------------------------------------------------------------------------


def test_every_area_of_the_car_has_a_symptom(reference: Reference) -> None:
    assert {one.area for one in reference.symptoms.values()} == set(Area)


def test_a_symptom_is_named_after_its_area_and_stands_in_a_file_of_symptoms(
    reference: Reference,
) -> None:
    astray = [
        one.id
        for one in reference.symptoms.values()
        if not one.id.startswith(f"{one.area.value}.")
    ]
    assert astray == []


def test_every_symptom_says_that_it_is_common_practice_from_memory(reference: Reference) -> None:
    for one in reference.symptoms.values():
        assert one.kind is Kind.COMMON_PRACTICE, one.id
        assert "no published source; from memory" in one.note, one.id


def test_the_shares_behind_a_symptom_leave_at_most_a_fifth_to_nothing_wrong(
    reference: Reference,
) -> None:
    odd = {
        one.id: total(one.causes)
        for one in reference.symptoms.values()
        if not Decimal("0.8") <= total(one.causes) <= 1
    }
    assert odd == {}


def test_a_symptom_has_three_to_nine_causes_the_commonest_first(reference: Reference) -> None:
    for one in reference.symptoms.values():
        shares = [cause.share for cause in one.causes]
        assert 3 <= len(shares) <= 9, one.id
        assert shares == sorted(shares, reverse=True), one.id


def test_no_cause_is_nearly_certain_or_too_rare_to_be_worth_a_line(reference: Reference) -> None:
    odd = [
        (one.id, cause.cause)
        for one in reference.symptoms.values()
        for cause in one.causes
        if not Decimal("0.01") <= cause.share <= Decimal("0.85")
    ]
    assert odd == []


def test_a_symptom_has_two_to_five_other_wordings_and_each_leads_to_it_alone(
    reference: Reference,
) -> None:
    for one in reference.symptoms.values():
        assert 2 <= len(one.ask) <= 5, one.id
    words = Counter(
        phrase.casefold() for one in reference.symptoms.values() for phrase in phrases(one)
    )
    assert [phrase for phrase, count in words.items() if count > 1] == []


def test_a_symptom_can_be_mended_on_every_car_that_it_is_for(reference: Reference) -> None:
    """At least two causes, with half of the shares, can be there on each fuel that it names."""
    thin = []
    for one in reference.symptoms.values():
        for fuel in one.fuels or tuple(Fuel):
            left = [cause for cause in one.causes if mended_on(reference, cause.cause, fuel)]
            if len(left) < 2 or total(left) < Decimal("0.5"):
                thin.append((one.id, fuel.value, str(total(left))))
    assert thin == []


def test_a_symptom_for_some_cars_names_no_cause_that_none_of_them_can_have(
    reference: Reference,
) -> None:
    astray = [
        (one.id, cause.cause)
        for one in reference.symptoms.values()
        for cause in one.causes
        if not any(mended_on(reference, cause.cause, fuel) for fuel in one.fuels or tuple(Fuel))
    ]
    assert astray == []


@pytest.mark.parametrize("area", [Area.ENGINE, Area.EXHAUST])
def test_an_electric_car_has_no_engine_and_no_exhaust(reference: Reference, area: Area) -> None:
    found = [one for one in reference.symptoms.values() if one.area is area]
    assert found
    assert [one.id for one in found if not one.fuels or not set(one.fuels) <= BURNS] == []


# --- codes ----------------------------------------------------------------------------------------


def test_there_are_241_codes_in_99_groups(reference: Reference) -> None:
    codes = [code.code for group in reference.code_groups.values() for code in group.codes]
    assert (len(codes), len(set(codes)), len(reference.code_groups)) == (CODES, CODES, GROUPS)


def test_every_code_is_a_letter_and_four_digits_in_upper_case(reference: Reference) -> None:
    """The layout of SAE J2012: system letter, a digit from 0 to 3, three hexadecimal digits."""
    codes = [code.code for group in reference.code_groups.values() for code in group.codes]
    assert codes
    assert [code for code in codes if not CODE.fullmatch(code)] == []


def test_the_shares_behind_a_code_sum_to_one(reference: Reference) -> None:
    """A set code is taken as true: none of it is left to nothing being wrong."""
    odd = {
        group.id: total(group.causes)
        for group in reference.code_groups.values()
        if total(group.causes) != 1
    }
    assert odd == {}


# --- checks ---------------------------------------------------------------------------------------


def test_every_check_tells_apart_two_causes_of_one_symptom_or_code(reference: Reference) -> None:
    idle = [
        check.id
        for check in reference.checks.values()
        if not any(
            len({chances(check, one.cause) for one in causes}) > 1
            for causes in behind(reference).values()
        )
    ]
    assert idle == []


def test_a_check_speaks_only_of_causes_that_stand_behind_something(reference: Reference) -> None:
    used = {one.cause for causes in behind(reference).values() for one in causes}
    astray = [
        (check.id, cause)
        for check in reference.checks.values()
        for given in check.given
        for cause in given.causes
        if cause not in used
    ]
    assert astray == []


def test_most_symptoms_have_a_check_that_moves_their_odds(reference: Reference) -> None:
    moved = [
        one.id
        for one in reference.symptoms.values()
        if any(
            len({chances(check, cause.cause) for cause in one.causes}) > 1
            for check in reference.checks.values()
        )
    ]
    assert len(moved) / len(reference.symptoms) >= 0.8
