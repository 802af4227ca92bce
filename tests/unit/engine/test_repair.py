"""What a repair adds up to: once what is shared, by own hands or a shop, each draw by itself."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from appraise.engine.draws.streams import Streams
from appraise.engine.draws.subset import Rows
from appraise.engine.repair.repair import RepairDraws
from appraise.errors import BadCase
from appraise.models.case import Case
from appraise.reference.load import Reference

Make = Callable[..., dict[str, Any]]
Cases = Callable[..., Case]
Mend = Callable[..., RepairDraws]
WIDE = (50, 100, 250)


def test_a_job_that_two_findings_need_is_done_once(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    jobs = [job("a", hours=(1, 2, 4), parts=[WIDE])]
    one = mend(case_of([finding("x", "a")], jobs))
    two = mend(case_of([finding("x", "a"), finding("y", "a")], jobs))
    assert np.array_equal(one.total.money, two.total.money)
    assert np.array_equal(one.total.hours, two.total.hours)
    assert np.array_equal(two.by_finding["x"].money, two.by_finding["y"].money)


def test_the_finding_that_needs_it_more_often_decides(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    jobs = [job("a", hours=(1, 2, 4), parts=[WIDE])]
    once = mend(case_of([finding("x", "a")], jobs))
    thrice = {**finding("y"), "jobs": [{"job": "a", "quantity": 3}]}
    for order in ([finding("x", "a"), thrice], [thrice, finding("x", "a")]):
        both = mend(case_of(order, jobs))
        assert both.found.money == pytest.approx(3 * once.found.money)
        assert both.found.hours == pytest.approx(3 * once.found.hours)


def test_shared_access_is_paid_once(case_of: Cases, mend: Mend, job: Make, finding: Make) -> None:
    jobs = [job("a", 1, access=["cowl_off"]), job("b", 2, access=["cowl_off"])]
    alone = mend(case_of([finding("x", "a")], jobs)).found.hours - 1
    both = mend(case_of([finding("x", "a"), finding("y", "b")], jobs)).found.hours
    assert alone.min() > 0
    assert both == pytest.approx(3 + alone)


def test_what_a_larger_access_covers_is_not_paid_beside_it(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    jobs = [job("a", 1, access=["air_box_off"]), job("b", 2, access=["engine_out"])]
    small = mend(case_of([finding("x", "a")], jobs)).found.hours - 1
    large = mend(case_of([finding("y", "b")], jobs)).found.hours - 2
    both = mend(case_of([finding("x", "a"), finding("y", "b")], jobs)).found.hours - 3
    # The engine takes 50 times as long as the air box: in no draw is the small one the longer.
    assert np.all(small < large)
    assert both == pytest.approx(large)


def test_a_rare_fault_and_a_likely_one_are_added_alike(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    """Few draws are added one by one, many all at once: the sums agree to the last bit."""
    jobs = [job("a", hours=(1, 2, 4), parts=[WIDE])]
    certain = mend(case_of([finding("x", "a")], jobs, draws=4000)).found
    share = Streams(1, 4000).uniforms("finding/x")
    for chance in ("0.04", "0.24", "0.26", "0.9"):
        maybe = case_of([finding("x", "a", state="suspect", chance=chance)], jobs, draws=4000)
        found = mend(maybe).found
        rows = share < float(chance)
        assert np.array_equal(found.money, np.where(rows, certain.money, 0))
        assert np.array_equal(found.hours, np.where(rows, certain.hours, 0))


def test_what_was_found_is_drawn_and_only_what_nobody_found_takes_its_mean(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    jobs = [job("a", hours=(1, 2, 4), parts=[WIDE])]
    certain = mend(case_of([finding("x", "a")], jobs, draws=20_000))
    seldom = case_of([finding("x", "a", state="suspect", chance="0.02")], jobs, draws=20_000)
    money = mend(seldom).found.money
    needed = money > 0

    assert np.array_equal(money[needed], certain.found.money[needed])
    workshop = certain.workshop
    at_its_mean = workshop.job_at(workshop.prices.job("a", ""), Rows(needed), seldom_mean=True)
    assert at_its_mean.shape == (3, needed.sum())
    assert np.ptp(at_its_mean, axis=1).max() == 0
    assert at_its_mean[0, 0] == pytest.approx(certain.found.money.mean(), rel=0.02)


def test_a_shop_is_paid_its_hours_and_its_markup_but_no_deposit(
    case_of: Cases, mend: Mend, job: Make, finding: Make, reference: Reference
) -> None:
    one = job("a", hours=3, parts=[100], consumables=10)
    one["parts"][0] |= {"core": 50, "quantity": 2}
    rate = {"low": 110, "likely": 110, "high": 110}
    deal = {"done_by": "shop", "shop_rate": rate, "parts_tax_percent": 5}
    markup = float(reference.values["shop.parts_markup"].value or 0)
    found = mend(case_of([finding("x", "a")], [one], deal=deal)).found
    assert found.money == pytest.approx(2 * 100 * 1.05 * markup + 10 + 3 * 110)
    assert found.labor == pytest.approx(3 * 110)
    assert not found.hours.any()
    assert found.bill == pytest.approx(found.money)
    mine = mend(case_of([finding("x", "a")], [one], deal=deal | {"done_by": "own_hands"})).found
    lost = mine.money - (2 * 100 * 1.05 + 10)
    assert set(np.round(lost, 6)) == {0.0, 100.0}
    assert float((lost > 1).mean()) == pytest.approx(0.1, abs=0.001)
    assert mine.hours == pytest.approx(3)
    assert mine.bill == pytest.approx(found.bill)


def test_bought_in_work_is_no_labor_of_a_shop(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    one = job("a", hours=0.5, parts=[200], shop_only=True)
    one["parts"][0]["family"] = "service"
    for done_by in ("own_hands", "shop"):
        deal = {"done_by": done_by, "parts_tax_percent": 10}
        found = mend(case_of([finding("x", "a")], [one], deal=deal)).found
        assert found.money == pytest.approx(200)
        assert found.labor == 0
        assert found.hours == pytest.approx(0.5)


def test_a_tool_is_paid_once_and_not_if_owned(
    case_of: Cases, mend: Mend, job: Make, finding: Make, reference: Reference
) -> None:
    tool = next(iter(reference.tools))
    jobs = [job("a", 1, tools=[tool]), job("b", 1, tools=[tool])]
    listed = [finding("x", "a"), finding("y", "b")]
    once = mend(case_of(listed[:1], jobs)).found.money
    assert once.min() > 0
    assert mend(case_of(listed, jobs)).found.money == pytest.approx(once)
    assert not mend(case_of(listed, jobs, deal={"tools_owned": [tool]})).found.money.any()


def test_what_follows_is_done_once_and_only_where_it_fits(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    jobs = [
        job("a", 1, follows=["after", "diesel-only"]),
        job("b", 2, follows=["after"]),
        job("after", 4, follows=["a"]),
        job("diesel-only", 100, fuels=["diesel"]),
    ]
    found = mend(case_of([finding("x", "a"), finding("y", "b")], jobs)).found
    assert found.hours == pytest.approx(1 + 2 + 4)


def test_causes_exclude_each_other_in_every_draw(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    jobs = [job("a", 1), job("b", 10), job("c", 100)]
    causes = [
        {"id": name, "label": name, "chance": chance, "jobs": [{"job": name}]}
        for name, chance in (("a", "0.5"), ("b", "0.3"), ("c", "0.1"))
    ]
    found = mend(case_of([finding("x", causes=causes)], jobs, draws=1000)).found
    hours, counts = np.unique(found.hours, return_counts=True)
    assert hours.tolist() == [0, 1, 10, 100]
    assert counts.tolist() == pytest.approx([100, 500, 300, 100], abs=2)


def test_the_next_buyer_does_not_see_a_hidden_fault(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    jobs = [job("a", 1, parts=[WIDE]), job("b", 2, parts=[WIDE])]
    listed = [finding("x", "a"), finding("y", "b", visible=False)]
    work = mend(case_of(listed, jobs))
    alone = mend(case_of(listed[:1], jobs))
    assert np.array_equal(work.bill, alone.bill)
    assert np.all(work.found.bill > work.bill)


def test_days_wait_for_the_slowest_part(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    jobs = [job("a", 1, parts=[1]), job("b", 1, parts=[1], lead="rare"), job("c", 1, lead="rare")]
    shelf = mend(case_of([finding("x", "a")], jobs)).lead_days
    rare = mend(case_of([finding("y", "b")], jobs)).lead_days
    both = mend(case_of([finding("x", "a"), finding("y", "b")], jobs)).lead_days
    assert np.array_equal(both, np.maximum(shelf, rare))
    # A job without parts waits for none.
    assert not mend(case_of([finding("z", "c")], jobs)).lead_days.any()


def test_the_cheaper_of_both_is_chosen_by_mean_cost(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    jobs = [job("a", 2, parts=[10])]
    rate = {"low": 50, "likely": 50, "high": 50}
    for own_rate, by_shop in ((20, False), (49, False), (60, True)):
        deal = {"done_by": "cheaper", "own_rate": own_rate, "shop_rate": rate}
        found = mend(case_of([finding("x", "a")], jobs, deal=deal)).found
        assert bool(found.labor) is by_shop


def test_the_cheaper_decides_on_the_mean_and_not_on_the_likely_figure(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    """A shop's likely 50 an hour is 82 on average where one in ten asks 150."""
    rate = {"low": 45, "likely": 50, "high": 150}
    for own_rate, by_shop in ((60, False), (100, True)):
        deal = {"done_by": "cheaper", "own_rate": own_rate, "shop_rate": rate}
        found = mend(case_of([finding("x", "a")], [job("a", 2)], deal=deal)).found
        assert bool(found.labor) is by_shop


def test_the_cheaper_pays_a_teardown_once_whoever_does_it(
    case_of: Cases, mend: Mend, job: Make, finding: Make, reference: Reference
) -> None:
    """Alone the shop is cheaper for the one and own hands for the other: both want it apart."""
    tool = next(iter(reference.tools))
    jobs = [
        job("theirs", 1, access=["transmission_out"], tools=[tool]),
        job("mine", 1, parts=[600], access=["transmission_out"]),
    ]
    listed = [finding("x", "theirs"), finding("y", "mine")]
    rate = {"low": 60, "likely": 60, "high": 60}
    cost = {}
    for done_by in ("own_hands", "shop", "cheaper"):
        deal = {"done_by": done_by, "own_rate": 58, "shop_rate": rate}
        alone = [mend(case_of([one], jobs, deal=deal)).found for one in listed]
        if done_by == "cheaper":
            assert [bool(one.labor) for one in alone] == [True, False]
        both = mend(case_of(listed, jobs, deal=deal)).found
        cost[done_by] = float((both.money + 58 * both.hours).mean())
    assert cost["cheaper"] == min(cost["own_hands"], cost["shop"])


def test_the_cheaper_counts_the_days_that_the_car_waits(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    """Twenty hours are ten evenings of two, or four days at a shop."""
    rate = {"low": 50, "likely": 50, "high": 50}
    for holding, by_shop in ((0, False), (40, True)):
        deal = {"done_by": "cheaper", "own_rate": 48, "shop_rate": rate}
        deal |= {"hours_per_day": 2, "holding_per_day": holding}
        found = mend(case_of([finding("x", "a")], [job("a", 20)], deal=deal)).found
        assert bool(found.labor) is by_shop


def test_figures_of_ones_own_are_taken_as_they_stand(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    jobs = [job("a", hours=(1, 2, 4), parts=[WIDE], consumables=30)]
    choice = {
        "job": "a",
        "parts": {"low": 70, "likely": 70, "high": 70},
        "hours": {"low": 5, "likely": 5, "high": 5},
    }
    deal = {"parts_tax_percent": 10, "price_level": 3}
    found = mend(case_of([{**finding("x"), "jobs": [choice]}], jobs, deal=deal)).found
    assert found.money == pytest.approx(70)
    assert found.hours == pytest.approx(5)


def test_a_job_that_does_not_exist_is_refused_with_its_field(
    case_of: Cases, mend: Mend, finding: Make
) -> None:
    with pytest.raises(BadCase, match=r"findings\[0\]\.jobs\[0\]\.job"):
        mend(case_of([finding("x", "no-such-job")]))


def test_the_total_is_what_was_found_and_what_was_not_looked_at(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    jobs = [job("a", 1, parts=[WIDE])]
    seen = mend(case_of([finding("x", "a")], jobs, draws=20_000))
    work = mend(case_of([finding("x", "a")], jobs, draws=20_000), unseen=True)
    assert np.array_equal(seen.found.money, work.found.money)
    alone = sum(expected.money for expected in work.by_area.values())
    extra = float((work.total.money - work.found.money).mean())
    # Areas share tools and follow-ups now and then, and never cost more together than apart.
    assert 0.9 * alone < extra <= alone * 1.0001
    assert all(expected.money > 0 for expected in work.by_area.values())


def test_a_shop_and_own_hands_each_do_their_own_teardown(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    """A car is taken apart twice if two places want it apart: neither works for the other."""
    jobs = [
        job("theirs", 0, access=["transmission_out"]),
        job("mine", 0, access=["transmission_out"]),
    ]
    theirs = finding("x", jobs=[{"job": "theirs", "done_by": "shop"}])
    mine = finding("y", jobs=[{"job": "mine", "done_by": "own_hands"}])
    apart = [mend(case_of([one], jobs)).found for one in (theirs, mine)]
    both = mend(case_of([theirs, mine], jobs)).found
    assert np.array_equal(both.money, apart[0].money)
    assert np.array_equal(both.hours, apart[1].hours)


def test_two_that_are_covered_take_together_no_more_than_what_covers_them(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    groups = ("wheels_off_front", "wheels_off_rear", "wheels_off_all")
    jobs = [job(f"job-{at}", 0, access=[name]) for at, name in enumerate(groups)]
    listed = [finding(f"x-{at}", f"job-{at}") for at in range(3)]
    front, rear, whole = (mend(case_of([one], jobs)).found.hours for one in listed)
    together = mend(case_of(listed, jobs)).found.hours
    assert together == pytest.approx(np.maximum(whole, front + rear))


def test_a_shops_bill_for_all_of_it_does_not_depend_on_who_does_what(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    """The next buyer has it all done by one shop, which takes the transmission out once."""
    jobs = [job(name, 2, parts=[WIDE], access=["transmission_out"]) for name in ("a", "b")]

    def bill(first: str, second: str) -> np.ndarray:
        choices = {"x": {"job": "a", "done_by": first}, "y": {"job": "b", "done_by": second}}
        return mend(case_of([finding(at, jobs=[one]) for at, one in choices.items()], jobs)).bill

    whole = bill("shop", "shop")
    assert np.allclose(bill("own_hands", "own_hands"), whole)
    assert np.allclose(bill("shop", "own_hands"), whole)


def test_own_jobs_are_in_the_cases_money_and_the_catalog_moves_with_the_price_level(
    case_of: Cases, mend: Mend, job: Make, finding: Make
) -> None:
    jobs = [job("a", parts=[30_000], consumables=500)]
    for level in (1, 150):
        deal = {"price_level": level}
        found = mend(case_of([finding("x", "a")], jobs, deal=deal, currency="JPY")).found
        assert found.money == pytest.approx(30_500)
    shelf = "brakes.front_pads_and_rotors"
    here, there = (
        mend(case_of([finding("x", shelf)], deal={"price_level": level})).found.money
        for level in (1, 150)
    )
    assert there == pytest.approx(150 * here)
