"""Parts, cores and days as tables of a spreadsheet."""

from __future__ import annotations

from collections.abc import Iterable

from appraise.engine.work.schedule import DayPlan
from appraise.models.parts import CoreRow, PartRow
from appraise.reports.parts_page import LEAST_HOURS, wait_words
from appraise.reports.table import Column, Table, Value, table_of

__all__ = ["core_table", "day_table", "part_table"]


def part_table(currency: str, parts: Iterable[PartRow]) -> Table:
    """Return what to buy, line by line."""
    return table_of(
        "Parts",
        parts,
        ("Job", 34, "text", lambda one: one.job_label),
        ("Part", 34, "text", lambda one: one.label),
        ("Where from", 13, "text", lambda one: one.grade),
        ("Supplier", 24, "text", lambda one: one.supplier),
        ("Quantity", 9, "count", lambda one: one.quantity),
        ("Each", 12, "money", lambda one: one.each),
        ("Price is", 11, "text", _price_is),
        ("Shipping", 13, "money", lambda one: one.shipping),
        ("Tax", 11, "money", lambda one: one.tax),
        ("Total", 12, "money", lambda one: one.total),
        ("Deposit each", 13, "money", lambda one: one.core),
        ("Warranty, months", 10, "count", lambda one: one.warranty_months),
        ("State", 10, "text", lambda one: one.state),
        ("Due or arrived", 14, "day", lambda one: one.due),
        currency=currency,
    )


def _price_is(one: PartRow) -> str:
    return "missing" if one.each is None else "expected" if one.expected else "known"


def core_table(currency: str, cores: Iterable[CoreRow]) -> Table:
    """Return the old units whose deposit is not back yet."""
    return table_of(
        "Cores",
        cores,
        ("Job", 40, "text", lambda one: one.job_label),
        ("Old units", 40, "text", lambda one: ", ".join(one.parts)),
        ("Deposit paid", 16, "money", lambda one: one.paid),
        ("Given back", 16, "money", lambda one: one.back),
        ("Still to claim", 16, "money", lambda one: one.left),
        currency=currency,
    )


def day_table(days: DayPlan) -> Table:
    """Return the day plan: a row for each step, each job at a shop, each day that only waits."""
    columns = (
        Column("Day", 12, "day"),
        Column("Job", 44),
        Column("Work", 34),
        Column("Your hours", 10, "hours"),
        Column("Waits for", 60),
    )
    rows: list[tuple[Value, ...]] = []
    for day in days.plan.days:
        waits = "; ".join(wait_words(one, days.jobs) for one in day.waits)
        mine: list[tuple[Value, ...]] = [
            (
                day.on,
                days.jobs.get(step.task, step.task),
                f"{days.access.get(step.access, step.access)}, and back" if step.access else "",
                round(step.hours, 2),
                None,
            )
            for step in day.steps
            if step.hours >= LEAST_HOURS or not step.access
        ]
        mine += [
            (day.on, days.jobs.get(one, one), "at the shop", None, None) for one in day.at_shop
        ]
        if waits or not mine:
            mine.append((day.on, None, None, None, waits))
        rows += mine
    return Table("Days", columns, tuple(rows))
