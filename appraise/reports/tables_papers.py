"""The papers of a car, as tables: what each is, what it proves, what must be in hand."""

from __future__ import annotations

from collections.abc import Iterable

from appraise.engine.papers.evidence import Strength
from appraise.engine.papers.odometer import Reading
from appraise.engine.papers.title import Item
from appraise.models.case import Case
from appraise.models.papers import Paper
from appraise.reports.tables_look import finding_labels
from appraise.reports.wording import name
from appraise.reports.workbook import Column, Table

__all__ = ["hand_table", "lines_table", "odometer_table", "papers_table", "proves_table"]


def papers_table(case: Case) -> Table:
    """Return every paper with what can be read off it."""
    rows = [
        (
            name(one.kind),
            one.dated,
            one.issuer,
            one.reach,
            one.in_name,
            one.total,
            name(one.paid),
            one.vin,
            one.plate,
            one.odometer.value if one.odometer else None,
            one.odometer.unit if one.odometer else "",
            ", ".join(name(each) for each in one.brands),
            name(one.signed),
            one.signed_to,
            name(one.lien),
            ", ".join(name(each) for each in one.title_marks),
            len(one.attachments) or None,
            one.note,
        )
        for one in case.papers
    ]
    columns = (
        Column("Paper", 24),
        Column("Date on it", 12, "day"),
        Column("Issued by", 28),
        Column("How to reach them", 24),
        Column("In whose name", 24),
        Column(f"Total, {case.currency}", 12, "money"),
        Column("Paid how", 11),
        Column("Identification number on it", 22),
        Column("Plate on it", 12),
        Column("Odometer on it", 11, "number"),
        Column("Unit", 6),
        Column("Title brands on it", 24),
        Column("Signed", 18),
        Column("Signed over to", 22),
        Column("Lender's claim", 14),
        Column("What else the title says", 22),
        Column("Photos and PDFs", 10, "count"),
        Column("Note", 50),
    )
    return Table("Papers", columns, tuple(rows))


def lines_table(case: Case) -> Table:
    """Return the lines of every paper."""
    rows = [
        (_named(paper), paper.issuer, line.label, name(line.kind), line.amount)
        for paper in case.papers
        for line in paper.lines
    ]
    columns = (
        Column("Paper", 34),
        Column("Issued by", 28),
        Column("Line", 44),
        Column("What for", 11),
        Column(f"Amount, {case.currency}", 12, "money"),
    )
    return Table("Lines of the papers", columns, tuple(rows))


def _named(paper: Paper) -> str:
    return name(paper.kind) + (f" of {paper.dated}" if paper.dated else "")


def proves_table(case: Case, strengths: Iterable[Strength]) -> Table:
    """Return what each paper proves of which finding, how strongly and why."""
    papers = {one.id: one for one in case.papers}
    labels = finding_labels(case)
    causes = {
        (finding.id, one.id): one.label for finding in case.findings for one in finding.causes
    }
    rows = [
        (
            _named(papers[one.paper]),
            papers[one.paper].issuer,
            labels.get(one.claim.finding, "A finding that is not there any more"),
            "; ".join(causes.get((one.claim.finding, each), each) for each in one.claim.causes),
            name(one.claim.claimed),
            name(one.words),
            one.ratio,
            "; ".join(one.reasons),
        )
        for one in strengths
    ]
    columns = (
        Column("Paper", 34),
        Column("Issued by", 28),
        Column("Speaks to the finding", 40),
        Column("Would exclude the causes", 36),
        Column("Claims", 14),
        Column("Proves", 20),
        Column("Times as likely if it was done", 12, "number"),
        Column("Why", 70),
    )
    return Table("What the papers prove", columns, tuple(rows))


def hand_table(items: Iterable[Item]) -> Table:
    """Return what must be in hand before money moves."""
    rows = [(one.label, name(one.state), one.why, one.section) for one in items]
    columns = (
        Column("What must be in hand", 32),
        Column("State", 8),
        Column("Why", 70),
        Column("Ground", 34),
    )
    return Table("In hand before money moves", columns, tuple(rows))


def odometer_table(readings: Iterable[Reading]) -> Table:
    """Return the odometer's readings by day."""
    rows = [(one.day, one.value, one.unit or "not said", one.source) for one in readings]
    columns = (
        Column("Day", 12, "day"),
        Column("Reading", 11, "number"),
        Column("Unit", 9),
        Column("Read from", 40),
    )
    return Table("Odometer by day", columns, tuple(rows))
