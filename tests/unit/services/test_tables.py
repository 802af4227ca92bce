"""The tables of a car: what each car gives, what is left out and why, and its figures."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from io import BytesIO
from typing import Any

import openpyxl
import pytest

from appraise import services
from appraise.errors import AppraiseError
from appraise.models.case import Case, Standing
from appraise.models.trade import Sale
from appraise.reports.table import Table
from appraise.reports.wording import limit_words, percent
from appraise.services.output import table_lists, tables
from appraise.services.output.tables import NAMES, car_tables, table_sheet
from appraise.services.ownership.bookkeeping import totals
from appraise.services.ownership.deciding import choose_case, earned_by, forecast_case
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings

REFERENCE = services.reference_values()
EXAMPLES = {one.id: one for one in services.example_cases()}
HALF, TRUCK = EXAMPLES["wagon-half-repaired"], EXAMPLES["farm-truck-owned"]
LIGHT = EXAMPLES["auction-engine-light"]
DAY = date(2026, 11, 22)
WORK = {"Jobs", "Entries", "Parts", "Days", "Where it ends", "Options"}
SPELLING = re.compile(r"\b[a-z]+_[a-z_]+\b")
"""How the program spells a choice or an id inside: `as_it_stands`."""


def gathered(case: Case) -> dict[str, Table]:
    return {one.name: one for one in car_tables(case, REFERENCE, DAY).tables}


def column(table: Table, head: str) -> list[Any]:
    """Return the cells below a head."""
    place = [one.head for one in table.columns].index(head)
    return [row[place] for row in table.rows]


@pytest.fixture(scope="module")
def half() -> dict[str, Table]:
    return gathered(HALF)


@pytest.fixture(scope="module")
def light() -> dict[str, Table]:
    return gathered(LIGHT)


def sold() -> Case:
    sale = Sale(
        offered_on=date(2026, 12, 1),
        asked=Decimal(9000),
        price=Decimal(8500),
        sold_on=date(2026, 12, 20),
        costs=Decimal(75),
    )
    return TRUCK.model_copy(update={"standing": Standing.SOLD, "sale": sale})


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_example_gives_tables_that_hold_together(name: str) -> None:
    case = EXAMPLES[name]
    found = car_tables(case, REFERENCE, DAY)

    assert found.left_out == {}
    names = [one.name for one in found.tables]
    assert {"Car", "Findings", "Estimate", "Values used"} <= set(names)
    assert names == [one for one in NAMES if one in names]
    for table in found.tables:
        for row in (*table.rows, *([table.foot] if table.foot else [])):
            assert len(row) == len(table.columns), table.name
        assert len({one.head for one in table.columns}) == len(table.columns), table.name
    assert set(names) >= WORK if case.purchase else not WORK & set(names)


def test_every_table_has_the_name_that_it_is_asked_for_by() -> None:
    car = tables._Car(sold(), REFERENCE, DAY)
    for name, make in tables.MAKERS.items():
        if name not in tables.YOURS:
            assert make(car).name == name
    owned = tables._Car(HALF, REFERENCE, DAY)
    assert [make(owned).name for make in tables.YOURS.values()] == list(tables.YOURS)


def cells(case: Case) -> Iterator[tuple[str, str]]:
    """Yield every text of a workbook with the sheet that it is on."""
    book = openpyxl.load_workbook(BytesIO(table_sheet(case, REFERENCE, on=DAY)))
    for sheet in book:
        for row in sheet.iter_rows(values_only=True):
            yield from ((sheet.title, one) for one in row if isinstance(one, str))


def ids(raw: Any) -> Iterator[str]:
    """Yield every id in a case."""
    if isinstance(raw, dict):
        for key, value in raw.items():
            if key in ("id", "job", "check", "limit", "symptom") and isinstance(value, str):
                yield value
            yield from ids(value)
    elif isinstance(raw, list):
        for one in raw:
            yield from ids(one)


@pytest.mark.parametrize("name", EXAMPLES)
def test_no_cell_spells_a_choice_or_an_id_as_the_program_does(name: str) -> None:
    case = EXAMPLES[name]
    inside = {one for one in ids(case.model_dump(mode="json")) if not one.isalpha()}
    assert inside

    for sheet, text in cells(case):
        assert not SPELLING.search(text), (sheet, text)
        assert not inside & set(re.split(r"[\s,;()]+", text)), (sheet, text)


def test_a_car_without_prices_gives_what_it_can_and_says_why_the_rest_is_missing() -> None:
    bare = services.changed(LIGHT, ("market", "comparables"), [])
    found = car_tables(bare, REFERENCE, DAY)
    names = {one.name for one in found.tables}

    assert {"Car", "Findings", "Papers"} <= names
    assert not {"Estimate", "What each bid leads to", "Comparable cars"} & names
    ((why, missing),) = found.left_out.items()
    assert "comparable" in why
    assert {"Estimate", "What makes it uncertain", "Cost to buy"} <= set(missing)
    said = {str(what): value for what, value, _ in found.tables[0].rows}
    assert said[f"Left out: {', '.join(missing)}"] == why
    findings = next(one for one in found.tables if one.name == "Findings")
    assert set(column(findings, "Repaired alone, USD: likely")) == {None}


def test_findings_carry_the_chance_and_cost_of_the_estimate(light: dict[str, Table]) -> None:
    appraisal = services.appraise_case(LIGHT, REFERENCE)
    costs = {one.label: one for one in appraisal.repair.by_finding}
    found = light["Findings"]

    shown = dict(
        zip(column(found, "What was seen"), column(found, "Repaired alone, USD: high"), strict=True)
    )
    assert len(found.rows) == len(LIGHT.findings)
    for finding in LIGHT.findings:
        cost = costs.get(finding.label)
        assert shown[finding.label] == (cost.money.p90 if cost else None)
    looks = dict(zip(column(found, "What was seen"), column(found, "How inspected"), strict=True))
    assert looks["Rear bumper scraped to the plastic"] == "Close, by hand"


def test_faults_and_looks_are_those_of_the_diagnosis(light: dict[str, Table]) -> None:
    found = services.diagnose_case(LIGHT, REFERENCE)
    faults, looks = light["Faults"], light["What to look at next"]

    assert column(faults, "Fault") == [one.label for one in found.faults]
    assert column(faults, "Chance") == [one.chance for one in found.faults]
    assert column(looks, "Look") == [one.label for one in found.next]
    first = found.next[0].outcomes[0]
    words = f"{first.label} ({percent(first.chance)}): {limit_words(first.walk_away_price)}"
    assert str(column(looks, "What each outcome would mean")[0]).startswith(words)


def test_the_steps_to_find_the_fault_behind_a_sign_stand_in_their_order() -> None:
    case = services.finding_from_symptom(
        LIGHT.model_copy(update={"findings": (), "papers": ()}), "cooling.runs_hot", REFERENCE
    )
    steps = gathered(case)["Steps to find it"]
    found = services.diagnose_case(case, REFERENCE).search.steps

    assert column(steps, "Settles the fault") == [one.label for one in found]
    assert column(steps, "Step") == list(range(1, len(found) + 1))


def test_like_cars_stand_with_the_prices_of_the_fit(light: dict[str, Table]) -> None:
    points = services.appraise_case(LIGHT, REFERENCE).resale.points
    found = light["Comparable cars"]

    assert column(found, "Price") == [one.price for one in LIGHT.market.comparables]
    assert column(found, "Sold, were it like this car, USD") == [one.like_price for one in points]


def test_the_estimate_is_that_of_the_bid(light: dict[str, Table]) -> None:
    found = services.appraise_case(LIGHT, REFERENCE)
    assert found.outcome is not None
    likely = dict(
        zip(
            column(light["Estimate"], "What"),
            column(light["Estimate"], "Likely: half below"),
            strict=True,
        )
    )

    assert likely["Walk-away price"] == found.walk_away_price
    assert likely["Repair: parts, tools and shop"] == found.repair.money.p50
    assert likely["At the asking price: profit (your time paid)"] == found.outcome.margin.p50
    assert likely["At the asking price: chance of losing money"] == (
        found.outcome.chance_of_loss * 100
    )
    assert len(light["What each bid leads to"].rows) == len(found.curve)
    assert len(light["What was not inspected"].rows) == len(found.repair.by_area)
    assert len(light["Values used"].rows) == len(found.values_used)


@pytest.mark.parametrize("price", ["asking", "walk-away"])
def test_the_money_from_the_sale_adds_up_to_the_margin(price: str, light: dict[str, Table]) -> None:
    rows = [row for row in light["From the sale to the profit"].rows if price in str(row[0])]

    *lines, margin = (row[2] for row in rows)
    assert rows[-1][1] == "Profit"
    # each line is rounded to the cent
    assert sum(lines) == pytest.approx(margin, abs=Decimal("0.05"))  # type: ignore[arg-type]


@pytest.mark.parametrize("car", ["light", "half"])
def test_the_landed_cost_adds_up_to_its_foot(car: str, request: pytest.FixtureRequest) -> None:
    found = request.getfixturevalue(car)["Cost to buy"]

    assert found.foot[0] == "Cost to buy"
    for place in range(1, len(found.columns)):
        assert sum(row[place] for row in found.rows) == found.foot[place]


def test_jobs_stand_with_plan_against_actual(half: dict[str, Table]) -> None:
    forecast = {one.label: one for one in forecast_case(HALF, REFERENCE, DAY).jobs}
    found = half["Jobs"]

    assert len(found.rows) == len(HALF.work.jobs)
    for row in found.rows:
        cells = dict(zip((one.head for one in found.columns), row, strict=True))
        one = forecast[str(cells["Job"])]
        assert cells["Expected, USD: likely"] == one.money.p50
        assert cells["Paid, USD"] == one.paid
        assert cells["Your hours to come: high"] == one.hours_to_come.p90
    assert "Passes" in column(found, "Test")


def test_where_it_ends_adds_up(half: dict[str, Table]) -> None:
    forecast = forecast_case(HALF, REFERENCE, DAY)
    found = half["Where it ends"]

    for place in range(2, len(found.columns)):
        assert sum(row[place] for row in found.rows) == found.foot[place]
    assert found.foot[3] == forecast.paid
    # each job's mean is rounded to the cent
    assert found.foot[4] == pytest.approx(forecast.to_come.mean, abs=Decimal("0.1"))


def test_the_books_are_whole_and_in_the_order_of_the_days(half: dict[str, Table]) -> None:
    found, sums = half["Entries"], totals(HALF)

    assert column(found, "Day") == sorted(one.on for one in HALF.work.entries)
    money = [one for one in column(found, "Money, USD") if one is not None]
    assert sum(money) == half["Money by kind"].foot[1]
    assert sum(one for one in column(found, "Your hours") if one) == sums["hours"]
    assert min(money) < 0  # the refund


def test_options_name_their_jobs(half: dict[str, Table]) -> None:
    choices = choose_case(HALF, REFERENCE, DAY)

    assert column(half["Options"], "Option") == [one.label for one in choices.options]
    assert column(half["Options"], "Net from today, USD: high") == [
        one.net.p90 for one in choices.options
    ]
    assert "Wiper blades" in "".join(column(half["Worth of each job"], "Job or finding"))


def test_a_car_that_is_sold_says_what_it_earned_and_weighs_nothing_any_more() -> None:
    case = sold()
    found = gathered(case)
    earned = earned_by(case, DAY, Decimal(0))

    said = {row[0]: row[1] for row in found["Earned"].rows}
    assert said["Sold for"] == Decimal(8500)
    assert said["Profit before your time"] == earned.margin
    assert sum(column(found["Payments"], "Money, USD")) == earned.margin
    assert not set(tables.YOURS) & set(found)
    with pytest.raises(AppraiseError, match="the car is sold: nothing is left to choose"):
        table_sheet(case, REFERENCE, ["Options"], DAY)


@pytest.mark.parametrize(
    ("case", "name", "words"),
    [
        (LIGHT, "Jobs", "there is no table 'Jobs': the car is not bought yet"),
        (HALF, "Earned", "there is no table 'Earned': the car is not sold yet"),
        (LIGHT, "Prices\n", r"there is no table 'Prices\\n'. It is one of: Car, Warnings"),
    ],
)
def test_a_table_that_a_car_cannot_have_is_refused(case: Case, name: str, words: str) -> None:
    with pytest.raises(AppraiseError, match=words):
        table_sheet(case, REFERENCE, [name], DAY)


def test_tables_are_had_one_by_one_whatever_the_capitals() -> None:
    content = table_sheet(LIGHT, REFERENCE, ["findings", " FAULTS ", "Findings"], DAY)

    assert openpyxl.load_workbook(BytesIO(content)).sheetnames == ["Findings", "Faults"]


def test_an_empty_table_is_given_when_it_is_asked_for() -> None:
    bare = LIGHT.model_copy(update={"papers": ()})
    (sheet,) = openpyxl.load_workbook(BytesIO(table_sheet(bare, REFERENCE, ["Papers"], DAY)))

    assert sheet.max_row == 1
    assert "Papers" not in gathered(bare)


def test_the_same_car_gives_the_same_bytes() -> None:
    assert table_sheet(TRUCK, REFERENCE, on=DAY) == table_sheet(TRUCK, REFERENCE, on=DAY)


def test_all_cars_stand_in_one_list_also_one_without_prices(tmp_path: Any) -> None:
    workspace = open_workspace(Settings(data_folder=tmp_path))
    bare = services.changed(LIGHT, ("market", "comparables"), [])
    workspace.cases.save(bare, workspace.cases.load(LIGHT.id).version)
    content = table_lists.cars_sheet(workspace, REFERENCE)
    workspace.cases.engine.dispose()

    (sheet,) = openpyxl.load_workbook(BytesIO(content))
    heads, *rows = sheet.iter_rows(values_only=True)
    listed = {row[0]: dict(zip(heads, row, strict=True)) for row in rows}
    assert set(listed) == {one.title for one in EXAMPLES.values()}
    appraisal = services.appraise_case(TRUCK, REFERENCE)
    truck = listed[TRUCK.title]
    assert truck["Walk-away price"] == appraisal.walk_away_price
    assert truck["Repair: high"] == float(appraisal.repair.money.p90)
    assert truck["Price paid"] == float(TRUCK.purchase.bid if TRUCK.purchase else -1)
    assert (listed[LIGHT.title]["Walk-away price"], listed[LIGHT.title]["Next"]) != (None, None)
    assert listed[LIGHT.title]["Walk-away price"] is None


def test_the_catalog_has_every_value_job_and_source() -> None:
    values, jobs, sources = openpyxl.load_workbook(BytesIO(table_lists.catalog_sheet(REFERENCE)))

    parts = (REFERENCE.values, REFERENCE.areas, REFERENCE.access, REFERENCE.tools, REFERENCE.jobs)
    assert values.max_row - 1 == sum(map(len, parts))
    assert jobs.max_row - 1 == len(REFERENCE.jobs)
    assert sources.max_row - 1 == len(REFERENCE.sources)
    for sheet in (values, jobs):
        for row in sheet.iter_rows(values_only=True):
            assert not any(SPELLING.search(one) for one in row if isinstance(one, str)), row
