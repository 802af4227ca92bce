"""What holds for every model alike: it never changes, knows no other key, and survives JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from enum import Enum
from importlib import import_module
from pkgutil import iter_modules
from types import NoneType
from typing import Any

import pytest
from pydantic import BaseModel, ValidationError

import appraise.models
from appraise import services
from appraise.errors import Problem
from appraise.models.base import Model
from appraise.models.case import Case
from appraise.models.choices import CheckBefore
from appraise.models.people import Person
from appraise.models.preferences import Preferences, Venue
from appraise.models.vehicle import Fits
from appraise.reference.load import Reference
from appraise.services.ownership.bookkeeping import add_entry
from appraise.services.ownership.deciding import choose_case, earned_by, forecast_case
from appraise.services.ownership.owning import buy, itemize_case
from appraise.services.ownership.proving import finish_job
from appraise.services.ownership.working import plan_from_findings

BEFORE, LATER = date(2026, 11, 20), date(2026, 11, 25)

for _one in iter_modules(appraise.models.__path__):
    import_module(f"appraise.models.{_one.name}")

RANGE = {"low": "1.50", "likely": "2.25", "high": "4.00"}
SUMS = {
    "mean": "101.10",
    "p10": "50.00",
    "p50": "90.00",
    "p90": "160.00",
    "mean_error": "0.50",
    "p50_error": "0.80",
}
JOB = {
    "id": "own.bracket",
    "label": "Bracket made",
    "system": "exhaust",
    "hours": RANGE | {"reads_as": "bounds"},
    "hours_family": "underside",
    "access": ["car_raised"],
    "parts": [
        {"label": "plate", "family": "body", "quantity": 2, "price": RANGE, "core": "12.50"},
    ],
    "lead": "order",
    "tools": ["multimeter"],
    "follows": ["electrical.alternator"],
    "fuels": ["gasoline"],
    "transmissions": ["manual"],
    "drives": ["all"],
}
FULL = {
    "id": "full",
    "title": "Every field filled in",
    "story": 'É, 車, a quote " and a\ttab',
    "standing": "owned",
    "currency": "CHF",
    "appraised_on": "2024-02-29",
    "vehicle": {
        "make": "Invented",
        "model": "All",
        "model_year": 2012,
        "engine_liters": "1.80",
        "cylinders": 4,
        "odometer": {"value": "123456.70", "unit": "km"},
        "title_brand": "flood_damage",
    },
    "findings": [
        {
            "id": "f1",
            "area": "exhaust",
            "state": "suspect",
            "look": "underneath",
            "severity": "minor",
            "chance": "0.30",
            "causes": [
                {
                    "id": "c1",
                    "label": "Rust",
                    "chance": "0.10",
                    "jobs": [
                        {"job": "own.bracket", "quantity": 2, "done_by": "shop", "parts": RANGE}
                    ],
                },
                {"id": "ignition.coil", "label": "Coil", "chance": "0.40"},
            ],
            "codes": ["P0302"],
            "results": [
                {"check": "coil_swap", "outcome": "CHECK_OUTCOME", "done_on": "2024-02-28"}
            ],
            "truth": {"fault": True, "cause": "c1", "on": "2024-02-20"},
            "seen_on": "2024-01-30",
        }
    ],
    "measurements": [
        {
            "id": "m1",
            "limit": "us_570.pedal_reserve",
            "typed": "75 %",
            "value": "75",
            "unit": "%",
            "measured_on": "2024-02-28",
        }
    ],
    "papers": [
        {
            "id": "p1",
            "kind": "invoice",
            "dated": "2024-01-15",
            "odometer": {"value": "123000.5", "unit": "km"},
            "lines": [{"label": "Coil", "kind": "part", "amount": "41.30"}],
            "total": "41.30",
            "paid": "card",
            "brands": ["rebuilt"],
            "signed": "by_seller",
            "claims": [{"finding": "f1", "causes": ["ignition.coil"], "claimed": "serviced"}],
            "attachments": [
                {
                    "id": "a" * 64,
                    "name": "invoice.jpg",
                    "media_type": "image/jpeg",
                    "size": 51200,
                    "added_on": "2024-02-28",
                }
            ],
        }
    ],
    "own_jobs": [JOB],
    "market": {
        "comparables": [
            {
                "id": "k1",
                "price": "7000.10",
                "kind": "sold",
                "currency": "EUR",
                "model_year": 2012,
                "odometer": {"value": "100000", "unit": "mi"},
                "condition": "rougher",
                "seen_on": "2024-02-28",
            }
        ],
        "asked_to_sold": {"low": "0.90", "likely": "0.94", "high": "0.98"},
        "days_to_sell": RANGE,
    },
    "deal": {
        "asking_price": "5000.00",
        "fees": [{"name": "Gate", "steps": [{"starts_at": 0, "flat": "75", "cap": "80"}]}],
        "shop_rate": RANGE,
        "goes_for": RANGE,
        "confidence": "0.80",
        "target_margin": "-100.00",
    },
    "purchase": {
        "bid": "4500.00",
        "bought_on": "2024-02-01",
        "paid": [{"label": "Price", "amount": "4500.00"}, {"label": "Gate", "amount": "75.50"}],
        "expected": {
            "on": "2024-02-01",
            "findings": [
                {"id": "f1", "label": "Rust", "chance": "0.30", "money": SUMS, "own_hours": "2.50"}
            ],
            **dict.fromkeys(("found", "unseen", "money", "own_hours", "resale", "margin"), SUMS),
        },
    },
    "work": {
        "jobs": [
            {
                "id": "bracket",
                "job": "own.bracket",
                "findings": ["f1"],
                "parts": [
                    {
                        "id": "plate",
                        "label": "Plate",
                        "grade": "used",
                        "price": "12.50",
                        "core": "5.00",
                        "ordered_on": "2024-02-02",
                        "arrived_on": "2024-02-05",
                    }
                ],
                "stage": "done",
                "done_on": "2024-02-10",
                "proof": {
                    "measurements": [
                        {"id": "m1", "limit": "us_570.pedal_reserve", "value": "75", "unit": "%"}
                    ],
                    "code": {"codes": ["P0302"], "at_clear": "41 01", "answers": "41 01"},
                    "pull": {
                        "quantity": "Boost",
                        "unit": "psi",
                        "before": "6.10",
                        "after": "16.90",
                        "low": "15",
                        "high": "18",
                    },
                },
                "adds": RANGE,
            },
            {
                "id": "fan",
                "job": "own.bracket",
                "purpose": "bypass",
                "after": ["bracket"],
                "bypass": {
                    "what": "Fan relay",
                    "reason": "Drives home",
                    "started_on": "2024-02-03",
                    "restore": "Fit the relay",
                },
            },
        ],
        "entries": [
            {"id": "e1", "on": "2024-02-02", "kind": "part", "amount": "12.50", "job": "bracket"},
            {"id": "e2", "on": "2024-02-10", "kind": "hours", "hours": "2.25", "job": "bracket"},
        ],
        "money_limit": "800.00",
        "hours_limit": "20.5",
        "at_most_one": [["bracket", "fan"]],
        "breaking": {"lines": [{"label": "Doors", "price": RANGE}], "scrap": "150.00"},
        "worth_to_keep": RANGE,
        "disclosed": ["fan"],
    },
    "sale": {"offered_on": "2024-02-20", "asked": "7990.00", "least": "7000.00"},
    "seed": 2**63 - 1,
}


def reachable(value: Any) -> Iterator[Model]:
    """Yield every model within a value, itself included."""
    if isinstance(value, Model):
        yield value
        for name in type(value).model_fields:
            yield from reachable(getattr(value, name))
    elif isinstance(value, tuple):
        for one in value:
            yield from reachable(one)


def worked_on(reference: Reference) -> Case:
    """Return an example car bought, one job done, at which a check still pays."""
    prospect = services.load_case_file("premium-overheats")
    free = {"own_rate": 0, "tools_owned": tuple(reference.tools)}
    cheap = services.changed(prospect, ("deal",), prospect.deal.model_dump() | free)
    planned = plan_from_findings(buy(cheap, Decimal(3000), BEFORE, reference), reference).case
    name = planned.work.jobs[0].id
    entry = {"kind": "part", "on": LATER, "amount": "300.00", "job": name}
    return finish_job(add_entry(planned, entry), name, LATER, reference, why_none="driven")


def every_instance() -> dict[type[Model], Model]:
    """Return one instance of each model that a case, a result or the preferences hold."""
    reference = services.reference_values()
    outcome = reference.checks["coil_swap"].outcomes[0]
    full = services.read_case(json.dumps(FULL).replace("CHECK_OUTCOME", outcome))
    examples = services.example_cases()
    fees = full.deal.fees
    owned = worked_on(reference)
    roots: list[Model] = [
        forecast_case(owned, reference, LATER),
        choose_case(owned, reference, LATER),
        itemize_case(owned, reference),
        earned_by(owned, LATER, Decimal(5000)),
        *(services.appraise_case(case, reference) for case in examples),
        services.diagnose_case(
            services.enter_result(examples[0], "coil_swap", outcome, reference), reference
        ),
        Fits(),
        Person(name="Ann", role="edit"),
        *examples,
        full,
        Preferences(venues=(Venue(name="Yard", fees=fees),), deal=full.deal),
        CheckBefore(check="c", label="C", worth=Decimal(9), cost=Decimal(4)),
    ]
    return {type(one): one for root in roots for one in reachable(root)}


Instances = dict[type[Model], Model]


@pytest.fixture(scope="module")
def instances() -> Instances:
    return every_instance()


def subclasses(kind: type[Model]) -> Iterator[type[Model]]:
    for one in kind.__subclasses__():
        yield one
        yield from subclasses(one)


KINDS = sorted(
    {one for one in subclasses(Model) if one.__module__.startswith("appraise.models.")},
    key=lambda kind: kind.__name__,
)


def test_every_model_is_tried_here(instances: Instances) -> None:
    assert set(KINDS) == set(instances)
    assert len(KINDS) > 20


@pytest.mark.parametrize("kind", KINDS)
def test_it_never_changes(kind: type[Model], instances: Instances) -> None:
    one = instances[kind]
    for name in kind.model_fields:
        with pytest.raises(ValidationError, match="frozen"):
            setattr(one, name, getattr(one, name))
        with pytest.raises(ValidationError, match="frozen"):
            delattr(one, name)


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_within_it_changes_either(kind: type[Model], instances: Instances) -> None:
    """Only values that cannot be changed are kept, so a model can be a key."""
    allowed = (str, int, bool, Decimal, date, Enum, Model, Problem, tuple, NoneType)
    one = instances[kind]
    for name in kind.model_fields:
        assert isinstance(getattr(one, name), allowed), name

    assert hash(one) == hash(one.model_copy())


@pytest.mark.parametrize("kind", KINDS)
def test_it_knows_no_key_it_was_not_given(kind: type[Model], instances: Instances) -> None:
    raw = instances[kind].model_dump(mode="json") | {"color_of_the_seats": "red"}
    with pytest.raises(ValidationError) as refused:
        kind.model_validate_json(json.dumps(raw))

    assert [(one["type"], one["loc"]) for one in refused.value.errors()] == [
        ("extra_forbidden", ("color_of_the_seats",))
    ]


def assert_same(before: Any, after: Any, path: str) -> None:
    """Equal in value, in type, and in the digits of an amount."""
    assert type(before) is type(after), path
    if isinstance(before, BaseModel):
        for name in type(before).model_fields:
            assert_same(getattr(before, name), getattr(after, name), f"{path}.{name}")
    elif isinstance(before, tuple):
        assert len(before) == len(after), path
        for at, (one, other) in enumerate(zip(before, after, strict=True)):
            assert_same(one, other, f"{path}[{at}]")
    elif isinstance(before, Decimal):
        assert str(before) == str(after), path
    else:
        assert before == after, path


@pytest.mark.parametrize("kind", KINDS)
def test_it_survives_json_without_loss(kind: type[Model], instances: Instances) -> None:
    """Also the noughts at the end of an amount, days, and words of closed lists."""
    one = instances[kind]
    text = one.model_dump_json()

    assert_same(one, kind.model_validate_json(text), kind.__name__)
    assert kind.model_validate_json(text).model_dump_json() == text


def test_an_amount_is_written_as_text_and_a_day_as_year_month_day() -> None:
    """A binary fraction cannot hold 7000.10; text can."""
    written = json.loads(services.read_case(json.dumps(FULL)).model_dump_json())

    comparable = written["market"]["comparables"][0]
    assert comparable["price"] == "7000.10"
    assert comparable["seen_on"] == "2024-02-28"
    assert (written["appraised_on"], written["seed"]) == ("2024-02-29", 2**63 - 1)
    assert written["vehicle"]["title_brand"] == "flood_damage"
    assert written["story"] == FULL["story"]


RESULTS = tuple(
    f"appraise.models.{name}"
    for name in ("appraisal", "diagnosis", "forecast", "choices", "earned")
)
ENTERED = [kind for kind in KINDS if kind.__module__ not in RESULTS]


@pytest.mark.parametrize("kind", ENTERED)
def test_every_field_of_what_a_person_enters_says_what_it_is(kind: type[Model]) -> None:
    """The description is the label on the screen, so each has one, short and in words."""
    for name, field in kind.model_fields.items():
        assert field.description, name
        assert len(field.description) <= 100, name
