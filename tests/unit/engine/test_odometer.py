"""Readings side by side: simple reasons before fraud, and a clear word for what cannot be."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appraise.engine.papers.odometer import (
    CHECK,
    History,
    Rates,
    Reading,
    Unit,
    below,
    history,
    whole,
)
from appraise.engine.papers.odometer_law import (
    disclosure_duty,
)
from appraise.errors import AppraiseError

ON = date(2026, 6, 30)


def at(year: int, value: float | str, unit: Unit | None = "mi", *, tenths: bool = False) -> Reading:
    return Reading(date(year, 6, 1), Decimal(str(value)), unit, f"paper of {year}", tenths=tenths)


def signs(found: History) -> list[tuple[str, str, str]]:
    return [(one.kind, one.reason, one.weight) for one in found.signs]


# --- plain histories ------------------------------------------------------------------------------


def test_a_rising_history_in_any_order_is_ordered_and_clean() -> None:
    rows = [at(2020, 60_000), at(2016, 10_000), at(2024, 100_000), at(2018, 35_000)]

    found = history(rows, ON, model_year=2015)

    assert [one.day.year for one in found.readings] == [2016, 2018, 2020, 2024]
    assert found.signs == ()


def test_miles_and_kilometers_are_compared_as_distances() -> None:
    """100,000 mi are 160,934.4 km (NIST SP 811, B.8)."""
    rising = history([at(2020, 100_000), at(2022, 170_000, "km")], ON)

    assert rising.signs == ()
    assert history([at(2020, 100_000), at(2021, 160_934, "km")], ON).signs == ()
    assert below(at(2021, 160_933, "km"), at(2020, 100_000))
    assert not below(at(2021, 160_934, "km"), at(2020, 100_000))


# --- falls ----------------------------------------------------------------------------------------


def test_a_fall_that_nothing_simple_explains_speaks_against_actual() -> None:
    found = history([at(2017, 80_000), at(2019, 120_000), at(2021, 70_000), at(2023, 95_000)], ON)

    assert signs(found) == [("fall", "", "warning")]
    (fall,) = found.signs
    assert [whole(one) for one in fall.readings] == [120_000, 70_000]
    assert "80,467 km" in fall.message  # 50,000 mi
    assert "32703(2)" in fall.section
    assert fall.problem.hint.endswith(CHECK)


def test_kilometers_written_as_miles_are_proposed_before_fraud() -> None:
    """An inspection abroad writes 150,000 for a car of about 93,000 miles."""
    found = history([at(2018, 80_000), at(2020, 150_000), at(2022, 110_000)], ON)

    assert {one.reason for one in found.signs} == {"unit"}
    assert all("150,000 mi on 2020-06-01" in one.means for one in found.signs)


def test_miles_written_as_kilometers_are_proposed_before_fraud() -> None:
    rows = [at(2018, 140_000, "km"), at(2020, 100_000, "km"), at(2022, 185_000, "km")]

    found = history(rows, ON)

    assert [one.kind for one in found.signs] == ["fall"]
    assert found.signs[0].reason == "unit"
    assert "100,000 km on 2020-06-01" in found.signs[0].means


def test_every_reading_after_an_import_may_be_in_the_other_unit() -> None:
    """120,000 km are 74,565 mi: from 2021 on the papers name no unit, and were taken as km."""
    rows = [
        at(2017, 90_000, "km"),
        at(2019, 120_000, "km"),
        at(2021, 84_000, None),
        at(2023, 94_000, None),
    ]

    (fall,) = (one for one in history(rows, ON).signs if one.kind == "fall")

    assert fall.reason == "unit"
    assert "every reading from the later on" in fall.means


def test_several_papers_that_name_their_unit_are_not_all_turned() -> None:
    """Else a car turned back from 120,000 to 100,000 mi would always be explained."""
    rows = [at(year, value) for year, value in ((2017, 60_000), (2019, 100_000), (2021, 120_000))]

    found = history([*rows, at(2023, 100_000), at(2024, 104_000)], ON)

    assert signs(found) == [("fall", "", "warning")]


def test_the_other_unit_is_not_proposed_where_it_breaks_another_step() -> None:
    """120,000 km are 74,565 mi: below the 110,000 mi before, and above the 70,000 after."""
    found = history([at(2018, 110_000), at(2020, 120_000), at(2022, 70_000)], ON)

    assert signs(found) == [("fall", "", "warning")]


def test_tenths_read_as_whole_are_proposed() -> None:
    rows = [at(2018, 80_000), at(2020, 876_543), at(2022, 95_000)]

    found = history(rows, ON)

    assert {one.reason for one in found.signs} == {"tenths"}
    assert (
        history([rows[0], at(2020, 876_543, tenths=True), rows[2]], ON, model_year=2015).signs == ()
    )


def test_tenths_are_not_proposed_for_five_digits() -> None:
    """60,000 with a tenth as its last digit would be 6,000."""
    found = history([at(2006, 55_000), at(2012, 60_000), at(2024, 15_000)], ON)

    assert "tenths" not in {one.reason for one in found.signs}


@pytest.mark.parametrize(
    ("model_year", "digits", "reason"),
    [(1989, None, "roll-over"), (1989, 6, ""), (2005, None, ""), (2005, 5, "roll-over")],
)
def test_a_roll_over_is_proposed_for_old_cars_or_five_digits(
    model_year: int, digits: int | None, reason: str
) -> None:
    rows = [at(2006, 80_000), at(2008, 98_000), at(2011, 4_000), at(2013, 12_000)]

    found = history(rows, ON, model_year=model_year, digits=digits)

    assert [(one.kind, one.reason) for one in found.signs] == [("fall", reason)]
    if reason:
        assert "mechanical limits" in found.signs[0].means


def test_no_roll_over_where_too_much_would_have_been_driven() -> None:
    """From 70,000 through nought to 30,000 are 60,000 mi in a year."""
    rows = [at(2010, 68_000), at(2011, 70_000), at(2012, 30_000)]

    (fall,) = history(rows, ON, model_year=1989, rates=Rates(much_km_a_year=Decimal(40_000))).signs

    assert fall.reason == ""


def test_no_roll_over_above_five_digits() -> None:
    rows = [at(2008, 118_000), at(2009, 120_000), at(2010, 4_000)]

    assert [one.reason for one in history(rows, ON, model_year=1989).signs] == [""]


@pytest.mark.parametrize(("down", "weight"), [(50, "note"), (51, "warning")])
def test_a_small_fall_is_a_slip(down: int, weight: str) -> None:
    """Common practice: up to 50 km."""
    rows = [at(2018, 88_000, "km"), at(2019, 90_000, "km"), at(2020, 90_000 - down, "km")]

    assert [(one.kind, one.weight) for one in history(rows, ON).signs] == [("fall", weight)]


# --- rates ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days", "km", "kind"),
    [
        # common practice: 80,000 km in 365.25 days over 60 days or more; 2,000 km a day
        (365, 79_945, None),
        (365, 79_946, "jump"),
        (59, 100_000, None),
        (59, 120_000, None),
        (59, 120_001, "impossible"),
        (1, 4_000, None),
        (1, 4_001, "impossible"),
    ],
)
def test_rates_between_two_readings(days: int, km: int, kind: str | None) -> None:
    start = date(2020, 1, 1)
    rows = [
        Reading(start, Decimal(200_000), "km"),
        Reading(start + timedelta(days), Decimal(200_000 + km), "km"),
    ]
    plain = Rates(most_km_a_day=Decimal(2000))

    found = [one.kind for one in history(rows, ON, rates=plain).signs]

    assert found == ([kind] if kind else [])


def test_a_jump_alone_is_a_note_and_leaves_actual() -> None:
    found = history([at(2018, 20_000), at(2019, 22_000), at(2020, 180_000), at(2021, 182_000)], ON)

    assert [one.kind for one in found.signs] == ["jump"]


@pytest.mark.parametrize(("apart", "weight"), [(300, "note"), (301, "warning")])
def test_two_readings_of_one_day(apart: int, weight: str) -> None:
    """Common practice: up to 300 km are a drive."""
    rows = [at(2020, 90_000 + apart, "km"), at(2020, 90_000, "km")]

    found = history(rows, ON)

    assert [(one.kind, one.weight) for one in found.signs] == [("same day", weight)]
    assert [whole(one) for one in found.readings] == [90_000, 90_000 + apart]


def test_one_day_in_two_units_is_a_wrong_unit() -> None:
    found = history([at(2020, 100_000), at(2020, 100_100, "km")], ON)

    assert signs(found) == [("same day", "unit", "warning")]


# --- what cannot be -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "value", ["-1", "NaN", "Infinity", "-Infinity", "sNaN", "4000001", "1E+99"]
)
def test_a_value_that_cannot_be_is_left_out(value: str) -> None:
    found = history([at(2020, value), at(2021, 50_000)], ON)

    assert [one.kind for one in found.signs] == ["value"]
    assert "left out" in found.signs[0].means
    assert len(found.readings) == 1


@pytest.mark.parametrize(
    ("day", "kind"),
    [
        (ON, None),
        (ON + timedelta(1), "future day"),
        (date(2014, 1, 1), None),
        (date(2013, 12, 31), "before the car"),
        (date.min, "before the car"),
        (date.max, "future day"),
    ],
)
def test_days_that_cannot_be_are_left_out(day: date, kind: str | None) -> None:
    found = history([Reading(day, Decimal(7), "km")], ON, model_year=2015)

    assert [one.kind for one in found.signs] == ([kind] if kind else [])
    assert len(found.readings) == (kind is None)


@pytest.mark.parametrize(
    ("others", "default", "taken"),
    [
        (["km", "km", "mi"], "mi", "km"),
        ([], "mi", "mi"),
        ([], "km", "km"),
        (["km", "mi"], "mi", "mi"),
    ],
)
def test_a_missing_unit_is_that_of_most_others(
    others: list[Unit], default: Unit, taken: Literal["mi", "km"]
) -> None:
    rows = [at(2010 + n, 10_000 * (n + 1), unit) for n, unit in enumerate(others)]

    found = history([*rows, at(2020, 160_000, None)], ON, unit=default)

    (note,) = (one for one in found.signs if one.kind == "no unit")
    assert note.weight == "note"
    assert f"taken as {taken}" in note.means
    assert found.readings[-1].unit == taken


@pytest.mark.parametrize("model_year", [1885, 2029, 0, -4, 10_000])
def test_a_model_year_that_cannot_be_is_refused(model_year: int) -> None:
    with pytest.raises(AppraiseError, match="no model year"):
        history([at(2020, 1)], ON, model_year=model_year)
    assert disclosure_duty(model_year, ON).required is None


@pytest.mark.parametrize("weight", [0.0, -1.0, float("nan")])
def test_a_weight_rating_that_cannot_be_gives_no_answer(weight: float) -> None:
    found = disclosure_duty(2015, ON, gvwr_lb=weight)

    assert found.required is None
    assert "cannot be" in found.why


def test_too_many_readings_are_refused() -> None:
    rows = [at(2020, value) for value in range(201)]

    assert len(history(rows[:200], ON).readings) == 200
    with pytest.raises(AppraiseError, match="201 readings; at most 200"):
        history(rows, ON)


ANY = st.builds(
    Reading,
    day=st.dates(date(2009, 1, 1), date(2027, 1, 1)),
    value=st.decimals(-10, 400_000, places=1),
    unit=st.sampled_from(["mi", "km", None]),
    tenths=st.booleans(),
)


@given(st.lists(ANY, max_size=12))
def test_any_readings_give_an_ordered_history_and_no_fall_goes_unsaid(rows: list[Reading]) -> None:
    found = history(rows, ON, model_year=2010)

    assert [one.day for one in found.readings] == sorted(one.day for one in found.readings)
    assert all(one.unit for one in found.readings)
    told = {one.readings for one in found.signs if one.kind == "fall"}
    steps = set(pairwise(found.readings))
    assert {pair for pair in steps if below(pair[1], pair[0])} == told
    assert history(reversed(rows), ON, model_year=2010).readings == found.readings


# --- against the title ----------------------------------------------------------------------------

LAST = at(2023, 90_000)
