"""Lists beyond one car, as tables: all cars, reference values with what stands behind them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from appraise.models.appraisal import Appraisal
from appraise.models.case import Case
from appraise.reference.load import JobEntry, Reference
from appraise.reference.schema import Access, AreaReference, Provenance, Tool
from appraise.reference.schema import Value as ReferenceValue
from appraise.reports.wording import STANDINGS, name
from appraise.reports.workbook import Column, Table, Value, range_columns, range_values

__all__ = [
    "CarLine",
    "cars_table",
    "catalog_jobs_table",
    "sources_table",
    "values_table",
]

UNSAID = "common practice"
"""What teardown and tools rest on, as the heads of their files say."""
OUR_ESTIMATE = "our estimate, no published source"
Entry = ReferenceValue | AreaReference | Access | Tool | JobEntry


@dataclass(frozen=True, slots=True)
class CarLine:
    """A car of the list.

    Attributes
    ----------
    case : None if it cannot be read; the next step then says why.
    appraisal : None if it cannot be worked out.
    next_step : the next thing to do, in words.
    saved_on : day on which it was last saved.
    """

    case: Case | None
    appraisal: Appraisal | None
    next_step: str
    saved_on: date
    title: str


def cars_table(lines: Iterable[CarLine]) -> Table:
    """Return a line for each car; amounts are in the currency that stands beside them."""
    columns = (
        Column("Title", 40),
        Column("Model year", 8, "year"),
        Column("Make", 16),
        Column("Model", 18),
        Column("Odometer", 11, "count"),
        Column("Unit", 6),
        Column("Identification number", 22),
        Column("License plate", 12),
        Column("Standing", 11),
        Column("Next", 40),
        Column("Currency", 9),
        Column("Asking price", 12, "money"),
        Column("Walk-away price", 12, "money"),
        Column("Price paid", 12, "money"),
        Column("Bought on", 12, "day"),
        *range_columns("Repair", ""),
        *range_columns("Profit (your time paid)", ""),
        Column("Chance of losing money", 10, "share"),
        Column("Money entered since, less refunds", 13, "money"),
        Column("Your hours entered", 10, "hours"),
        Column("Offered at", 12, "money"),
        Column("Sold for", 12, "money"),
        Column("Sold on", 12, "day"),
        Column("Last saved on", 12, "day"),
    )

    def row(line: CarLine) -> tuple[Value, ...]:
        if line.case is not None:
            return _car(line, line.case)
        known: dict[str, Value] = {"Title": line.title, "Next": line.next_step}
        known["Last saved on"] = line.saved_on
        return tuple(known.get(one.head) for one in columns)

    return Table("Cars", columns, tuple(map(row, lines)))


def _car(line: CarLine, case: Case) -> tuple[Value, ...]:
    found = line.appraisal
    car, sale, bought = case.vehicle, case.sale, case.purchase
    outcome = found.outcome if found else None
    entries = case.work.entries
    return (
        case.title,
        car.model_year,
        car.make,
        car.model,
        car.odometer.value,
        car.odometer.unit,
        car.vin,
        car.plate,
        STANDINGS[case.standing],
        line.next_step,
        case.currency,
        case.deal.asking_price,
        found.walk_away_price if found else None,
        bought.bid if bought else None,
        bought.bought_on if bought else None,
        *range_values(found.repair.money if found else None),
        *range_values(outcome.margin if outcome else None),
        outcome.chance_of_loss if outcome else None,
        sum((one.paid for one in entries), Decimal(0)) if entries else None,
        sum((one.worked for one in entries), Decimal(0)) if entries else None,
        sale.asked if sale else None,
        sale.price if sale else None,
        sale.sold_on if sale else None,
        line.saved_on,
    )


def values_table(reference: Reference, used: Iterable[str] | None = None) -> Table:
    """Return reference values with what stands behind each.

    Parameters
    ----------
    used : ids of those wanted; all of them if not given.
    """
    everything: dict[str, Entry] = {
        **reference.values,
        **{f"area.{area.value}": one for area, one in reference.areas.items()},
        **{f"access.{key}": one for key, one in reference.access.items()},
        **{f"tool.{key}": one for key, one in reference.tools.items()},
        **{f"job.{key}": one for key, one in reference.jobs.items()},
    }
    wanted = everything if used is None else dict.fromkeys(used)
    rows = [_value(everything[key], reference) for key in wanted if key in everything]
    columns = (
        Column("What", 56),
        Column("Low", 10, "number"),
        Column("Likely, or the value", 11, "number"),
        Column("High", 10, "number"),
        Column("By", 50),
        Column("Unit", 24),
        Column("Ground", 18),
        Column("Published source", 60),
        Column("Last checked on", 12, "day"),
        Column("Note", 60),
    )
    return Table("Values used" if used is not None else "Values", columns, tuple(rows))


def _value(one: Entry, reference: Reference) -> tuple[Value, ...]:
    if isinstance(one, Access):
        what = f"Taking apart and back: {one.label}"
        return (what, *range_values(one.hours), "", "hours", UNSAID, "", None, OUR_ESTIMATE)
    if isinstance(one, Tool):
        what, unit = f"Tool, used once: {one.label}", reference.units["money"].label
        return (what, *range_values(one.price), "", unit, UNSAID, "", None, OUR_ESTIMATE)
    if isinstance(one, JobEntry):
        what = f"Job, without access, for a mid-size car: {one.job.label}"
        figures = (*range_values(one.job.hours), "", "hours")
        return (what, *figures, *_behind(one.provenance, reference))
    if isinstance(one, AreaReference):
        what, unit = f"Hidden faults: {one.label}", reference.units["chance"].label
        return (what, None, one.rate, None, "", unit, *_behind(one, reference))
    unit = reference.units[one.unit].label
    return (one.label, *_shape(one), unit, *_behind(one, reference))


def _shape(one: ReferenceValue) -> tuple[Value, Value, Value, str]:
    """Return low, likely, high, and a table or curve in words."""
    by = ""
    if one.table is not None:
        by = ", ".join(f"{name(key).lower()} {figure}" for key, figure in one.table.items())
    elif one.points is not None:
        by = ", ".join(f"{figure} at {at}" for at, figure in one.points)
    if one.range is not None:
        return (*range_values(one.range), by)
    return (None, one.value, None, by)


def _behind(one: Provenance, reference: Reference) -> tuple[str, str, Value, str]:
    cited = "; ".join(
        f"{reference.sources[each.id].title}" + (f" ({each.at})" if each.at else "")
        for each in one.sources
    )
    return (one.kind.value, cited, one.checked_on, one.note)


def catalog_jobs_table(reference: Reference) -> Table:
    """Return the jobs of the catalog with hours and what their parts come to, likely."""
    rows = []
    for entry in reference.jobs.values():
        job = entry.job
        parts = [one.price.likely * one.quantity for one in job.parts]
        access = "; ".join(reference.access[each].label for each in job.access)
        rows.append(
            (
                name(job.system),
                job.label,
                *range_values(job.hours),
                access,
                sum(parts, Decimal(0)),
                "; ".join(
                    f"{one.quantity} x {one.label}" if one.quantity > 1 else one.label
                    for one in job.parts
                ),
                "; ".join(reference.tools[each].label for each in job.tools),
                "yes" if job.shop_only else "no",
                entry.provenance.kind.value,
                entry.provenance.note,
            )
        )
    columns = (
        Column("System", 20),
        Column("Job", 48),
        *range_columns("Hours without access", "", "hours"),
        Column("What has to come off first", 36),
        Column(f"Parts, likely, for a mid-size car, {reference.currency}", 13, "money"),
        Column("Parts", 50),
        Column("Special tools", 30),
        Column("For a specialist only", 10),
        Column("Ground", 18),
        Column("Note", 40),
    )
    return Table("Jobs of the catalog", columns, tuple(rows))


def sources_table(reference: Reference) -> Table:
    """Return the published sources."""
    rows = tuple(
        (one.title, one.publisher, one.year, one.note) for one in reference.sources.values()
    )
    columns = (
        Column("Source", 60),
        Column("Published by", 36),
        Column("Year", 7, "year"),
        Column("Note", 60),
    )
    return Table("Sources", columns, rows)
