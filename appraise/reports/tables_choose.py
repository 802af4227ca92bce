"""What to do with an owned car from today on, and what it earned, as tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal

from appraise.models.case import Case
from appraise.models.choices import Choices, ItemView
from appraise.models.earned import DatedFlow, Earned
from appraise.models.ranges import Range
from appraise.models.work import Breaking, Purpose
from appraise.reports.table import Column, Table, Value, table_of, yes
from appraise.reports.wording import PURPOSES

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
WORSE = "Chance that it is worse than selling now"


def options_table(found: Choices) -> Table:
    """Return every way to go on from today, with its doubt."""
    labels = {one.id: one.label for one in found.items}
    return table_of(
        "Options",
        found.options,
        ("Option", 34, "text", lambda one: one.label),
        ("Net from today", 12, "money spread", lambda one: one.net),
        (WORSE, 12, "share", lambda one: one.worse_than_selling_now),
        ("Sold for, or worth to keep", 12, "money range", lambda one: one.price),
        ("Money in from today", 12, "money spread", lambda one: one.money),
        ("Your hours from today", 12, "hours spread", lambda one: one.hours),
        ("Days until paid", 12, "count range", lambda one: one.days),
        ("Jobs done", 50, "text", lambda one: _jobs(one.jobs, labels)),
        ("What is special about it", 50, "text", lambda one: one.words),
        currency=found.currency,
    )


def _jobs(ids: Iterable[str], labels: Mapping[str, str]) -> str:
    return "; ".join(labels.get(one, one) for one in ids)


def returned(case: Case, one: ItemView) -> Decimal:
    """Return what an item brings back in price as a share of what it costs, own hours priced."""
    kept = one.adds * (1 - case.deal.selling_percent / 100)
    cost = kept - one.net
    return kept / cost if cost > 0 else Decimal(0)


def worth_table(case: Case, found: Choices, items: Iterable[ItemView] | None = None) -> Table:
    """Return what jobs, all or some, add to the price and leave, shared access and tools apart."""

    def share(one: ItemView) -> Decimal | None:
        return returned(case, one) if one.purpose in ADDING else None

    return table_of(
        "Worth of each job",
        found.items if items is None else items,
        ("Job or finding", 44, "text", lambda one: one.label),
        ("What for", 12, "text", lambda one: PURPOSES[one.purpose]),
        ("Must be done", 9, "text", lambda one: yes(one.must)),
        ("Cause known", 9, "text", lambda one: yes(one.sure)),
        ("Money still to put in", 12, "money", lambda one: one.money),
        ("Your hours still to put in", 10, "hours", lambda one: one.hours),
        ("Adds to the price", 12, "money", lambda one: one.adds),
        ("Leaves", 12, "money", lambda one: one.net),
        ("Returned of its cost", 10, "share", share),
        currency=found.currency,
    )


def frontier_table(found: Choices) -> Table:
    """Return the choices that no other beats, by money in and by own hours."""
    labels = {one.id: one.label for one in found.items}
    sides = (("money", found.by_money), ("your hours", found.by_hours))
    return table_of(
        "How much to put in",
        [(by, one) for by, points in sides for one in points],
        ("None beats it for its", 12, "text", lambda row: row[0]),
        ("Money in", 12, "money", lambda row: row[1].money),
        ("Your hours in", 10, "hours", lambda row: row[1].hours),
        ("Net from today", 12, "money spread", lambda row: row[1].net),
        ("Jobs done", 60, "text", lambda row: _jobs(row[1].jobs, labels)),
        currency=found.currency,
    )


def breaking_table(breaking: Breaking | None, currency: str) -> Table:
    """Return what can be sold off the car when it is broken for parts."""
    rows: list[tuple[str, Range, Decimal | None, Decimal | None]] = []
    if breaking is not None:
        rows = [(one.label, one.price, one.chance, one.hours) for one in breaking.lines]
        if breaking.scrap is not None:
            rest = breaking.scrap
            rows.append(("The rest, as scrap", Range(low=rest, likely=rest, high=rest), None, None))
    return table_of(
        "Parting out",
        rows,
        ("What is sold", 40, "text", lambda row: row[0]),
        ("Brings", 12, "money range", lambda row: row[1]),
        ("Chance to sell", 9, "share", lambda row: row[2]),
        ("Hours to take it off and sell it", 10, "hours", lambda row: row[3]),
        currency=currency,
    )


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
    return table_of(
        "Payments",
        flows,
        ("Day", 12, "day", lambda one: one.on),
        ("What", 44, "text", lambda one: one.label),
        ("Money", 13, "money", lambda one: one.amount),
        currency=currency,
    )
