"""The options from today on: sums that have to agree, limits kept, what is spent left out."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from every_choice import enumerate_all

from appraise.engine import appraise
from appraise.engine.decide.choose import choices
from appraise.engine.decide.options import NOT_INSPECTED, prospects_of
from appraise.engine.decide.selection import net_of
from appraise.models.case import Case
from appraise.models.choices import Choices, OptionView
from appraise.reference.load import Reference

ON = date(2026, 7, 1)
BOUGHT = {"bid": 2000, "bought_on": "2026-06-01"}
DEAL = {
    "own_rate": 20,
    "holding_per_day": 3,
    "selling_percent": 5,
    "selling_flat": 60,
    "hours_per_day": 4,
}
JOBS: list[dict[str, Any]] = [
    {"id": "one", "job": "a", "findings": ["f"]},
    {"id": "two", "job": "b", "findings": ["g"]},
    {"id": "three", "job": "c", "findings": ["h"]},
]


@pytest.fixture
def car(
    case_of: Callable[..., Case],
    job: Callable[..., dict[str, Any]],
    finding: Callable[..., dict[str, Any]],
) -> Callable[..., Case]:
    """Return a maker of cars with three faults: a small one, a large one, one with access."""

    def make(jobs: Any = JOBS, *, deal: Any = None, findings: Any = None, **work: Any) -> Case:
        own = [
            job("a", (1, 2, 3), [(40, 60, 90)]),
            job("b", (6, 9, 16), [(500, 800, 1400)]),
            job("c", (1, 1.5, 3), [(20, 30, 50)], access=["wheels_off_front"]),
        ]
        found = findings or [finding("f", "a"), finding("g", "b"), finding("h", "c")]
        return case_of(
            found,
            own,
            deal=DEAL | (deal or {}),
            standing="owned",
            purchase=BOUGHT,
            work={"jobs": jobs} | work,
        )

    return make


@pytest.fixture
def run(car: Callable[..., Case], reference: Reference) -> Callable[..., Choices]:
    return lambda *args, **more: choices(car(*args, **more), reference, ON)


def option(found: Choices, kind: str) -> OptionView:
    return next(one for one in found.options if one.kind == kind)


def test_the_net_of_an_option_is_the_sum_of_its_parts(run: Callable[..., Choices]) -> None:
    """On the means, where everything is linear: within the cents that each is rounded to."""
    for one in run().options:
        if one.days is None:
            assert one.kind == "keep"
            continue
        expected = (
            float(one.price.mean) * 0.95
            - 60
            - float(one.money.mean)
            - float(one.hours.mean) * 20
            - float(one.days.mean) * 3
        )
        assert float(one.net.mean) == pytest.approx(expected, abs=0.5), one.kind


def test_mending_all_sells_for_the_mended_price(
    run: Callable[..., Choices], car: Callable[..., Case], reference: Reference
) -> None:
    estimate = appraise(car(), reference).resale

    assert option(run(), "all repairs").price.mean == estimate.mended.mean


def test_sold_as_it_stands_it_brings_what_the_estimate_says(
    run: Callable[..., Choices], car: Callable[..., Case], reference: Reference
) -> None:
    """The same car, the same fear of the same bill; planned jobs sum to the findings' bill."""
    estimate = appraise(car(), reference).resale.as_it_stands
    found = option(run(), "as is")

    assert found.price.mean == pytest.approx(estimate.mean, abs=Decimal("0.02"))
    assert (found.money.mean, found.hours.mean, found.worse_than_selling_now) == (0, 0, 0)


def test_what_is_spent_is_shown_and_moves_nothing(run: Callable[..., Choices]) -> None:
    before = run()
    entries = [
        {"id": "e", "on": "2026-06-10", "kind": "tool", "amount": 900},
        {"id": "h", "on": "2026-06-10", "kind": "hours", "hours": 9},
    ]
    after = run(entries=entries)

    assert (after.spent.repair, after.spent.hours) == (900, 9)
    assert after.options == before.options
    assert after.by_money == before.by_money
    assert after.break_even_price > before.break_even_price


def test_the_best_is_what_trying_every_set_finds(
    car: Callable[..., Case], run: Callable[..., Choices], reference: Reference
) -> None:
    for deal in ({}, {"own_rate": 90}, {"own_rate": 300}, {"holding_per_day": 60}):
        best = option(run(deal=deal), "best")
        selection = prospects_of(car(deal=deal), reference).selection()
        assert {*best.jobs, NOT_INSPECTED} == enumerate_all(selection).chosen


def test_the_best_is_no_worse_than_none_and_all(
    car: Callable[..., Case], reference: Reference
) -> None:
    selection = prospects_of(car(), reference).selection()
    best = enumerate_all(selection).net

    for names in ((), ("one", "two", "three")):
        other = net_of(selection, frozenset({*names, NOT_INSPECTED}))
        assert not other.problem
        assert best >= other.net


def test_a_job_that_must_be_done_is_in_every_sale_of_a_running_car(
    run: Callable[..., Choices],
) -> None:
    must = [JOBS[0], JOBS[1] | {"must": True}, JOBS[2]]
    found = run(must, deal={"own_rate": 300})

    for kind in ("best", "what must be done", "all repairs"):
        assert "two" in option(found, kind).jobs
    assert option(found, "as is").jobs == ()
    assert option(found, "what must be done").jobs == ("two",)
    assert all("two" in one.jobs for one in found.by_money)


def test_limits_of_money_and_hours_are_kept(run: Callable[..., Choices]) -> None:
    """By the money and hours that are shown, what nobody inspected among them."""
    jobs = [JOBS[0] | {"must": True}, *JOBS[1:]]
    tight = option(run(jobs, money_limit=1800), "best")
    short = option(run(jobs, hours_limit=22), "best")

    assert "two" not in tight.jobs
    assert "two" not in short.jobs
    assert "one" in tight.jobs, "what must be done still fits"
    assert tight.money.mean <= 1800
    assert short.hours.mean <= 22


def near_scrap(car: Callable[..., Case], **more: Any) -> Case:
    """Return the car as one of a kind that sells for about 900: less than the large job costs."""
    case = car(**more)
    like = tuple(one.model_copy(update={"price": one.price / 9}) for one in case.market.comparables)
    return case.model_copy(update={"market": case.market.model_copy(update={"comparables": like})})


def test_near_scrap_doing_nothing_is_advised_and_named(
    car: Callable[..., Case], reference: Reference
) -> None:
    """No buyer pays below scrap, so that a repair adds less than what a buyer fears of it."""
    found = choices(near_scrap(car), reference, ON)
    best = option(found, "best")

    assert (best.label, best.jobs) == ("Repair nothing, sell retail", ())
    assert found.advice.startswith("Selling it as is brings most")
    for one in (option(found, "all repairs"), *found.by_money, *found.by_hours):
        assert best.net.mean >= one.net.mean


def test_near_scrap_with_a_job_that_must_be_done_it_is_not_said_to_pay(
    car: Callable[..., Case], reference: Reference
) -> None:
    must = [JOBS[0] | {"must": True}, *JOBS[1:]]
    best = option(choices(near_scrap(car, jobs=must), reference, ON), "best")

    assert (best.label, best.jobs) == ("Repair what loses least", ("one",))
    assert best.words == "Selling it as is brings more."


def test_what_breaks_a_limit_is_shown_but_not_advised(run: Callable[..., Choices]) -> None:
    """Nor is keeping it, which takes the same jobs."""
    worth = {"low": 50_000, "likely": 50_000, "high": 50_000}
    found = run(money_limit=1800, worth_to_keep=worth)
    whole, keep = option(found, "all repairs"), option(found, "keep")

    for one in (whole, keep):
        assert not one.ranked
        assert one.words.startswith("Not ranked: the money limit is 1,800.00")
    assert whole.net.mean > option(found, "best").net.mean
    assert found.options[0].kind == "as is"
    assert found.advice.startswith("Selling it as is brings most")


def test_limits_that_cannot_be_kept_are_told(run: Callable[..., Choices]) -> None:
    must = [JOBS[0], JOBS[1] | {"must": True}, JOBS[2]]
    found = run(must, money_limit=100)

    assert any("no set of jobs can be chosen" in one.message for one in found.problems)
    assert not [one for one in found.options if one.kind == "best"]
    assert option(found, "as is").net.mean > 0


def test_of_jobs_that_exclude_each_other_at_most_one_is_chosen(
    run: Callable[..., Choices],
) -> None:
    found = run(at_most_one=[["one", "two"]])

    assert len({"one", "two"} & set(option(found, "best").jobs)) <= 1
    for point in (*found.by_money, *found.by_hours):
        assert len({"one", "two"} & set(point.jobs)) <= 1


def test_a_finding_without_a_job_is_a_choice_of_its_own(run: Callable[..., Choices]) -> None:
    found = run(JOBS[:2])
    (one,) = [item for item in found.items if item.id == "finding.h"]

    assert not one.sure
    assert one.money > 0
    assert "finding.h" in option(found, "all repairs").jobs


def test_a_dropped_job_leaves_its_finding_open(run: Callable[..., Choices]) -> None:
    found = run([*JOBS[:2], JOBS[2] | {"stage": "dropped"}])

    assert {item.id for item in found.items} == {"one", "two", "finding.h"}


def test_a_done_job_is_no_choice_any_more_and_its_fault_costs_no_price(
    run: Callable[..., Choices],
) -> None:
    done = JOBS[1] | {
        "stage": "done",
        "done_on": "2026-06-20",
        "proof": {"why_none": "driven for a week"},
    }
    before, after = run(), run([JOBS[0], done, JOBS[2]])

    assert {item.id for item in after.items} == {"one", "three"}
    assert option(after, "as is").price.mean > option(before, "as is").price.mean
    assert option(after, "all repairs").price == option(before, "all repairs").price


def test_an_upgrade_is_apart_and_chosen_only_if_it_returns_more_than_it_costs(
    run: Callable[..., Choices],
) -> None:
    upgrade = {"id": "seats", "job": "a", "purpose": "upgrade"}
    usual = run([*JOBS, upgrade])
    (item,) = [one for one in usual.items if one.id == "seats"]
    assert 0 < item.adds < item.money + item.hours * 20, "usually less than it costs"
    assert "seats" not in option(usual, "best").jobs
    assert "seats" not in option(usual, "all repairs").jobs

    wanted = run([*JOBS, upgrade | {"adds": {"low": 800, "likely": 900, "high": 1000}}])
    assert "seats" in option(wanted, "best").jobs
    assert option(wanted, "best").net.mean > option(usual, "best").net.mean
    assert option(wanted, "as is") == option(usual, "as is")


def test_breaking_for_parts_counts_what_sells_and_the_hours_it_takes(
    run: Callable[..., Choices],
) -> None:
    """1,000 with a chance of 0.7, 300 for scrap, less 10 hours at 20 and 30 days at 3."""
    fixed = {"low": 1000, "likely": 1000, "high": 1000}
    line = {"label": "Engine", "price": fixed, "chance": "0.7", "hours": 10}
    found = option(run(breaking={"lines": [line], "scrap": 300, "days": 30}), "part out")

    assert found.net.mean == Decimal(1000) * Decimal("0.7") + 300 - 200 - 90
    assert (found.net.p10, found.net.p90) == (10, 1010)


def test_keeping_it_is_worth_what_is_said_and_ranked_only_then(run: Callable[..., Choices]) -> None:
    unsaid = run()
    assert unsaid.options[-1].kind == "keep"

    worth = {"low": 50_000, "likely": 50_000, "high": 50_000}
    said = run(worth_to_keep=worth)
    assert said.options[0].kind == "keep"
    assert said.options[0].price.mean == 50_000


def test_an_open_bypass_has_to_be_put_right_before_a_sale_to_a_private_buyer(
    run: Callable[..., Choices], reference: Reference
) -> None:
    assert "engine_management.bypass_removed" in reference.jobs
    bypass = {
        "id": "fan",
        "job": "engine_management.bypass_removed",
        "purpose": "bypass",
        "bypass": {
            "what": "fan switch",
            "reason": "drive home",
            "started_on": "2026-06-10",
            "restore": "fit the switch",
        },
    }
    found = run([*JOBS, bypass])

    assert "fan" in option(found, "best").jobs
    assert "fan" in option(found, "what must be done").jobs


def test_what_follows_from_a_job_is_chosen_with_it(
    case_of: Callable[..., Case], reference: Reference, finding: Callable[..., dict[str, Any]]
) -> None:
    """An arm asks for an alignment: the arm alone is no mend."""
    jobs = [
        {"id": "arm", "job": "suspension.front_lower_arm", "findings": ["f"]},
        {"id": "alignment", "job": "suspension.wheel_alignment", "after": ["arm"]},
    ]
    case = case_of(
        [finding("f", "suspension.front_lower_arm")],
        deal=DEAL,
        standing="owned",
        purchase=BOUGHT,
        work={"jobs": jobs},
    )
    found = choices(case, reference, ON)

    for point in found.by_money:
        assert "arm" not in point.jobs or "alignment" in point.jobs


def test_a_check_is_offered_before_choosing_only_if_it_is_worth_more_than_it_costs(
    reference: Reference,
) -> None:
    """The example with a misfire, bought: a cheap part and a dear one look alike."""
    from appraise import services  # noqa: PLC0415
    from appraise.services.ownership.owning import buy  # noqa: PLC0415

    prospect = services.load_case_file("auction-engine-light")
    owned = buy(prospect, Decimal(1700), prospect.appraised_on, reference)
    cheap = services.changed(owned, ("deal", "own_rate"), 0)
    tools = tuple(reference.tools)
    free = services.changed(cheap, ("deal", "tools_owned"), tools)
    dear = services.changed(free, ("deal", "own_rate"), 5000)

    for one in choices(free, reference, ON).checks:
        assert one.worth > one.cost
    assert choices(dear, reference, ON).checks == ()


def test_the_frontier_rises_and_ends_at_the_best(run: Callable[..., Choices]) -> None:
    found = run()
    for points, spent in ((found.by_money, "money"), (found.by_hours, "hours")):
        amounts = [getattr(one, spent) for one in points]
        assert amounts == sorted(amounts)
        assert set(points[-1].jobs) == set(option(found, "best").jobs)


def test_the_same_case_gives_the_same_choices(run: Callable[..., Choices]) -> None:
    assert run() == run()


def test_the_order_of_jobs_changes_nothing(run: Callable[..., Choices]) -> None:
    forward, backward = run(), run(JOBS[::-1])

    assert {one.kind: one.net.mean for one in forward.options} == {
        one.kind: one.net.mean for one in backward.options
    }


def test_the_chance_of_being_worse_is_on_the_same_draws(
    car: Callable[..., Case], run: Callable[..., Choices], reference: Reference
) -> None:
    found = prospects_of(car(), reference)
    best = option(run(), "best")
    selection = found.selection()
    drawn = found.sold(best.jobs, net_of(selection, frozenset(best.jobs)).access)
    now = found.sold((), (), retail=False)

    assert float(best.worse_than_selling_now) == pytest.approx(
        float(np.mean(drawn.net < now.net)), abs=1e-4
    )
