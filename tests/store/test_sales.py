"""What is kept of cars offered and sold, on every kind of database."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy import Engine

from appraise.models.case import Case
from appraise.services.inspection.selling import deals_of, seller_counts
from appraise.store.cases import CaseStore

OWNED = {"purchase": {"bid": "500.00", "bought_on": "2025-01-05"}}
ON = date(2026, 11, 25)


@pytest.fixture
def store(engine: Engine) -> CaseStore:
    return CaseStore(engine)


def keep(store: CaseStore, case: Case, name: str, standing: str, **more: object) -> None:
    raw = case.model_dump() | OWNED | {"id": name, "title": name, "standing": standing} | more
    store.add(Case.model_validate(raw))


def sold(on: str, **more: object) -> dict[str, object]:
    return {"sale": {"sold_on": on, "price": "900.00"} | more}


def test_cars_offered_and_sold_are_told_and_no_others(store: CaseStore, small_case: Case) -> None:
    keep(store, small_case, "a", "sold", **sold("2026-05-01", for_resale=True))
    keep(store, small_case, "b", "on_sale")
    keep(store, small_case, "c", "owned")
    keep(store, small_case, "d", "let_go")
    first, second = store.sales()

    assert (first.id, first.standing, first.bought_on) == ("a", "sold", "2025-01-05")
    assert first.mark == small_case.vehicle.title_brand.value
    assert (first.sale or {})["sold_on"] == "2026-05-01"
    assert (second.id, second.sale) == ("b", None)


def test_a_car_sold_and_taken_off_the_list_still_counts(store: CaseStore, small_case: Case) -> None:
    keep(store, small_case, "a", "sold", **sold("2026-05-01"))
    store.remove("a", 1)

    assert [one.id for one in store.sales()] == ["a"]


def test_the_sixth_in_twelve_months_is_a_dealers(store: CaseStore, small_case: Case) -> None:
    """16 CFR 455.1(d)(3): five or more offered or sold before it in the previous twelve months."""
    for number in range(4):
        keep(store, small_case, f"car{number}", "sold", **sold(f"2026-0{number + 1}-15"))
    keep(store, small_case, "old", "sold", **sold("2025-11-24"))
    assert seller_counts(store.sales(), ON).problems[0].weight == "note", "one is left"

    keep(store, small_case, "fifth", "on_sale", sale={"offered_on": "2026-11-01"})
    told = seller_counts(store.sales(), ON)
    assert told.counts[0].reached
    assert told.problems[0].weight == "warning"
    assert "16 CFR 455.1(d)(3)" in told.problems[0].message
    assert not told.counts[1].reached, "the odometer law counts sold ones alone"
    assert not seller_counts(store.sales(), ON, leaving_out="fifth").counts[0].reached


def test_an_offer_without_a_day_counts_as_of_today(store: CaseStore, small_case: Case) -> None:
    keep(store, small_case, "a", "on_sale")
    (deal,) = deals_of(store.sales(), ON)

    assert (deal.day, deal.sold) == (ON, False)
