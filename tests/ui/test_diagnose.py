"""The page Diagnose: the car's faults, what to look at next, what a result does, taking it back."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.case import Case
from appraise.models.diagnosis import Diagnosis, NextLook
from appraise.models.findings import Area, CheckResult, Look
from appraise.reports.wording import limit_words, percent
from appraise.services import finding_from_symptom
from ui.session import cached

CAR = "auction-engine-light"
OWNED = "farm-truck-owned"
CHECK = "plug_swap"
SYMPTOMS = ("cooling.runs_hot", "engine.white_smoke_sweet", "cooling.loses_coolant")


def results(case: Case) -> dict[str, str]:
    return {one.check: one.outcome for one in case.results}


def tools_of(case: Case) -> tuple[str, ...] | None:
    owned = case.deal.tools_owned
    return (*owned, "flashlight", "jack") if owned else None


def at_hand(case: Case) -> Diagnosis:
    """Return what the page shows: with the tools that are owned, a flashlight and a jack."""
    return cached.diagnosis(case, None, tools_of(case))


def bars(window: AppTest, currency: str = "USD") -> list[str]:
    """Return the label of each fault shown at first."""
    return [one.label for one in window.expander if one.label.endswith(f" {currency}")]


def outcomes() -> tuple[str, ...]:
    return cached.reference().checks[CHECK].outcomes


def enter(window: AppTest, widget: Any, check: str, outcome: str) -> None:
    """Say what a check showed, whether it was advised or not."""
    window.session_state["another-check"] = True
    window.run()
    widget(window, "selectbox", "another-check").set_value(check).run()
    radio = next(one for one in window.radio if (one.key or "").endswith(f"outcome.{check}"))
    radio.set_value(outcome)
    next(one for one in window.button if one.key == f"{radio.key}:enter").click().run()
    assert not window.exception


def shows(monkeypatch: pytest.MonkeyPatch, found: Diagnosis) -> None:
    monkeypatch.setattr(cached, "diagnosis", lambda *_, **__: found)


def look(kind: Any, name: str, **more: Any) -> NextLook:
    raw = {
        "check": name,
        "kind": kind,
        "label": f"The {kind}",
        "how": "Look.",
        "needs": "standing",
        "tools": (),
        "minutes": 2,
        "cost": 1,
        "worth": 9,
        "net": 8,
        "outcomes": [
            {"label": "not there", "chance": "0.75", "walk_away_price": 1500, "mean_profit": 1},
            {"label": "there", "chance": "0.25", "walk_away_price": None, "mean_profit": 1},
        ],
        "cautions": (),
    }
    return NextLook.model_validate(raw | more)


@pytest.fixture
def window(screens: Any) -> AppTest:
    opened: AppTest = screens.window("diagnose", CAR)
    return opened


def test_the_likeliest_faults_come_first_with_chance_and_cost(
    screens: Any, window: AppTest, said: Any, bare: Any
) -> None:
    found = at_hand(screens.kept(CAR))
    likely = [one for one in found.faults if one.chance >= Decimal("0.05")][:4]

    assert not window.exception
    assert likely
    assert [bare(one) for one in bars(window)] == [
        bare(f"**{percent(one.chance)}** {one.label}, {one.cost.p50:,.0f} USD") for one in likely
    ]
    assert found.advice in said(window)
    assert found.care.words in said(window)


def test_a_fault_opens_to_what_speaks_for_it_and_its_cost(
    screens: Any, window: AppTest, said: Any
) -> None:
    first = at_hand(screens.kept(CAR)).faults[0]
    assert "For:" not in said(window)
    window.session_state[f"fault:{first.id}"] = True
    window.run()

    assert f"**For:** {'; '.join(first.speaks_for)}" in said(window)
    cost = f"{first.cost.p10:,.0f} to {first.cost.p90:,.0f} USD (8 in 10)"
    assert cost in said(window)


def test_signs_stand_against_faults_in_a_picture_behind_one_press(screens: Any, said: Any) -> None:
    case = screens.kept(CAR).model_copy(update={"findings": (), "papers": ()})
    for name in SYMPTOMS:
        case = finding_from_symptom(case, name, cached.reference())
    case = screens.put(case)
    window = screens.window("diagnose", CAR)
    found = at_hand(case)

    assert found.explained
    assert all(one in said(window) for one in found.explained)
    assert f"One fault alone behind all signs: {percent(found.single_fault)}" in said(window)
    assert "Finding the faults: " in said(window)
    assert not window.get("plotly_chart")
    for fold in ("Signs against faults", "All faults", "Steps to find it"):
        window.session_state[f"fold:{fold}"] = True
    window.run()
    assert not window.exception
    assert len(window.get("plotly_chart")) == 1
    assert f"1 {found.faults[0].label}" in said(window)


def test_a_result_entered_is_kept_moves_the_faults_and_is_no_longer_offered(
    screens: Any, window: AppTest, said: Any, widget: Any
) -> None:
    before = bars(window)
    enter(window, widget, CHECK, outcomes()[0])
    (kept,) = screens.kept(CAR).results

    assert (kept.check, kept.outcome) == (CHECK, outcomes()[0])
    assert kept.done_on is not None
    assert bars(window) != before
    label = cached.reference().checks[CHECK].label
    assert f"{label}: **{outcomes()[0]}**" in said(window)
    assert label not in widget(window, "selectbox", "another-check").options


def test_a_result_moves_the_bid_page_and_taking_it_back_restores_it(
    screens: Any, window: AppTest, widget: Any, walk_away: Any
) -> None:
    price = walk_away(screens.turn(window, "bid"))
    screens.turn(window, "diagnose")
    enter(window, widget, CHECK, outcomes()[0])
    moved = walk_away(screens.turn(window, "bid"))
    screens.turn(window, "diagnose")
    window.button(key=f"back:{CHECK}").click().run()

    assert moved != price
    assert results(screens.kept(CAR)) == {}
    assert walk_away(screens.turn(window, "bid")) == price


def test_taking_back_restores_the_faults_and_can_be_undone(
    screens: Any, window: AppTest, said: Any, widget: Any
) -> None:
    start, before = screens.kept(CAR), bars(window)
    enter(window, widget, CHECK, outcomes()[1])
    entered, after = screens.kept(CAR), bars(window)
    window.button(key=f"back:{CHECK}").click().run()

    assert screens.kept(CAR) == start
    assert bars(window) == before
    label = cached.reference().checks[CHECK].label
    assert f"Taken back: {label}" in said(window)
    window.button(key="undo-button").click().run()
    assert screens.kept(CAR) == entered
    assert bars(window) == after


def test_two_results_are_kept_side_by_side_and_one_goes_alone(
    screens: Any, window: AppTest, widget: Any
) -> None:
    other = cached.reference().checks["spark_tester"]
    enter(window, widget, CHECK, outcomes()[1])
    enter(window, widget, other.id, other.outcomes[0])

    assert results(screens.kept(CAR)) == {CHECK: outcomes()[1], other.id: other.outcomes[0]}
    window.button(key=f"back:{CHECK}").click().run()
    assert results(screens.kept(CAR)) == {other.id: other.outcomes[0]}


def check_first(screens: Any, monkeypatch: pytest.MonkeyPatch) -> NextLook:
    """Let a check be advised first, with two of its outcomes weighed."""
    names = outcomes()
    views = [
        {"label": names[0], "chance": "0.7", "walk_away_price": 1500, "mean_profit": 1},
        {"label": names[1], "chance": "0.3", "walk_away_price": None, "mean_profit": 1},
    ]
    advised = look("check", CHECK, outcomes=views)
    found = at_hand(screens.kept(CAR)).model_copy(update={"next": (advised,)})
    shows(monkeypatch, found)
    return advised


def test_the_first_look_stands_open_and_each_outcome_says_what_it_leads_to(
    screens: Any, monkeypatch: pytest.MonkeyPatch, bare: Any
) -> None:
    advised = check_first(screens, monkeypatch)
    (radio,) = screens.window("diagnose", CAR).radio

    options = [bare(one) for one in radio.options]
    assert len(options) == len(outcomes())
    for view in advised.outcomes:
        words = f"{view.label} ({percent(view.chance)}, {limit_words(view.walk_away_price)})"
        assert words in options


def test_entering_without_an_outcome_says_to_choose_one_and_keeps_nothing(
    screens: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    version = screens.version(CAR)
    check_first(screens, monkeypatch)
    window = screens.window("diagnose", CAR)
    next(one for one in window.button if (one.key or "").endswith(":enter")).click().run()

    assert [one.value for one in window.error] == ["Choose what the check showed first\\."]
    assert screens.version(CAR) == version


@pytest.mark.parametrize("there", [True, False])
def test_a_symptom_that_is_there_is_noted_and_one_that_is_not_is_kept_as_absent(
    screens: Any, monkeypatch: pytest.MonkeyPatch, said: Any, *, there: bool
) -> None:
    before = screens.kept(CAR)
    found = at_hand(before)
    name = "engine.white_smoke_sweet"
    shows(monkeypatch, found.model_copy(update={"next": (look("symptom", name),)}))
    window = screens.window("diagnose", CAR)
    assert "there: 25 %, no bid works" in said(window)
    window.button(key=f"symptom:{name}:{there}").click().run()
    kept = screens.kept(CAR)

    assert not window.exception
    noted = [one for one in kept.findings if one.symptom == name]
    assert (len(noted), kept.not_seen) == ((1, ()) if there else (0, (name,)))
    if not there:
        label = cached.reference().symptoms[name].label
        assert f"{label}: **not there**" in said(window)
        window.button(key=f"back:{name}").click().run()
        assert screens.kept(CAR) == before


def test_a_look_at_an_area_leads_to_inspect_at_that_area(
    screens: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = at_hand(screens.kept(CAR))
    under = look("area", "brakes:close", tools=("jack", "flashlight"))
    shows(monkeypatch, found.model_copy(update={"next": (under,)}))
    window = screens.window("diagnose", CAR)
    assert "with jack, flashlight, 2 min" in "\n".join(one.value for one in window.caption)
    window.button(key="go:brakes:close").click().run()

    assert not window.exception
    assert window.title[0].value == "Inspect"
    assert window.session_state["area"] is Area.BRAKES
    (how,) = (one for one in window.get("button_group") if one.label == "How it was inspected")
    assert how.value in (Look.CLOSE, [Look.CLOSE])


def test_what_is_at_hand_decides_what_is_advised_and_is_remembered_for_the_car(
    screens: Any, monkeypatch: pytest.MonkeyPatch, widget: Any
) -> None:
    case = screens.kept(CAR)
    found, asked = at_hand(case), []

    def weighed(_: Case, *given: object, drive: bool) -> Diagnosis:
        asked.append((*given, drive))
        return found

    monkeypatch.setattr(cached, "diagnosis", weighed)
    window = screens.window("diagnose", CAR)
    widget(window, "number_input", "at-hand.minutes").set_value(4).run()
    widget(window, "multiselect", "at-hand.tools").set_value(["scan_tool"]).run()
    widget(window, "toggle", "at-hand.drive").set_value(False).run()
    screens.turn(window, "bid")
    screens.turn(window, "diagnose")

    assert not window.exception
    assert asked[0] == (None, tools_of(case), True)
    assert asked[-1] == (4, ("scan_tool",), False)
    assert widget(window, "number_input", "at-hand.minutes").value == 4
    assert widget(window, "toggle", "at-hand.drive").value is False


def test_where_nothing_pays_stop_looking_is_said_and_no_look_stands_open(
    screens: Any, monkeypatch: pytest.MonkeyPatch, said: Any
) -> None:
    found = at_hand(screens.kept(CAR))
    dear = look("symptom", "engine.white_smoke_sweet", net=-1)
    words = {"advice": "Stop looking: nothing pays.", "next": (dear,)}
    shows(monkeypatch, found.model_copy(update=words))
    window = screens.window("diagnose", CAR)

    assert "Stop looking: nothing pays." in said(window)
    assert not window.radio
    assert not any(one.key.startswith("symptom:") for one in window.button if one.key)
    window.session_state["other-looks"] = True
    window.run()
    assert [one.value.iloc[0, 0] for one in window.dataframe] == [dear.label]


def test_after_purchase_no_outcome_names_a_walk_away_price(
    screens: Any, monkeypatch: pytest.MonkeyPatch, said: Any
) -> None:
    found = at_hand(screens.kept(OWNED))
    shows(monkeypatch, found.model_copy(update={"next": (look("symptom", SYMPTOMS[0]),)}))
    window = screens.window("diagnose", OWNED)

    assert "which repair first" in said(window)
    assert "there: 25 %" in said(window)
    assert "walk away above" not in said(window)


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
    assert "No diagnosis yet" in said(window)


def test_a_result_of_a_check_that_is_gone_is_said_and_can_be_taken_back(
    screens: Any, said: Any
) -> None:
    case = screens.kept(CAR)
    lost = (CheckResult(check="ball", outcome="good"),)
    screens.put(case.model_copy(update={"results": lost}))
    window = screens.window("diagnose", CAR)

    assert not window.exception
    assert "there is no check 'ball'" in said(window)
    window.button(key="back:ball").click().run()
    assert screens.kept(CAR) == case
    assert bars(window)
