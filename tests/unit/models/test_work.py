"""Work on a car: what hangs together, what is refused and in which words."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from appraise.models.case import Case
from appraise.models.ledger import BACK, Entry, EntryKind
from appraise.models.work import Work

CAR = {
    "make": "Invented",
    "model": "One",
    "model_year": 2015,
    "odometer": {"value": 1, "unit": "km"},
}
BYPASS = {
    "what": "The fan relay",
    "reason": "To drive it home",
    "started_on": "2026-03-01",
    "restore": "Fit the relay",
}


def planned(name: str, **more: Any) -> dict[str, Any]:
    return {"id": name, "job": "brakes.front_pads"} | more


def entry(name: str, kind: str, **more: Any) -> dict[str, Any]:
    return {"id": name, "on": "2026-03-02", "kind": kind} | more


def work(*jobs: dict[str, Any], **more: Any) -> Work:
    return Work.model_validate({"jobs": list(jobs)} | more)


def ledger(*entries: dict[str, Any]) -> Work:
    return work(planned("pads"), planned("fluid"), entries=list(entries))


def refused(make: Any) -> str:
    with pytest.raises(ValidationError) as wrong:
        make()
    return str(wrong.value)


# --- jobs -----------------------------------------------------------------------------------------


def test_jobs_that_wait_for_each_other_in_a_ring_are_refused_by_name() -> None:
    said = refused(
        lambda: work(
            planned("a", after=["c"]), planned("b", after=["a"]), planned("c", after=["b"])
        )
    )

    assert "wait for each other in a ring" in said
    assert all(f"{name} " in said for name in "abc")
    assert work(planned("a"), planned("b", after=["a"]), planned("c", after=["a", "b"])).jobs


def test_a_job_cannot_wait_for_itself_or_for_what_is_not_planned() -> None:
    assert "ring" in refused(lambda: work(planned("a", after=["a"])))
    assert "'z', which is not planned" in refused(lambda: work(planned("a", after=["z"])))
    assert "'z', which is not planned" in refused(lambda: work(at_most_one=[["z"]]))


def test_a_job_with_receipts_cannot_be_taken_out() -> None:
    said = refused(lambda: work(entries=[entry("e", "part", amount=5, job="gone")]))

    assert "dropped, not deleted" in said


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"stage": "done"}, "without the day"),
        ({"stage": "done", "done_on": "2026-03-01"}, "needs a proof"),
        ({"done_on": "2026-03-01"}, "but is planned"),
        (
            {
                "stage": "done",
                "started_on": "2026-03-05",
                "done_on": "2026-03-01",
                "proof": {"why_none": "nothing to measure"},
            },
            "before it was begun",
        ),
        ({"purpose": "bypass"}, "a bypass says"),
        ({"bypass": BYPASS}, "a bypass says"),
        ({"parts": [{"id": "p", "label": "P"}, {"id": "p", "label": "Q"}]}, "share the id 'p'"),
        ({"parts": [{"id": "p", "label": "P", "quantity": -1}]}, "parts.0.quantity"),
        ({"parts": [{"id": "p", "label": "P", "quantity": 0}]}, "parts.0.quantity"),
        ({"quantity": -2}, "quantity"),
    ],
)
def test_a_job_that_cannot_be_is_refused(more: dict[str, Any], words: str) -> None:
    assert words in refused(lambda: work(planned("a", **more)))


def test_done_takes_a_proof_or_the_reason_for_none() -> None:
    done = {"stage": "done", "done_on": "2026-03-01"}

    assert not work(planned("a", **done, proof={"why_none": "a look is all there is"})).jobs[0].open


def test_what_a_part_comes_to_is_price_times_quantity_and_what_brings_it_here() -> None:
    part = {"id": "p", "label": "P", "quantity": 2, "price": "10.10", "shipping": 5, "tax": "1.01"}

    assert work(planned("a", parts=[part])).jobs[0].parts[0].cost == Decimal("26.21")


# --- entries --------------------------------------------------------------------------------------


def test_more_cannot_be_refunded_than_was_paid() -> None:
    paid = entry("e1", "part", amount="40.00", job="pads")

    assert ledger(paid, entry("e2", "refund", amount="40.00", job="pads")).entries
    said = refused(lambda: ledger(paid, entry("e2", "refund", amount="40.01", job="pads")))
    assert "refunds for the job pads are 0.01 more than was paid" in said
    said = refused(lambda: ledger(paid, entry("e2", "refund", amount="1.00", job="fluid")))
    assert "job fluid" in said, "each job answers for itself"


def test_a_deposit_comes_back_at_most_whole() -> None:
    paid = entry("e1", "core_deposit", amount=30, job="pads")
    bought = entry("e3", "part", amount=300, job="pads")

    assert ledger(paid, entry("e2", "core_returned", amount=30, job="pads")).entries
    said = refused(
        lambda: ledger(paid, bought, entry("e2", "core_returned", amount=31, job="pads"))
    )
    assert "deposits given back" in said, "what the parts cost does not count as a deposit"


def test_a_day_has_24_hours() -> None:
    assert "hours" in refused(lambda: ledger(entry("e", "hours", hours=25)))
    whole = entry("e1", "hours", hours=20, job="pads")
    said = refused(lambda: ledger(whole, entry("e2", "hours", hours="4.5", job="fluid")))
    assert "24.5 hours of your own on 2026-03-02" in said
    assert ledger(whole, entry("e2", "hours", hours=4, job="fluid")).entries


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (entry("e", "part"), "an amount of 0"),
        (entry("e", "hours"), "your hours of 0"),
        (entry("e", "hours", hours=1, amount=1), "carry no amount"),
        (entry("e", "part", hours=1, amount=1), "carries hours"),
        (entry("e", "part", amount=-1), "amount"),
        (entry("e", "part", amount="1.001"), "amount"),
        (entry("e", "part", amount=1, currency="euro"), "currency"),
    ],
)
def test_an_entry_that_cannot_be_is_refused(one: dict[str, Any], words: str) -> None:
    assert words in refused(lambda: ledger(one))


def test_an_entry_is_taken_back_whole_once_and_by_a_later_one() -> None:
    wrong = entry("e1", "part", amount="410.00", job="pads")
    back = entry("e2", "part", amount="410.00", job="pads", corrects="e1")
    right = entry("e3", "part", amount="41.00", job="pads")

    assert sum(one.paid for one in ledger(wrong, back, right).entries) == Decimal("41.00")
    assert "already" in refused(lambda: ledger(wrong, back, back | {"id": "e4"}))
    assert "whole" in refused(lambda: ledger(wrong, back | {"amount": "400.00"}))
    assert "not before it" in refused(lambda: ledger(back, wrong))
    assert "not before it" in refused(
        lambda: ledger(wrong, back, back | {"id": "e4", "corrects": "e2"})
    )


KINDS = [kind for kind in EntryKind if kind is not EntryKind.HOURS and kind not in BACK]
AMOUNTS = st.decimals(min_value="0.01", max_value=90_000, places=2)


@given(st.lists(st.tuples(st.sampled_from(KINDS), AMOUNTS, st.booleans()), max_size=30))
def test_the_total_is_always_the_sum_of_the_lines(
    lines: list[tuple[EntryKind, Decimal, bool]],
) -> None:
    """To the cent, whatever is taken back."""
    entries = []
    expected = Decimal(0)
    for number, (kind, amount, taken_back) in enumerate(lines):
        one = entry(f"e{number}", kind.value, amount=amount, job="pads")
        entries.append(one)
        expected += amount
        if taken_back:
            entries.append(one | {"id": f"b{number}", "corrects": f"e{number}"})
            expected -= amount

    assert sum((one.paid for one in ledger(*entries).entries), Decimal(0)) == expected


def test_the_sign_of_every_kind() -> None:
    for kind in EntryKind:
        amounts = {"hours": 1} if kind is EntryKind.HOURS else {"amount": 1}
        one = Entry.model_validate(entry("e", kind.value) | amounts)
        taken_back = one.model_copy(update={"corrects": "x"})

        assert one.sign == (-1 if kind in BACK else 1)
        assert taken_back.sign == -one.sign


# --- within the case ------------------------------------------------------------------------------


def case(**more: Any) -> Case:
    least = {"id": "a", "title": "A", "appraised_on": "2026-03-02", "vehicle": CAR}
    return Case.model_validate(least | more)


OWNED = {"standing": "owned", "purchase": {"bid": 100, "bought_on": "2026-03-01"}}


def test_a_receipt_in_another_currency_is_refused_with_what_to_do() -> None:
    one = entry("e", "part", amount=5, currency="EUR")
    said = refused(lambda: case(work={"entries": [one]}))

    assert "is in EUR, the car is kept in USD" in said
    assert case(currency="EUR", work={"entries": [one]}).work.entries


def test_nothing_is_spent_on_a_car_before_it_is_bought() -> None:
    early = entry("e", "part", amount=5) | {"on": "2026-02-28"}

    assert "before the car was bought" in refused(lambda: case(**OWNED, work={"entries": [early]}))


def test_an_open_bypass_keeps_the_car_from_the_market_until_it_is_disclosed() -> None:
    bypass = planned("relay", purpose="bypass", bypass=BYPASS)
    offered = OWNED | {"standing": "on_sale"}

    said = refused(lambda: case(**offered, work={"jobs": [bypass]}))
    assert "The fan relay is bypassed and not disclosed" in said
    assert case(**OWNED, work={"jobs": [bypass]}).work.open_bypasses, "an owned car may wait"
    assert case(**offered, work={"jobs": [bypass], "disclosed": ["relay"]})
    restored = bypass | {"bypass": BYPASS | {"restored_on": "2026-03-05"}}
    assert not case(**offered, work={"jobs": [restored]}).work.open_bypasses


@pytest.mark.parametrize(
    ("sale", "words"),
    [
        ({"price": 5}, "both"),
        (
            {"offered_on": "2026-03-02", "sold_on": "2026-03-01", "price": 5},
            "before it was offered",
        ),
        ({"asked": 5, "least": 6}, "above the asking price"),
        ({"sold_on": "2026-02-28", "price": 5}, "before the car was bought"),
        ({"offered_on": "2026-02-28"}, "before the car was bought"),
    ],
)
def test_a_sale_that_cannot_be_is_refused(sale: dict[str, Any], words: str) -> None:
    assert words in refused(lambda: case(**OWNED, sale=sale))


def test_the_first_line_paid_is_the_price() -> None:
    paid = [{"label": "Price", "amount": 90}, {"label": "Gate", "amount": 10}]
    purchase = {"bid": 90, "bought_on": "2026-03-01", "paid": paid}

    assert case(standing="owned", purchase=purchase).purchase.landed == 100  # type: ignore[union-attr]
    assert "first line" in refused(lambda: case(standing="owned", purchase=purchase | {"bid": 80}))
