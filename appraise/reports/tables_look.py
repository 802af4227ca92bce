"""What was seen on a car, as tables: the car, warnings, findings, causes, checks, measurements."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from appraise.engine.measure.limits import Verdict
from appraise.errors import Problem
from appraise.models.appraisal import Appraisal
from appraise.models.case import Case, Standing
from appraise.models.diagnosis import Diagnosis
from appraise.models.findings import Finding, Look
from appraise.models.measurements import Measurement
from appraise.reference.load import Reference
from appraise.reports.wording import (
    ESTIMATE,
    LOOKS,
    NEEDS,
    PROOFS,
    SEVERITIES,
    STANDINGS,
    STATES,
    name,
    sentence,
)
from appraise.reports.workbook import Column, Table, Value, range_columns, range_values

__all__ = [
    "car_table",
    "causes_table",
    "checks_table",
    "finding_labels",
    "findings_table",
    "look_words",
    "measurements_table",
    "trials_table",
    "warnings_table",
]

WEIGHTS = {"stop": "Stop", "warning": "Warning", "note": "Note"}
Taken = tuple[str, Measurement, Verdict | None]
"""After which job a measurement was taken (empty for none), itself, and what it says."""


def finding_labels(case: Case) -> dict[str, str]:
    """Return what each finding is called, by id; one without words of its own by its area."""
    return {one.id: one.label or name(one.area) for one in case.findings}


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
    """Return what is to be known before the numbers, the gravest first, each once."""
    found = dict.fromkeys(
        (WEIGHTS[one.weight], sentence(one.message), one.hint) for one in problems
    )
    rows = sorted(found, key=lambda row: list(WEIGHTS.values()).index(row[0]))
    return Table(
        "Warnings",
        (Column("Weight", 10), Column("What is known", 70), Column("What to do", 50)),
        tuple(rows),
    )


def findings_table(case: Case, appraisal: Appraisal | None) -> Table:
    """Return every finding with its chance and cost, as far as they are worked out."""
    money = case.currency
    costs = {one.id: one for one in appraisal.repair.by_finding} if appraisal else {}
    rows = []
    for one in case.findings:
        cost = costs.get(one.id)
        rows.append(
            (
                name(one.area),
                one.label,
                STATES[one.state],
                LOOKS[one.look] if one.look else "",
                SEVERITIES[one.severity] if one.severity else "",
                ", ".join(one.codes),
                cost.chance if cost else one.chance,
                *range_values(cost.money if cost else None),
                cost.money.mean if cost else None,
                cost.own_hours if cost else None,
                cost.note if cost else "",
                _yes(one.visible) if one.trouble else "",
                _truth(one),
                one.truth.on if one.truth else None,
                one.seen_on,
                len(one.attachments) or None,
                one.note,
            )
        )
    columns = (
        Column("Area", 18),
        Column("What was seen", 44),
        Column("How found", 13),
        Column("How inspected", 16),
        Column("Severity", 16),
        Column("Trouble codes", 14),
        Column("Chance of anything to repair", 11, "share"),
        *range_columns("Repaired alone", money),
        Column(f"Repaired alone, {money}: on average", 13, "money"),
        Column("Your hours, on average", 10, "hours"),
        Column("What the cost stands for", 26),
        Column("The next buyer sees it", 10),
        Column("Turned out to be", 26),
        Column("Known since", 12, "day"),
        Column("Seen on", 12, "day"),
        Column("Photos and PDFs", 10, "count"),
        Column("Note", 50),
    )
    return Table("Findings", columns, tuple(rows))


def _truth(finding: Finding) -> str:
    truth = finding.truth
    if truth is None:
        return ""
    if not truth.fault:
        return "Nothing to repair"
    return next((one.label for one in finding.causes if one.id == truth.cause), "A fault")


def _yes(answer: bool) -> str:  # noqa: FBT001 - the answer to a question
    return "yes" if answer else "no"


def causes_table(
    case: Case, diagnosis: Diagnosis | None, labels: Mapping[str, str], only: str | None = None
) -> Table:
    """Return the causes behind each finding, with their chance as entered and as it is now.

    Parameters
    ----------
    labels : names of jobs, by id.
    only : id of one finding.
    """
    weighed = {one.id: one for one in diagnosis.findings} if diagnosis else {}
    names = finding_labels(case)
    rows: list[tuple[Value, ...]] = []
    for finding in case.findings:
        if only not in (None, finding.id) or not finding.trouble:
            continue
        found = weighed.get(finding.id)
        odds = {one.id: one for one in found.causes} if found else {}
        for cause in finding.causes:
            jobs = "; ".join(labels.get(one.job, one.job) for one in cause.jobs)
            now = odds[cause.id].after if cause.id in odds else None
            rows.append((names[finding.id], cause.label, cause.chance, now, jobs))
        rest = next((one for one in odds.values() if one.id not in _ids(finding)), None)
        if rest is not None and finding.causes:
            rows.append((names[finding.id], rest.label, rest.before, rest.after, ""))
    columns = (
        Column("Finding", 40),
        Column("Cause", 34),
        Column("Chance as entered", 11, "share"),
        Column("Chance now", 11, "share"),
        Column("What repairs it", 44),
    )
    return Table("Causes", columns, tuple(rows))


def _ids(finding: Finding) -> set[str]:
    return {one.id for one in finding.causes}


def checks_table(diagnosis: Diagnosis, reference: Reference, currency: str) -> Table:
    """Return every check on every finding with what it is worth, its cautions beside it."""
    rows = [
        (
            finding.label,
            one.label,
            NEEDS[one.needs],
            one.minutes,
            one.worth,
            one.cost,
            one.net,
            one.done,
            one.how,
            " ".join(
                f"{reference.cautions[each].work}: {reference.cautions[each].text}"
                for each in one.cautions
            ),
        )
        for finding in diagnosis.findings
        for one in finding.checks
    ]
    columns = (
        Column("Finding", 40),
        Column("Check", 40),
        Column("How the car has to be", 16),
        Column("Minutes", 9, "count"),
        Column(f"Worth on average, {currency}", 12, "money"),
        Column(f"Costs, {currency}", 11, "money"),
        Column(f"Worth less cost, {currency}", 12, "money"),
        Column("What it showed", 30),
        Column("How it is done", 60),
        Column("Cautions", 60),
    )
    return Table("Checks", columns, tuple(rows))


def trials_table(diagnosis: Diagnosis, currency: str) -> Table:
    """Return the repairs of each finding in the order in which to try them."""
    rows = [
        (finding.label, place, one.label, one.chance, one.cost)
        for finding in diagnosis.findings
        if len(finding.trials) > 1  # of one alone there is no order
        for place, one in enumerate(finding.trials, 1)
    ]
    columns = (
        Column("Finding", 40),
        Column("Try as number", 9, "count"),
        Column("Cause", 34),
        Column("Chance that it is this", 11, "share"),
        Column(f"Costs on average, your hours in it, {currency}", 14, "money"),
    )
    return Table("Repairs to try", columns, tuple(rows))


def measurements_table(taken: Iterable[Taken], reference: Reference) -> Table:
    """Return what was measured, with the limit's verdict and what that stands on."""
    rows = []
    for after, one, said in taken:
        limit = reference.limits.get(one.limit)
        answer = None if one.answer is None else _yes(one.answer)
        rows.append(
            (
                after,
                name(limit.area) if limit else "",
                limit.label if limit else "A limit that is not known any more",
                one.place,
                one.value if one.value is not None else answer,
                one.unit,
                one.by,
                limit.by.unit if limit and limit.by and one.by is not None else "",
                PROOFS[said.result if said else "cannot tell"],
                said.why if said else "",
                said.jurisdiction if said else "",
                said.kind.value if said else "",
                one.measured_on,
                one.note,
            )
        )
    columns = (
        Column("After the job", 32),
        Column("Area", 16),
        Column("What was measured", 36),
        Column("Where on the car", 16),
        Column("Reading", 10, "number"),
        Column("Unit", 9),
        Column("At", 9, "number"),
        Column("Unit of that", 9),
        Column("Verdict", 12),
        Column("Why", 54),
        Column("Holds in", 20),
        Column("Ground of the limit", 16),
        Column("Measured on", 12, "day"),
        Column("Note", 40),
    )
    return Table("Measurements", columns, tuple(rows))


def look_words(look: str) -> str:
    """Return the best look that was taken at an area, in words."""
    return LOOKS[Look(look)] if look else "Not inspected"
