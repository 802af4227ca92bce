"""What holds of every walk-away price and every appraisal."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from appraise.engine import appraise
from appraise.engine.bid.simulation import work_out
from appraise.engine.money.margin import highest_bid, landed_cost
from appraise.engine.repair.repair import RepairDraws
from appraise.models.appraisal import Appraisal
from appraise.models.case import Case
from appraise.models.deal import Deal
from appraise.reference.load import Reference

Cases = st.SearchStrategy[dict[str, Any]]
Run = Callable[..., Appraisal]
NONE = -1
"""No bid at all stands below every bid."""
CENTS_OFF = 2e-4
"""What a cent of landed cost, to which the limit is found, moves the chance at most here."""


@pytest.fixture(scope="session")
def run(reference: Reference) -> Run:
    def go(raw: dict[str, Any], **deal: Any) -> Appraisal:
        return appraise(Case.model_validate(raw | {"deal": raw["deal"] | deal}), reference)

    return go


@pytest.fixture(scope="session")
def limit(reference: Reference) -> Callable[..., int]:
    """Return the highest bid that pays, before it is brought down to a round step."""

    def go(raw: dict[str, Any], **deal: Any) -> int:
        case = Case.model_validate(raw | {"deal": raw["deal"] | deal})
        found = work_out(case, reference).limit
        return NONE if found is None else found

    return go


@given(data=st.data())
def test_the_goal_holds_at_the_limit_and_not_one_unit_above(
    data: st.DataObject, cases: Cases, reference: Reference
) -> None:
    case = Case.model_validate(data.draw(cases))
    worked = work_out(case, reference)
    deal, wanted = case.deal, float(case.deal.confidence)

    def chance(bid: int) -> float:
        landed = float(landed_cost(deal, Decimal(bid)))
        return worked.reach.chance(landed, float(deal.target_margin))

    found = worked.limit or 0
    assert chance(found + 1) < wanted + CENTS_OFF
    if worked.limit is not None:
        assert chance(found) >= wanted


@given(data=st.data())
def test_the_walk_away_price_is_the_limit_down_to_a_step_and_keeps_the_goal(
    data: st.DataObject, cases: Cases, run: Run, limit: Callable[..., int]
) -> None:
    raw = data.draw(cases)
    appraisal, highest = run(raw), limit(raw)
    if appraisal.walk_away_price is None:
        assert highest == NONE
        assert appraisal.at_walk_away is None
        return
    assert appraisal.walk_away_error is not None
    assert appraisal.at_walk_away is not None
    assert appraisal.at_walk_away.bid == appraisal.walk_away_price
    assert 0 <= highest - appraisal.walk_away_price <= max(5, 10 * appraisal.walk_away_error)
    if not raw["deal"]["fees"]:  # a fee that falls at a step makes a lower bid land dearer
        assert appraisal.at_walk_away.chance_of_target >= Decimal(raw["deal"]["confidence"])


@given(data=st.data())
def test_more_confidence_or_a_higher_target_never_raises_the_limit(
    data: st.DataObject, cases: Cases, limit: Callable[..., int]
) -> None:
    raw = data.draw(cases)
    levels = ["0.1", "0.5", "0.75", "0.8", "0.9", "0.99"]
    by_confidence = [limit(raw, confidence=level) for level in levels]
    assert by_confidence == sorted(by_confidence, reverse=True)
    by_target = [limit(raw, target_margin=target) for target in (-500, 0, 300, 1000, 4000)]
    assert by_target == sorted(by_target, reverse=True)


@given(data=st.data())
def test_dearer_conditions_never_raise_the_limit(
    data: st.DataObject, cases: Cases, limit: Callable[..., int]
) -> None:
    """Of the limit before it is brought down to a step, which changes with the error."""
    raw = data.draw(cases)
    before = limit(raw)
    for dearer in (
        {"transport": Decimal(raw["deal"]["transport"]) + 50},
        {"holding_per_day": Decimal(raw["deal"]["holding_per_day"]) + 5},
        {"selling_percent": Decimal(raw["deal"]["selling_percent"]) + 3},
        {"finance_percent": Decimal(raw["deal"]["finance_percent"]) + 6},
        {"tax_percent": Decimal(raw["deal"]["tax_percent"]) + 4},
    ):
        assert limit(raw, **dearer) <= before


@given(data=st.data(), budget=st.floats(-100, 12_000))
def test_the_highest_bid_is_within_the_budget_and_the_next_is_not(
    data: st.DataObject, budget: float, some_deals: st.SearchStrategy[dict[str, Any]]
) -> None:
    deal = Deal.model_validate(data.draw(some_deals))
    bid = highest_bid(deal, budget)
    if bid is None:
        assert budget <= 0 or landed_cost(deal, Decimal(1)) > Decimal(budget)
        return
    assert bid >= 1
    assert landed_cost(deal, Decimal(bid)) <= Decimal(repr(budget))
    assert landed_cost(deal, Decimal(bid + 1)) > Decimal(repr(budget))


@given(data=st.data())
def test_the_landed_cost_at_the_walk_away_price_is_what_its_lines_say(
    data: st.DataObject, cases: Cases, run: Run
) -> None:
    raw = data.draw(cases)
    appraisal = run(raw)
    assume(appraisal.at_walk_away is not None)
    outcome = appraisal.at_walk_away
    assert outcome is not None
    deal = Deal.model_validate(raw["deal"])
    assert outcome.landed_cost == landed_cost(deal, outcome.bid)
    assert sum(line.amount for line in outcome.landed_lines) == outcome.landed_cost


@given(data=st.data())
def test_chances_are_chances_and_quantiles_are_in_order(
    data: st.DataObject, cases: Cases, run: Run
) -> None:
    raw = data.draw(cases)
    appraisal = run(raw)
    chances = [one.chance for one in (*appraisal.repair.by_finding, *appraisal.repair.by_area)]
    chances += [one.chance_before for one in appraisal.repair.by_area]
    chances += [one.chance_of_loss for one in appraisal.curve]
    chances += [one.chance_of_target for one in appraisal.curve]
    chances.append(appraisal.unsourced_share)
    if appraisal.seller is not None:
        chances.append(appraisal.seller.percentile)
    assert all(0 <= one <= 1 for one in chances)
    if all(one["state"] == "fine" for one in raw["findings"]):  # a fault speaks for others
        for one in appraisal.repair.by_area:
            assert one.chance <= one.chance_before
    repair, resale = appraisal.repair, appraisal.resale
    for quantiles in (repair.money, repair.found, repair.shop_bill, resale.mended, repair.days):
        assert 0 <= quantiles.p10 <= quantiles.p50 <= quantiles.p90
        assert quantiles.mean_error >= 0


@given(data=st.data(), state=st.sampled_from(["fine", "faulty", "not_looked_at"]))
def test_looking_never_raises_what_an_area_may_hide(
    data: st.DataObject, state: str, cases: Cases, mend: Callable[..., RepairDraws]
) -> None:
    """But for what a fault tells of how well the car was kept: by that factor at most."""
    raw = data.draw(cases)
    extra: dict[str, Any] = {"id": "another", "area": "brakes", "state": state}
    if state == "fine":
        extra["look"] = data.draw(st.sampled_from(["glance", "close", "underneath", "measured"]))
    before = mend(Case.model_validate(raw))
    after = mend(Case.model_validate(raw | {"findings": [*raw["findings"], extra]}))
    worse = max(1.0, after.car.care.mean / before.car.care.mean)
    hides, hid = after.by_area["brakes"], before.by_area["brakes"]
    assert hides.money <= worse * hid.money + 1e-7
    assert hides.hours <= worse * hid.hours + 1e-7


@given(data=st.data())
def test_a_case_is_the_same_after_json(data: st.DataObject, cases: Cases) -> None:
    case = Case.model_validate(data.draw(cases))
    again = Case.model_validate_json(case.model_dump_json())
    assert again == case
    assert again.model_dump_json() == case.model_dump_json()
    shorter = case.model_dump_json(exclude_defaults=True)
    assert Case.model_validate_json(shorter) == case


@settings(max_examples=15)
@given(data=st.data())
def test_an_appraisal_is_the_same_after_json(data: st.DataObject, cases: Cases, run: Run) -> None:
    raw = data.draw(cases)
    appraisal = run(raw)
    assert Appraisal.model_validate_json(appraisal.model_dump_json()) == appraisal
    again = Case.model_validate_json(Case.model_validate(raw).model_dump_json())
    assert run(again.model_dump(mode="json")) == appraisal


@given(data=st.data())
def test_the_order_of_causes_moves_no_figure(
    data: st.DataObject, cases: Cases, reference: Reference
) -> None:
    raw = data.draw(cases)

    def turned(finding: dict[str, Any]) -> dict[str, Any]:
        causes = finding.get("causes")
        return finding | {"causes": data.draw(st.permutations(causes))} if causes else finding

    other = raw | {"findings": [turned(one) for one in raw["findings"]]}
    one, two = (appraise(Case.model_validate(each), reference) for each in (raw, other))
    assert one == two
