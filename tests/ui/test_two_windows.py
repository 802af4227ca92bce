"""Two windows on one car: the second to save is told, sees both versions, and chooses."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.errors import StoreUnavailable
from appraise.models.findings import Area, Finding, State
from appraise.store.cases import CaseStore

CAR = "auction-engine-light"


@pytest.fixture
def second(screens: Any, widget: Any) -> AppTest:
    """Return a window whose change was refused: another one had saved meanwhile."""
    first, later = screens.window("bid", CAR), screens.window("bid", CAR)
    widget(first, "number_input", "deal.target_margin").set_value(1500.0).run()
    assert "Keep mine instead" not in [one.label for one in first.button]
    widget(later, "number_input", "deal.asking_price").set_value(1900.0).run()
    assert not later.exception
    opened: AppTest = later
    return opened


def test_the_second_is_told_and_nothing_is_overwritten(screens: Any, second: AppTest) -> None:
    assert any("saved in another window" in one.value for one in second.warning)
    kept = screens.kept(CAR).deal
    assert (kept.target_margin, kept.asking_price) == (1500, 1700)


def test_the_second_sees_both_versions_field_by_field(second: AppTest) -> None:
    rows = second.dataframe[0].value
    seen = {one["field"]: (one["here"], one["saved elsewhere"]) for _, one in rows.iterrows()}

    assert set(seen) == {"deal: target margin", "deal: asking price"}
    assert [Decimal(one) for one in seen["deal: target margin"]] == [1200, 1500]
    assert [Decimal(one) for one in seen["deal: asking price"]] == [1900, 1700]


def test_the_one_saved_elsewhere_can_be_kept(
    screens: Any, second: AppTest, widget: Any, button: Any
) -> None:
    button(second, "Keep the one saved elsewhere").click().run()

    kept = screens.kept(CAR).deal
    assert (kept.target_margin, kept.asking_price) == (1500, 1700)
    assert widget(second, "number_input", "deal.asking_price").value == 1700
    assert not second.warning


def test_the_own_one_can_be_kept_instead(
    screens: Any, second: AppTest, widget: Any, button: Any
) -> None:
    button(second, "Keep mine instead").click().run()

    kept = screens.kept(CAR).deal
    assert (kept.target_margin, kept.asking_price) == (1200, 1900)
    assert widget(second, "number_input", "deal.target_margin").value == 1200
    assert not second.exception


def test_the_choice_is_still_asked_for_on_another_page(screens: Any, second: AppTest) -> None:
    screens.turn(second, "prices")

    assert any("saved in another window" in one.value for one in second.warning)


def test_after_the_choice_the_second_saves_again(
    screens: Any, second: AppTest, widget: Any, button: Any
) -> None:
    button(second, "Keep the one saved elsewhere").click().run()
    widget(second, "number_input", "deal.asking_price").set_value(1700.0).run()

    assert screens.kept(CAR).deal.asking_price == 1700


def test_a_third_save_before_the_choice_is_not_overwritten_unseen(
    screens: Any, second: AppTest, button: Any
) -> None:
    """Between the telling and the choosing somebody saves once more."""
    case = screens.kept(CAR)
    deal = case.deal.model_copy(update={"transport": Decimal(333)})
    screens.put(case.model_copy(update={"deal": deal}))
    button(second, "Keep mine instead").click().run()

    assert not second.exception
    assert screens.kept(CAR).deal.transport == 333
    assert any("saved in another window" in one.value for one in second.warning)


def test_nothing_else_can_be_changed_before_the_choice(second: AppTest) -> None:
    """A further change would be saved over the other version, and the first one be lost."""
    for kind in ("number_input", "slider", "selectbox", "text_input"):
        assert not [one for one in second.get(kind) if "deal." in str(one.key)]


def test_the_choice_is_still_asked_for_after_the_list_of_cars_and_another_car(
    screens: Any, second: AppTest, widget: Any, button: Any
) -> None:
    screens.turn(second, "cars")
    assert any("Your change is not saved yet" in one.value for one in second.warning)
    second.button(key="open:premium-overheats").click().run()
    assert not second.exception
    assert not any("saved in another window" in one.value for one in second.warning)
    screens.turn(second, "bid")
    widget(second, "number_input", "deal.asking_price").set_value(2750.0).run()
    assert screens.kept("premium-overheats").deal.asking_price == 2750

    screens.turn(second, "cars")
    second.button(key=f"clash:{CAR}").click().run()
    assert any("saved in another window" in one.value for one in second.warning)
    button(second, "Keep mine instead").click().run()
    assert (screens.kept(CAR).deal.target_margin, screens.kept(CAR).deal.asking_price) == (
        1200,
        1900,
    )
    screens.turn(second, "cars")
    assert not second.warning


@pytest.mark.parametrize("pressed", [f"open:{CAR}", "example:premium-overheats"])
def test_opening_any_car_drops_no_choice(
    screens: Any, second: AppTest, button: Any, pressed: str
) -> None:
    screens.turn(second, "cars")
    second.button(key=pressed).click().run()
    screens.turn(second, "cars")
    second.button(key=f"clash:{CAR}").click().run()
    button(second, "Keep the one saved elsewhere").click().run()

    assert not second.exception
    kept = screens.kept(CAR).deal
    assert (kept.target_margin, kept.asking_price) == (1500, 1700)


def test_a_choice_that_cannot_be_saved_is_asked_for_again(
    screens: Any, second: AppTest, button: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: Any, **__: Any) -> None:
        raise StoreUnavailable("The database cannot grow: the disk is full.")

    with monkeypatch.context() as patch:
        patch.setattr(CaseStore, "save", full)
        button(second, "Keep mine instead").click().run()
    assert not second.exception
    assert screens.kept(CAR).deal.asking_price == 1700
    button(second, "Keep mine instead").click().run()

    assert screens.kept(CAR).deal.asking_price == 1900


def test_an_undo_after_another_window_saved_asks_too(screens: Any, button: Any) -> None:
    window = screens.window("inspect", CAR)
    case = screens.kept(CAR)
    trouble = next(one for one in case.findings if one.trouble)
    window.selectbox(key="area").set_value(Area(trouble.area)).run()
    window.button(key=f"drop:{trouble.id}").click().run()
    other = screens.kept(CAR)
    deal = other.deal.model_copy(update={"transport": Decimal(333)})
    screens.put(other.model_copy(update={"deal": deal}))
    button(window, "Undo").click().run()

    assert not window.exception
    assert screens.kept(CAR).deal.transport == 333
    assert any("saved in another window" in one.value for one in window.warning)


def drop_a_finding(screens: Any) -> tuple[AppTest, str]:
    """Return a window in which a finding was removed a moment ago, and the finding's id."""
    window = screens.window("inspect", CAR)
    trouble = next(one for one in screens.kept(CAR).findings if one.trouble)
    window.selectbox(key="area").set_value(Area(trouble.area)).run()
    window.button(key=f"drop:{trouble.id}").click().run()
    return window, trouble.id


def test_an_undo_leaves_what_was_saved_since_in_another_window(screens: Any, button: Any) -> None:
    """The window has shown the other one's change by then, so that nothing clashes."""
    window, dropped = drop_a_finding(screens)
    other = screens.kept(CAR)
    deal = other.deal.model_copy(update={"transport": Decimal(333)})
    screens.put(other.model_copy(update={"deal": deal}))
    window.run()
    button(window, "Undo").click().run()

    assert not window.exception
    kept = screens.kept(CAR)
    assert kept.deal.transport == 333
    assert dropped in [one.id for one in kept.findings]


def test_an_undo_leaves_what_was_typed_since_in_the_same_window(
    screens: Any, button: Any, widget: Any
) -> None:
    window, dropped = drop_a_finding(screens)
    screens.turn(window, "bid")
    widget(window, "number_input", "deal.asking_price").set_value(1900.0).run()
    button(window, "Undo").click().run()

    kept = screens.kept(CAR)
    assert kept.deal.asking_price == 1900
    assert dropped in [one.id for one in kept.findings]


def test_an_undo_of_what_was_changed_again_is_refused_in_words(
    screens: Any, button: Any, said: Any
) -> None:
    window, dropped = drop_a_finding(screens)
    case = screens.kept(CAR)
    again = Finding(id=dropped, area=Area.GLASS_AND_LIGHTS, state=State.FAULTY, label="Another")
    kept = screens.put(case.model_copy(update={"findings": (*case.findings, again)}))
    window.run()
    button(window, "Undo").click().run()

    assert not window.exception
    assert "changed again since" in said(window)
    assert screens.kept(CAR) == kept


def test_a_deletion_that_was_not_saved_cannot_be_undone(screens: Any, button: Any) -> None:
    """Nothing was removed, so there is nothing to bring back over the other one's save."""
    window = screens.window("inspect", CAR)
    case = screens.kept(CAR)
    trouble = next(one for one in case.findings if one.trouble)
    window.selectbox(key="area").set_value(Area(trouble.area)).run()
    deal = case.deal.model_copy(update={"transport": Decimal(333)})
    screens.put(case.model_copy(update={"deal": deal}))
    window.button(key=f"drop:{trouble.id}").click().run()
    button(window, "Keep the one saved elsewhere").click().run()

    assert not [one for one in window.button if one.label == "Undo"]
    assert screens.kept(CAR).deal.transport == 333


def test_a_window_that_only_looks_shows_what_another_one_saved(screens: Any, widget: Any) -> None:
    looking, typing = screens.window("bid", CAR), screens.window("bid", CAR)
    widget(typing, "number_input", "deal.target_margin").set_value(1500.0).run()
    looking.run()

    assert widget(looking, "number_input", "deal.target_margin").value == 1500
