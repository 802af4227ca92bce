"""Parts to buy, cores to give back and the day plan, as one page of text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from appraise.engine.work.schedule import Day, DayPlan, Step
from appraise.models.case import Case
from appraise.models.parts import CoreRow, PartRow
from appraise.reports.columns import amount, clip, folded, row, title_lines

__all__ = [
    "PartsLists",
    "Sum",
    "by_supplier",
    "day_rows",
    "parts_page",
    "sum_of",
    "wait_words",
]

PART = (-4, -35, 4, 11, 11, 9, -2)
"""Label, how many, price of each, of all, deposit."""
DATED = (-4, -35, 4, 11, 9, -12, -2)
"""The same, with the day in the place of the price of each."""
SUPPLIER = 61
JOB = 24
CORE = (-2, -30, -30, 12, 12, 12)
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
LEAST_HOURS = 0.05
"""Shown to a tenth, less is nothing."""
ZERO = Decimal(0)
NO_SUPPLIER = "supplier not chosen"


@dataclass(frozen=True, slots=True)
class PartsLists:
    """All that is bought for a car, what goes back, and when it is fitted."""

    on: date
    parts: tuple[PartRow, ...]
    cores: tuple[CoreRow, ...]
    days: DayPlan


@dataclass(frozen=True, slots=True)
class Sum:
    """Parts added up.

    Attributes
    ----------
    total : of those that have a price, deposits left out.
    expected : of that, what is the catalog's price.
    deposits : on the old units, all together.
    unpriced : how many lines have no price.
    """

    lines: int
    total: Decimal
    expected: Decimal
    deposits: Decimal
    unpriced: int


def sum_of(parts: Iterable[PartRow]) -> Sum:
    """Return parts added up."""
    listed = list(parts)
    return Sum(
        lines=len(listed),
        total=sum((one.total or ZERO for one in listed), ZERO),
        expected=sum((one.total or ZERO for one in listed if one.expected), ZERO),
        deposits=sum((one.core * one.quantity for one in listed), ZERO),
        unpriced=sum(one.total is None for one in listed),
    )


def by_supplier(parts: Iterable[PartRow]) -> dict[str, list[PartRow]]:
    """Return parts by their supplier, by name; those without one last, under an empty name."""
    found: dict[str, list[PartRow]] = {}
    for one in parts:
        found.setdefault(one.supplier.strip(), []).append(one)
    names = sorted(found, key=lambda name: (not name, name.casefold(), name))
    return {name: found[name] for name in names}


def wait_words(wait: str, jobs: Mapping[str, str]) -> str:
    """Return why there are hours left over, with the names of the jobs instead of their ids."""
    what, colon, names = wait.partition(": ")
    if not colon:
        return wait
    return f"{what}: {'; '.join(jobs.get(name, name) for name in names.split(', '))}"


def day_rows(days: DayPlan) -> list[dict[str, Any]]:
    """Return the day plan as rows for a machine: each day, its steps, what a shop has, waits."""
    return [
        {
            "on": day.on,
            "hours": round(day.hours, 2),
            "steps": [
                {
                    "job": step.task,
                    "label": days.jobs.get(step.task, step.task),
                    "access": step.access,
                    "access_label": days.access.get(step.access, step.access),
                    "hours": round(step.hours, 2),
                }
                for step in day.steps
            ],
            "at_shop": [{"job": name, "label": days.jobs.get(name, name)} for name in day.at_shop],
            "waits": [wait_words(one, days.jobs) for one in day.waits],
        }
        for day in days.plan.days
    ]


def parts_page(case: Case, lists: PartsLists) -> str:
    """Return parts by how far they have come, cores to give back, and the days."""
    lines = title_lines(case, lists.on)
    for state, words in (
        ("to order", "TO ORDER"),
        ("late", "LATE: ordered, and overdue"),
        ("ordered", "ORDERED, and on the way"),
        ("here", "HERE"),
    ):
        mine = [one for one in lists.parts if one.state == state]
        lines += ["", *_parts(words, mine, dated=state != "to order")]
    lines += ["", *_cores(lists.cores), "", *_days(lists.days)]
    if any(one.expected for one in lists.parts):
        lines += ["", "  ~ what the catalog expects, tax in it: nobody has named a price yet."]
    return "\n".join(lines)


def _parts(words: str, parts: list[PartRow], *, dated: bool) -> Iterator[str]:
    yield words
    if not parts:
        yield "  nothing"
        return
    if dated:
        yield row(DATED, "", "", "qty", "total", "deposit", "  day", "") + "for"
    else:
        yield row(PART, "", "", "qty", "each", "total", "deposit", "") + "for"
    for supplier, mine in by_supplier(parts).items():
        yield f"  {clip(supplier or NO_SUPPLIER, SUPPLIER)}"
        for one in mine:
            yield _part(one, dated=dated)
    found = sum_of(parts)
    about = "~" if found.expected else ""
    rest = [f"{amount(found.deposits, 2)} deposits"] if found.deposits else []
    if found.unpriced:
        rest.append(f"{found.unpriced} without a price")
    more = f"  and {', '.join(rest)}" if rest else ""
    width = -sum(map(abs, (DATED if dated else PART)[1 : 3 if dated else 4])) - 2
    yield row((-2, width, 11), "", "together", about + amount(found.total, 2)) + more


def _part(one: PartRow, *, dated: bool) -> str:
    about = "~" if one.expected else ""
    each, total = (
        "no price" if value is None else about + amount(value, 2) for value in (one.each, one.total)
    )
    core = amount(one.core * one.quantity, 2) if one.core else ""
    if dated:
        due = f"  {one.due or 'not known'}"
        line = row(DATED, "", one.label, f"{one.quantity}", total, core, due, "")
        return line + clip(one.job_label, JOB - 1)
    line = row(PART, "", one.label, f"{one.quantity}", each, total, core, "")
    return line + clip(one.job_label, JOB)


def _cores(cores: tuple[CoreRow, ...]) -> Iterator[str]:
    yield "CORES TO GIVE BACK for their deposit"
    if not cores:
        yield "  none"
        return
    yield row(CORE, "", "", "", "paid", "back", "to claim")
    for one in cores:
        units = ", ".join(one.parts) or "old unit"
        money = (amount(value, 2) for value in (one.paid, one.back, one.left))
        yield row(CORE, "", units, f" {one.job_label}", *money)
    together = sum((one.left for one in cores), ZERO)
    yield row(CORE, "", "together", "", "", "", amount(together, 2))


def _days(days: DayPlan) -> Iterator[str]:
    plan = days.plan
    yield "DAY BY DAY" + (f", done on {plan.finish}" if plan.finish else "")
    if plan.problem:
        yield from folded(plan.problem, "! ")
    if not plan.days and not plan.problem:
        yield "  nothing is left to do"
    for day in plan.days:
        hours = f"{day.hours:.1f} h" if day.steps else ""
        yield from folded(_day(day, days), f"  {WEEKDAYS[day.on.weekday()]} {day.on} {hours:>6}  ")


def _day(day: Day, days: DayPlan) -> str:
    words = [_step(one, days) for one in day.steps if one.hours >= LEAST_HOURS or not one.access]
    words += [f"at the shop: {days.jobs.get(name, name)}" for name in day.at_shop]
    words += [wait_words(one, days.jobs) for one in day.waits]
    return "; ".join(words)


def _step(step: Step, days: DayPlan) -> str:
    label = days.jobs.get(step.task, step.task)
    if step.access:
        label = f"{days.access.get(step.access, step.access)}, and back"
    hours = f"{step.hours:.1f} h" if step.hours >= LEAST_HOURS else "a moment"
    return f"{label} {hours}"
