"""Entries made, refused and taken back; what the purchase really cost."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.ledger import EntryKind
from appraise.services import changed, today
from appraise.services.ownership.bookkeeping import add_entry
from ui.repair.ledger import paid_frame, paid_lines

CAR = "farm-truck-owned"


@pytest.fixture
def enter(desk: Any, widget: Any) -> Callable[..., AppTest]:
    """Return what fills the form of a new entry and sends it."""

    def go(window: AppTest, kind: EntryKind, **given: Any) -> AppTest:
        widget(window, "selectbox", "entry-new:kind").set_value(kind).run()
        kinds = {"on": "date_input", "job": "selectbox"}
        kinds |= dict.fromkeys(("amount", "hours"), "number_input")
        for field, value in given.items():
            widget(window, kinds.get(field, "text_input"), f"entry-new:{field}").set_value(value)
        return desk.press(window, "Enter")

    return go


DAY = date(2026, 11, 20)


def test_a_receipt_is_entered_and_the_form_is_empty_again(
    screens: Any, desk: Any, enter: Any, widget: Any, said: Any
) -> None:
    desk.planned()
    window = enter(
        desk.section("Money and hours"),
        EntryKind.PART,
        on=DAY,
        amount=44.9,
        job="bleed",
        supplier="Counter",
        number="77-1",
        note="The last one there",
    )

    (kept,) = screens.kept(CAR).work.entries
    assert (kept.on, kept.kind, kept.amount, kept.job) == (DAY, "part", Decimal("44.90"), "bleed")
    assert (kept.supplier, kept.number, kept.note) == ("Counter", "77-1", "The last one there")
    assert "Entered: 44.90 USD, part, on 2026-11-20." in said(window)
    assert widget(window, "number_input", "entry-new:amount").value is None
    assert widget(window, "selectbox", "entry-new:kind").value is EntryKind.PART
    assert "2026-11-20: part, 44.90 USD" in said(window)


def test_own_hours_are_entered_without_an_amount(screens: Any, desk: Any, enter: Any) -> None:
    desk.planned()
    window = enter(desk.section("Money and hours"), EntryKind.HOURS, on=DAY, hours=2.5)

    (kept,) = screens.kept(CAR).work.entries
    assert (kept.kind, kept.hours, kept.amount) == (EntryKind.HOURS, Decimal("2.50"), 0)
    assert not [one for one in window.number_input if str(one.key).endswith("entry-new:amount")]


@pytest.mark.parametrize(
    ("kind", "given", "words"),
    [
        (EntryKind.HOURS, {"hours": 25.0}, "Your hours: "),
        (EntryKind.HOURS, {"hours": 22.0}, "a day has 24"),
        (EntryKind.REFUND, {"amount": 500.0}, "more than was paid"),
        (EntryKind.CORE_RETURNED, {"amount": 10.0}, "more than was paid"),
        (EntryKind.PART, {"note": "no amount"}, "An amount of 0: enter what was paid"),
        (EntryKind.PART, {"amount": 5.0, "on": date(2026, 11, 1)}, "before the car was bought"),
    ],
)
def test_an_entry_that_cannot_be_is_refused_with_everything_typed_still_there(
    screens: Any,
    desk: Any,
    enter: Any,
    widget: Any,
    kind: EntryKind,
    given: dict[str, Any],
    words: str,
) -> None:
    case = desk.planned()
    case = add_entry(case, {"kind": "part", "on": DAY, "amount": "100.00", "job": "bleed"})
    case = screens.put(add_entry(case, {"kind": "hours", "on": DAY, "hours": "3"}))
    typed = {"on": DAY, "job": "bleed", "note": "as typed", **given}
    window = enter(desk.section("Money and hours"), kind, **typed)

    assert words in desk.errors(window)
    assert screens.kept(CAR).work == case.work
    kinds = {"on": "date_input", "job": "selectbox"}
    kinds |= dict.fromkeys(("amount", "hours"), "number_input")
    for field, value in typed.items():
        found = widget(window, kinds.get(field, "text_input"), f"entry-new:{field}")
        assert found.value == value


def test_an_entry_is_taken_back_by_a_new_one_and_stays_in_the_books(
    screens: Any, desk: Any, said: Any
) -> None:
    case = desk.planned()
    screens.put(add_entry(case, {"kind": "part", "on": DAY, "amount": "100.00", "job": "bleed"}))
    window = desk.click(desk.section("Money and hours"), "entry-back:part-2026-11-20")

    first, second = screens.kept(CAR).work.entries
    assert (second.corrects, second.paid, second.on) == (first.id, Decimal(-100), today())
    text = said(window)
    assert "~~2026-11-20: part, 100.00 USD~~ taken back" in text
    assert "takes back the entry of 2026-11-20" in text
    assert not [one for one in window.button if str(one.key).startswith("entry-back:")]


def test_what_a_refund_rests_on_is_not_taken_back(screens: Any, desk: Any) -> None:
    case = desk.planned()
    case = add_entry(case, {"kind": "part", "on": DAY, "amount": "100.00", "job": "bleed"})
    case = add_entry(case, {"kind": "refund", "on": DAY, "amount": "40.00", "job": "bleed"})
    screens.put(case)
    window = desk.click(desk.section("Money and hours"), "entry-back:part-2026-11-20")

    assert "40.00 more than was paid" in desk.errors(window)
    assert screens.kept(CAR).work == case.work


def test_the_newest_entries_stand_first_and_the_sums_are_right(
    screens: Any, desk: Any, said: Any
) -> None:
    case = screens.kept(CAR)
    window = desk.section("Money and hours")
    days = [
        line.split("**")[1].split(":")[0]
        for line in said(window).splitlines()
        if line.startswith("**20")
    ]
    sums = next(one.value for one in window.dataframe if one.proto.alt == "Totals by kind")
    landed = next(one.value for one in window.dataframe if one.proto.alt == "Cost to buy by line")

    assert days == sorted(days, reverse=True)
    assert len(days) > 3
    paid = sum((one.paid for one in case.work.entries), Decimal(0))
    assert sums.set_index("For")["Money, USD"]["All money, deposits among it"] == float(paid)
    assert case.purchase is not None
    assert landed["Paid, USD"].iloc[-1] == float(case.purchase.landed)


def test_what_was_really_paid_is_entered_line_by_line_and_forgotten_again(
    screens: Any, desk: Any, key: Any, edits: Any
) -> None:
    screens.put(changed(screens.kept(CAR), ("purchase", "paid"), []))
    window = desk.section("Money and hours", folds=("work-paid",))
    new = {"line": "New battery to get home", "paid": 89.5}
    window.session_state[key(window, "paid-lines")] = edits(changed={0: {"paid": 118}}, added=[new])
    desk.click(window, "paid-save")

    purchase = screens.kept(CAR).purchase
    assert [(one.label, one.amount) for one in purchase.paid] == [
        ("Price", purchase.bid),
        ("Title and registration", Decimal(118)),
        ("Transport", Decimal(140)),
        ("New battery to get home", Decimal("89.50")),
    ]
    desk.click(window, "paid-forget")
    assert screens.kept(CAR).purchase.paid == ()


def test_a_line_paid_without_a_name_is_refused(
    screens: Any, desk: Any, key: Any, edits: Any
) -> None:
    before = screens.kept(CAR).purchase
    window = desk.section("Money and hours", folds=("work-paid",))
    window.session_state[key(window, "paid-lines")] = edits(added=[{"paid": 12.0}])
    desk.click(window, "paid-save")

    assert "Line: is empty" in desk.errors(window)
    assert screens.kept(CAR).purchase == before


def test_the_lines_paid_read_back_as_they_are(screens: Any) -> None:
    case = screens.kept(CAR)
    lines = paid_lines(case, paid_frame(case, None))

    assert changed(case, ("purchase", "paid"), lines) == case
