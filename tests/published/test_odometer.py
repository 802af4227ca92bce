"""The federal odometer law: 49 CFR 580 and 49 U.S.C. chapter 327."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from appraise.engine.papers.odometer import CHECK, Reading, whole
from appraise.engine.papers.odometer_law import (
    FORBIDDEN,
    PENALTIES,
    STATEMENT,
    Status,
    civil_action,
    disclosure_duty,
    instrument_swap,
    newest_exempt_year,
    title_conflicts,
)

ON = date(2026, 6, 30)


@pytest.mark.parametrize(
    ("year", "newest"),
    [
        (2020, 2010),  # printed in 49 CFR 580.17(a)(3)(ii)
        (2031, 2011),  # printed in 49 CFR 580.17(a)(4)(ii)
        # computed from the two rules
        (2019, 2009),
        (2021, 2010),
        (2024, 2010),
        (2025, 2010),
        (2026, 2010),
        (2030, 2010),
        (2032, 2012),
        (2046, 2026),
    ],
)
def test_the_newest_exempt_model_year(year: int, newest: int) -> None:
    assert newest_exempt_year(year) == newest
    for day in (date(year, 1, 1), date(year, 12, 31)):
        assert disclosure_duty(newest, day).required is False
        assert disclosure_duty(newest + 1, day).required is True


@pytest.mark.parametrize(
    ("model_year", "day", "required", "section"),
    [
        # 49 CFR 580.17(a)(3), (4): from 1 January, ten or twenty years on
        (2010, date(2019, 12, 31), True, "49 CFR 580.17(a)(3)"),
        (2010, date(2020, 1, 1), False, "49 CFR 580.17(a)(3)"),
        (2011, date(2030, 12, 31), True, "49 CFR 580.17(a)(4)"),
        (2011, date(2031, 1, 1), False, "49 CFR 580.17(a)(4)"),
        (2014, date(2025, 6, 1), True, "49 CFR 580.17(a)(4)"),
    ],
)
def test_age_exempts_from_the_first_of_january(
    model_year: int, day: date, section: str, *, required: bool
) -> None:
    found = disclosure_duty(model_year, day)

    assert (found.required, found.section) == (required, section)
    assert found.exempt_from == date(model_year + (10 if model_year <= 2010 else 20), 1, 1)


def test_other_exemptions() -> None:
    """49 CFR 580.17(a)(1), (2), (b): above 16,000 lb, trailers, new ones."""
    assert disclosure_duty(2020, ON, gvwr_lb=16_000).required is True
    heavy = disclosure_duty(2020, ON, gvwr_lb=16_001)
    assert (heavy.required, heavy.section) == (False, "49 CFR 580.17(a)(1)")
    trailer = disclosure_duty(2020, ON, self_propelled=False)
    assert (trailer.required, trailer.section) == (False, "49 CFR 580.17(a)(2)")
    assert disclosure_duty(2026, ON, new_from_maker=True).section == "49 CFR 580.17(b)"
    assert disclosure_duty(2026, ON, to_agency=True).required is False


def test_tenths_are_not_carried_on() -> None:
    """49 CFR 580.5(c)(1): the reading, not to include tenths."""
    assert whole(Reading(ON, Decimal("87654.3"), "mi")) == 87_654
    assert whole(Reading(ON, Decimal("87654.9"), "mi")) == 87_654
    assert whole(Reading(ON, Decimal(876543), "mi", tenths=True)) == 87_654


def test_the_three_statuses_are_those_of_the_paragraph() -> None:
    """49 CFR 580.5(e)(1) actual, (2) in excess of limits, (3) not the actual mileage."""
    assert [(one.section, str(one)) for one in Status] == [
        ("49 CFR 580.5(e)(1)", "actual"),
        ("49 CFR 580.5(e)(2)", "in excess of mechanical limits"),
        ("49 CFR 580.5(e)(3)", "not actual"),
    ]


def test_actual_below_the_title_is_a_conflict() -> None:
    """49 CFR 580.5(e)(2), (3); compare 580.15(a), (c)."""
    last = Reading(date(2023, 3, 1), Decimal(90_000), "mi", "title")
    lower = Reading(date(2026, 3, 1), Decimal(89_999), "mi")
    equal = Reading(date(2026, 3, 1), Decimal(90_000), "mi")

    (conflict,) = title_conflicts(last, lower, Status.ACTUAL, on=ON)
    assert conflict.weight == "stop"
    assert "580.5(e)(2), (3)" in conflict.section
    for status in (Status.EXCEEDS, Status.NOT_ACTUAL):
        assert title_conflicts(last, lower, status, on=ON) == ()
    assert title_conflicts(last, equal, Status.ACTUAL, on=ON) == ()


@pytest.mark.parametrize(
    ("damages", "owed"),
    # 49 U.S.C. 32710(a): 3 times the damages or $10,000, the greater (computed)
    [
        ("2000", "10000"),
        ("5000", "15000"),
        ("3333.33", "10000"),
        ("3333.34", "10000.02"),
        (0, 10000),
    ],
)
def test_what_a_buyer_may_claim(damages: str, owed: str) -> None:
    assert civil_action(Decimal(damages)) == Decimal(owed)


def test_an_instrument_that_keeps_the_mileage_is_lawful() -> None:
    """49 U.S.C. 32704(a)."""
    (fact,) = instrument_swap(keeps_mileage=True)

    assert fact.section == "49 U.S.C. 32704(a)"
    assert "lawful" in fact.says


def test_one_that_cannot_is_set_to_zero_with_a_notice_on_the_left_door_frame() -> None:
    """49 U.S.C. 32704(a)(1), (2), (b); 49 CFR 580.5(e)(3)."""
    told = {one.section: one.says for one in instrument_swap(keeps_mileage=False)}

    assert "set to zero" in told["49 U.S.C. 32704(a)(1)"]
    assert "left door frame" in told["49 U.S.C. 32704(a)(2)"]
    assert "date" in told["49 U.S.C. 32704(a)(2)"]
    assert "not actual" in told["49 CFR 580.5(e)(3)"]
    assert "defraud" in told["49 U.S.C. 32704(b)"]
    unknown = {one.section for one in instrument_swap(keeps_mileage=None)}
    assert unknown == {"49 U.S.C. 32704(a)", *told}


def test_what_is_forbidden() -> None:
    """49 U.S.C. 32703(1) to (4) and 32704(b)."""
    told = {one.section: one.says for one in FORBIDDEN}

    assert list(told) == [*(f"49 U.S.C. 32703({at})" for at in range(1, 5)), "49 U.S.C. 32704(b)"]
    assert "device" in told["49 U.S.C. 32703(1)"]
    assert "resets" in told["49 U.S.C. 32703(2)"]
    assert "intent to defraud" in told["49 U.S.C. 32703(3)"]


def test_what_the_statement_holds() -> None:
    """49 CFR 580.5 and 580.8; 49 U.S.C. 32705(a)(3)."""
    told = " ".join(one.words for one in STATEMENT)

    for word in ("without tenths", "one signature is enough", "5 years", "incomplete statement"):
        assert word in told
    assert all(one.words.endswith(CHECK) for one in STATEMENT)


def test_penalties_are_statutory_and_say_so() -> None:
    """49 U.S.C. 32709(a): $10,000, $1,000,000; 32710(a): 3 times or $10,000."""
    told = {one.section: one.says for one in PENALTIES}

    assert "$10,000" in told["49 U.S.C. 32709(a)"]
    assert "$1,000,000" in told["49 U.S.C. 32709(a)"]
    assert "3 times" in told["49 U.S.C. 32710(a)"]
    assert all("before inflation" in says for says in told.values())
