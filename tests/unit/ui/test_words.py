"""How numbers and names are written."""

from __future__ import annotations

from decimal import Decimal

import pytest

from appraise.models.appraisal import Quantiles
from appraise.models.findings import Look, Severity, State
from appraise.models.vehicle import PriceClass
from ui import words


@pytest.mark.parametrize(
    ("amount", "written"),
    [(0, "0"), (1234.4, "1,234"), (Decimal("-1234567.8"), "-1,234,568"), (999, "999")],
)
def test_an_amount_is_whole_with_its_thousands_marked(amount: float, written: str) -> None:
    assert words.money(amount) == written


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (PriceClass.LIGHT_TRUCK, "Light truck"),
        (PriceClass.MID_SIZE, "Mid size"),
        ("dual_clutch", "Dual clutch"),
    ],
)
def test_a_name_is_written_as_words(value: str, written: str) -> None:
    assert words.name(value) == written


def test_a_span_goes_from_the_low_to_the_high_tenth() -> None:
    given = Quantiles(
        mean=Decimal(5),
        p10=Decimal("1200.4"),
        p50=Decimal(3000),
        p90=Decimal(5000),
        mean_error=Decimal(0),
        p50_error=Decimal(0),
    )

    assert words.span(given) == "1,200 to 5,000"


@pytest.mark.parametrize(
    ("value", "written"),
    [("0.2", "20 % (about 1 in 5)"), ("0.001", "under 1 %"), ("0.999", "over 99 %")],
)
def test_a_chance_is_said_as_on_every_face(value: str, written: str) -> None:
    assert words.chance_words(Decimal(value)) == written


def test_everything_that_can_be_found_has_words_and_a_sign_of_its_own() -> None:
    assert set(words.STATES) == set(words.ICONS) == set(State)
    assert len(set(words.ICONS.values())) == len(State)
    assert set(words.SEVERITIES) == set(Severity)
    assert set(words.LOOKS) == set(Look)
