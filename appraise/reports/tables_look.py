"""What was seen on a car, as tables: the car, warnings, findings, faults, looks, measurements."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from appraise.engine.measure.limits import Verdict
from appraise.errors import Problem
from appraise.models.appraisal import Appraisal
from appraise.models.case import Case, Standing
from appraise.models.diagnosis import Diagnosis, NextLook, OutcomeView
from appraise.models.findings import Finding, Look
from appraise.models.measurements import Measurement
from appraise.reference.load import Reference
from appraise.reference.signs import possible_causes
from appraise.reports.table import Column, Table, Value, table_of, yes
from appraise.reports.wording import (
    ESTIMATE,
    LOOKS,
    NEEDS,
    PROOFS,
    SEVERITIES,
    STANDINGS,
    STATES,
    limit_words,
    name,
    percent,
    sentence,
)

__all__ = [
    "car_table",
    "faults_table",
    "finding_labels",
    "findings_table",
    "look_words",
    "looks_table",
    "measurements_table",
    "steps_table",
    "warnings_table",
]

WEIGHTS = {"stop": "Stop", "warning": "Warning", "note": "Note"}
Taken = tuple[str, Measurement, Verdict | None]
"""After which job a measurement was taken (empty for none), itself, and what it says."""


def finding_labels(case: Case) -> dict[str, str]:
    """Return what each finding is called, by id; one without words of its own by its area."""
    return {one.id: one.called for one in case.findings}


def car_table(case: Case, on: date, left_out: Mapping[str, Sequence[str]]) -> Table:
    """Return the car itself, line by line, with what could not be worked out and why.

    Parameters
    ----------
    on : the day that the tables are of.
    left_out : names of tables that are not there, by why.
    """
    car, deal, money = case.vehicle, case.deal, case.currency
    lines: list[tuple[str, Value, str]] = [
        ("Title", case.title, ""),
        ("Make", car.make, ""),
        ("Model", car.model, ""),
        ("Model year", str(car.model_year), ""),
        ("Odometer", car.odometer.value, car.odometer.unit),
        ("Vehicle identification number", car.vin, ""),
        ("License plate", car.plate, ""),
        ("Title brand", name(car.title_brand), ""),
        ("Price class", name(car.price_class), ""),
        ("Fuel", name(car.fuel), ""),
        ("Transmission", name(car.transmission), ""),
        ("Driven wheels", name(car.drive), ""),
        ("Engine size", car.engine_liters, "liters"),
        ("Cylinders", car.cylinders, ""),
        ("Standing", STANDINGS[case.standing], ""),
        ("Appraised on", case.appraised_on, ""),
        ("Amounts in", money, ""),
        ("Seller", deal.seller, ""),
        ("Bought from", deal.venue, ""),
        ("Asking price", deal.asking_price, money),
        ("Profit wanted", deal.target_margin, money),
        ("Certainty wanted", deal.confidence * 100, "%"),
        *_bought_and_sold(case),
        ("Note", case.note, ""),
        ("Tables made on", on, ""),
        *((f"Left out: {', '.join(names)}", why, "") for why, names in left_out.items()),
        ("To be kept in mind", ESTIMATE, ""),
    ]
    columns = (Column("What", 32), Column("Entered", 44, "any"), Column("Unit", 9))
    return Table("Car", columns, tuple(one for one in lines if one[1] not in (None, "")))


def _bought_and_sold(case: Case) -> Iterable[tuple[str, Value, str]]:
    money, sale = case.currency, case.sale
    if case.purchase is not None:
        yield ("Price paid", case.purchase.bid, money)
        yield ("Bought on", case.purchase.bought_on, "")
    if sale is not None and case.standing in (Standing.ON_SALE, Standing.SOLD):
        yield ("Offered on", sale.offered_on, "")
        yield ("Offered at", sale.asked, money)
        yield ("Sold for", sale.price, money)
        yield ("Sold on", sale.sold_on, "")
        yield ("What the sale cost", sale.costs, money)


def warnings_table(problems: Iterable[Problem]) -> Table:
    """Return what is to be known before the numbers, in the order in which it is told."""
    return table_of(
        "Warnings",
        problems,
        ("Weight", 10, "text", lambda one: WEIGHTS[one.weight]),
        ("What is known", 70, "text", lambda one: sentence(one.message)),
        ("What to do", 50, "text", lambda one: one.hint),
    )


def findings_table(
    case: Case, appraisal: Appraisal | None, reference: Reference, *, priced: bool = False
) -> Table:
    """Return every finding, or those `priced`, with its chance and cost if they are worked out."""
    costs = {one.id: one for one in appraisal.repair.by_finding} if appraisal else {}

    def cost(one: Finding, what: str, otherwise: Any = None) -> Any:  # noqa: ANN401 - any figure
        return getattr(costs.get(one.id), what, otherwise)

    return table_of(
        "Findings",
        [one for one in case.findings if not priced or one.id in costs],
        ("Area", 18, "text", lambda one: name(one.area)),
        ("What was seen", 44, "text", lambda one: one.called if priced else one.label),
        ("How found", 13, "text", lambda one: STATES[one.state]),
        ("How inspected", 16, "text", lambda one: LOOKS[one.look] if one.look else ""),
        ("Severity", 16, "text", lambda one: SEVERITIES[one.severity] if one.severity else ""),
        ("Trouble codes", 14, "text", lambda one: ", ".join(one.codes)),
        ("Chance of anything to repair", 11, "share", lambda one: cost(one, "chance", one.chance)),
        ("Repaired alone", 13, "money spread", lambda one: cost(one, "money")),
        ("Your hours, on average", 10, "hours", lambda one: cost(one, "own_hours")),
        ("What the cost stands for", 26, "text", lambda one: cost(one, "note")),
        ("The next buyer sees it", 10, "text", lambda one: yes(one.visible) if one.trouble else ""),
        ("Turned out to be", 26, "text", lambda one: _truth(one, case, reference)),
        ("Known since", 12, "day", lambda one: getattr(one.truth, "on", None)),
        ("Seen on", 12, "day", lambda one: one.seen_on),
        ("Photos and PDFs", 10, "count", lambda one: len(one.attachments) or None),
        ("Note", 50, "text", lambda one: one.note),
        currency=case.currency,
    )


def _truth(finding: Finding, case: Case, reference: Reference) -> str:
    truth = finding.truth
    if truth is None:
        return ""
    if not truth.fault:
        return "Nothing to repair"
    causes = possible_causes(finding, case.vehicle, reference)
    return causes.get(truth.cause or "", "A fault")


def faults_table(diagnosis: Diagnosis, currency: str) -> Table:
    """Return the car's faults, most likely first, with what speaks for and against each."""
    return table_of(
        "Faults",
        diagnosis.faults,
        ("Fault", 44, "text", lambda one: one.label),
        ("Area", 18, "text", lambda one: name(one.area)),
        ("Chance", 9, "share", lambda one: one.chance),
        ("Repair, your hours in it", 13, "money range", lambda one: one.cost),
        ("Speaks for it", 60, "text", lambda one: "; ".join(one.speaks_for)),
        ("Speaks against it", 60, "text", lambda one: "; ".join(one.speaks_against)),
        ("Would settle it", 40, "text", lambda one: one.settled_by),
        currency=currency,
    )


def looks_table(diagnosis: Diagnosis, reference: Reference, currency: str) -> Table:
    """Return what to look at next, with what it is worth and its cautions beside it."""

    def cautions(one: NextLook) -> str:
        found = (reference.cautions[each] for each in one.cautions)
        return " ".join(f"{each.work}: {each.text}" for each in found)

    def tools(one: NextLook) -> str:
        return "; ".join(_tool(each, reference) for each in one.tools)

    def leads(one: NextLook) -> str:
        return "; ".join(_leads_to(each, diagnosis) for each in one.outcomes)

    return table_of(
        "What to look at next",
        diagnosis.next,
        ("Look", 44, "text", lambda one: one.label),
        ("How the car has to be", 16, "text", lambda one: NEEDS[one.needs]),
        ("Tools", 28, "text", tools),
        ("Minutes", 9, "count", lambda one: one.minutes),
        ("Worth on average", 12, "money", lambda one: one.worth),
        ("Costs", 11, "money", lambda one: one.cost),
        ("Worth less cost", 12, "money", lambda one: one.net),
        ("What each outcome would mean", 60, "text", leads),
        ("How it is done", 60, "text", lambda one: one.how),
        ("Cautions", 60, "text", cautions),
        currency=currency,
    )


def _tool(tool: str, reference: Reference) -> str:
    known = reference.tools.get(tool)
    return known.label if known else name(tool)


def _leads_to(outcome: OutcomeView, diagnosis: Diagnosis) -> str:
    words = f"{outcome.label} ({percent(outcome.chance)})"
    if diagnosis.decision == "which repair first":
        return words
    return f"{words}: {limit_words(outcome.walk_away_price)}"


def steps_table(diagnosis: Diagnosis, currency: str) -> Table:
    """Return the checks and repairs by which to find the faults, in their order."""
    return table_of(
        "Steps to find it",
        list(enumerate(diagnosis.search.steps, 1)),
        ("Step", 9, "count", lambda row: row[0]),
        ("What is done", 44, "text", lambda row: row[1].step),
        ("By a check or a repair", 11, "text", lambda row: sentence(row[1].by)),
        ("Settles the fault", 44, "text", lambda row: row[1].label),
        ("Chance that it is this", 11, "share", lambda row: row[1].chance),
        ("Costs if in vain, your hours in it", 14, "money", lambda row: row[1].cost),
        currency=currency,
    )


def measurements_table(taken: Iterable[Taken], reference: Reference) -> Table:
    """Return what was measured, with the limit's verdict and what that stands on."""

    def area(row: Taken) -> str:
        limit = reference.limits.get(row[1].limit)
        return name(limit.area) if limit else ""

    def label(row: Taken) -> str:
        limit = reference.limits.get(row[1].limit)
        return limit.label if limit else "A limit that is not known any more"

    def reading(row: Taken) -> Value:
        one = row[1]
        return yes(one.answer) if one.value is None and one.answer is not None else one.value

    def unit_by(row: Taken) -> str:
        limit = reference.limits.get(row[1].limit)
        return limit.by.unit if limit and limit.by and row[1].by is not None else ""

    return table_of(
        "Measurements",
        taken,
        ("After the job", 32, "text", lambda row: row[0]),
        ("Area", 16, "text", area),
        ("What was measured", 36, "text", label),
        ("Where on the car", 16, "text", lambda row: row[1].place),
        ("Reading", 10, "number", reading),
        ("Unit", 9, "text", lambda row: row[1].unit),
        ("At", 9, "number", lambda row: row[1].by),
        ("Unit of that", 9, "text", unit_by),
        ("Verdict", 12, "text", lambda row: PROOFS[row[2].result if row[2] else "cannot tell"]),
        ("Why", 54, "text", lambda row: getattr(row[2], "why", "")),
        ("Holds in", 20, "text", lambda row: getattr(row[2], "jurisdiction", "")),
        ("Ground of the limit", 16, "text", lambda row: row[2].kind.value if row[2] else ""),
        ("Measured on", 12, "day", lambda row: row[1].measured_on),
        ("Note", 40, "text", lambda row: row[1].note),
    )


def look_words(look: str) -> str:
    """Return the best look that was taken at an area, in words."""
    return LOOKS[Look(look)] if look else "Not inspected"
