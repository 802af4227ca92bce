"""Small sellers: 16 CFR 455, 49 U.S.C. 32702, 28 CFR 25.56, 42 U.S.C. 7522, 49 U.S.C. 30122."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import pytest

from appraise.engine.papers.seller_rules import (
    GUIDE,
    PENALTIES,
    Count,
    Deal,
    JobFacts,
    SellerKind,
    Who,
    covered_vehicle,
    job_rules,
    odometer_dealer,
    salvage_reporter,
    used_car_dealer,
)

ON = date(2026, 6, 30)


def cars(count: int, **more: bool) -> list[Deal]:
    return [Deal(ON - timedelta(days=30 * at), f"car {at}", **more) for at in range(count)]


@pytest.mark.parametrize(("before", "dealer"), [(0, False), (4, False), (5, True), (12, True)])
def test_the_sixth_car_in_twelve_months_is_a_dealer_s(before: int, *, dealer: bool) -> None:
    """16 CFR 455.1(d)(3): offers one after selling or offering five or more."""
    found = used_car_dealer(cars(before, sold=False), ON)

    assert (found.count, found.reached, found.left) == (before, dealer, max(0, 5 - before))
    assert found.section == "16 CFR 455.1(d)(3)"


def test_twelve_months_and_a_day_ago_no_longer_counts() -> None:
    """16 CFR 455.1(d)(3): the previous twelve months."""
    four = cars(4)

    assert used_car_dealer([*four, Deal(date(2025, 6, 29), "old")], ON).reached is False
    assert used_car_dealer([*four, Deal(date(2025, 6, 30), "old")], ON).reached is True


@pytest.mark.parametrize("seller", ["bank", "to_own_employee", "lessor_to_lessee"])
def test_some_sellers_are_no_dealers(seller: SellerKind) -> None:
    """16 CFR 455.1(d)(3)."""
    found = used_car_dealer(cars(12), ON, seller)

    assert (found.count, found.reached) == (12, False)


@pytest.mark.parametrize(
    ("gvwr", "curb", "frontal", "covered"),
    [
        # 16 CFR 455.1(d)(1): less than 8,500 lb, 6,000 lb, 46 sq ft
        (8499, 5999, 45.9, True),
        (8500, 5999, 45.9, False),
        (8499, 6000, 45.9, False),
        (8499, 5999, 46, False),
        (None, 5999, 45.9, None),
        (8500, None, None, False),
    ],
)
def test_which_vehicles_the_used_car_rule_covers(
    gvwr: float | None, curb: float | None, frontal: float | None, *, covered: bool | None
) -> None:
    assert covered_vehicle(gvwr, curb, frontal) is covered


def test_a_motorcycle_is_not_covered() -> None:
    """16 CFR 455.1(d)(1)."""
    assert covered_vehicle(500, 400, 10, motorcycle=True) is False


def test_the_window_form_comes_before_the_offer() -> None:
    """16 CFR 455.2(a), (a)(2); 455.1(d)(2)."""
    told = {one.section: one.says for one in GUIDE}

    assert "before offering" in told["16 CFR 455.2(a)"]
    assert "11 in high and 7 in wide" in told["16 CFR 455.2(a)(2)"]
    assert "scrap or parts" in told["16 CFR 455.1(d)(2)"]


@pytest.mark.parametrize(
    ("rule", "flags", "section"),
    [
        # at least 5 sold to buyers not for resale
        (odometer_dealer, {"sold": True}, "49 U.S.C. 32702(2)"),
        # less than five salvage cars a year are excused
        (salvage_reporter, {"salvage": True}, "28 CFR 25.56(g)"),
    ],
)
def test_five_are_enough_for_the_other_two_counts(
    rule: Callable[[list[Deal], date], Count], flags: dict[str, bool], section: str
) -> None:
    assert (rule(cars(4, **flags), ON).reached, rule(cars(5, **flags), ON).reached) == (False, True)
    assert rule(cars(5, **flags), ON).section == section


def test_only_sales_not_for_resale_count_for_the_odometer_law() -> None:
    """49 U.S.C. 32702(2)."""
    mixed = [*cars(4), Deal(ON, "offered", sold=False), Deal(ON, "trade", for_resale=True)]

    assert odometer_dealer(mixed, ON).count == 4
    assert used_car_dealer(mixed, ON).count == 6


# --- jobs -----------------------------------------------------------------------------------------


def told(job: JobFacts, who: Who = "owner") -> list[str]:
    """Return weight and section of each."""
    return [
        f"{one.weight} {one.message[one.message.rindex(' (4') + 2 : -1]}"
        for one in job_rules(job, who)
    ]


PIPE = JobFacts(emission_control=True, disables=True, works_after=False, fits_bypass=True)


@pytest.mark.parametrize("who", ["owner", "dealer"])
def test_a_pipe_in_place_of_a_catalytic_converter(who: Who) -> None:
    """42 U.S.C. 7522(a)(3)(A) and (B): any person."""
    assert told(PIPE, who) == ["stop 42 U.S.C. 7522(a)(3)(A)", "stop 42 U.S.C. 7522(a)(3)(B)"]


@pytest.mark.parametrize(
    "job",
    [
        JobFacts(emission_control=True, works_after=True),
        JobFacts(emission_control=True),
        JobFacts(emission_control=True, disables=True, works_after=True),
    ],
    ids=["replaced by one that works", "touched", "off for a time, works after"],
)
def test_a_repair_after_which_it_works_is_none_of_it(job: JobFacts) -> None:
    """42 U.S.C. 7522(a), end."""
    assert told(job) == []


def test_a_bypass_part_alone_is_enough() -> None:
    """42 U.S.C. 7522(a)(3)(B)."""
    assert "stop 42 U.S.C. 7522(a)(3)(B)" in told(JobFacts(fits_bypass=True, works_after=True))


BAG_OUT = JobFacts(safety_system=True, disables=True, works_after=False)


@pytest.mark.parametrize(
    "who", ["maker", "distributor", "dealer", "rental_company", "repair_business"]
)
def test_a_business_does_not_make_an_air_bag_inoperative(who: Who) -> None:
    """49 U.S.C. 30122(b)."""
    assert told(BAG_OUT, who) == ["stop 49 U.S.C. 30122(b)"]
    says = job_rules(BAG_OUT, who)[0].message
    assert f"a {who.replace('_', ' ')} may not knowingly make inoperative" in says


def test_a_device_that_was_gone_before_is_nobodys_to_replace() -> None:
    """49 U.S.C. 30122(b) forbids to make inoperative; it asks nobody to put one back."""
    assert told(replace(BAG_OUT, disables=False), "dealer") == []


def test_a_private_owner_is_not_named_but_hears_of_it() -> None:
    """49 U.S.C. 30122(a), (b): who is named."""
    assert told(BAG_OUT) == ["warning 49 U.S.C. 30122(a), (b)"]
    says = job_rules(BAG_OUT, "owner")[0].message
    for named in ("manufacturer", "distributor", "dealer", "rental company", "repair for pay"):
        assert named in says


def test_off_while_the_car_is_only_tested_or_repaired() -> None:
    """49 U.S.C. 30122(b), its exception."""
    meanwhile = replace(BAG_OUT, off_road_meanwhile=True)

    assert told(meanwhile, "dealer") == ["note 49 U.S.C. 30122(b)"]
    assert told(replace(BAG_OUT, works_after=True), "dealer") == []


def test_regrooved_tires_are_not_sold() -> None:
    """49 U.S.C. 30123(a): any person."""
    assert told(JobFacts(regrooved_tires=True)) == ["stop 49 U.S.C. 30123(a)"]


def test_penalties_are_statutory_figures_before_inflation() -> None:
    """42 U.S.C. 7524: $25,000 a vehicle, $2,500; yearly adjusted figures stand nowhere."""
    (air, *_) = PENALTIES

    assert "$25,000" in air.says
    assert "$2,500" in air.says
    assert all("before inflation" in one.says for one in PENALTIES)
