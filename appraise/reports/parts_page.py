"""Parts to buy, cores to give back and the day plan, as one page of text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Protocol

from appraise.engine.work.schedule import Day, Plan, Step
from appraise.models.case import Case
from appraise.reports.columns import amount, clip, folded, left, right, title_lines

__all__ = [
    "CoreLine",
    "DayLines",
    "PartLine",
    "PartsLists",
    "Sum",
    "by_supplier",
    "day_rows",
    "parts_page",
    "sum_of",
    "wait_words",
]

LABEL = 37
QUANTITY = 4
MONEY = 11
DEPOSIT = 9
JOB = 24
DUE = 12
CORE = 32
CORE_MONEY = 12
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
LEAST_HOURS = 0.05
"""Shown to a tenth, less is nothing."""
ZERO = Decimal(0)
NO_SUPPLIER = "supplier not chosen"


class PartLine(Protocol):
    """One line of what to buy, as a list of parts has it."""

    @property
    def job_label(self) -> str: ...  # noqa: D102
    @property
    def label(self) -> str: ...  # noqa: D102
    @property
    def grade(self) -> str: ...  # noqa: D102
    @property
    def supplier(self) -> str: ...  # noqa: D102
    @property
    def quantity(self) -> int: ...  # noqa: D102
    @property
    def each(self) -> Decimal | None: ...  # noqa: D102
    @property
    def expected(self) -> bool: ...  # noqa: D102
    @property
    def shipping(self) -> Decimal: ...  # noqa: D102
    @property
    def tax(self) -> Decimal: ...  # noqa: D102
    @property
    def total(self) -> Decimal | None: ...  # noqa: D102
    @property
    def core(self) -> Decimal: ...  # noqa: D102
    @property
    def warranty_months(self) -> int | None: ...  # noqa: D102
    @property
    def state(self) -> str: ...  # noqa: D102
    @property
    def due(self) -> date | None: ...  # noqa: D102


class CoreLine(Protocol):
    """Old units of a job whose deposit is not back yet."""

    @property
    def job_label(self) -> str: ...  # noqa: D102
    @property
    def parts(self) -> tuple[str, ...]: ...  # noqa: D102
    @property
    def paid(self) -> Decimal: ...  # noqa: D102
    @property
    def back(self) -> Decimal: ...  # noqa: D102
    @property
    def left(self) -> Decimal: ...  # noqa: D102


class DayLines(Protocol):
    """A day plan with the names of its jobs and of the teardown."""

    @property
    def plan(self) -> Plan: ...  # noqa: D102
    @property
    def jobs(self) -> Mapping[str, str]: ...  # noqa: D102
    @property
    def access(self) -> Mapping[str, str]: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class PartsLists:
    """All that is bought for a car, what goes back, and when it is fitted."""

    on: date
    parts: tuple[PartLine, ...]
    cores: tuple[CoreLine, ...]
    days: DayLines


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


def sum_of(parts: Iterable[PartLine]) -> Sum:
    """Return parts added up."""
    listed = list(parts)
    return Sum(
        lines=len(listed),
        total=sum((one.total or ZERO for one in listed), ZERO),
        expected=sum((one.total or ZERO for one in listed if one.expected), ZERO),
        deposits=sum((one.core * one.quantity for one in listed), ZERO),
        unpriced=sum(one.total is None for one in listed),
    )


def by_supplier(parts: Iterable[PartLine]) -> dict[str, list[PartLine]]:
    """Return parts by their supplier, by name; those without one last, under an empty name."""
    found: dict[str, list[PartLine]] = {}
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


def day_rows(days: DayLines) -> list[dict[str, Any]]:
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


def _parts(words: str, parts: list[PartLine], *, dated: bool) -> Iterator[str]:
    yield words
    if not parts:
        yield "  nothing"
        return
    yield (
        "  "
        + left("", LABEL)
        + right("qty", QUANTITY)
        + ("" if dated else right("each", MONEY))
        + right("total", MONEY)
        + right("deposit", DEPOSIT)
        + (left("  day", DUE) if dated else "")
        + "  for"
    )
    for supplier, mine in by_supplier(parts).items():
        yield f"  {clip(supplier or NO_SUPPLIER, LABEL + JOB)}"
        for one in mine:
            yield _part(one, dated=dated)
    found = sum_of(parts)
    about = "~" if found.expected else ""
    rest = [f"{amount(found.deposits, 2)} deposits"] if found.deposits else []
    if found.unpriced:
        rest.append(f"{found.unpriced} without a price")
    more = f"  and {', '.join(rest)}" if rest else ""
    yield (
        "  "
        + left("together", LABEL + QUANTITY + (0 if dated else MONEY))
        + right(about + amount(found.total, 2), MONEY)
        + more
    )


def _part(one: PartLine, *, dated: bool) -> str:
    about = "~" if one.expected else ""
    each, total = (
        "no price" if value is None else about + amount(value, 2) for value in (one.each, one.total)
    )
    row = (
        "    "
        + left(one.label, LABEL - 2)
        + right(str(one.quantity), QUANTITY)
        + ("" if dated else right(each, MONEY))
        + right(total, MONEY)
        + right(amount(one.core * one.quantity, 2) if one.core else "", DEPOSIT)
    )
    if dated:
        row += left(f"  {one.due or 'not known'}", DUE)
    return row + "  " + clip(one.job_label, JOB - 1 if dated else JOB)


def _cores(cores: tuple[CoreLine, ...]) -> Iterator[str]:
    yield "CORES TO GIVE BACK for their deposit"
    if not cores:
        yield "  none"
        return
    heads = ("paid", "back", "to claim")
    yield "  " + left("", 2 * CORE - 4) + "".join(right(one, CORE_MONEY) for one in heads)
    for one in cores:
        yield (
            "  "
            + left(", ".join(one.parts) or "old unit", CORE - 2)
            + left(f" {one.job_label}", CORE - 2)
            + "".join(
                right(amount(value, 2), CORE_MONEY) for value in (one.paid, one.back, one.left)
            )
        )
    together = sum((one.left for one in cores), ZERO)
    yield (
        "  "
        + left("together", 2 * CORE - 4 + 2 * CORE_MONEY)
        + right(amount(together, 2), CORE_MONEY)
    )


def _days(days: DayLines) -> Iterator[str]:
    plan = days.plan
    yield "DAY BY DAY" + (f", done on {plan.finish}" if plan.finish else "")
    if plan.problem:
        yield from folded(plan.problem, "! ")
    if not plan.days and not plan.problem:
        yield "  nothing is left to do"
    for day in plan.days:
        hours = f"{day.hours:.1f} h" if day.steps else ""
        yield from folded(_day(day, days), f"  {WEEKDAYS[day.on.weekday()]} {day.on} {hours:>6}  ")


def _day(day: Day, days: DayLines) -> str:
    words = [_step(one, days) for one in day.steps if one.hours >= LEAST_HOURS or not one.access]
    words += [f"at the shop: {days.jobs.get(name, name)}" for name in day.at_shop]
    words += [wait_words(one, days.jobs) for one in day.waits]
    return "; ".join(words)


def _step(step: Step, days: DayLines) -> str:
    label = days.jobs.get(step.task, step.task)
    if step.access:
        label = f"{days.access.get(step.access, step.access)}, and back"
    hours = f"{step.hours:.1f} h" if step.hours >= LEAST_HOURS else "a moment"
    return f"{label} {hours}"
