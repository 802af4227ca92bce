"""Symptoms and trouble codes become findings that this very car can have; results go in and out."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from itertools import product

import pytest

from appraise import services
from appraise.errors import AppraiseError, BadCase
from appraise.models.case import Case
from appraise.models.findings import Area, Finding, Severity, State
from appraise.models.jobs import Job
from appraise.models.vehicle import DriveWheels, Fuel, Transmission, Vehicle
from appraise.services.inspection.diagnosing import SEVERITY_OF, usual_causes

REFERENCE = services.reference_values()
EXAMPLES = {case.id: case for case in services.example_cases()}
GASOLINE = EXAMPLES["dusk-curbside"]
FLOOR = Decimal("0.0001")
"""Chances are cut, never rounded up, at four places, so that they stay below certainty."""


def car(**more: object) -> Vehicle:
    return GASOLINE.vehicle.model_copy(update=more)


CARS = [
    car(fuel=fuel, transmission=transmission, drive=drive)
    for fuel, transmission, drive in product(Fuel, Transmission, DriveWheels)
]


def with_car(**more: object) -> Case:
    return GASOLINE.model_copy(update={"vehicle": car(**more), "findings": ()})


def last(case: Case) -> Finding:
    return case.findings[-1]


def misfit(job: Job, one: Vehicle) -> bool:
    """Whether a job is for other cars only, read from the job's own words."""
    return any(
        allowed and has not in allowed
        for allowed, has in (
            (job.fuels, one.fuel),
            (job.transmissions, one.transmission),
            (job.drives, one.drive),
        )
    )


def test_a_symptom_becomes_a_finding_with_its_usual_causes() -> None:
    symptom = REFERENCE.symptoms["engine.no_boost"]
    found = last(services.finding_from_symptom(with_car(fuel=Fuel.DIESEL), symptom.id, REFERENCE))

    assert (found.label, found.area) == (symptom.label, symptom.area)
    assert (found.severity, found.symptom) == (symptom.severity, symptom.id)
    assert found.state is State.FAULTY
    assert [(one.id, one.chance) for one in found.causes] == [
        (one.cause, one.share) for one in symptom.causes
    ]


def test_the_shares_of_causes_that_a_gasoline_car_cannot_have_go_to_the_others() -> None:
    """By hand: .09 (vanes) and .05 (filter) are a diesel's; the hose's .29 becomes .29 x .94 / .8.

    Sooted vanes and a full particulate filter: the catalog mends them on diesels only.
    """
    diesel = last(
        services.finding_from_symptom(with_car(fuel=Fuel.DIESEL), "engine.no_boost", REFERENCE)
    )
    gasoline = last(
        services.finding_from_symptom(with_car(fuel=Fuel.GASOLINE), "engine.no_boost", REFERENCE)
    )
    gone = {"induction.vanes_sooted", "exhaust.filter_soot"}
    chance = {one.id: one.chance for one in gasoline.causes}

    assert {one.id for one in diesel.causes} - set(chance) == gone
    assert chance["induction.boost_hose"] == Decimal("0.3407")
    before = sum(one.chance for one in diesel.causes)
    assert 0 <= before - sum(chance.values()) < FLOOR * len(chance)


@pytest.mark.parametrize("fuel", Fuel)
def test_no_symptom_brings_a_job_that_the_car_cannot_have(fuel: Fuel) -> None:
    """Every symptom on every car of that fuel; shares are kept in sum, and in proportion."""
    for symptom in REFERENCE.symptoms.values():
        total = sum(one.share for one in symptom.causes)
        share = {one.cause: one.share for one in symptom.causes}
        for one in (two for two in CARS if two.fuel is fuel):
            causes = usual_causes(symptom.causes, one, REFERENCE)
            for cause in causes:
                for choice in cause.jobs:
                    assert not misfit(REFERENCE.jobs[choice.job].job, one), (symptom.id, choice)
            if causes:
                kept = sum(cause.chance for cause in causes)
                left = sum(share[cause.id] for cause in causes)
                assert 0 <= total - kept < FLOOR * len(causes)
                for cause in causes:
                    assert 0 <= share[cause.id] * total / left - cause.chance < FLOOR


def test_no_code_brings_a_job_that_the_car_cannot_have() -> None:
    for group, one in product(REFERENCE.code_groups.values(), CARS):
        for cause in usual_causes(group.causes, one, REFERENCE):
            for choice in cause.jobs:
                assert not misfit(REFERENCE.jobs[choice.job].job, one), (group.id, choice)


def test_every_symptom_offered_leaves_the_car_a_cause() -> None:
    """A finding without one would cost nothing in the estimate."""
    bare = {
        (symptom.id, one.fuel.value, one.transmission.value, one.drive.value)
        for one in CARS
        for symptom in services.symptoms_for(one, REFERENCE)
        if not usual_causes(symptom.causes, one, REFERENCE)
    }

    assert bare == set()


def test_symptoms_of_the_area_come_first_and_those_of_other_fuels_not_at_all() -> None:
    offered = services.symptoms_for(car(fuel=Fuel.GASOLINE), REFERENCE, Area.COOLING)
    areas = [one.area is Area.COOLING for one in offered]

    assert areas == sorted(areas, reverse=True)
    assert areas[0]
    assert "exhaust.filter_light" not in {one.id for one in offered}
    assert "exhaust.filter_light" in {
        one.id for one in services.symptoms_for(car(fuel=Fuel.DIESEL), REFERENCE)
    }


def test_an_unknown_symptom_is_refused_by_name() -> None:
    with pytest.raises(AppraiseError, match=r"engine\.sings: there is no such symptom"):
        services.finding_from_symptom(GASOLINE, "engine.sings", REFERENCE)


def test_a_symptom_noted_twice_gives_two_findings_with_names_of_their_own() -> None:
    once = services.finding_from_symptom(GASOLINE, "engine.no_boost", REFERENCE)
    twice = services.finding_from_symptom(once, "engine.no_boost", REFERENCE)

    assert len({one.id for one in twice.findings}) == len(GASOLINE.findings) + 2


def test_a_code_becomes_a_finding_with_its_meaning_and_causes() -> None:
    group = services.code_group("P0420", REFERENCE)
    assert group is not None
    found = last(services.finding_from_code(with_car(), "P0420", REFERENCE))

    assert found.label.startswith("P0420: catalyst")
    assert (found.codes, found.area) == (("P0420",), group.area)
    assert found.severity is SEVERITY_OF[group.urgency]
    assert sum(one.chance for one in found.causes) > Decimal("0.5")


@pytest.mark.parametrize(
    ("urgency", "severity"),
    [
        ("stop", Severity.DANGEROUS),
        ("high", Severity.MAJOR),
        ("medium", Severity.MAJOR),
        ("low", Severity.MINOR),
    ],
)
def test_how_urgent_a_code_is_becomes_how_grave_its_finding_is(
    urgency: str, severity: Severity
) -> None:
    group = next(one for one in REFERENCE.code_groups.values() if one.urgency == urgency)
    found = last(services.finding_from_code(with_car(), group.codes[0].code, REFERENCE))

    assert found.severity is severity


def test_a_code_that_goes_with_a_finding_joins_it() -> None:
    once = services.finding_from_code(with_car(), "P0301", REFERENCE)
    joined = services.finding_from_code(once, "P0302", REFERENCE)
    again = services.finding_from_code(joined, "P0302", REFERENCE)

    assert len(joined.findings) == 1
    assert last(joined).codes == ("P0301", "P0302")
    assert last(joined).causes == last(once).causes
    assert again == joined


def test_a_code_of_another_kind_makes_a_finding_of_its_own() -> None:
    case = services.finding_from_code(with_car(), "P0301", REFERENCE)

    assert len(services.finding_from_code(case, "P0420", REFERENCE).findings) == 2


@pytest.mark.parametrize(
    ("code", "area"),
    [("P1234", Area.ENGINE), ("U3FFF", Area.ELECTRICAL), ("B1000", Area.ELECTRICAL)],
)
def test_a_code_without_an_entry_is_a_suspicion_without_causes(code: str, area: Area) -> None:
    assert services.code_group(code, REFERENCE) is None
    found = last(services.finding_from_code(with_car(), code, REFERENCE))

    assert (found.state, found.causes, found.codes, found.area) == (
        State.SUSPECT,
        (),
        (code,),
        area,
    )


def test_a_code_without_an_entry_that_is_there_already_changes_nothing() -> None:
    once = services.finding_from_code(with_car(), "P1234", REFERENCE)

    assert services.finding_from_code(once, "P1234", REFERENCE) == once


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("P0302", ("P0302",)),
        ("p0302, P0171; u0100 P0302", ("P0302", "P0171", "U0100")),
        ("43 02 03 02 01 71", ("P0302", "P0171")),
        ("  43 01 04 20\n", ("P0420",)),
        ("", ()),
        (" \n", ()),
        ("43 00", ()),
    ],
)
def test_codes_are_read_as_typed_or_as_a_car_answers(text: str, codes: tuple[str, ...]) -> None:
    assert services.codes_in(text) == codes


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("P0G99", "'G' is not a digit"),
        ("43 02 03 0", "odd number of hex digits"),
        ("P0302 boost", "^BOOST is not a code; codes look like P0302$"),
        ("HELLO", "^HELLO is not a code; codes look like P0302$"),
        ("check engine", "^CHECK is not a code"),
        ("hello 43 02 03 02 01 71", "not a hex digit"),
        ("43 02 03 02", "holds 2 codes, and 1 are here"),
    ],
)
def test_what_is_no_code_is_refused_in_clear_words(text: str, words: str) -> None:
    with pytest.raises(AppraiseError, match=words):
        services.codes_in(text)


def results(case: Case) -> dict[str, str]:
    (found,) = (one for one in case.findings if one.id == "misfire")
    return {one.check: one.outcome for one in found.results}


LIGHT = EXAMPLES["auction-engine-light"]
FIRST, SECOND = (
    next(REFERENCE.checks[one.id] for one in found if one.id == name)
    for found in [services.diagnose_case(LIGHT, REFERENCE).findings[0].checks]
    for name in ("freeze_frame", "permanent_codes")
)


def test_a_result_is_entered_replaced_and_taken_back() -> None:
    day = date(2026, 6, 30)
    start = services.enter_result(LIGHT, "misfire", FIRST.id, FIRST.outcomes[0], REFERENCE, day)
    both = services.enter_result(start, "misfire", SECOND.id, SECOND.outcomes[0], REFERENCE)
    newer = services.enter_result(both, "misfire", FIRST.id, FIRST.outcomes[1], REFERENCE)

    assert results(both) == {FIRST.id: FIRST.outcomes[0], SECOND.id: SECOND.outcomes[0]}
    assert results(newer) == {FIRST.id: FIRST.outcomes[1], SECOND.id: SECOND.outcomes[0]}
    assert start.findings[0].results[0].done_on == day
    without = services.without_result(newer, "misfire", FIRST.id)
    assert results(without) == {SECOND.id: SECOND.outcomes[0]}
    assert services.without_result(without, "misfire", SECOND.id) == LIGHT


def test_taking_back_what_was_never_entered_changes_nothing() -> None:
    assert services.without_result(LIGHT, "misfire", FIRST.id) == LIGHT


@pytest.mark.parametrize(
    ("finding", "check", "outcome", "words"),
    [
        ("ghost", FIRST.id, FIRST.outcomes[0], "no finding 'ghost'"),
        ("misfire", "ball", "good", "no check 'ball'"),
        ("misfire", FIRST.id, "odd", "no outcome 'odd': it is one of"),
    ],
)
def test_an_unknown_finding_check_or_outcome_is_refused_by_name(
    finding: str, check: str, outcome: str, words: str
) -> None:
    with pytest.raises(BadCase, match=words):
        services.enter_result(LIGHT, finding, check, outcome, REFERENCE)


def test_taking_back_from_an_unknown_finding_is_refused_by_name() -> None:
    with pytest.raises(BadCase, match="no finding 'ghost'"):
        services.without_result(LIGHT, "ghost", FIRST.id)
