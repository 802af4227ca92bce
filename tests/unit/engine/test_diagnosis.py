"""What is wrong with the car and what to look at next: the result that all faces show."""

from __future__ import annotations

from decimal import Decimal

import pytest

from appraise import services
from appraise.models.case import Case
from appraise.models.diagnosis import Diagnosis
from appraise.reference.load import Reference


@pytest.fixture(scope="module")
def hot() -> Case:
    """Return the car whose signs the head gasket explains."""
    return services.load_case_file("premium-overheats")


@pytest.fixture(scope="module")
def found(hot: Case, reference: Reference) -> Diagnosis:
    return services.diagnose_case(hot, reference)


def test_the_likeliest_fault_comes_first_with_what_speaks_for_it(found: Diagnosis) -> None:
    chances = [one.chance for one in found.faults]
    assert chances == sorted(chances, reverse=True)
    first = found.faults[0]
    assert first.id == "cooling.head_gasket"
    assert first.chance > Decimal("0.9")
    assert len(first.speaks_for) == 4
    assert first.settled_by
    assert Decimal(0) < first.cost.p10 < first.cost.p50 < first.cost.p90


def test_what_explains_several_signs_leaves_others_nothing_to_explain(found: Diagnosis) -> None:
    (words,) = found.explained
    assert words.startswith("Cylinder head gasket blown, or head cracked: explains 4 of the signs.")
    assert "No longer needed to explain them:" in words
    assert found.single_fault > Decimal("0.6")
    assert found.something_else < Decimal("0.1")


def test_a_persons_own_causes_stand_beside_the_programs_faults(hot: Case, found: Diagnosis) -> None:
    own = next(one for one in hot.findings if one.id == "air-strut")
    listed = {one.id: one for one in found.faults}
    for cause in own.causes:
        assert listed[cause.id].chance == pytest.approx(
            cause.chance * own.chance, abs=Decimal("0.0001")
        )
        assert listed[cause.id].speaks_for == (f"{own.label} (your own cause)",)


def test_a_car_kept_worse_is_expected_to_hide_more(found: Diagnosis) -> None:
    assert found.care.p10 < found.care.mean < found.care.p90
    assert found.care.mean > 1
    assert f"{found.care.mean:.1f} times as much" in found.care.words


def test_finding_the_faults_is_in_the_repair(
    hot: Case, found: Diagnosis, reference: Reference
) -> None:
    repair = services.appraise_case(hot, reference).repair
    assert (repair.search_money, repair.search_minutes) == (
        found.search.money,
        found.search.minutes,
    )
    assert found.search.minutes > 0
    assert {one.by for one in found.search.steps} <= {"check", "repair"}


def test_a_result_is_not_offered_again_and_moves_the_odds(reference: Reference) -> None:
    case = services.load_case_file("auction-engine-light")
    before = services.diagnose_case(case, reference)
    check = reference.checks["coil_swap"]
    moved = services.enter_result(case, check.id, "moves with the coil", reference)
    after = services.diagnose_case(moved, reference)

    def coil(one: Diagnosis) -> Decimal:
        return next(fault.chance for fault in one.faults if fault.id == "ignition.coil")

    assert coil(after) > coil(before)
    assert [one.check for one in after.done] == [check.id]
    assert check.id not in [one.check for one in after.next]


def test_what_is_offered_keeps_to_the_minutes_and_tools(hot: Case, reference: Reference) -> None:
    found = services.diagnose_case(hot, reference, 3, ["scan_tool"], drive=False)
    assert found.next
    assert all(one.minutes <= 3 for one in found.next)
    assert all(set(one.tools) <= {"scan_tool"} for one in found.next)
    assert not any(one.needs in ("driven", "raised", "workshop") for one in found.next)


def test_the_outcomes_of_a_look_have_chances_that_sum_to_one(reference: Reference) -> None:
    found = services.diagnose_case(services.load_case_file("dusk-curbside"), reference)
    assert found.next[0].net > 0
    for one in found.next:
        assert sum(view.chance for view in one.outcomes) == pytest.approx(1, abs=Decimal("0.001"))
        assert 0 <= one.worth <= max(found.most, one.worth)
