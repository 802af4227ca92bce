"""What holds of every repair, whatever the case."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from appraise.engine.repair.repair import RepairDraws, Tally
from appraise.models.case import Case

Mend = Callable[..., RepairDraws]
TINY = 1e-7
"""Sums in another order differ in their last bits; amounts here stay below 1e6."""


def same(one: Tally, two: Tally) -> bool:
    return all(
        np.allclose(getattr(one, name), getattr(two, name), rtol=1e-12, atol=TINY)
        for name in ("money", "labor", "hours", "bill")
    )


def one_more(mend: Mend, raw: dict[str, Any], extra: dict[str, Any]) -> None:
    """Assert that money with own hours paid, and the shop's bill, never fall in any draw."""
    before = mend(Case.model_validate(raw), unseen=False).found
    more = raw | {"findings": [*raw["findings"], extra]}
    after = mend(Case.model_validate(more), unseen=False).found
    rate = float(raw["deal"]["own_rate"])
    assert np.all(after.money + rate * after.hours >= before.money + rate * before.hours - TINY)
    assert np.all(after.money >= before.money - TINY)
    assert np.all(after.hours >= before.hours - TINY)
    assert np.all(after.bill >= before.bill - TINY)


@settings(max_examples=150)
@given(data=st.data(), done_by=st.sampled_from(["own_hands", "shop"]))
def test_one_more_fault_never_makes_it_cheaper_in_any_draw(
    data: st.DataObject,
    done_by: str,
    cases: st.SearchStrategy[dict[str, Any]],
    another_finding: st.SearchStrategy[dict[str, Any]],
    mend: Mend,
) -> None:
    raw = data.draw(cases)
    one_more(mend, said(raw, done_by), data.draw(another_finding))


def said(raw: dict[str, Any], done_by: str) -> dict[str, Any]:
    return raw | {"deal": raw["deal"] | {"done_by": done_by}}


def mean_cost(mend: Mend, raw: dict[str, Any], *, unseen: bool = True) -> float:
    """Return the mean of money, own hours at their rate and the days that the work takes."""
    deal = raw["deal"]
    found = mend(Case.model_validate(raw), unseen=unseen).total
    days = found.hours.mean() / float(deal.get("hours_per_day", 4)) + found.shop_hours.mean() / 5
    paid = found.money.mean() + float(deal["own_rate"]) * found.hours.mean()
    return float(paid + float(deal["holding_per_day"]) * days)


@settings(max_examples=300)
@given(data=st.data())
def test_the_cheaper_is_never_dearer_than_own_hands_or_a_shop_for_all_of_it(
    data: st.DataObject, cases: st.SearchStrategy[dict[str, Any]], mend: Mend
) -> None:
    """On average, what they share paid once by each.

    By 1 % at most: what covers other access is taken at its own mean in the choice.
    """
    raw, unseen = data.draw(cases), data.draw(st.booleans())
    alone = [mean_cost(mend, said(raw, one), unseen=unseen) for one in ("own_hands", "shop")]
    assert mean_cost(mend, said(raw, "cheaper"), unseen=unseen) <= 1.01 * min(alone) + TINY


@given(data=st.data())
def test_one_more_fault_never_makes_it_cheaper_on_average_where_the_cheaper_does_it(
    data: st.DataObject,
    cases: st.SearchStrategy[dict[str, Any]],
    another_finding: st.SearchStrategy[dict[str, Any]],
    mend: Mend,
) -> None:
    """By 1 % at most, as above; in single draws another may do the work than did before."""
    raw = said(data.draw(cases), "cheaper")
    more = raw | {"findings": [*raw["findings"], data.draw(another_finding)]}
    before, after = (mean_cost(mend, one, unseen=False) for one in (raw, more))
    assert after >= 0.99 * before - TINY


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ({"access": ["car_raised"]}, {"access": ["wheels_off_front"]}),
        ({"access": ["wheels_off_front"]}, {"access": ["wheels_off_all"]}),
        ({"access": ["splash_shield_off"]}, {"access": ["transmission_out"]}),
        ({"access": ["transmission_out"], "shop": True}, {"access": ["transmission_out"]}),
    ],
    ids=["wheels", "all wheels", "transmission", "a shop's transmission"],
)
def test_one_more_access_never_makes_it_cheaper(
    first: dict[str, Any], second: dict[str, Any], mend: Mend
) -> None:
    """Jobs of no hours of their own: only the teardown differs, and nothing else can hide it."""
    jobs, faults = [], []
    for at, one in enumerate((first, second)):
        none = {"low": 0, "likely": 0, "high": 0}
        name = f"job-{at}"
        jobs.append(
            {"id": name, "label": name, "system": "brakes", "hours": none, "access": one["access"]}
        )
        done_by = "shop" if "shop" in one else "own_hands"
        choice = {"job": name, "done_by": done_by}
        faults.append({"id": f"x-{at}", "area": "brakes", "state": "faulty", "jobs": [choice]})
    raw = {
        "id": "case",
        "title": "Case",
        "appraised_on": "2026-06-30",
        "vehicle": {
            "make": "Invented",
            "model": "One",
            "model_year": 2015,
            "odometer": {"value": 90_000, "unit": "mi"},
        },
        "own_jobs": jobs,
        "findings": faults[:1],
        "deal": {"own_rate": 0},
        "draws": 4000,
    }
    one_more(mend, raw, faults[1])


@given(data=st.data())
def test_the_order_of_findings_changes_nothing(
    data: st.DataObject, cases: st.SearchStrategy[dict[str, Any]], mend: Mend
) -> None:
    raw = data.draw(cases)
    other = raw | {"findings": data.draw(st.permutations(raw["findings"]))}
    one, two = mend(Case.model_validate(raw)), mend(Case.model_validate(other))
    assert same(one.found, two.found)
    assert same(one.total, two.total)
    assert np.allclose(one.bill, two.bill, rtol=1e-12, atol=TINY)
    assert np.array_equal(one.lead_days, two.lead_days)
    for name, tally in one.by_finding.items():
        assert same(tally, two.by_finding[name])


@given(data=st.data())
def test_the_order_of_jobs_within_a_cause_and_of_own_jobs_changes_nothing(
    data: st.DataObject, cases: st.SearchStrategy[dict[str, Any]], mend: Mend
) -> None:
    raw = data.draw(cases)

    def turned(finding: dict[str, Any]) -> dict[str, Any]:
        out = dict(finding)
        if "jobs" in out:
            out["jobs"] = out["jobs"][::-1]
        if "causes" in out:
            out["causes"] = [one | {"jobs": one["jobs"][::-1]} for one in out["causes"]]
        return out

    other = raw | {
        "findings": [turned(one) for one in raw["findings"]],
        "own_jobs": data.draw(st.permutations(raw["own_jobs"])),
    }
    one, two = mend(Case.model_validate(raw)), mend(Case.model_validate(other))
    assert same(one.total, two.total)


@given(data=st.data())
def test_the_order_of_a_finding_s_causes_changes_nothing_at_all(
    data: st.DataObject, cases: st.SearchStrategy[dict[str, Any]], mend: Mend
) -> None:
    """Not by the noise of other draws, nor by a last bit."""
    raw = data.draw(cases)

    def turned(finding: dict[str, Any]) -> dict[str, Any]:
        if "causes" not in finding:
            return finding
        return finding | {"causes": data.draw(st.permutations(finding["causes"]))}

    other = raw | {"findings": [turned(one) for one in raw["findings"]]}
    one, two = mend(Case.model_validate(raw)), mend(Case.model_validate(other))
    for mine, theirs in ((one.found, two.found), (one.total, two.total)):
        for name in ("money", "labor", "hours", "bill"):
            assert np.array_equal(getattr(mine, name), getattr(theirs, name))
    assert np.array_equal(one.bill, two.bill)


@given(data=st.data())
def test_a_cause_without_a_chance_changes_nothing(
    data: st.DataObject, cases: st.SearchStrategy[dict[str, Any]], mend: Mend
) -> None:
    raw = data.draw(cases)
    never = {"id": "never", "label": "Never", "chance": "0", "jobs": [{"job": "job-0"}]}

    def added(finding: dict[str, Any]) -> dict[str, Any]:
        if not finding.get("causes"):
            return finding
        causes = list(finding["causes"])
        causes.insert(data.draw(st.integers(0, len(causes))), never)
        return finding | {"causes": causes}

    other = raw | {"findings": [added(one) for one in raw["findings"]]}
    one, two = mend(Case.model_validate(raw)), mend(Case.model_validate(other))
    assert same(one.total, two.total)
    assert [needs.chance for needs in one.needs] == [needs.chance for needs in two.needs]


@given(data=st.data())
def test_a_finding_mended_alone_never_takes_more_than_all_together(
    data: st.DataObject, cases: st.SearchStrategy[dict[str, Any]], mend: Mend
) -> None:
    """Each job of a finding is in the total, at least as often and at no lower price."""
    raw = data.draw(cases)
    raw = raw | {"own_jobs": [one | {"access": []} for one in raw["own_jobs"]]}
    work = mend(Case.model_validate(raw))
    for tally in work.by_finding.values():
        assert np.all(work.found.money >= tally.money - TINY)
        assert np.all(work.found.hours >= tally.hours - TINY)
    assert np.all(work.total.bill >= work.found.bill - TINY)
    assert np.all(work.found.bill >= work.bill - TINY)


@given(data=st.data())
def test_nothing_is_ever_below_nought_and_chances_are_chances(
    data: st.DataObject, cases: st.SearchStrategy[dict[str, Any]], mend: Mend
) -> None:
    work = mend(Case.model_validate(data.draw(cases)))
    for tally in (work.found, work.total, *work.by_finding.values()):
        for draws in (tally.money, tally.hours, tally.bill):
            assert np.all(np.isfinite(draws))
            assert np.all(draws >= 0)
        assert 0 <= tally.labor <= float(tally.money.mean()) + TINY
    assert all(one.money >= 0 and one.hours >= 0 for one in work.by_area.values())
    for needs in work.needs:
        assert 0 <= needs.chance <= 1
        rows = sum((need.rows for need in needs.needs), start=np.zeros(1000, dtype=bool))
        assert float(rows.mean()) <= needs.chance + 0.002
