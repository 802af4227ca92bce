"""What to do with an owned car from today on, and what it earned, as tables."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from appraise.models.case import Case
from appraise.models.choices import Choices, FrontierPoint, ItemView
from appraise.models.earned import DatedFlow, Earned
from appraise.models.work import Breaking, Purpose
from appraise.reports.wording import PURPOSES
from appraise.reports.workbook import Column, Table, Value, range_columns, range_values

__all__ = [
    "ADDING",
    "breaking_table",
    "earned_table",
    "frontier_table",
    "options_table",
    "payments_table",
    "returned",
    "worth_table",
]

ADDING = (Purpose.UPGRADE, Purpose.PREVENTIVE)
"""What is weighed by what it brings back of its cost."""


def options_table(found: Choices) -> Table:
    """Return every way to go on from today, with its doubt."""
    labels, money = {one.id: one.label for one in found.items}, found.currency
    rows = tuple(
        (
            one.label,
            *range_values(one.net),
            one.net.mean,
            one.worse_than_selling_now,
            *range_values(one.price),
            *range_values(one.money),
            one.money.mean,
            *range_values(one.hours),
            one.hours.mean,
            *range_values(one.days),
            "; ".join(labels.get(each, each) for each in one.jobs),
            one.words,
        )
        for one in found.options
    )
    columns = (
        Column("Option", 34),
        *range_columns("Net from today", money),
        Column(f"Net from today, {money}: on average", 12, "money"),
        Column("Chance that it is worse than selling now", 12, "share"),
        *range_columns("Sold for, or worth to keep", money),
        *range_columns("Money in from today", money),
        Column(f"Money in from today, {money}: on average", 12, "money"),
        *range_columns("Your hours from today", "", "hours"),
        Column("Your hours from today: on average", 12, "hours"),
        *range_columns("Days until paid", "", "count"),
        Column("Jobs done", 50),
        Column("What is special about it", 50),
    )
    return Table("Options", columns, rows)


def returned(case: Case, one: ItemView) -> Decimal:
    """Return what an item brings back in price as a share of what it costs, own hours priced."""
    kept = one.adds * (1 - case.deal.selling_percent / 100)
    cost = kept - one.net
    return kept / cost if cost > 0 else Decimal(0)


def worth_table(case: Case, found: Choices) -> Table:
    """Return what each job adds to the price and leaves, shared access and tools apart."""
    money = found.currency
    rows = tuple(
        (
            one.label,
            PURPOSES[one.purpose],
            "yes" if one.must else "no",
            "yes" if one.sure else "no",
            one.money,
            one.hours,
            one.adds,
            one.net,
            returned(case, one) if one.purpose in ADDING else None,
        )
        for one in found.items
    )
    columns = (
        Column("Job or finding", 44),
        Column("What for", 12),
        Column("Must be done", 9),
        Column("Cause known", 9),
        Column(f"Money still to put in, {money}", 12, "money"),
        Column("Your hours still to put in", 10, "hours"),
        Column(f"Adds to the price, {money}", 12, "money"),
        Column(f"Leaves, {money}", 12, "money"),
        Column("Returned of its cost", 10, "share"),
    )
    return Table("Worth of each job", columns, rows)


def frontier_table(found: Choices) -> Table:
    """Return the choices that no other beats, by money in and by own hours."""
    labels, money = {one.id: one.label for one in found.items}, found.currency
    rows = [
        *_points("money", found.by_money, labels),
        *_points("your hours", found.by_hours, labels),
    ]
    columns = (
        Column("None beats it for its", 12),
        Column(f"Money in, {money}", 12, "money"),
        Column("Your hours in", 10, "hours"),
        *range_columns("Net from today", money),
        Column(f"Net from today, {money}: on average", 12, "money"),
        Column("Jobs done", 60),
    )
    return Table("How much to put in", columns, tuple(rows))


def _points(
    by: str, points: Iterable[FrontierPoint], labels: dict[str, str]
) -> Iterable[tuple[Value, ...]]:
    for one in points:
        jobs = "; ".join(labels.get(each, each) for each in one.jobs)
        yield (by, one.money, one.hours, *range_values(one.net), one.net.mean, jobs)


def breaking_table(breaking: Breaking | None, currency: str) -> Table:
    """Return what can be sold off the car when it is broken for parts."""
    lines = breaking.lines if breaking else ()
    rows: list[tuple[Value, ...]] = [
        (one.label, *range_values(one.price), one.chance, one.hours) for one in lines
    ]
    if breaking is not None and breaking.scrap is not None:
        rest = breaking.scrap
        rows.append(("The rest, as scrap", rest, rest, rest, None, None))
    columns = (
        Column("What is sold", 40),
        *range_columns("Brings", currency),
        Column("Chance to sell", 9, "share"),
        Column("Hours to take it off and sell it", 10, "hours"),
    )
    return Table("Parting out", columns, tuple(rows))


def earned_table(found: Earned) -> Table:
    """Return what a car earned, or would at a price that is supposed, line by line."""
    money = found.currency
    sold = "Sold for" if found.sold else "Supposed to be sold for"
    rows: list[tuple[str, Value, str]] = [
        (sold, found.price, money),
        ("Sold on" if found.sold else "Supposed to be sold on", found.on, ""),
        ("What the sale cost", found.sale_costs, money),
        ("Cost to buy", found.landed, money),
        ("Repair, less refunds and deposits back", found.repair, money),
        ("Profit before your time", found.margin, money),
        ("Profit (your time paid)", found.margin_paid, money),
        ("Your hours", found.hours, "h"),
        ("Each of your hours earns", found.per_hour, money),
        ("Days from the purchase", found.days, "days"),
        ("Return a year, compounded", _percent(found.annualized), "%"),
        ("Return a year, not compounded", _percent(found.simple_annual), "%"),
        *(
            ("Return a year by the days of the payments", _percent(rate), "%")
            for rate in found.rates
        ),
        ("About that return", found.rates_words, ""),
        ("The money comes back at", found.break_even, money),
        ("Your hours are paid too at", found.break_even_hours, money),
    ]
    columns = (Column("What", 44), Column("Figure", 24, "any"), Column("Unit", 7))
    return Table("Earned", columns, tuple(one for one in rows if one[1] is not None))


def _percent(share: Decimal | None) -> Decimal | None:
    return None if share is None else share * 100


def payments_table(flows: Iterable[DatedFlow], currency: str) -> Table:
    """Return the payments day by day, money out below nothing."""
    columns = (
        Column("Day", 12, "day"),
        Column("What", 44),
        Column(f"Money, {currency}", 13, "money"),
    )
    return Table("Payments", columns, tuple((one.on, one.label, one.amount) for one in flows))
