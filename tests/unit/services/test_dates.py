"""Days in all the usual orders: read, told where they could be another, or refused."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appraise.errors import AppraiseError
from appraise.intake.dates import read_day

TODAY = date(2026, 11, 25)
DAY = date(2025, 3, 14)


@pytest.mark.parametrize(
    "text",
    [
        "2025-03-14",
        "2025/3/14",
        "20250314",
        "14.03.2025",
        "14.3.25",
        "14/03/2025",
        "3/14/2025",
        "03-14-25",
        "14 March 2025",
        "14. Mar 2025",
        "14-MAR-25",
        "March 14, 2025",
        "Mar 14th, 2025",
        "  14   march   2025 ",
    ],
)
def test_the_usual_orders_are_read(text: str) -> None:
    found = read_day(text, today=TODAY)

    assert (found.day, found.other) == (DAY, None)
    assert found.words == ""


def test_what_could_be_either_is_told() -> None:
    found = read_day("03/04/2025", today=TODAY)

    assert (found.day, found.other) == (date(2025, 3, 4), date(2025, 4, 3))
    assert read_day("03/04/2025", today=TODAY, month_first=False).day == date(2025, 4, 3)
    assert read_day("05/05/2025", today=TODAY).other is None


def test_of_two_readings_the_one_in_the_future_is_none() -> None:
    """12/11/2026 is 11 December or 12 November; only one of them has been."""
    found = read_day("12/11/2026", today=TODAY)

    assert (found.day, found.other) == (date(2026, 11, 12), None)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("2026-11-26", "lies in the future"),
        ("14 March 2031", "lies in the future"),
        ("31/31/2025", "is not a day"),
        ("30.02.2025", "is not a day"),
        ("14 Brumaire 2025", "is not a day"),
        ("yesterday", "is not a day"),
        ("", "is not a day"),
        ("1885-01-01", "not one of a car's papers"),
        ("99999999999", "is not a day"),
        ("14/03", "is not a day"),
        ("1٤/03/2025", "is not a day"),
    ],
)
def test_what_is_no_day_of_a_paper_is_refused(text: str, words: str) -> None:
    with pytest.raises(AppraiseError, match=words):
        read_day(text, today=TODAY)


@given(st.dates(date(1950, 1, 1), TODAY))
def test_every_day_survives_being_written_and_read(day: date) -> None:
    for pattern in ("%Y-%m-%d", "%Y%m%d", "%d %B %Y", "%b %d, %Y"):
        assert read_day(day.strftime(pattern), today=TODAY).day == day
    found = read_day(day.strftime("%d.%m.%Y"), today=TODAY, month_first=False)
    assert day in (found.day, found.other)


@given(st.dates(TODAY - timedelta(99 * 365), TODAY))
def test_two_figures_of_a_year_are_of_the_last_hundred_years(day: date) -> None:
    assert read_day(day.strftime("%d %b %y"), today=TODAY).day == day


@pytest.mark.parametrize("text", ["030425", "March 2025", "14 March", "10:30", "3/4/25 10:30"])
def test_what_leaves_something_open_is_refused(text: str) -> None:
    with pytest.raises(AppraiseError, match="is not a day"):
        read_day(text, today=TODAY)


@given(st.text(max_size=40) | st.text(alphabet="0123456789 ./-,marMAYth", max_size=40))
def test_any_text_is_a_day_of_the_past_or_refused(text: str) -> None:
    try:
        found = read_day(text, today=TODAY)
    except AppraiseError:
        return
    assert found.day <= TODAY
