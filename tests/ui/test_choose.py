"""The page of the choice: options, what is spent, limits, breaking for parts, and the sale."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.case import Case
from appraise.models.choices import Choices
from appraise.models.work import Purpose
from appraise.reports.wording import chance_words
from appraise.services import changed, today
from appraise.services.ownership.deciding import choose_case
from appraise.services.ownership.working import add_upgrade, plan_from_findings, start_bypass
from ui.session import cached
from ui.widgets.show import plain

CAR = "farm-truck-owned"
TEXT = "**bold** [a link](http://example.org) :red[x] <b>y</b>"


def planned(screens: Any, *more: Callable[[Case], Case]) -> Case:
    """Keep the car with jobs planned from its findings, and nothing done or spent on it."""
    case = changed(screens.kept(CAR), ("work",), {})
    findings = [one.model_dump() | {"truth": None} for one in case.findings]
    case = plan_from_findings(changed(case, ("findings",), findings), cached.reference()).case
    for change in more:
        case = change(case)
    kept: Case = screens.put(case)
    return kept


@pytest.fixture
def window(screens: Any) -> AppTest:
    planned(screens)
    opened: AppTest = screens.window("decide", CAR)
    assert not opened.exception
    return opened


def found(screens: Any) -> Choices:
    """Return the choices as the service works them out, apart from the page."""
    return choose_case(screens.kept(CAR), cached.reference())


def links(window: AppTest) -> list[str]:
    return [one.value for one in window.get("page_link")]


def nets(window: AppTest) -> list[str]:
    return [str(one.value) for one in window.metric if one.label == "Net from today"]


def table(window: AppTest, column: str) -> Any:
    (frame,) = [one.value for one in window.dataframe if column in one.value.columns]
    return frame


# --- what stands on it ------------------------------------------------------------------------


def test_a_car_not_bought_yet_leads_to_the_look(screens: Any, said: Any) -> None:
    window = screens.window("decide", "dusk-curbside")

    assert "not bought yet" in said(window)
    assert links(window)[-1] == "Enter the purchase"


def test_without_a_price_it_says_what_to_enter_and_leads_to_the_prices(
    screens: Any, said: Any
) -> None:
    planned(screens, lambda case: changed(case, ("market", "comparables"), []))
    window = screens.window("decide", CAR)

    assert not window.exception
    assert "no comparable car" in said(window)
    assert "Enter prices" in links(window)
    assert not nets(window)


def test_the_advice_stands_first_and_each_option_once_with_its_figures(
    screens: Any, window: AppTest, said: Any
) -> None:
    choices, told = found(screens), said(window)
    different = {(one.jobs, one.net, one.days) for one in choices.options}

    assert f"**{choices.advice}**" in told
    assert len(nets(window)) == len(different)
    assert set(nets(window)) == {f"{one.net.mean:,.0f}" for one in choices.options}
    for one in choices.options:
        assert one.label in told
        assert f"{one.net.p10:,.0f} to {one.net.p90:,.0f}" in told
        assert f"Price: **{one.price.mean:,.0f}**" in told or one.kind == "keep"
    best = choices.options[0]
    assert f"**{chance_words(best.worse_than_selling_now)}**" in told
    assert told.index(choices.advice) < told.index(best.label, told.index(choices.advice) + 40)


def test_options_that_do_the_same_are_shown_as_one(window: AppTest, said: Any) -> None:
    """All repairs pay for themselves here, so that the best set is all of them."""
    assert "The same as: Repair all that is wrong." in said(window)


def test_what_is_spent_is_its_own_line_and_left_out(screens: Any, said: Any) -> None:
    planned(screens)
    before = found(screens)

    def paid(case: Case) -> Case:
        bought = case.purchase.bought_on if case.purchase else today()
        entry = {"id": "drill", "on": bought, "kind": "tool", "amount": 120}
        return changed(case, ("work", "entries"), [entry])

    planned(screens, paid)
    window = screens.window("decide", CAR)
    after = found(screens)

    assert after.spent.repair == before.spent.repair + 120
    assert [one.net for one in after.options] == [one.net for one in before.options]
    told = said(window)
    assert "Already spent, left out of every option" in told
    assert f"repair {after.spent.repair:,.0f}" in told
    assert f"{after.break_even_price:,.0f}" in told


def test_the_frontier_names_what_each_point_adds_by_money_and_by_hours(
    screens: Any, window: AppTest, said: Any
) -> None:
    choices = found(screens)
    by_money = f"**{choices.by_money[-1].money:,.0f} USD, {choices.by_money[-1].hours:.1f} h: net"
    assert by_money in said(window)
    window.session_state["frontier"] = "Your hours"
    window.run()

    assert not window.exception
    last = choices.by_hours[-1]
    assert f"**{last.money:,.0f} USD, {last.hours:.1f} h: net {last.net.mean:,.0f}**" in said(
        window
    )
    assert "Putting in" in said(window)


def test_each_job_has_a_row_with_what_it_leaves(screens: Any, window: AppTest) -> None:
    choices = found(screens)
    frame = table(window, "Must be done")

    assert list(frame["Job or finding"]) == [one.label for one in choices.items]
    assert list(frame["Leaves, USD"]) == [round(float(one.net)) for one in choices.items]
    assert [one == "yes" for one in frame["Must be done"]] == [one.must for one in choices.items]


def test_upgrades_have_a_table_of_their_own_with_what_they_return(screens: Any) -> None:
    reference = cached.reference()
    name = next(one for one in reference.jobs if one.startswith("preparation."))
    planned(screens, lambda case: add_upgrade(case, name, Purpose.UPGRADE, reference))
    window = screens.window("decide", CAR)
    frame = table(window, "Returned of its cost")

    assert list(frame["Job or finding"]) == [reference.jobs[name].job.label]
    (item,) = [one for one in found(screens).items if one.purpose is Purpose.UPGRADE]
    share = int(frame["Returned of its cost"][0].removesuffix("%"))
    assert (share < 100) == (item.net < 0)
    assert reference.jobs[name].job.label not in list(
        table(window, "Must be done")["Job or finding"]
    )


def test_checks_worth_their_cost_are_listed_and_lead_to_the_causes(
    screens: Any, monkeypatch: pytest.MonkeyPatch, said: Any
) -> None:
    planned(screens)
    choices = found(screens)
    check: dict[str, Any] = {
        "check": "c",
        "label": "Drain the oil",
        "worth": Decimal(90),
        "cost": Decimal(12),
    }
    more = Choices.model_validate(choices.model_dump() | {"checks": [check]})
    monkeypatch.setattr(cached, "choices", lambda _: more)
    window = screens.window("decide", CAR)

    assert "**Drain the oil**: worth 90, costs 12 USD" in said(window)
    assert "Enter what a check showed" in links(window)


# --- what the person says ---------------------------------------------------------------------


def test_a_limit_on_the_money_is_kept_and_changes_what_pays_best(
    screens: Any, window: AppTest, key: Any
) -> None:
    before = nets(window)
    least, *_, all_of_it = found(screens).by_money
    most = round((least.money + all_of_it.money) / 2, 2)
    window.number_input(key=key(window, "work", "money_limit")).set_value(float(most)).run()

    assert not window.exception
    assert screens.kept(CAR).work.money_limit == most
    assert nets(window) != before


def test_a_limit_below_what_must_be_done_is_told(screens: Any, said: Any) -> None:
    planned(screens, lambda case: changed(case, ("work", "money_limit"), 1))
    window = screens.window("decide", CAR)

    assert not window.exception
    assert "no set of jobs can be chosen" in said(window).lower()
    assert "within what limits you" in said(window)


def test_what_it_is_worth_to_keep_is_weighed_once_it_is_said(
    screens: Any, window: AppTest, key: Any, said: Any
) -> None:
    assert "Say what it is worth to you" in said(window)
    start = key(window, "work", "worth_to_keep")
    for place, amount in (("low", 9000.0), ("likely", 12000.0), ("high", 15000.0)):
        window.number_input(key=f"{start}.{place}").set_value(amount).run()

    worth = screens.kept(CAR).work.worth_to_keep
    assert worth is not None
    assert worth.likely == 12000
    assert "Say what it is worth to you" not in said(window)
    assert found(screens).options[0].kind == "keep"


def breaking(window: AppTest, edits: Any, *lines: dict[str, Any]) -> AppTest:
    (save,) = [one for one in window.button if one.label == "Weigh parting it out"]
    window.session_state[f"{str(save.key).removesuffix(':save')}:lines"] = edits(added=list(lines))
    save.click().run()
    assert not window.exception
    return window


ENGINE = {
    "what is sold": "Engine",
    "low": 400.0,
    "likely": 700.0,
    "high": 1100.0,
    "chance": 60.0,
    "hours": 8.0,
}


def test_breaking_it_is_weighed_with_its_lines_scrap_and_days(
    screens: Any, window: AppTest, edits: Any, said: Any
) -> None:
    window.number_input(key=f"{CAR}:breaking:0:scrap").set_value(250.0)
    window.number_input(key=f"{CAR}:breaking:0:days").set_value(45)
    breaking(window, edits, ENGINE, {"what is sold": "Doors", "likely": 300.0})

    kept = screens.kept(CAR).work.breaking
    assert kept is not None
    assert (kept.scrap, kept.days) == (250, 45)
    engine, doors = kept.lines
    assert (engine.chance, engine.hours, engine.price.high) == (Decimal("0.6"), 8, 1100)
    assert (doors.chance, doors.hours, doors.price.is_fixed) == (Decimal("0.7"), 1, True)
    assert "**Part out**" in said(window)


def test_breaking_that_cannot_be_is_refused_and_stays_typed(
    screens: Any, window: AppTest, edits: Any, bare: Any
) -> None:
    version = screens.version(CAR)
    breaking(window, edits, ENGINE | {"low": 900.0})

    assert "low (900.00) is above likely (700.00)" in bare(window.error[0].value)
    assert screens.version(CAR) == version
    rows = window.session_state[f"{CAR}:breaking:0:lines"]["added_rows"]
    assert rows == [ENGINE | {"low": 900.0}]


def test_breaking_changed_in_another_window_is_not_overwritten_unseen(
    screens: Any, window: AppTest, edits: Any, bare: Any
) -> None:
    screens.put(changed(screens.kept(CAR), ("work", "breaking"), {"scrap": 333}))
    breaking(window, edits, ENGINE)
    kept = screens.kept(CAR).work.breaking

    assert kept is not None
    assert (kept.scrap, kept.lines) == (333, ())
    assert "Another window changed" in bare(" ".join(one.value for one in window.warning))
    breaking(window, edits, ENGINE)
    kept = screens.kept(CAR).work.breaking
    assert kept is not None
    assert [one.label for one in kept.lines] == ["Engine"]


def test_breaking_is_left_out_again_and_comes_back(
    screens: Any, window: AppTest, edits: Any, button: Any
) -> None:
    breaking(window, edits, ENGINE)
    before = screens.kept(CAR)
    button(window, "Leave parting out aside").click().run()

    assert screens.kept(CAR).work.breaking is None
    window.button(key="undo-button").click().run()
    assert screens.kept(CAR) == before


# --- own text ---------------------------------------------------------------------------------


def test_what_a_person_typed_appears_as_text(screens: Any, bare: Any, button: Any) -> None:
    case = planned(screens, lambda case: changed(case, ("findings", "window", "label"), TEXT))
    case = start_bypass(case, TEXT, TEXT, TEXT, today(), cached.reference())
    screens.put(changed(case, ("work", "disclosed"), [case.work.open_bypasses[0].id]))
    screens.put(changed(screens.kept(CAR), ("standing",), "on_sale"))
    window = screens.window("decide", CAR)
    button(window, "Change the offer").click().run()
    assert not window.exception
    kinds = ("markdown", "caption", "error", "warning", "info", "success")
    every = [str(one.value) for kind in kinds for one in window.get(kind)]
    every += [one.label for one in window.checkbox]
    told = [one for one in every if TEXT in bare(one)]

    assert len(told) >= 3
    assert all(TEXT not in bare(one.replace(plain(TEXT), "")) for one in told)
    assert not [one for one in window.get("markdown") if one.allow_html]
