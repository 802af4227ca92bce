"""From faults to jobs on the example cars: planned, shared, proved, bought for, dropped."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from appraise import services
from appraise.errors import AppraiseError, BadCase
from appraise.models.case import Case, Standing
from appraise.models.work import Purpose, Stage
from appraise.reference.load import Reference, load_reference
from appraise.services.ownership.bookkeeping import add_entry, still_standing, take_back, totals
from appraise.services.ownership.deciding import choose_case, day_plan_of, forecast_case
from appraise.services.ownership.owning import buy, settle
from appraise.services.ownership.proving import (
    finish_job,
    measure_job,
    proof_of,
    reopen_job,
    unproved,
)
from appraise.services.ownership.sharing import while_in_there
from appraise.services.ownership.shopping import cores_to_return, part_rows
from appraise.services.ownership.working import (
    add_job,
    add_upgrade,
    drop_job,
    job_of,
    plan_from_findings,
    put_job,
    start_bypass,
    without_job,
)

ON = date(2026, 11, 25)


@pytest.fixture(scope="module")
def reference() -> Reference:
    return load_reference()


@pytest.fixture(scope="module")
def car(reference: Reference) -> Case:
    """Return the example with a misfire, bought, its two tires and bumper certain."""
    return buy(
        services.load_case_file("auction-engine-light"),
        Decimal(1700),
        date(2026, 11, 20),
        reference,
    )


@pytest.fixture(scope="module")
def planned(car: Case, reference: Reference) -> Case:
    known = settle(car, "misfire", ON, fault=True, cause="ignition.coil")
    return plan_from_findings(known, reference).case


def refused(make: Any) -> str:
    with pytest.raises(AppraiseError) as wrong:
        make()
    return str(wrong.value)


# --- the purchase ---------------------------------------------------------------------------------


def test_buying_keeps_what_was_expected_that_day(car: Case, reference: Reference) -> None:
    prospect = services.load_case_file("auction-engine-light")
    estimate = services.appraise_case(prospect, reference)
    assert car.purchase is not None
    expected = car.purchase.expected
    assert expected is not None

    assert car.standing is Standing.OWNED
    assert expected.money == estimate.repair.money
    assert expected.resale == estimate.resale.mended
    assert [one.id for one in expected.findings] == [one.id for one in estimate.repair.by_finding]


def test_a_car_without_a_price_can_be_bought_too(reference: Reference) -> None:
    bare = services.changed(
        services.load_case_file("auction-engine-light"), ("market", "comparables"), []
    )
    bought = buy(bare, Decimal(1700), ON, reference)

    assert bought.purchase is not None
    assert bought.purchase.expected is None


def test_a_finding_is_settled_only_with_a_cause_of_its_own(car: Case) -> None:
    truck = services.load_case_file("farm-truck-owned")
    assert "which of its causes" in refused(
        lambda: settle(truck, "axle-whine", ON, fault=True, cause="brakes.worn")
    )
    assert "no finding 'nowhere'" in refused(lambda: settle(car, "nowhere", ON, fault=False))


# --- the plan -------------------------------------------------------------------------------------


def test_only_faults_whose_cause_is_known_get_a_job(car: Case, reference: Reference) -> None:
    found = plan_from_findings(car, reference)

    assert "misfire" in found.unclear
    assert {one.job for one in found.case.work.jobs} == {
        "tires_and_wheels.two_tires",
        "body_and_paint.bumper_painted",
    }


def test_a_settled_fault_gets_its_causes_job_and_what_follows(planned: Case) -> None:
    coil = next(one for one in planned.work.jobs if one.job == "ignition.coil_one")
    cleared = next(
        one for one in planned.work.jobs if one.job == "engine_management.relearn_and_clear"
    )

    assert coil.findings == ("misfire",)
    assert cleared.after == (coil.id,)
    assert coil.must, "an engine light that flashes is a major finding"
    assert [part.label for part in coil.parts] == ["ignition coil"]


def test_planning_twice_plans_nothing_twice(planned: Case, reference: Reference) -> None:
    again = plan_from_findings(planned, reference)

    assert again.added == ()
    assert again.case == planned


def test_a_fault_that_came_to_nothing_gets_no_job(car: Case, reference: Reference) -> None:
    found = plan_from_findings(settle(car, "misfire", ON, fault=False), reference)

    assert "misfire" not in found.unclear
    assert not [one for one in found.case.work.jobs if "misfire" in one.findings]


def test_two_jobs_that_ask_for_the_same_follower_get_it_once_after_both(
    car: Case, reference: Reference
) -> None:
    """Common practice: work on an arm is followed by an alignment (no published source)."""
    new = add_job(car, "suspension.front_lower_arm", reference)
    new = add_job(new, "steering.outer_tie_rod", reference)
    (alignment,) = [one for one in new.work.jobs if one.job == "suspension.wheel_alignment"]

    assert len(alignment.after) == 2


def test_upgrades_are_kept_apart(car: Case, reference: Reference) -> None:
    new = add_upgrade(car, "brakes.front_pads", Purpose.PREVENTIVE, reference)

    assert new.work.jobs[-1].purpose is Purpose.PREVENTIVE


def test_an_unknown_job_is_refused(car: Case, reference: Reference) -> None:
    assert "there is no job 'brakes.unheard'" in refused(
        lambda: add_job(car, "brakes.unheard", reference)
    )


def test_a_ring_is_refused_and_nothing_changes(planned: Case) -> None:
    coil = next(one for one in planned.work.jobs if one.job == "ignition.coil_one")
    follower = next(one for one in planned.work.jobs if coil.id in one.after)
    waits = coil.model_copy(update={"after": (follower.id,)})

    assert "in a ring" in refused(lambda: put_job(planned, waits))
    assert job_of(planned, coil.id).after == ()


def test_a_job_with_receipts_is_dropped_and_not_taken_out(planned: Case) -> None:
    name = planned.work.jobs[0].id
    spent = add_entry(planned, {"kind": "part", "on": ON, "amount": "44.10", "job": name})

    said = refused(lambda: without_job(spent, name))
    assert "44.10 USD" in said
    assert "Drop it instead" in said
    assert job_of(drop_job(spent, name), name).stage is Stage.DROPPED
    assert drop_job(spent, name).work.entries == spent.work.entries


def test_a_job_taken_out_is_waited_for_by_nobody(planned: Case) -> None:
    coil = next(one for one in planned.work.jobs if one.job == "ignition.coil_one")
    left = without_job(planned, coil.id)

    assert not [one for one in left.work.jobs if coil.id in one.after]


def test_while_in_there_saves_the_access_and_no_more(car: Case, reference: Reference) -> None:
    """A water pump behind the timing drive: the cover is off anyway."""
    rated = services.changed(car, ("deal", "own_rate"), 30)
    new = add_job(rated, "engine_mechanical.timing_belt_set", reference)
    offers = while_in_there(new, reference)

    assert offers
    for one in offers:
        assert one.saved == pytest.approx(one.saved_hours * 30)
        assert one.saved_hours > 0
        access = reference.jobs[one.job].job.access
        assert access
        assert not [two for two in new.work.jobs if two.job == one.job]


def test_what_a_planned_job_renews_anyway_is_not_offered(car: Case, reference: Reference) -> None:
    names = [name for name in reference.jobs if "belt" in name and "accessory" in name]
    whole = max(names, key=lambda name: len(reference.jobs[name].job.parts))
    offers = while_in_there(add_job(car, whole, reference), reference)

    renewed = {part.label for part in reference.jobs[whole].job.parts}
    for one in offers:
        parts = {part.label for part in reference.jobs[one.job].job.parts}
        assert not parts or not parts <= renewed


def test_without_anything_apart_there_is_nothing_to_do_in_there(
    car: Case, reference: Reference
) -> None:
    assert while_in_there(car, reference) == ()


# --- books ----------------------------------------------------------------------------------------


def test_totals_are_the_sums_of_the_lines_by_kind(planned: Case) -> None:
    name = planned.work.jobs[0].id
    new = add_entry(planned, {"kind": "part", "on": ON, "amount": "40.05", "job": name})
    new = add_entry(new, {"kind": "part", "on": ON, "amount": "4.95"})
    new = add_entry(new, {"kind": "refund", "on": ON, "amount": "0.05", "job": name})
    new = add_entry(new, {"kind": "hours", "on": ON, "hours": "1.5", "job": name})
    found = totals(new)

    assert found["part"] == Decimal("45.00")
    assert found["refund"] == Decimal("-0.05")
    assert found["hours"] == Decimal("1.5")
    assert len({one.id for one in new.work.entries}) == 4


def test_a_wrong_entry_stays_and_a_new_one_takes_it_back(planned: Case) -> None:
    new = add_entry(planned, {"kind": "part", "on": ON, "amount": "410"})
    wrong = new.work.entries[0]
    back = take_back(new, wrong.id, ON, "a slip of the finger")

    assert back.work.entries[0] == wrong
    assert totals(back)["part"] == 0
    assert still_standing(back) == ()
    assert "already" in refused(lambda: take_back(back, wrong.id, ON))


def test_hours_are_taken_back_on_the_day_they_were_not_worked(planned: Case) -> None:
    new = add_entry(planned, {"kind": "hours", "on": date(2026, 11, 21), "hours": 20})
    back = take_back(new, new.work.entries[0].id, ON)
    again = add_entry(back, {"kind": "hours", "on": date(2026, 11, 21), "hours": 20})

    assert totals(again)["hours"] == 20


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ({"kind": "refund", "amount": 1}, "more than was paid"),
        ({"kind": "hours", "hours": 25}, "24"),
        ({"kind": "part", "amount": 5, "currency": "EUR"}, "is in EUR"),
        ({"kind": "part", "amount": -5}, "amount"),
        ({"kind": "part", "amount": 5, "job": "unheard"}, "unheard"),
    ],
)
def test_an_entry_that_cannot_be_is_refused_and_nothing_changes(
    planned: Case, entry: dict[str, Any], words: str
) -> None:
    assert words in refused(lambda: add_entry(planned, {"on": ON} | entry))
    assert planned.work.entries == ()


# --- proof ----------------------------------------------------------------------------------------


def test_no_proof_no_done(planned: Case, reference: Reference) -> None:
    name = planned.work.jobs[0].id

    assert "not done without a test" in refused(lambda: finish_job(planned, name, ON, reference))
    done = finish_job(planned, name, ON, reference, why_none="runs on four, nothing to measure")
    assert job_of(done, name).stage is Stage.DONE
    assert job_of(reopen_job(done, name), name).done_on is None


@pytest.mark.parametrize(("typed", "result"), [("7/32 in", "passes"), ("1/32 in", "fails")])
def test_a_measurement_decides(
    planned: Case, reference: Reference, typed: str, result: str
) -> None:
    """49 CFR 570.9(a): tread under 2/32 in fails."""
    tires = next(one for one in planned.work.jobs if "tires" in one.job).id
    measured = measure_job(planned, tires, "us_570.tire_tread", typed, reference, place="front")
    found = proof_of(job_of(measured, tires), measured, reference)

    assert found.result == result
    if result == "passes":
        assert not finish_job(measured, tires, ON, reference).work.job(tires).open  # type: ignore[union-attr]
    else:
        assert "the test fails" in refused(lambda: finish_job(measured, tires, ON, reference))


def test_a_reason_does_not_outweigh_a_proof_that_fails(planned: Case, reference: Reference) -> None:
    tires = next(one for one in planned.work.jobs if "tires" in one.job).id
    measured = measure_job(planned, tires, "us_570.tire_tread", "1/32 in", reference)

    said = refused(lambda: finish_job(measured, tires, ON, reference, why_none="looks fine"))
    assert "fails" in said


def test_a_cleared_code_is_no_mend(planned: Case, reference: Reference) -> None:
    """The monitor has to have run since the clear, and no code may be left."""
    coil = next(one for one in planned.work.jobs if one.job == "ignition.coil_one")
    code = {"codes": ["P0301"], "at_clear": "43 00", "answers": "43 00"}
    proof = {"code": code}
    raw = put_job(planned, type(coil).model_validate(coil.model_dump() | {"proof": proof}))
    found = proof_of(job_of(raw, coil.id), raw, reference)

    assert not found.enough
    assert "not done" in refused(lambda: finish_job(raw, coil.id, ON, reference))


def test_answers_that_cannot_be_read_leave_it_open(planned: Case, reference: Reference) -> None:
    coil = next(one for one in planned.work.jobs if one.job == "ignition.coil_one")
    code = {"codes": ["P0301"], "answers": "no answer at all"}
    job = type(coil).model_validate(coil.model_dump() | {"proof": {"code": code}})

    assert proof_of(job, planned, reference).result == "cannot tell"


def test_a_reading_that_cannot_be_is_refused(planned: Case, reference: Reference) -> None:
    name = planned.work.jobs[0].id

    said = refused(
        lambda: measure_job(planned, name, "us_570.tire_tread", "50000000 mm", reference)
    )
    assert "must be 10,000,000 or less" in said


@pytest.mark.parametrize(("after", "result"), [("16.9", "passes"), ("9.0", "fails")])
def test_a_logged_pull_is_held_against_its_target(
    planned: Case, reference: Reference, after: str, result: str
) -> None:
    job = planned.work.jobs[0]
    pull = {"quantity": "Boost", "unit": "psi", "before": 9, "after": after, "low": 15, "high": 18}
    with_pull = type(job).model_validate(job.model_dump() | {"proof": {"pull": pull}})

    assert proof_of(with_pull, planned, reference).result == result


def test_a_bypass_is_a_job_of_its_own_until_it_is_restored(
    planned: Case, reference: Reference
) -> None:
    new = start_bypass(planned, "Fan relay", "drive home", "fit the relay", ON, reference)
    (told,) = unproved(new, reference)
    assert "Fan relay bypassed since 2026-11-25" in told.message
    assert "42 U.S.C. 7522(a)(3)" in told.hint
    name = new.work.open_bypasses[0].id

    said = refused(lambda: services.changed(new, ("standing",), "on_sale"))
    assert "is bypassed and not disclosed" in said
    done = finish_job(new, name, ON, reference, why_none="fan runs by itself")
    assert done.work.open_bypasses == ()
    assert services.changed(done, ("standing",), "on_sale").standing is Standing.ON_SALE
    assert reopen_job(done, name).work.open_bypasses
    assert "still bypassed" in refused(lambda: drop_job(new, name))
    assert without_job(new, name).work.jobs == planned.work.jobs


def test_a_job_called_done_whose_proof_no_longer_passes_is_told(
    planned: Case, reference: Reference
) -> None:
    tires = next(one for one in planned.work.jobs if "tires" in one.job)
    proof = {"measurements": [{"id": "m", "limit": "us_570.tire_tread", "value": 1, "unit": "mm"}]}
    done = {"stage": "done", "done_on": ON, "proof": proof}
    broken = put_job(planned, type(tires).model_validate(tires.model_dump() | done))

    assert any("the test fails" in one.message for one in unproved(broken, reference))


# --- parts ----------------------------------------------------------------------------------------


def test_parts_have_the_catalogs_price_until_one_is_known(
    planned: Case, reference: Reference
) -> None:
    coil = next(one for one in planned.work.jobs if one.job == "ignition.coil_one")
    (row,) = [one for one in part_rows(planned, reference, ON) if one.job == coil.id]
    assert row.expected
    assert row.state == "to order"

    part = coil.parts[0].model_copy(
        update={"price": Decimal("38.50"), "ordered_on": date(2026, 11, 20), "delivery_days": 3}
    )
    priced = put_job(planned, coil.model_copy(update={"parts": (part,)}))
    (row,) = [one for one in part_rows(priced, reference, ON) if one.job == coil.id]
    assert (row.each, row.total, row.expected) == (Decimal("38.50"), Decimal("38.50"), False)
    assert (row.state, row.due) == ("late", date(2026, 11, 23))


def test_bought_in_work_is_no_part(planned: Case, reference: Reference) -> None:
    bumper = next(one for one in planned.work.jobs if "bumper" in one.job).id

    assert not [one for one in part_rows(planned, reference, ON) if one.job == bumper]


def test_cores_stand_on_the_list_until_the_whole_deposit_is_back(
    planned: Case, reference: Reference
) -> None:
    name = planned.work.jobs[0].id
    new = add_entry(planned, {"kind": "core_deposit", "on": ON, "amount": 60, "job": name})
    part = add_entry(new, {"kind": "core_returned", "on": ON, "amount": 20, "job": name})
    whole = add_entry(part, {"kind": "core_returned", "on": ON, "amount": 40, "job": name})

    assert [one.left for one in cores_to_return(new, reference)] == [60]
    assert [(one.paid, one.back, one.left) for one in cores_to_return(part, reference)] == [
        (60, 20, 40)
    ]
    assert cores_to_return(whole, reference) == ()


# --- deciding -------------------------------------------------------------------------------------


def test_a_prospect_has_neither_forecast_nor_choice(reference: Reference) -> None:
    prospect = services.load_case_file("auction-engine-light")

    for ask in (forecast_case, choose_case):
        with pytest.raises(BadCase, match="not bought yet"):
            ask(prospect, reference, ON)


def test_the_day_plan_names_jobs_and_teardown(planned: Case, reference: Reference) -> None:
    found = day_plan_of(planned, reference, ON)

    assert set(found.plan.order) == {one.id for one in planned.work.jobs}
    assert set(found.jobs) == set(found.plan.order)
    assert found.plan.finish is not None
