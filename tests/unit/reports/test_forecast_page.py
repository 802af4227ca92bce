"""Budget and forecast as text: every figure is that of the forecast."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from functools import lru_cache

import pytest

from appraise import services
from appraise.errors import Problem
from appraise.models.forecast import Forecast, LandedLine
from appraise.reports.columns import WIDTH, amount, cells
from appraise.reports.forecast_page import forecast_page
from appraise.services.ownership.deciding import forecast_case

REFERENCE = services.reference_values()
CASES = {
    one.id: one
    for one in services.example_cases()
    if one.id in ("farm-truck-owned", "wagon-half-repaired")
}
HALF = CASES["wagon-half-repaired"]
DAY = date(2026, 11, 22)


@lru_cache(maxsize=4)
def found_of(name: str) -> Forecast:
    return forecast_case(CASES[name], REFERENCE, DAY)


HALF_FOUND = found_of("wagon-half-repaired")


def row(text: str, label: str, *figures: str) -> re.Match[str] | None:
    pattern = rf"^  {re.escape(label)} +" + " +".join(map(re.escape, figures))
    return re.search(pattern, text, re.MULTILINE)


@pytest.mark.parametrize("name", CASES)
def test_every_line_fits_a_terminal_of_100_columns(name: str) -> None:
    lines = forecast_page(CASES[name], found_of(name)).splitlines()

    assert all(cells(line) <= WIDTH for line in lines)


@pytest.mark.parametrize("name", CASES)
def test_budget_paid_to_come_and_the_end_are_those_of_the_forecast(name: str) -> None:
    found = found_of(name)
    text = forecast_page(CASES[name], found)
    for label, given, places in (
        ("budget", found.budget, 0),
        ("to come", found.to_come, 0),
        ("at the end", found.at_end, 0),
        ("to come", found.hours_to_come, 1),
        ("at the end", found.hours_at_end, 1),
    ):
        low, middle, high = (amount(one, places) for one in (given.p10, given.p50, given.p90))
        assert row(text, label, middle, f"({low} to {high})"), label
    assert row(text, "paid so far, less refunds", amount(found.paid))
    assert row(text, "ordered, not paid yet", amount(found.committed))
    assert row(text, "worked so far", amount(found.worked, 1))
    assert row(text, "last job ends, as planned", str(found.ends_on))


def test_deposits_stand_beside_the_money_only_where_there_are_any() -> None:
    text = forecast_page(HALF, HALF_FOUND)
    without = HALF_FOUND.model_copy(update={"deposits_out": Decimal(0)})

    assert HALF_FOUND.deposits_out == 55
    assert row(text, "deposits out, beside all this", "55")
    assert "deposits out" not in forecast_page(HALF, without)


@pytest.mark.parametrize("name", CASES)
def test_each_job_has_its_row(name: str) -> None:
    found = found_of(name)
    lines = forecast_page(CASES[name], found).splitlines()

    assert found.jobs
    for one in found.jobs:
        line = next(line for line in lines if line.startswith(f"  {one.label[:20]}"))
        assert one.stage.value in line
        assert line.split()[-7:] == [
            amount(one.money.mean),
            amount(one.committed),
            amount(one.paid),
            amount(one.to_come.mean),
            amount(one.hours.mean, 1),
            amount(one.worked, 1),
            amount(one.hours_to_come.mean, 1),
        ]


@pytest.mark.parametrize("name", CASES)
def test_the_rows_of_what_is_to_come_add_up_to_the_whole(name: str) -> None:
    """On average they do: jobs, findings without one, areas not looked at."""
    found = found_of(name)
    text = forecast_page(CASES[name], found)
    rows = [one.to_come.mean for one in found.jobs]
    rows += [found.without_jobs.mean, found.unseen.mean]

    cents = Decimal("0.01") * len(rows)  # each is rounded to the cent
    assert abs(sum(rows) - found.to_come.mean) <= cents
    assert row(text, "findings without a job yet", amount(found.without_jobs.mean))
    assert row(text, "what was not inspected", amount(found.unseen.mean))


def test_more_or_less_than_the_budget_is_said() -> None:
    more = HALF_FOUND.at_end.mean - HALF_FOUND.budget.mean
    assert more > 0
    assert f"{amount(more)} more than the budget at the end." in forecast_page(HALF, HALF_FOUND)
    swapped = HALF_FOUND.model_copy(
        update={"at_end": HALF_FOUND.budget, "budget": HALF_FOUND.at_end}
    )
    assert f"{amount(more)} less than the budget at the end." in forecast_page(HALF, swapped)


def test_where_the_budget_comes_from_is_said() -> None:
    planned = HALF_FOUND.model_copy(update={"budget_from": "the plan"})

    assert "as expected when it was bought" in forecast_page(HALF, HALF_FOUND)
    assert "nothing was kept from the purchase" in forecast_page(HALF, planned)


def test_what_was_learned_names_factor_range_and_jobs() -> None:
    text = forecast_page(HALF, HALF_FOUND)
    for one in HALF_FOUND.learned:
        words = f"{one.factor:.2f} of what was likely ({one.low:.2f} to {one.high:.2f}), from 1 job"
        assert row(text, one.of, words)
    nothing = HALF_FOUND.model_copy(update={"learned": ()})
    assert "Nothing yet: no job is done." in forecast_page(HALF, nothing)


def test_the_purchase_is_told_line_by_line_planned_against_paid() -> None:
    """Paid as in the case; the differences worked out by hand."""
    text = forecast_page(HALF, HALF_FOUND)

    assert row(text, "Bid", "2,150.00", "2,150.00", "0.00")
    assert row(text, "Sales tax", "129.00", "129.00", "0.00")
    assert row(text, "Transport", "70.00", "85.00", "15.00")
    assert row(text, "together", "2,444.00", "2,459.00", "15.00")


def test_a_purchase_of_which_only_the_plan_is_known_says_so() -> None:
    lines = (LandedLine(label="Bid", planned=Decimal(100), paid=None),)
    bare = HALF_FOUND.model_copy(
        update={"landed": lines, "landed_planned": Decimal(100), "landed_paid": None}
    )
    text = forecast_page(HALF, bare)

    assert row(text, "Bid", "100.00", "-", "-")
    assert "What was really paid is not entered yet." in text


def test_problems_stand_before_the_money() -> None:
    told = (Problem("work.jobs", "there is no plan", "warning"),)
    text = forecast_page(HALF, HALF_FOUND.model_copy(update={"problems": told, "ends_on": None}))

    assert text.index("! there is no plan") < text.index("MONEY")
    assert "last job ends" not in text
