"""Parts, cores and days as tables of a spreadsheet."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from appraise.models.case import Case
from appraise.reports.parts_page import (
    LEAST_HOURS,
    CoreLine,
    DayLines,
    PartLine,
    PartsLists,
    wait_words,
)
from appraise.reports.workbook import Column, Table, Value, workbook

__all__ = ["core_table", "day_table", "part_table", "parts_sheet"]


def part_table(currency: str, parts: Iterable[PartLine]) -> Table:
    """Return what to buy, line by line."""
    return Table("Parts", _part_columns(currency), tuple(map(_part, parts)))


def core_table(currency: str, cores: Iterable[CoreLine]) -> Table:
    """Return the old units whose deposit is not back yet."""
    return Table("Cores", _core_columns(currency), tuple(map(_core, cores)))


def day_table(days: DayLines) -> Table:
    """Return the day plan."""
    return Table("Days", _day_columns(), _days(days))


def parts_sheet(case: Case, lists: PartsLists) -> bytes:
    """Return a workbook (xlsx) with the sheets Parts, Cores and Days.

    The same lists give the same bytes.
    """
    money = case.currency
    tables = (part_table(money, lists.parts), core_table(money, lists.cores), day_table(lists.days))
    return workbook(tables, title=case.title, on=lists.on, currency=case.currency)


def _part_columns(money: str) -> tuple[Column, ...]:
    return (
        Column("Job", 34),
        Column("Part", 34),
        Column("Where from", 13),
        Column("Supplier", 24),
        Column("Quantity", 9, "count"),
        Column(f"Each, {money}", 12, "money"),
        Column("Price is", 11),
        Column(f"Shipping, {money}", 13, "money"),
        Column(f"Tax, {money}", 11, "money"),
        Column(f"Total, {money}", 12, "money"),
        Column(f"Deposit each, {money}", 13, "money"),
        Column("Warranty, months", 10, "count"),
        Column("State", 10),
        Column("Due or arrived", 14, "day"),
    )


def _part(one: PartLine) -> tuple[Value, ...]:
    price = "expected" if one.expected else "known"
    return (
        one.job_label,
        one.label,
        one.grade,
        one.supplier,
        one.quantity,
        one.each,
        "missing" if one.each is None else price,
        one.shipping,
        one.tax,
        one.total,
        one.core,
        one.warranty_months,
        one.state,
        one.due,
    )


def _core_columns(money: str) -> tuple[Column, ...]:
    return (
        Column("Job", 40),
        Column("Old units", 40),
        Column(f"Deposit paid, {money}", 16, "money"),
        Column(f"Given back, {money}", 16, "money"),
        Column(f"Still to claim, {money}", 16, "money"),
    )


def _core(one: CoreLine) -> tuple[Value, ...]:
    return (one.job_label, ", ".join(one.parts), one.paid, one.back, one.left)


def _day_columns() -> tuple[Column, ...]:
    return (
        Column("Day", 12, "day"),
        Column("Job", 44),
        Column("Work", 34),
        Column("Your hours", 10, "hours"),
        Column("Waits for", 60),
    )


def _days(days: DayLines) -> tuple[tuple[Value, ...], ...]:
    """Return a row for each step, each job at a shop, and each day that only waits."""
    names: Callable[[str], str] = lambda name: days.jobs.get(name, name)  # noqa: E731
    rows: list[tuple[Value, ...]] = []
    for day in days.plan.days:
        waits = "; ".join(wait_words(one, days.jobs) for one in day.waits)
        mine: list[tuple[Value, ...]] = [
            (
                day.on,
                names(step.task),
                f"{days.access.get(step.access, step.access)}, and back" if step.access else "",
                round(step.hours, 2),
                None,
            )
            for step in day.steps
            if step.hours >= LEAST_HOURS or not step.access
        ]
        mine += [(day.on, names(name), "at the shop", None, None) for name in day.at_shop]
        if waits or not mine:
            mine.append((day.on, None, None, None, waits))
        rows += mine
    return tuple(rows)
