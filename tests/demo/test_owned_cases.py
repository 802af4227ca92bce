"""The cars that ship as owned: what was expected is the program's own, the rest as it is told."""

from __future__ import annotations

import pytest

from appraise import services
from appraise.models.case import Case, Standing
from appraise.models.findings import State
from appraise.models.work import Stage
from appraise.services.ownership.deciding import choose_case
from appraise.services.ownership.owning import buy, itemize_case
from appraise.services.ownership.proving import proof_of
from appraise.services.ownership.shopping import cores_to_return, part_rows

REFERENCE = services.reference_values()
OWNED = {case.id: case for case in services.example_cases() if case.standing is Standing.OWNED}
TRUCK = OWNED["farm-truck-owned"]
HALF = OWNED["wagon-half-repaired"]


@pytest.mark.parametrize("case", OWNED.values(), ids=OWNED)
def test_bought_again_on_its_day_the_same_is_expected_of_it(case: Case) -> None:
    """Without what was found and learned since: to the cent what stands in the file.

    Where the catalog or the method changes, the file is made anew in the same step.
    """
    purchase = case.purchase
    assert purchase is not None
    assert purchase.expected is not None
    known = {one.id for one in purchase.expected.findings}
    raw = case.model_dump() | {"appraised_on": purchase.bought_on, "work": {}, "purchase": None}
    raw["standing"] = Standing.PROSPECT
    raw["findings"] = [
        one | {"truth": None}
        for one in raw["findings"]
        if one["id"] in known or one["state"] in (State.FINE, State.NOT_LOOKED_AT)
    ]
    again = buy(Case.model_validate(raw), purchase.bid, purchase.bought_on, REFERENCE)

    assert again.purchase is not None
    assert again.purchase.expected == purchase.expected


@pytest.mark.parametrize("case", OWNED.values(), ids=OWNED)
def test_its_days_lie_between_the_purchase_and_the_day_it_is_told_for(case: Case) -> None:
    assert case.purchase is not None
    days = [entry.on for entry in case.work.entries]
    for job in case.work.jobs:
        days += [day for day in (job.started_on, job.done_on) if day]
        days += [day for part in job.parts for day in (part.ordered_on, part.arrived_on) if day]

    assert case.purchase.bought_on < min(days)
    assert max(days) <= case.appraised_on


def test_the_truck_has_orders_a_measured_mend_a_settled_fault_and_a_mistake_put_right() -> None:
    done = [job for job in TRUCK.work.jobs if job.stage is Stage.DONE]
    states = {one.state for one in part_rows(TRUCK, REFERENCE, TRUCK.appraised_on)}

    assert states == {"to order", "ordered", "late", "here"}
    assert [proof_of(job, TRUCK, REFERENCE).result for job in done] == ["passes"]
    assert done[0].proof.measurements
    assert (itemize_case(TRUCK, REFERENCE).new, len(cores_to_return(TRUCK, REFERENCE))) == (1, 0)
    assert any(entry.corrects for entry in TRUCK.work.entries)


def test_the_estate_has_every_way_open_and_its_bypass_is_neither_restored_nor_told() -> None:
    kinds = [one.kind for one in choose_case(HALF, REFERENCE, HALF.appraised_on).options]
    found = itemize_case(HALF, REFERENCE)

    assert sorted(kinds) == [
        "all repairs",
        "as is",
        "best",
        "keep",
        "part out",
        "what must be done",
    ]
    assert (found.came_true, found.came_to_nothing, found.new) == (2, 1, 1)
    assert [one.left for one in cores_to_return(HALF, REFERENCE)] == [55]
    assert [one.id for one in HALF.work.open_bypasses] == ["bypass-radiator-fan-control"]
    assert HALF.work.disclosed == ()
