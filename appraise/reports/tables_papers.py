"""The papers of a car, as tables: what each is, what it proves, what must be in hand."""

from __future__ import annotations

from collections.abc import Iterable

from appraise.engine.papers.evidence import Strength
from appraise.engine.papers.odometer import Reading
from appraise.engine.papers.title import Item
from appraise.models.case import Case
from appraise.models.papers import Paper
from appraise.reference.load import Reference
from appraise.reference.signs import possible_causes
from appraise.reports.table import Table, table_of
from appraise.reports.tables_look import finding_labels
from appraise.reports.wording import name

__all__ = ["hand_table", "lines_table", "odometer_table", "papers_table", "proves_table"]

GONE = "A finding that is not there any more"


def papers_table(case: Case) -> Table:
    """Return every paper with what can be read off it."""
    return table_of(
        "Papers",
        case.papers,
        ("Paper", 24, "text", lambda one: name(one.kind)),
        ("Date on it", 12, "day", lambda one: one.dated),
        ("Issued by", 28, "text", lambda one: one.issuer),
        ("How to reach them", 24, "text", lambda one: one.reach),
        ("In whose name", 24, "text", lambda one: one.in_name),
        ("Total", 12, "money", lambda one: one.total),
        ("Paid how", 11, "text", lambda one: name(one.paid)),
        ("Identification number on it", 22, "text", lambda one: one.vin),
        ("Plate on it", 12, "text", lambda one: one.plate),
        ("Odometer on it", 11, "number", lambda one: getattr(one.odometer, "value", None)),
        ("Unit", 6, "text", lambda one: getattr(one.odometer, "unit", "")),
        ("Title brands on it", 24, "text", lambda one: ", ".join(map(name, one.brands))),
        ("Signed", 18, "text", lambda one: name(one.signed)),
        ("Signed over to", 22, "text", lambda one: one.signed_to),
        ("Lender's claim", 14, "text", lambda one: name(one.lien)),
        ("What else the title says", 22, "text", lambda one: ", ".join(map(name, one.title_marks))),
        ("Photos and PDFs", 10, "count", lambda one: len(one.attachments) or None),
        ("Note", 50, "text", lambda one: one.note),
        currency=case.currency,
    )


def lines_table(case: Case) -> Table:
    """Return the lines of every paper."""
    return table_of(
        "Lines of the papers",
        [(paper, line) for paper in case.papers for line in paper.lines],
        ("Paper", 34, "text", lambda row: _named(row[0])),
        ("Issued by", 28, "text", lambda row: row[0].issuer),
        ("Line", 44, "text", lambda row: row[1].label),
        ("What for", 11, "text", lambda row: name(row[1].kind)),
        ("Amount", 12, "money", lambda row: row[1].amount),
        currency=case.currency,
    )


def _named(paper: Paper) -> str:
    return name(paper.kind) + (f" of {paper.dated}" if paper.dated else "")


def proves_table(case: Case, strengths: Iterable[Strength], reference: Reference) -> Table:
    """Return what each paper proves of which finding, how strongly and why."""
    papers = {one.id: one for one in case.papers}
    labels = finding_labels(case)
    causes = {
        (finding.id, cause): label
        for finding in case.findings
        for cause, label in possible_causes(finding, case.vehicle, reference).items()
    }

    def claimed(one: Strength) -> str:
        ids = one.claim.causes
        return "; ".join(causes.get((one.claim.finding, each), each) for each in ids)

    return table_of(
        "What the papers prove",
        strengths,
        ("Paper", 34, "text", lambda one: _named(papers[one.paper])),
        ("Issued by", 28, "text", lambda one: papers[one.paper].issuer),
        ("Speaks to the finding", 40, "text", lambda one: labels.get(one.claim.finding, GONE)),
        ("Would exclude the causes", 36, "text", claimed),
        ("Claims", 14, "text", lambda one: name(one.claim.claimed)),
        ("Proves", 20, "text", lambda one: name(one.words)),
        ("Times as likely if it was done", 12, "number", lambda one: one.ratio),
        ("Why", 70, "text", lambda one: "; ".join(one.reasons)),
    )


def hand_table(items: Iterable[Item]) -> Table:
    """Return what must be in hand before money moves."""
    return table_of(
        "In hand before money moves",
        items,
        ("What must be in hand", 32, "text", lambda one: one.label),
        ("State", 8, "text", lambda one: name(one.state)),
        ("Why", 70, "text", lambda one: one.why),
        ("Ground", 34, "text", lambda one: one.section),
    )


def odometer_table(readings: Iterable[Reading]) -> Table:
    """Return the odometer's readings by day."""
    return table_of(
        "Odometer by day",
        readings,
        ("Day", 12, "day", lambda one: one.day),
        ("Reading", 11, "number", lambda one: one.value),
        ("Unit", 9, "text", lambda one: one.unit or "not said"),
        ("Read from", 40, "text", lambda one: one.source),
    )
