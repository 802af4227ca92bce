"""Symptoms and trouble codes become findings that this very car can have; results go in and out."""

from __future__ import annotations

from datetime import date
from itertools import product

import pytest

from appraise import services
from appraise.errors import AppraiseError, BadCase
from appraise.models.case import Case
from appraise.models.findings import Area, Finding, Severity, State
from appraise.models.vehicle import DriveWheels, Fuel, Transmission, Vehicle
from appraise.reference.signs import possible_jobs
from appraise.reports.cautions import cautions_ahead
from appraise.services.inspection.diagnosing import SEVERITY_OF

REFERENCE = services.reference_values()
EXAMPLES = {case.id: case for case in services.example_cases()}
GASOLINE = EXAMPLES["dusk-curbside"]
LIGHT = EXAMPLES["auction-engine-light"]


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


def test_a_symptom_becomes_a_finding_that_leaves_its_faults_to_be_worked_out() -> None:
    symptom = REFERENCE.symptoms["engine.no_boost"]
    found = last(services.finding_from_symptom(with_car(fuel=Fuel.DIESEL), symptom.id, REFERENCE))

    assert (found.label, found.area) == (symptom.label, symptom.area)
    assert (found.severity, found.symptom) == (symptom.severity, symptom.id)
    assert found.state is State.FAULTY
    assert (found.causes, found.jobs) == ((), ())


def test_what_may_be_behind_a_symptom_leaves_out_what_the_car_cannot_have() -> None:
    """Sooted vanes and a full particulate filter: the catalog repairs them on diesels only."""
    possible = {}
    for fuel in (Fuel.DIESEL, Fuel.GASOLINE):
        case = services.finding_from_symptom(with_car(fuel=fuel), "engine.no_boost", REFERENCE)
        possible[fuel] = services.possible_causes(last(case), case.vehicle, REFERENCE)

    gone = set(possible[Fuel.DIESEL]) - set(possible[Fuel.GASOLINE])
    assert gone == {"induction.vanes_sooted"} | {
        f"exhaust.filter_{one}" for one in ("soot", "ash", "broken")
    }
    assert possible[Fuel.GASOLINE]["induction.boost_hose"]


def test_a_persons_own_causes_are_all_that_may_be_behind_their_finding() -> None:
    truck = services.load_case_file("farm-truck-owned")
    (found,) = (one for one in truck.findings if one.id == "axle-whine")

    assert services.possible_causes(found, truck.vehicle, REFERENCE) == {
        one.id: one.label for one in found.causes
    }


def test_every_symptom_offered_leaves_the_car_a_cause() -> None:
    """A finding without one would cost nothing in the estimate."""
    bare = {
        (symptom.id, one.fuel.value, one.transmission.value, one.drive.value)
        for one in CARS
        for symptom in services.symptoms_for(one, REFERENCE)
        if not any(REFERENCE.causes[each.cause].allows(one) for each in symptom.causes)
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


def test_a_code_becomes_a_finding_with_its_meaning() -> None:
    group = REFERENCE.group_of_code.get("P0420")
    assert group is not None
    found = last(services.finding_from_code(with_car(), "P0420", REFERENCE))

    assert found.label.startswith("P0420: catalyst")
    assert (found.codes, found.area) == (("P0420",), group.area)
    assert found.severity is SEVERITY_OF[group.urgency]
    assert found.causes == ()
    assert services.possible_causes(found, GASOLINE.vehicle, REFERENCE)


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
    assert again == joined


def test_a_code_of_another_kind_makes_a_finding_of_its_own() -> None:
    case = services.finding_from_code(with_car(), "P0301", REFERENCE)

    assert len(services.finding_from_code(case, "P0420", REFERENCE).findings) == 2


@pytest.mark.parametrize(
    ("code", "area"),
    [("P1234", Area.ENGINE), ("U3FFF", Area.ELECTRICAL), ("B1000", Area.ELECTRICAL)],
)
def test_a_code_without_an_entry_is_a_suspicion_without_causes(code: str, area: Area) -> None:
    assert REFERENCE.group_of_code.get(code) is None
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
    return {one.check: one.outcome for one in case.results}


FIRST, SECOND = REFERENCE.checks["freeze_frame"], REFERENCE.checks["permanent_codes"]


def test_a_result_is_entered_replaced_and_taken_back() -> None:
    day = date(2026, 6, 30)
    start = services.enter_result(LIGHT, FIRST.id, FIRST.outcomes[0], REFERENCE, day)
    both = services.enter_result(start, SECOND.id, SECOND.outcomes[0], REFERENCE)
    newer = services.enter_result(both, FIRST.id, FIRST.outcomes[1], REFERENCE)

    assert results(both) == {FIRST.id: FIRST.outcomes[0], SECOND.id: SECOND.outcomes[0]}
    assert results(newer) == {FIRST.id: FIRST.outcomes[1], SECOND.id: SECOND.outcomes[0]}
    assert start.results[0].done_on == day
    without = services.without_result(newer, FIRST.id)
    assert results(without) == {SECOND.id: SECOND.outcomes[0]}
    assert services.without_result(without, SECOND.id) == LIGHT


def test_taking_back_what_was_never_entered_changes_nothing() -> None:
    assert services.without_result(LIGHT, FIRST.id) == LIGHT
    assert services.without_absent(LIGHT, "cooling.runs_hot") == LIGHT


@pytest.mark.parametrize(
    ("check", "outcome", "words"),
    [
        ("ball", "good", "no check 'ball'"),
        (FIRST.id, "odd", "no outcome 'odd': it is one of"),
    ],
)
def test_an_unknown_check_or_outcome_is_refused_by_name(
    check: str, outcome: str, words: str
) -> None:
    with pytest.raises(BadCase, match=words):
        services.enter_result(LIGHT, check, outcome, REFERENCE)


def test_a_symptom_that_is_not_there_is_kept_once_and_taken_back() -> None:
    once = services.enter_absent(LIGHT, "cooling.runs_hot", REFERENCE)

    assert once.not_seen == ("cooling.runs_hot",)
    assert services.enter_absent(once, "cooling.runs_hot", REFERENCE) == once
    assert services.without_absent(once, "cooling.runs_hot") == LIGHT
    with pytest.raises(AppraiseError, match="there is no such symptom"):
        services.enter_absent(LIGHT, "engine.sings", REFERENCE)


@pytest.mark.parametrize("minutes", [0, -5, float("nan"), float("inf")])
def test_minutes_that_cannot_be_are_refused(minutes: float) -> None:
    with pytest.raises(AppraiseError, match="minutes: has to be above 0"):
        services.diagnose_case(LIGHT, REFERENCE, minutes)


def test_the_estimate_names_the_likeliest_faults_behind_a_finding() -> None:
    case = services.finding_from_symptom(with_car(), "cooling.runs_hot", REFERENCE)
    (cost,) = services.appraise_case(case, REFERENCE).repair.by_finding
    found = services.diagnose_case(case, REFERENCE)

    assert [(one.label, one.chance) for one in cost.behind] == [
        (one.label, one.chance) for one in found.faults[:3]
    ]


def test_nobody_is_asked_what_repairs_a_finding_that_names_a_symptom() -> None:
    case = services.finding_from_symptom(GASOLINE, "cooling.runs_hot", REFERENCE)
    words = last(case).model_copy(update={"symptom": None})
    plain = case.model_copy(update={"findings": (words,)})

    assert services.next_step(plain) == f"Say what repairs: {words.label}"
    assert not services.next_step(case).startswith("Say what repairs")


def test_the_cautions_ahead_are_those_of_the_jobs_that_a_symptom_may_need() -> None:
    case = services.finding_from_symptom(with_car(), "cooling.runs_hot", REFERENCE)
    names = possible_jobs(last(case), case.vehicle, REFERENCE)

    usual = {
        job
        for cause in services.possible_causes(last(case), case.vehicle, REFERENCE)
        for job in REFERENCE.causes[cause].usual_jobs
    }
    assert usual
    assert set(names) == usual
    assert set(REFERENCE.jobs[names[0]].job.cautions) <= set(cautions_ahead(case, REFERENCE))
