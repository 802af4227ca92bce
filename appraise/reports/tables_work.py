"""Work on an owned car, as tables: jobs with plan against actual, proofs, books, where it ends."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from appraise.engine.work.schedule import Plan
from appraise.models.case import Case
from appraise.models.forecast import Forecast, Itemized
from appraise.models.ledger import EntryKind
from appraise.models.work import PlannedJob, Stage
from appraise.reports.table import Cell, Column, Table, Value, figures_table, table_of, yes
from appraise.reports.tables_look import finding_labels
from appraise.reports.wording import DONE_BY, ENTRY_KINDS, PROOFS, PURPOSES, STAGES, name

__all__ = [
    "budget_table",
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
MUST = "Must be done before a private buyer drives it away"
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
    findings, known = finding_labels(case), {one.id: one for one in forecast.jobs}

    def of(job: PlannedJob, what: str) -> Any:  # noqa: ANN401 - any figure of its forecast
        return getattr(known.get(job.id), what, None)

    def worked(job: PlannedJob) -> Decimal:
        mine = (one.worked for one in case.work.entries if one.job == job.id)
        return known[job.id].worked if job.id in known else sum(mine, NONE)

    def done_by(job: PlannedJob) -> str:
        return DONE_BY[job.done_by or case.deal.done_by]

    def proof(job: PlannedJob) -> str:
        return PROOFS[proofs[job.id][0]] if job.id in proofs else ""

    def repairs(job: PlannedJob) -> str:
        return "; ".join(findings.get(one, one) for one in job.findings)

    return table_of(
        "Jobs",
        case.work.jobs,
        ("Job", 38, "text", lambda job: labels[job.id]),
        ("Times", 7, "count", lambda job: job.quantity),
        ("How far", 10, "text", lambda job: STAGES[job.stage]),
        ("What for", 12, "text", lambda job: PURPOSES[job.purpose]),
        (MUST, 14, "text", lambda job: yes(job.must)),
        ("Done by", 12, "text", done_by),
        ("Repairs", 40, "text", repairs),
        ("Waits for", 30, "text", lambda job: "; ".join(labels[one] for one in job.after)),
        ("Begun on", 12, "day", lambda job: job.started_on),
        ("Done on", 12, "day", lambda job: job.done_on),
        ("Expected", 12, "money spread", lambda job: of(job, "money")),
        ("Ordered, not paid", 12, "money", lambda job: of(job, "committed")),
        ("Paid", 12, "money", lambda job: of(job, "paid")),
        ("To come", 12, "money range", lambda job: of(job, "to_come")),
        ("Your hours expected", 10, "hours spread", lambda job: of(job, "hours")),
        ("Your hours worked", 10, "hours", worked),
        ("Your hours to come", 12, "hours range", lambda job: of(job, "hours_to_come")),
        ("Test", 14, "text", proof),
        ("Note", 50, "text", lambda job: job.note),
        currency=case.currency,
    )


def slots_table(case: Case, plan: Plan, labels: Mapping[str, str]) -> Table:
    """Return the day on which each open job begins and ends, by the day plan."""
    after = {one.id: "; ".join(labels[each] for each in one.after) for one in case.work.jobs}
    return table_of(
        "Days of each job",
        plan.slots,
        ("Job", 40, "text", lambda one: labels.get(one.name, one.name)),
        ("Begins", 12, "day", lambda one: one.begins),
        ("Ends", 12, "day", lambda one: one.ends),
        ("Waits for", 44, "text", lambda one: after.get(one.name, "")),
    )


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
        Column("All its tests", 14),
        Column("This line", 14),
        Column("What was measured, read or said", 80),
    )
    return Table("Tests", columns, tuple(rows))


def entries_table(case: Case, labels: Mapping[str, str]) -> Table:
    """Return the books, day by day: money back and what is taken back below nothing."""
    days = {one.id: one.on for one in case.work.entries}
    gone = {one.corrects for one in case.work.entries}
    return table_of(
        "Entries",
        [
            (one, one.kind is EntryKind.HOURS)
            for one in sorted(case.work.entries, key=lambda one: one.on)
        ],
        ("Day", 12, "day", lambda row: row[0].on),
        ("For", 28, "text", lambda row: ENTRY_KINDS[row[0].kind]),
        ("Job", 38, "text", lambda row: labels.get(row[0].job, row[0].job) if row[0].job else CAR),
        ("Paid to", 26, "text", lambda row: row[0].supplier),
        ("Receipt number", 16, "text", lambda row: row[0].number),
        ("Money", 12, "money", lambda row: None if row[1] else row[0].paid),
        ("Your hours", 9, "hours", lambda row: row[0].worked if row[1] else None),
        ("Takes back the entry of", 12, "day", lambda row: days.get(row[0].corrects or "")),
        ("Taken back later", 9, "text", lambda row: yes(row[0].id in gone, "")),
        ("Photos and PDFs", 10, "count", lambda row: len(row[0].attachments) or None),
        ("Note", 50, "text", lambda row: row[0].note),
        currency=case.currency,
    )


def kinds_table(sums: Mapping[str, Decimal], case: Case) -> Table:
    """Return what every kind of entry comes to.

    Parameters
    ----------
    sums : by kind; own hours in hours.
    """
    used, hours = {one.kind for one in case.work.entries}, EntryKind.HOURS
    kinds = [one for one in EntryKind if one in used]
    money = sum((sums[one.value] for one in kinds if one is not hours), NONE)
    return table_of(
        "Money by kind",
        kinds,
        ("For", 34, "text", lambda one: ENTRY_KINDS[one]),
        ("Money", 13, "money", lambda one: None if one is hours else sums[one.value]),
        ("Your hours", 10, "hours", lambda one: sums[one.value] if one is hours else None),
        currency=case.currency,
        foot=("All money, deposits among it", money, sums[hours.value]),
    )


def _end_rows(case: Case, forecast: Forecast) -> tuple[EndRow, ...]:
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
    rows = _end_rows(case, forecast)
    return table_of(
        "Where it ends",
        rows,
        ("Job", 40, "text", lambda row: row[0]),
        ("How far", 10, "text", lambda row: row[1]),
        ("Expected", 12, "money", lambda row: row[2]),
        ("Paid", 12, "money", lambda row: row[3]),
        ("To come", 12, "money", lambda row: row[4]),
        ("Your hours worked", 10, "hours", lambda row: row[5]),
        ("Your hours to come", 10, "hours", lambda row: row[6]),
        currency=case.currency,
        foot=("Together", "", *(sum(one, NONE) for one in list(zip(*rows, strict=True))[2:])),
    )


def budget_table(forecast: Forecast) -> Table:
    """Return budget, paid, to come and at the end, each with its doubt, and what was learned."""
    money = forecast.currency
    origin = "expected at the purchase" if forecast.budget_from == "the purchase" else "planned"
    rows: list[tuple[str, str, Cell]] = [
        (f"Budget, as {origin}", money, forecast.budget),
        ("Paid so far, less refunds", money, forecast.paid),
        ("Ordered, not paid yet", money, forecast.committed),
        ("Still to come", money, forecast.to_come),
        ("At the end", money, forecast.at_end),
        ("Deposits out, beside all this", money, forecast.deposits_out),
        ("Your hours worked", "h", forecast.worked),
        ("Your hours to come", "h", forecast.hours_to_come),
        ("Your hours at the end", "h", forecast.hours_at_end),
    ]
    rows += [
        (f"Learned from jobs done ({one.jobs}): actual {one.of} over likely", "times", one)
        for one in forecast.learned
    ]
    return figures_table("Budget", 46, rows)


def then_table(found: Itemized, currency: str) -> Table:
    """Return what each finding was expected to be at the purchase, and what it turned out."""
    kept = found.expected is not None
    return table_of(
        "Then and now",
        found.findings,
        ("Finding", 44, "text", lambda one: one.label),
        ("Turned out", 18, "text", lambda one: name(one.turned_out) if kept else ""),
        ("Chance then", 10, "share", lambda one: one.chance),
        ("Expected then, on average", 13, "money", lambda one: one.expected),
        ("Expected now, on average", 13, "money", lambda one: one.now),
        ("What it was", 34, "text", lambda one: one.cause),
        currency=currency,
    )
