"""Lists beyond one car, as tables: all cars, reference values with what stands behind them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from appraise.models.appraisal import Appraisal
from appraise.models.case import Case
from appraise.models.jobs import Job
from appraise.reference.load import JobEntry, Reference
from appraise.reference.schema import Access, AreaReference, Provenance, Tool
from appraise.reference.schema import Value as ReferenceValue
from appraise.reports.table import Cell, Column, Table, Value, cells_of, table_of, yes
from appraise.reports.wording import STANDINGS, name

__all__ = [
    "CarLine",
    "cars_table",
    "catalog_jobs_table",
    "sources_table",
    "values_table",
]

FIRST = "What has to come off first"
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

    def of(path: str) -> Callable[[CarLine], Any]:
        """Return what stands at a path from a line, or nothing where it breaks off."""

        def cell(line: CarLine) -> Any:  # noqa: ANN401 - any cell
            found: Any = line
            for one in path.split("."):
                found = getattr(found, one, None)
            return found

        return cell

    def entered(line: CarLine, what: str) -> Decimal | None:
        entries = line.case.work.entries if line.case else ()
        return sum((getattr(one, what) for one in entries), Decimal(0)) if entries else None

    return table_of(
        "Cars",
        lines,
        ("Title", 40, "text", of("title")),
        ("Model year", 8, "year", of("case.vehicle.model_year")),
        ("Make", 16, "text", of("case.vehicle.make")),
        ("Model", 18, "text", of("case.vehicle.model")),
        ("Odometer", 11, "count", of("case.vehicle.odometer.value")),
        ("Unit", 6, "text", of("case.vehicle.odometer.unit")),
        ("Identification number", 22, "text", of("case.vehicle.vin")),
        ("License plate", 12, "text", of("case.vehicle.plate")),
        ("Standing", 11, "text", lambda line: STANDINGS[line.case.standing] if line.case else None),
        ("Next", 40, "text", of("next_step")),
        ("Currency", 9, "text", of("case.currency")),
        ("Asking price", 12, "money", of("case.deal.asking_price")),
        ("Walk-away price", 12, "money", of("appraisal.walk_away_price")),
        ("Price paid", 12, "money", of("case.purchase.bid")),
        ("Bought on", 12, "day", of("case.purchase.bought_on")),
        ("Repair", 12, "money range", of("appraisal.repair.money")),
        ("Profit (your time paid)", 12, "money range", of("appraisal.outcome.margin")),
        ("Chance of losing money", 10, "share", of("appraisal.outcome.chance_of_loss")),
        ("Money entered since, less refunds", 13, "money", lambda line: entered(line, "paid")),
        ("Your hours entered", 10, "hours", lambda line: entered(line, "worked")),
        ("Offered at", 12, "money", of("case.sale.asked")),
        ("Sold for", 12, "money", of("case.sale.price")),
        ("Sold on", 12, "day", of("case.sale.sold_on")),
        ("Last saved on", 12, "day", of("saved_on")),
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
    figure: Cell
    by = ""
    behind: tuple[str, str, Value, str] = (UNSAID, "", None, OUR_ESTIMATE)
    if isinstance(one, Access):
        what, figure, unit = f"Taking apart and back: {one.label}", one.hours, "hours"
    elif isinstance(one, Tool):
        what, figure, unit = (
            f"Tool, used once: {one.label}",
            one.price,
            reference.units["money"].label,
        )
    elif isinstance(one, JobEntry):
        what = f"Job, without access, for a mid-size car: {one.job.label}"
        figure, unit, behind = one.job.hours, "hours", _behind(one.provenance, reference)
    elif isinstance(one, AreaReference):
        what, figure, unit = (
            f"Hidden faults: {one.label}",
            one.rate,
            reference.units["chance"].label,
        )
        behind = _behind(one, reference)
    else:
        what, figure, unit = one.label, one.range or one.value, reference.units[one.unit].label
        by, behind = _listed(one), _behind(one, reference)
    return (what, *cells_of(figure, 3), by, unit, *behind)


def _listed(one: ReferenceValue) -> str:
    """Return a table or curve in words."""
    if one.table is not None:
        return ", ".join(f"{name(key).lower()} {figure}" for key, figure in one.table.items())
    return ", ".join(f"{figure} at {at}" for at, figure in one.points or ())


def _behind(one: Provenance, reference: Reference) -> tuple[str, str, Value, str]:
    cited = "; ".join(
        f"{reference.sources[each.id].title}" + (f" ({each.at})" if each.at else "")
        for each in one.sources
    )
    return (one.kind.value, cited, one.checked_on, one.note)


def catalog_jobs_table(reference: Reference) -> Table:
    """Return the jobs of the catalog with hours and what their parts come to, likely."""

    def parts(job: Job) -> str:
        return "; ".join(
            f"{one.quantity} x {one.label}" if one.quantity > 1 else one.label for one in job.parts
        )

    def price(job: Job) -> Decimal:
        return sum((one.price.likely * one.quantity for one in job.parts), Decimal(0))

    def labels(ids: Iterable[str], known: Mapping[str, Access] | Mapping[str, Tool]) -> str:
        return "; ".join(known[one].label for one in ids)

    return table_of(
        "Jobs of the catalog",
        reference.jobs.values(),
        ("System", 20, "text", lambda one: name(one.job.system)),
        ("Job", 48, "text", lambda one: one.job.label),
        ("Hours without access", 12, "hours range", lambda one: one.job.hours),
        (FIRST, 36, "text", lambda one: labels(one.job.access, reference.access)),
        ("Parts, likely, for a mid-size car", 13, "money", lambda one: price(one.job)),
        ("Parts", 50, "text", lambda one: parts(one.job)),
        ("Special tools", 30, "text", lambda one: labels(one.job.tools, reference.tools)),
        ("For a specialist only", 10, "text", lambda one: yes(one.job.shop_only)),
        ("Ground", 18, "text", lambda one: one.provenance.kind.value),
        ("Note", 40, "text", lambda one: one.provenance.note),
        currency=reference.currency,
    )


def sources_table(reference: Reference) -> Table:
    """Return the published sources."""
    return table_of(
        "Sources",
        reference.sources.values(),
        ("Source", 60, "text", lambda one: one.title),
        ("Published by", 36, "text", lambda one: one.publisher),
        ("Year", 7, "year", lambda one: one.year),
        ("Note", 60, "text", lambda one: one.note),
    )
