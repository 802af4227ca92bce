"""Work on an owned car, as tables: jobs with plan against actual, proofs, books, where it ends."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from appraise.engine.work.schedule import Plan
from appraise.models.case import Case
from appraise.models.forecast import Forecast, Itemized
from appraise.models.ledger import EntryKind
from appraise.models.work import Stage
from appraise.reports.tables_look import finding_labels
from appraise.reports.wording import DONE_BY, ENTRY_KINDS, PROOFS, PURPOSES, STAGES, name
from appraise.reports.workbook import Column, Table, Value, range_columns, range_values

__all__ = [
    "budget_table",
    "end_rows",
    "ends_table",
    "entries_table",
    "jobs_table",
    "kinds_table",
    "proofs_table",
    "slots_table",
    "then_table",
]

NONE = Decimal(0)
CAR = "The car as a whole"
Proofs = Mapping[str, tuple[str, tuple[tuple[str, str], ...]]]
"""What a job's proof says as a whole, and line by line as result and words; by the job's id."""
EndRow = tuple[str, str, Decimal, Decimal, Decimal, Decimal, Decimal]
"""Job, how far it is; money expected, paid, to come; hours worked, to come."""


def jobs_table(case: Case, forecast: Forecast, labels: Mapping[str, str], proofs: Proofs) -> Table:
    """Return every planned job: what it was to take, what went in, what is to come.

    Parameters
    ----------
    labels : names of the planned jobs, by id.
    """
    money, findings = case.currency, finding_labels(case)
    known = {one.id: one for one in forecast.jobs}
    rows = []
    for job in case.work.jobs:
        one = known.get(job.id)
        mine = [entry for entry in case.work.entries if entry.job == job.id]
        rows.append(
            (
                labels[job.id],
                job.quantity,
                STAGES[job.stage],
                PURPOSES[job.purpose],
                "yes" if job.must else "no",
                DONE_BY[job.done_by or case.deal.done_by],
                "; ".join(findings.get(each, each) for each in job.findings),
                "; ".join(labels[each] for each in job.after),
                job.started_on,
                job.done_on,
                *range_values(one.money if one else None),
                one.money.mean if one else None,
                one.committed if one else None,
                one.paid if one else None,
                *range_values(one.to_come if one else None),
                *range_values(one.hours if one else None),
                one.hours.mean if one else None,
                one.worked if one else sum((each.worked for each in mine), NONE),
                *range_values(one.hours_to_come if one else None),
                PROOFS[proofs[job.id][0]] if job.id in proofs else "",
                job.note,
            )
        )
    columns = (
        Column("Job", 38),
        Column("Times", 7, "count"),
        Column("How far", 10),
        Column("What for", 12),
        Column("Must be done before a private buyer drives it away", 14),
        Column("Done by", 12),
        Column("Repairs", 40),
        Column("Waits for", 30),
        Column("Begun on", 12, "day"),
        Column("Done on", 12, "day"),
        *range_columns("Expected", money),
        Column(f"Expected, {money}: on average", 12, "money"),
        Column(f"Ordered, not paid, {money}", 12, "money"),
        Column(f"Paid, {money}", 12, "money"),
        *range_columns("To come", money),
        *range_columns("Your hours expected", "", "hours"),
        Column("Your hours expected: on average", 10, "hours"),
        Column("Your hours worked", 10, "hours"),
        *range_columns("Your hours to come", "", "hours"),
        Column("Proof", 14),
        Column("Note", 50),
    )
    return Table("Jobs", columns, tuple(rows))


def slots_table(case: Case, plan: Plan, labels: Mapping[str, str]) -> Table:
    """Return the day on which each open job begins and ends, by the day plan."""
    after = {one.id: "; ".join(labels[each] for each in one.after) for one in case.work.jobs}
    rows = tuple(
        (labels.get(one.name, one.name), one.begins, one.ends, after.get(one.name, ""))
        for one in plan.slots
    )
    columns = (
        Column("Job", 40),
        Column("Begins", 12, "day"),
        Column("Ends", 12, "day"),
        Column("Waits for", 44),
    )
    return Table("Days of each job", columns, rows)


def proofs_table(case: Case, labels: Mapping[str, str], proofs: Proofs) -> Table:
    """Return what proves each job, line by line."""
    rows: list[tuple[Value, ...]] = []
    for job in case.work.jobs:
        whole, lines = proofs.get(job.id, ("none", ()))
        head = (labels[job.id], STAGES[job.stage], job.done_on, PROOFS[whole])
        rows += [(*head, PROOFS[result], words) for result, words in lines]
        if not lines and job.stage is Stage.DONE:
            rows.append((*head, "", ""))
    columns = (
        Column("Job", 38),
        Column("How far", 10),
        Column("Done on", 12, "day"),
        Column("Proof as a whole", 14),
        Column("This line", 14),
        Column("What was measured, read or said", 80),
    )
    return Table("Proofs", columns, tuple(rows))


def entries_table(case: Case, labels: Mapping[str, str]) -> Table:
    """Return the books, day by day: money back and what is taken back below nothing."""
    by_id = {one.id: one for one in case.work.entries}
    gone = {one.corrects for one in case.work.entries}
    rows = []
    for one in sorted(case.work.entries, key=lambda one: one.on):
        hours = one.kind is EntryKind.HOURS
        rows.append(
            (
                one.on,
                ENTRY_KINDS[one.kind],
                labels.get(one.job, one.job) if one.job else CAR,
                one.supplier,
                one.number,
                None if hours else one.paid,
                one.worked if hours else None,
                by_id[one.corrects].on if one.corrects else None,
                "yes" if one.id in gone else "",
                len(one.attachments) or None,
                one.note,
            )
        )
    columns = (
        Column("Day", 12, "day"),
        Column("For", 28),
        Column("Job", 38),
        Column("Paid to", 26),
        Column("Receipt number", 16),
        Column(f"Money, {case.currency}", 12, "money"),
        Column("Your hours", 9, "hours"),
        Column("Takes back the entry of", 12, "day"),
        Column("Taken back later", 9),
        Column("Photos and PDFs", 10, "count"),
        Column("Note", 50),
    )
    return Table("Entries", columns, tuple(rows))


def kinds_table(sums: Mapping[str, Decimal], case: Case) -> Table:
    """Return what every kind of entry comes to.

    Parameters
    ----------
    sums : by kind; own hours in hours.
    """
    used = {one.kind for one in case.work.entries}
    kinds = [one for one in EntryKind if one in used]
    rows = tuple(
        (
            ENTRY_KINDS[one],
            None if one is EntryKind.HOURS else sums[one.value],
            sums[one.value] if one is EntryKind.HOURS else None,
        )
        for one in kinds
    )
    money = sum((sums[one.value] for one in kinds if one is not EntryKind.HOURS), NONE)
    columns = (
        Column("For", 34),
        Column(f"Money, {case.currency}", 13, "money"),
        Column("Your hours", 10, "hours"),
    )
    foot = ("All money, deposits among it", money, sums[EntryKind.HOURS.value])
    return Table("Money by kind", columns, rows, foot)


def end_rows(case: Case, forecast: Forecast) -> tuple[EndRow, ...]:
    """Return the jobs, and what is left besides them, on average: the columns add up."""
    rows: list[EndRow] = [
        (
            one.label,
            STAGES[one.stage],
            one.money.mean,
            one.paid,
            one.to_come.mean,
            one.worked,
            one.hours_to_come.mean,
        )
        for one in forecast.jobs
    ]
    bare, unseen = forecast.without_jobs.mean, forecast.unseen.mean
    rows.append(("Findings that have no job yet", "", bare, NONE, bare, NONE, NONE))
    rows.append(("Areas not inspected", "", unseen, NONE, unseen, NONE, NONE))
    dropped = {one.id for one in case.work.jobs if one.stage is Stage.DROPPED}
    left = forecast.paid - forecast.general - sum((one.paid for one in forecast.jobs), NONE)
    hours = sum((one.worked for one in case.work.entries if one.job in dropped), NONE)
    if left or hours:
        rows.append(("Jobs dropped", STAGES[Stage.DROPPED], NONE, left, NONE, hours, NONE))
    hours = sum((one.worked for one in case.work.entries if one.job is None), NONE)
    if forecast.general or hours:
        words = "For no job: tools, holding, sundries"
        rows.append((words, "", NONE, forecast.general, NONE, hours, NONE))
    return tuple(rows)


def ends_table(case: Case, forecast: Forecast) -> Table:
    """Return where the money and hours of the repair end, on average, with their sums."""
    rows = end_rows(case, forecast)
    money = case.currency
    columns = (
        Column("Job", 40),
        Column("How far", 10),
        Column(f"Expected, {money}", 12, "money"),
        Column(f"Paid, {money}", 12, "money"),
        Column(f"To come, {money}", 12, "money"),
        Column("Your hours worked", 10, "hours"),
        Column("Your hours to come", 10, "hours"),
    )
    sums = tuple(sum(column, NONE) for column in _figures(rows))
    return Table("Where it ends", columns, rows, ("Together", "", *sums))


def _figures(rows: Sequence[EndRow]) -> Iterable[list[Decimal]]:
    for place in range(2, 7):
        yield [one for row in rows if isinstance(one := row[place], Decimal)]


def budget_table(forecast: Forecast) -> Table:
    """Return budget, paid, to come and at the end, each with its doubt, and what was learned."""
    money = forecast.currency
    origin = "expected at the purchase" if forecast.budget_from == "the purchase" else "planned"
    rows: list[tuple[Value, ...]] = [
        (f"Budget, as {origin}", money, *range_values(forecast.budget), forecast.budget.mean),
        ("Paid so far, less refunds", money, None, forecast.paid, None, None),
        ("Ordered, not paid yet", money, None, forecast.committed, None, None),
        ("Still to come", money, *range_values(forecast.to_come), forecast.to_come.mean),
        ("At the end", money, *range_values(forecast.at_end), forecast.at_end.mean),
        ("Deposits out, beside all this", money, None, forecast.deposits_out, None, None),
        ("Your hours worked", "h", None, forecast.worked, None, None),
        (
            "Your hours to come",
            "h",
            *range_values(forecast.hours_to_come),
            forecast.hours_to_come.mean,
        ),
        (
            "Your hours at the end",
            "h",
            *range_values(forecast.hours_at_end),
            forecast.hours_at_end.mean,
        ),
    ]
    rows += [
        (
            f"Learned from jobs done ({one.jobs}): actual {one.of} over likely",
            "times",
            one.low,
            one.factor,
            one.high,
            None,
        )
        for one in forecast.learned
    ]
    columns = (
        Column("What", 46),
        Column("Unit", 7),
        Column("Low: 1 in 10 below", 12, "number"),
        Column("Likely: half below", 12, "number"),
        Column("High: 1 in 10 above", 12, "number"),
        Column("On average", 12, "number"),
    )
    return Table("Budget", columns, tuple(rows))


def then_table(found: Itemized, currency: str) -> Table:
    """Return what each finding was expected to be at the purchase, and what it turned out."""
    kept = found.expected is not None
    rows = tuple(
        (
            one.label,
            name(one.turned_out) if kept else "",
            one.chance,
            one.expected,
            one.now,
            one.cause,
        )
        for one in found.findings
    )
    columns = (
        Column("Finding", 44),
        Column("Turned out", 18),
        Column("Chance then", 10, "share"),
        Column(f"Expected then, on average, {currency}", 13, "money"),
        Column(f"Expected now, on average, {currency}", 13, "money"),
        Column("What it was", 34),
    )
    return Table("Then and now", columns, rows)
