"""The federal odometer law: 49 CFR 580 and 49 U.S.C. chapter 327."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from appraise.engine.papers.odometer import Reading, whole
from appraise.engine.papers.odometer_law import (
    disclosure_duty,
)

ON = date(2026, 6, 30)


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
