"""Tire identification numbers by 49 CFR 574.5."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from appraise.engine.measure.tire_date import age, date_window, read_date_code, read_number

ON = date(2026, 6, 30)


@pytest.mark.parametrize(
    ("code", "first", "last"),
    [
        # 574.5(b)(3) prints 0109; the others follow from its rule
        ("0109", "2009-01-04", "2009-01-10"),
        ("0124", "2024-01-07", "2024-01-13"),
        ("5323", "2023-12-31", "2024-01-06"),
        ("0126", "2026-01-04", "2026-01-10"),
        ("3523", "2023-08-27", "2023-09-02"),
        ("0100", "2000-01-02", "2000-01-08"),
    ],
)
def test_week_01_is_the_first_full_week_from_sunday(code: str, first: str, last: str) -> None:
    found = read_date_code(code, ON)

    assert (found.first, found.last) == (date.fromisoformat(first), date.fromisoformat(last))
    assert found.problems == ()


@pytest.mark.parametrize("code", ["0001", "5424", "5324", "9915", "0023"])
def test_weeks_that_a_year_has_not_are_refused(code: str) -> None:
    """2024 has 52 such weeks, 2023 has 53 (computed)."""
    found = read_date_code(code, ON)

    assert found.first is None
    assert "has no week" in found.problems[0]


def test_the_years_with_a_week_53() -> None:
    """Computed from the rule: years with 53 Sundays."""
    years = [year for year in range(2000, 2041) if date_window(53, year)]

    assert years == [2000, 2006, 2012, 2017, 2023, 2028, 2034, 2040]


def test_a_last_week_runs_at_most_six_days_into_the_next_year() -> None:
    """574.5(b)(3)."""
    for year in range(2000, 2041):
        windows = [window for week in range(1, 55) if (window := date_window(week, year))]
        assert windows[0][0].day <= 7
        assert windows[-1][1] <= date(year + 1, 1, 6)
        assert windows[-1][1] + timedelta(days=1) == date_window(1, year + 1)[0]  # type: ignore[index]


def test_these_are_not_the_weeks_of_iso_8601() -> None:
    """ISO 2009-W01 begins on 29 December 2008."""
    assert date.fromisocalendar(2009, 1, 1) == date(2008, 12, 29)
    assert date_window(1, 2009) == (date(2009, 1, 4), date(2009, 1, 10))


def test_three_digits_are_before_2000_and_name_no_decade() -> None:
    """Three-digit codes ended with 1999."""
    found = read_date_code("239", ON)

    assert found.years == (1999, 1989, 1979)
    assert found.first == date(1999, 6, 6)
    assert "before 2000" in found.problems[0]
    old = age(found, ON)
    assert old is not None
    assert old.at_least > 27
    assert old.at_most is None
    assert read_date_code("609", ON).first is None


def test_a_code_after_the_day_of_the_look_is_misread() -> None:
    (later,) = read_date_code("2726", ON).problems
    assert "misread" in later
    assert age(read_date_code("2726", ON), ON) is None
    assert read_date_code("2626", ON).problems == ()


def test_a_tire_much_older_than_the_car_came_from_elsewhere() -> None:
    (older,) = read_date_code("3510", ON, model_year=2015).problems
    assert "before the car of 2015" in older
    assert read_date_code("3514", ON, model_year=2015).problems == ()
    assert read_date_code("3523", ON, model_year=2015).problems == ()


def test_age_on_a_day_is_known_to_the_week() -> None:
    found = age(read_date_code("3516", ON), ON)

    assert found is not None
    assert found.at_most is not None
    assert found.at_least == pytest.approx(9.82, abs=0.005)
    assert found.at_most - found.at_least == pytest.approx(6 / 365.2425)


@pytest.mark.parametrize("code", ["", "35", "35231", "ab23", "3 23", "٣٥٢٣"])
def test_what_is_no_date_code_is_said_to_be_none(code: str) -> None:
    found = read_date_code(code, ON)

    assert found.first is None
    assert found.problems == ("a date code is three or four digits",)
    assert age(found, ON) is None


def test_a_new_tire_s_number_has_three_groups() -> None:
    """574.5(a)(1), (b): 13 symbols, 3 plant, 6 maker, 4 date."""
    found = read_number("DOT 1A2 BCDEF6 3523", ON)

    assert (found.plant, found.maker, found.made.code) == ("1A2", "BCDEF6", "3523")
    assert found.problems == ()
    assert found.made.first == date(2023, 8, 27)


def test_a_retread_has_seven_symbols() -> None:
    """574.5(a)(2): 3 plant, 4 date."""
    found = read_number("1A2-3523", ON)

    assert (found.plant, found.maker, found.made.code, found.problems) == ("1A2", "", "3523", ())


@pytest.mark.parametrize("symbol", list("GIOQSZ"))
def test_symbols_that_are_never_used_are_named(symbol: str) -> None:
    """574.5(f)."""
    (wrong,) = read_number(f"1A2BCDEF{symbol}3523", ON).problems

    assert wrong.startswith(f"{symbol}: never")


def test_every_other_symbol_is_allowed() -> None:
    """574.5(f): A B C D E F H J K L M N P R T U V W X Y and the digits."""
    for start in ("ABCDEFHJK", "LMNPRTUVW", "XY0123456", "789ABCDEF"):
        assert read_number(f"{start}3523", ON).problems == ()


def test_numbers_of_other_lengths_are_old_or_wrong() -> None:
    old = read_number("A2 BC DEF 3510", ON)
    assert (old.plant, old.made.code, old.problems) == ("", "3510", ())
    older = read_number("A2BCDEF239", ON)
    assert older.made.years[0] == 1999
    (wrong,) = read_number("1A2BCDEF67893523", ON).problems
    assert wrong.startswith("16 symbols")
