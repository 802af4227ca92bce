"""The page of the causes: what a result does, taking it back, and when to stop checking."""

from __future__ import annotations

from decimal import Decimal
from math import inf
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.case import Case
from appraise.models.findings import CheckResult, Finding
from ui.session import cached

CAR = "auction-engine-light"
OWNED = "farm-truck-owned"
WHINE = "axle-whine"


def finding_of(case: Case, name: str = "misfire") -> Finding:
    return next(one for one in case.findings if one.id == name)


def results(case: Case, name: str = "misfire") -> dict[str, str]:
    return {one.check: one.outcome for one in finding_of(case, name).results}


def ask(screens: Any, asking: int) -> Case:
    """Ask another price, near which the decision hangs on what is found."""
    case = screens.kept(CAR)
    deal = case.deal.model_copy(update={"asking_price": Decimal(asking)})
    kept: Case = screens.put(case.model_copy(update={"deal": deal}))
    return kept


def turn_to(window: AppTest, name: str) -> None:
    window.selectbox(key=f"{window.session_state['car']}:causes-finding").set_value(name).run()


def pick(window: AppTest, widget: Any, check: str, found: str = "misfire") -> None:
    widget(window, "selectbox", f"check.{found}").set_value(check).run()


def enter(window: AppTest, widget: Any, check: str, outcome: str, found: str = "misfire") -> None:
    """Choose a check, say what it showed and enter it."""
    pick(window, widget, check, found)
    widget(window, "radio", f"outcome.{found}.{check}").set_value(outcome)
    widget(window, "button", f"outcome.{found}.{check}:enter").click().run()
    assert not window.exception


def odds(window: AppTest, said: Any) -> str:
    return next(line for line in said(window).splitlines() if line.startswith("Chances: "))


@pytest.fixture
def window(screens: Any) -> AppTest:
    opened: AppTest = screens.window("diagnose", CAR)
    return opened


CHECK = "plug_swap"


def outcomes() -> tuple[str, ...]:
    return cached.reference().checks[CHECK].outcomes


def test_the_odds_the_advice_and_the_checks_are_those_of_the_diagnosis(
    screens: Any, window: AppTest, said: Any, widget: Any
) -> None:
    (found,) = cached.diagnosis(screens.kept(CAR), "misfire").findings
    text = said(window)

    assert not window.exception
    assert found.advice in text
    for cause in found.causes:
        assert f"{cause.label} {cause.after:.0%}" in odds(window, said) or not cause.after
    listed = widget(window, "selectbox", "check.misfire").options
    assert len(listed) == len(found.checks)
    assert listed[0].startswith(found.checks[0].label)


def test_a_result_entered_is_kept_moves_the_odds_and_is_no_longer_offered(
    screens: Any, window: AppTest, said: Any, widget: Any
) -> None:
    before = odds(window, said)
    enter(window, widget, CHECK, outcomes()[0])
    kept = finding_of(screens.kept(CAR)).results[0]

    assert (kept.check, kept.outcome) == (CHECK, outcomes()[0])
    assert kept.done_on is not None
    assert odds(window, said) != before
    assert "(was " in odds(window, said)
    label = cached.reference().checks[CHECK].label
    assert f"{label}: **{outcomes()[0]}**" in said(window)
    assert not any(
        one.startswith(label) for one in widget(window, "selectbox", "check.misfire").options
    )


def test_a_result_moves_the_bid_page_and_taking_it_back_restores_it(
    screens: Any, window: AppTest, widget: Any, walk_away: Any
) -> None:
    price = walk_away(screens.turn(window, "bid"))
    screens.turn(window, "diagnose")
    enter(window, widget, CHECK, outcomes()[0])
    moved = walk_away(screens.turn(window, "bid"))
    screens.turn(window, "diagnose")
    window.button(key=f"back:misfire:{CHECK}").click().run()

    assert moved != price
    assert results(screens.kept(CAR)) == {}
    assert walk_away(screens.turn(window, "bid")) == price


def test_taking_back_restores_the_odds_and_can_be_undone(
    screens: Any, window: AppTest, said: Any, widget: Any
) -> None:
    start, before = screens.kept(CAR), odds(window, said)
    enter(window, widget, CHECK, outcomes()[1])
    entered, after = screens.kept(CAR), odds(window, said)
    window.button(key=f"back:misfire:{CHECK}").click().run()

    assert screens.kept(CAR) == start
    assert odds(window, said) == before
    label = cached.reference().checks[CHECK].label
    assert f"Taken back: {label}" in said(window)
    window.button(key="undo-button").click().run()
    assert screens.kept(CAR) == entered
    assert odds(window, said) == after
    assert not [one for one in window.button if one.key == "undo-button"]


def test_two_results_are_kept_side_by_side_and_one_goes_alone(
    screens: Any, window: AppTest, widget: Any
) -> None:
    other = cached.reference().checks["spark_tester"]
    enter(window, widget, CHECK, outcomes()[1])
    enter(window, widget, other.id, other.outcomes[0])

    assert results(screens.kept(CAR)) == {CHECK: outcomes()[1], other.id: other.outcomes[0]}
    window.button(key=f"back:misfire:{CHECK}").click().run()
    assert results(screens.kept(CAR)) == {other.id: other.outcomes[0]}


def test_entering_without_an_outcome_says_to_choose_one_and_keeps_nothing(
    screens: Any, window: AppTest, widget: Any
) -> None:
    version = screens.version(CAR)
    pick(window, widget, CHECK)
    widget(window, "button", f"outcome.misfire.{CHECK}:enter").click().run()

    assert [one.value for one in window.error] == ["Choose what the check showed first\\."]
    assert screens.version(CAR) == version


def test_stop_checking_is_shown_when_nothing_is_worth_its_price(screens: Any, said: Any) -> None:
    ask(screens, 3200)

    assert "Stop checking: no result would move the walk-away price" in said(
        screens.window("diagnose", CAR)
    )


def test_a_check_worth_its_price_is_advised_with_the_price_that_each_result_leads_to(
    screens: Any, window: AppTest, said: Any
) -> None:
    diagnosis = cached.diagnosis(screens.kept(CAR), "misfire")
    (found,) = diagnosis.findings

    assert found.checks[0].net > 0
    assert f"Walk-away price: {diagnosis.walk_away_price:,} now" in found.advice
    assert "Stop checking" not in said(window)
    assert found.advice in said(window)


def test_after_purchase_the_trials_stand_in_their_order_with_their_cost(
    screens: Any, said: Any
) -> None:
    window = screens.window("diagnose", OWNED)
    turn_to(window, WHINE)
    (found,) = cached.diagnosis(screens.kept(OWNED), WHINE).findings
    (box,) = (one for one in window.expander if one.label == "In which order to try repairs")
    assert not box.proto.expanded
    assert "which repair first" in said(window)
    ratios = [float(one.chance / one.cost) if one.cost else inf for one in found.trials]
    assert ratios == sorted(ratios, reverse=True)


def test_each_outcome_is_offered_with_its_chance_and_the_price_it_leads_to(
    screens: Any, window: AppTest, widget: Any, bare: Any
) -> None:
    pick(window, widget, CHECK)
    (found,) = cached.diagnosis(screens.kept(CAR), "misfire").findings
    check = next(one for one in found.checks if one.id == CHECK)
    options = widget(window, "radio", f"outcome.misfire.{CHECK}").options
    options = [bare(one) for one in options]

    assert len(options) == len(outcomes())
    for view in check.outcomes:
        price = f"walk away above {view.walk_away_price:,}"
        assert f"{view.outcome} ({view.chance:.0%}: {price})" in options


SURE_CHECKS = "".join(
    f"""
[[check]]
kind = "own"
id = "sure_{number}"
label = "Sure of {cause}"
minutes = [5, 6, 10]
how = "Look at it closely, then decide."
needs = "standing"
outcomes = ["no", "yes"]
otherwise = [1, 0]
[[check.given]]
causes = ["{cause}"]
chances = [0, 1]
"""
    for number, cause in enumerate(("ignition.coil", "ignition.spark_plugs"))
)
"""A person's own checks: each says yes under one cause only."""


def test_contradictory_results_are_said_and_leave_the_odds(
    screens: Any, said: Any, widget: Any
) -> None:
    screens.own().save(SURE_CHECKS)
    window = screens.window("diagnose", CAR)
    plain = odds(window, said)
    enter(window, widget, "sure_0", "yes")
    assert " 100% (was 42%)" in odds(window, said)
    case = screens.kept(CAR)
    more = (*finding_of(case).results, CheckResult(check="sure_1", outcome="yes"))
    rest = tuple(
        one.model_copy(update={"results": more}) if one.id == "misfire" else one
        for one in case.findings
    )
    screens.put(case.model_copy(update={"findings": rest}))
    window = screens.window("diagnose", CAR)

    assert any("contradict each other" in one.value for one in window.warning)
    assert odds(window, said) == plain


def test_without_a_car_the_page_says_how_to_open_one(screens: Any, said: Any) -> None:
    window = screens.window("diagnose")

    assert not window.exception
    assert "No car is open." in said(window)
    assert "Choose or add a car" in {one.label for one in window.get("page_link")}


def test_without_trouble_the_page_says_to_note_what_is_found(screens: Any, said: Any) -> None:
    case = screens.kept(CAR)
    fine = tuple(one for one in case.findings if not one.trouble)
    screens.put(case.model_copy(update={"findings": fine}))
    window = screens.window("diagnose", CAR)

    assert not window.exception
    assert "Nothing suspect or faulty is noted yet." in said(window)
    assert "Inspect" in {one.label for one in window.get("page_link")}


def test_without_a_price_the_page_says_what_is_missing(screens: Any, said: Any) -> None:
    case = screens.kept(CAR)
    market = case.market.model_copy(update={"comparables": ()})
    screens.put(case.model_copy(update={"market": market}))
    window = screens.window("diagnose", CAR)

    assert not window.exception
    assert "No price yet" in said(window)


def test_a_result_of_a_check_that_is_gone_is_said_and_breaks_nothing(
    screens: Any, said: Any
) -> None:
    case = screens.kept(CAR)
    lost = (CheckResult(check="ball", outcome="good"),)
    rest = tuple(
        one.model_copy(update={"results": lost}) if one.id == "misfire" else one
        for one in case.findings
    )
    screens.put(case.model_copy(update={"findings": rest}))
    window = screens.window("diagnose", CAR)

    assert not window.exception
    assert "there is no check 'ball'" in said(window)


def test_turning_to_another_finding_shows_its_own_checks(screens: Any, widget: Any) -> None:
    window = screens.window("diagnose", OWNED)
    turn_to(window, WHINE)
    (found,) = cached.diagnosis(screens.kept(OWNED), WHINE).findings

    options = widget(window, "selectbox", f"check.{WHINE}").options
    assert options[0].startswith(found.checks[0].label)
    assert "worth" in options[0]
