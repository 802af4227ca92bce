"""Budget, actual, forecast: sums that have to agree, and what finished jobs teach."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from appraise.engine import appraise
from appraise.engine.work.forecast import forecast
from appraise.models.case import Case
from appraise.models.forecast import Forecast
from appraise.reference.load import Reference

ON = date(2026, 7, 1)
BOUGHT = {"bid": 2000, "bought_on": "2026-06-01"}
PROVED = {"stage": "done", "done_on": "2026-06-20", "proof": {"why_none": "looked at"}}


@pytest.fixture
def run(
    case_of: Callable[..., Case],
    job: Callable[..., dict[str, Any]],
    finding: Callable[..., dict[str, Any]],
    reference: Reference,
) -> Callable[..., Forecast]:
    def make(*jobs: dict[str, Any], entries: Any = (), **more: Any) -> Forecast:
        own = [
            job("a", (1, 2, 4), [(60, 100, 180)]),
            job("b", (1, 2, 4), [(60, 100, 180)]),
            job("c", (1, 2, 4), [(60, 100, 180)]),
        ]
        case = case_of(
            [finding("f", "a"), finding("g", "b"), finding("h", "c")],
            own,
            standing="owned",
            purchase=BOUGHT,
            work={
                "jobs": list(jobs),
                "entries": [
                    {"id": f"e{at}", "on": "2026-06-20"} | one for at, one in enumerate(entries)
                ],
            },
            **more,
        )
        return forecast(case, reference, ON)

    return make


def planned(name: str, job: str, finding: str, **more: Any) -> dict[str, Any]:
    return {"id": name, "job": job, "findings": [finding]} | more


def paid(amount: Any, job: str | None = "one", kind: str = "part") -> dict[str, Any]:
    return {"kind": kind, "amount": amount, "job": job}


def worked(hours: Any, job: str | None = "one") -> dict[str, Any]:
    return {"kind": "hours", "hours": hours, "job": job}


def test_without_a_plan_the_end_is_the_estimate(
    run: Callable[..., Forecast],
    case_of: Callable[..., Case],
    job: Callable[..., dict[str, Any]],
    finding: Callable[..., dict[str, Any]],
    reference: Reference,
) -> None:
    own = [job(name, (1, 2, 4), [(60, 100, 180)]) for name in "abc"]
    found = [finding("f", "a"), finding("g", "b"), finding("h", "c")]
    estimate = appraise(case_of(found, own), reference).repair

    assert run().at_end == estimate.money
    assert run().hours_at_end == estimate.own_hours
    assert run().without_jobs == estimate.found


def test_planning_what_shares_nothing_changes_no_total(run: Callable[..., Forecast]) -> None:
    before = run()
    after = run(planned("one", "a", "f"), planned("two", "b", "g"))

    assert after.at_end.mean == pytest.approx(before.at_end.mean, abs=Decimal("0.02"))
    assert after.at_end.p90 == pytest.approx(before.at_end.p90, abs=Decimal("0.02"))
    assert after.without_jobs.p50 == pytest.approx(Decimal(100), rel=Decimal("0.02"))
    assert after.budget_from == "the plan"


def test_a_done_job_costs_what_was_paid_and_nothing_more(run: Callable[..., Forecast]) -> None:
    found = run(planned("one", "a", "f", **PROVED), entries=[paid("133.10"), worked("2.5")])
    (one,) = found.jobs

    assert one.to_come.mean == one.hours_to_come.mean == 0
    assert (one.paid, one.worked) == (Decimal("133.10"), Decimal("2.5"))
    assert found.paid == Decimal("133.10")
    assert found.at_end.mean == pytest.approx(found.paid + found.to_come.mean, abs=Decimal("0.01"))
    assert found.at_end.p90 == pytest.approx(found.paid + found.to_come.p90, abs=Decimal("0.01"))


def test_dear_jobs_teach_that_the_rest_will_be_dear(run: Callable[..., Forecast]) -> None:
    """100 likely, 200 paid: the factor lies between 1 and 2, and moves the rest by just that."""
    even = run(planned("one", "a", "f", **PROVED), entries=[paid(100), worked(2)])
    dear = run(planned("one", "a", "f", **PROVED), entries=[paid(200), worked(2)])
    factors = {one.of: one for one in dear.learned}

    assert 1 < factors["money"].factor < 2
    assert factors["money"].jobs == 1
    assert factors["money"].low < factors["money"].factor < factors["money"].high
    was = {one.of: one for one in even.learned}["money"].factor
    assert dear.without_jobs.mean / even.without_jobs.mean == pytest.approx(
        factors["money"].factor / was, rel=Decimal("0.001")
    )
    assert dear.hours_to_come == even.hours_to_come, "money teaches nothing about hours"


def test_nothing_finished_nothing_learned(run: Callable[..., Forecast]) -> None:
    assert run(planned("one", "a", "f"), entries=[paid(500)]).learned == ()


def test_what_is_paid_for_a_job_begun_comes_off_what_is_to_come(
    run: Callable[..., Forecast],
) -> None:
    begun = planned("one", "a", "f", stage="started")
    whole, part = run(begun), run(begun, entries=[paid(10), worked("0.5")])

    assert part.jobs[0].to_come.p50 == pytest.approx(whole.jobs[0].to_come.p50 - 10)
    assert part.jobs[0].hours_to_come.p10 == pytest.approx(
        whole.jobs[0].hours_to_come.p10 - Decimal("0.5")
    )
    # 10 is below every draw of 40 / 60 / 90, so nothing is cut off at nought.
    assert part.at_end.model_dump() == pytest.approx(whole.at_end.model_dump(), abs=Decimal("0.01"))
    assert run(begun, entries=[paid(900)]).jobs[0].to_come.p90 == 0, "never below nothing"


def test_ordered_and_not_paid_is_committed_and_stays_to_come(run: Callable[..., Forecast]) -> None:
    part = {"id": "p", "label": "part 0", "price": 150, "ordered_on": "2026-06-10"}
    listed = planned("one", "a", "f", parts=[part])

    assert run(listed).committed == 150
    assert run(listed, entries=[paid(60)]).committed == 90
    assert run(listed, entries=[paid(150)]).committed == 0
    back = [paid(150), paid(150, kind="refund")]
    assert run(listed, entries=back).committed == 150
    done = planned("one", "a", "f", parts=[part], **PROVED)
    assert run(done).jobs[0].to_come.mean == 150, "the bill for a done job still comes"


def test_deposits_are_money_of_their_own(run: Callable[..., Forecast]) -> None:
    entries = [paid(40, kind="core_deposit"), paid(25, kind="core_returned"), paid(10)]
    found = run(planned("one", "a", "f"), entries=entries)

    assert (found.deposits_out, found.paid) == (15, 10)


def test_money_for_no_job_is_told_apart(run: Callable[..., Forecast]) -> None:
    found = run(planned("one", "a", "f"), entries=[paid(10), paid(35, None, "tool")])

    assert (found.paid, found.general) == (45, 35)


def test_shared_access_is_charged_once(
    case_of: Callable[..., Case], job: Callable[..., dict[str, Any]], reference: Reference
) -> None:
    own = [
        job("a", (1, 2, 4), access=["wheels_off_front"]),
        job("b", (1, 2, 4), access=["wheels_off_front"]),
    ]
    work = {"jobs": [{"id": "one", "job": "a"}, {"id": "two", "job": "b"}]}
    found = forecast(case_of([], own, standing="owned", purchase=BOUGHT, work=work), reference, ON)
    wheels = float(reference.access["wheels_off_front"].hours.likely)

    assert float(found.jobs[0].hours.p50) > 2 + 0.5 * wheels
    assert float(found.jobs[1].hours.p50) == pytest.approx(2, rel=0.01)


def test_the_purchase_line_by_line(run: Callable[..., Forecast]) -> None:
    deal = {"transport": 90, "tax_percent": 6}
    plan = run(deal=deal)
    assert [(one.label, one.planned, one.paid) for one in plan.landed] == [
        ("Bid", Decimal(2000), None),
        ("Sales tax", Decimal("120.00"), None),
        ("Transport", Decimal(90), None),
    ]
    assert (plan.landed_planned, plan.landed_paid) == (Decimal("2210.00"), None)


def test_the_curve_begins_with_the_purchase_and_ends_with_the_forecast(
    run: Callable[..., Forecast],
) -> None:
    found = run(planned("one", "a", "f", **PROVED), planned("two", "b", "g"), entries=[paid(120)])
    first, last = found.curve[0], found.curve[-1]
    now = next(one for one in found.curve if one.on == ON)

    assert (first.on, first.actual) == (date(2026, 6, 1), 0)
    assert now.actual == 120
    assert now.planned == pytest.approx(Decimal(100), rel=Decimal("0.02")), "budget of what is done"
    assert last.on == found.ends_on
    # The chart reads every fourth draw.
    assert last.likely == pytest.approx(found.at_end.p50, rel=Decimal("0.02"))
    assert [one.on for one in found.curve] == sorted(one.on for one in found.curve)


def test_the_chance_of_ending_over_budget_is_one_number(run: Callable[..., Forecast]) -> None:
    """Nothing paid: the middle is the budget's, so an even chance; far too much paid: certain."""
    plan = [planned("one", "a", "f"), planned("two", "b", "g")]
    even = run(*plan)
    over = run(*plan, entries=[paid(5000)])

    assert even.chance_over_budget == pytest.approx(Decimal("0.5"), abs=Decimal("0.01"))
    assert over.chance_over_budget == 1
