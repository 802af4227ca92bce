"""Whatever one field of a car is set to, there is an answer or one line that says what is wrong.

Fields of the examples are set to hostile numbers, texts and sorts of values, 3,000 changes in all,
always the same. What the models take goes through the bid, the check of a case and the papers, and
through one of the other services in turn, so that all of it takes two or three minutes.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import date
from random import Random
from typing import Any

import pytest

from appraise import services
from appraise.errors import AppraiseError, BadCase
from appraise.models.case import Case
from appraise.models.problems import path_of
from appraise.reference.load import Reference
from appraise.reports.bid_page import bid_page
from appraise.reports.choose_page import choose_page
from appraise.reports.diagnosis_page import diagnosis_page
from appraise.reports.forecast_page import forecast_page
from appraise.reports.papers_page import papers_page
from appraise.reports.parts_page import parts_page
from appraise.services.inspection.paperwork import examine
from appraise.services.output import printing
from appraise.services.output.tables import car_tables
from appraise.services.output.telling import told_of
from appraise.services.ownership.deciding import choose_case, day_plan_of, earned_by, forecast_case
from appraise.services.ownership.owning import buy, itemize_case
from appraise.services.ownership.proving import unproved
from appraise.services.ownership.working import plan_from_findings

CHANGES, BATCHES, SEED = 3_000, 10, 26
ON = date(2026, 12, 1)
RAW = "raw:"
"""Begins what stands in the JSON as it is, without quotation marks."""
NUMBERS = (
    *("0", "-0", "1", "-1", "3", "0.5", "100", "94", "99.999999999999999", "1e-6", "1e-7"),
    *(
        "1e-30",
        "1e-320",
        "1e-999999",
        "0.000001",
        "1e6",
        "1e8",
        "100000000",
        "1e9",
        "1e10",
        "1e300",
    ),
    *("1e999999", "-1e300", "123456789.123", "123456789012345678901234567890", "0." + "3" * 40),
    *("NaN", "Infinity", "-Infinity", "9223372036854775807", "200000"),
)
TEXTS = (
    *("", " ", "x", "x" * 201, "x" * 20_001, "a\nb", "\x00", "\x1b[2J", "\u202eb", "\ud800"),
    *("\ufeff", "\u200d", "0001-01-01", "1886-01-01", "2026-11-20", "2100-12-31", "9999-12-31"),
    *("2026-13-45", "USD", "EUR", "km", "owned", "sold", "c1", "P0302", "{}", "../x", "=1+1"),
)
KINDS: tuple[Any, ...] = (None, True, False, [], {}, [None], {"x": 1}, [[]], [{}])
FIGURES: tuple[Any, ...] = (*NUMBERS, *(f"{RAW}{one}" for one in NUMBERS))
ANY: tuple[Any, ...] = (*FIGURES, *TEXTS, *KINDS)
MOSTLY = 0.8


def leaves(value: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Yield the way to each field of a document that holds no further ones."""
    if isinstance(value, (dict, list)) and value:
        for key, inner in value.items() if isinstance(value, dict) else enumerate(value):
            yield from leaves(inner, (*way, key))
    else:
        yield way


def is_figure(value: Any) -> bool:
    """Whether a field holds a number, or nothing where one may be meant."""
    try:
        return value is None or float(value) is not None
    except (TypeError, ValueError):
        return False


def changes() -> list[tuple[str, tuple[Any, ...], Any]]:
    """Return example, way to a field, and what it is set to: each field before any comes again.

    A number is mostly set to another number, as the models refuse most of the rest.
    """
    chance = Random(SEED)  # noqa: S311 - nothing is kept secret by it
    every = []
    for case in services.example_cases():
        document = json.loads(services.case_text(case))
        every += [(case.id, way, is_figure(part_of(document, way))) for way in leaves(document)]
    chosen: list[tuple[str, tuple[Any, ...], bool]] = []
    while len(chosen) < CHANGES:
        chosen += chance.sample(every, len(every))
    return [
        (name, way, chance.choice(FIGURES if figure and chance.random() < MOSTLY else ANY))
        for name, way, figure in chosen[:CHANGES]
    ]


def part_of(document: Any, way: tuple[Any, ...]) -> Any:
    for step in way:
        document = document[step]
    return document


def text_with(document: Any, way: tuple[Any, ...], value: Any) -> str:
    """Return a document as JSON, one field of it changed."""
    copy = json.loads(json.dumps(document))
    part_of(copy, way[:-1])[way[-1]] = value
    text = json.dumps(copy)
    if isinstance(value, str) and value.startswith(RAW):
        text = text.replace(json.dumps(value), value.removeprefix(RAW))
    return text


def bid(case: Case, reference: Reference) -> None:
    appraisal = services.appraise_case(case, reference)
    bid_page(case, appraisal, reference, told_of(case, reference, appraisal))


def checked(case: Case, reference: Reference) -> None:
    services.check_text(case, reference)
    services.next_step(case)


def papers(case: Case, reference: Reference) -> None:
    papers_page(case, examine(case, reference))


def checks(case: Case, reference: Reference) -> None:
    diagnosis_page(services.diagnose_case(case, reference), case, reference)


def forecast(case: Case, reference: Reference) -> None:
    forecast_page(case, forecast_case(case, reference, ON))


def choose(case: Case, reference: Reference) -> None:
    choose_page(case, choose_case(case, reference, ON))


def parts(case: Case, reference: Reference) -> None:
    lists = printing.parts_lists(case, reference, ON)
    parts_page(case, lists)
    printing.parts_json(case, lists)


def days(case: Case, reference: Reference) -> None:
    day_plan_of(case, reference, ON)


def faults(case: Case, reference: Reference) -> None:
    itemize_case(case, reference)
    unproved(case, reference)
    if case.purchase is None:
        own = buy(case, case.deal.asking_price or case.market.comparables[0].price, ON, reference)
        plan_from_findings(own, reference)
    else:
        earned_by(case, ON, case.market.comparables[0].price)


def tables(case: Case, reference: Reference) -> None:
    car_tables(case, reference, ON)


def sheet(case: Case, reference: Reference) -> None:
    printing.parts_sheet(case, reference, ON)


ALWAYS: tuple[Callable[[Case, Reference], None], ...] = (bid, checked, papers)
IN_TURN = (checks, forecast, choose, parts, days, faults, tables, sheet)


def failure(work: Callable[[], Any]) -> str:
    """Return what is wrong with how something ends: neither an answer nor one line."""
    try:
        work()
    except AppraiseError as error:
        return "" if str(error) and "\n" not in str(error) else f"not one line: {error!r}"
    except Exception as error:  # noqa: BLE001 - whatever it is, it is told
        return f"{type(error).__name__}: {str(error)[:200]}"
    return ""


@pytest.mark.parametrize(
    ("way", "value"),
    [
        (("deal", "confidence"), "1e-30"),
        (("deal", "confidence"), "0.099"),
        (("deal", "confidence"), "0.999"),
        (("deal", "selling_percent"), "99.999999999999999"),
        (("deal", "selling_percent"), "91"),
        (("deal", "price_level"), "1e-999999"),
        (("deal", "hours_per_day"), "0.1000000000000000001"),
        (("work", "jobs", 0, "adds"), {"low": "1e-320", "likely": "2", "high": "3"}),
        (("work", "jobs", 0, "adds"), {"low": "0.0001", "likely": "2", "high": "3"}),
        (("work", "hours_limit"), "1e-7"),
        (("purchase", "expected", "found", "mean"), "1e300"),
        (("purchase", "expected", "found", "mean"), "1e-999999"),
    ],
)
def test_a_number_beyond_what_is_meant_is_refused_where_it_stands(
    way: tuple[Any, ...], value: Any
) -> None:
    """The first of each came to a trace, or to a bid made of nothing."""
    (case,) = (one for one in services.example_cases() if one.id == "wagon-half-repaired")
    text = text_with(json.loads(services.case_text(case)), way, value)
    with pytest.raises(BadCase) as refused:
        services.read_case(text)

    assert refused.value.problems[0].where.startswith(path_of(way))


@pytest.fixture(scope="module")
def every_change() -> list[tuple[str, tuple[Any, ...], Any]]:
    return changes()


@pytest.mark.parametrize("batch", range(BATCHES))
@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_there_is_an_answer_or_one_line(
    batch: int, every_change: list[tuple[str, tuple[Any, ...], Any]], reference: Reference
) -> None:
    documents = {
        one.id: json.loads(services.case_text(one.model_copy(update={"draws": 1000})))
        for one in services.example_cases()
    }
    told, answered = [], 0
    for number, (name, way, value) in enumerate(every_change[batch::BATCHES]):
        text = text_with(documents[name], way, value)
        said = f"{name} {way} = {value!r:.60}"
        read: list[Case] = []
        wrong = failure(lambda text=text, read=read: read.append(services.read_case(text)))
        if wrong:
            told.append(f"{said}: read: {wrong}")
        if not read:
            continue
        (case,) = read
        answered += 1
        for service in (*ALWAYS, IN_TURN[number % len(IN_TURN)]):
            wrong = failure(lambda service=service, case=case: service(case, reference))
            if wrong:
                told.append(f"{said}: {service.__name__}: {wrong}")

    assert told == []
    assert answered > 40
