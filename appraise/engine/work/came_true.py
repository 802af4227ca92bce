"""Which of the faults expected at the purchase came true, which did not, and which are new."""

from __future__ import annotations

from decimal import Decimal

from appraise.engine.bid.simulation import work_out
from appraise.engine.draws.rounding import cents, quantiles
from appraise.models.case import Case
from appraise.models.findings import Finding
from appraise.models.forecast import Itemized, ItemizedFinding, TurnedOut
from appraise.reference.load import Reference

__all__ = ["itemize"]

ONE_PLACE = Decimal("0.1")


def itemize(case: Case, reference: Reference) -> Itemized:
    """Return what became of each fault expected at the purchase, and of the total.

    A fault is settled once the finding says what it turned out to be. Each finding's money is the
    mean as if it were mended alone, then and now.

    Parameters
    ----------
    case : owned; without an expectation from the day of the purchase every finding is new.

    Raises
    ------
    BadCase, CannotPrice
        As `work_out`.
    """
    worked = work_out(case, reference)
    now = {
        needs.id: float(worked.repair.by_finding[needs.id].money.mean())
        for needs in worked.repair.needs
    }
    expected = case.purchase.expected if case.purchase else None
    before = {one.id: one for one in expected.findings} if expected else {}
    findings = {one.id: one for one in case.findings}
    rows = []
    for name in [*before, *(name for name in now if name not in before)]:
        finding = findings.get(name)
        then = before.get(name)
        rows.append(
            ItemizedFinding(
                id=name,
                label=_label(finding, then.label if then else name),
                turned_out=_turned_out(finding, listed_before=then is not None),
                chance=then.chance if then else None,
                expected=then.money.mean if then else None,
                now=cents(now.get(name, 0.0)) if finding is not None else None,
                cause=_cause(finding, reference),
            )
        )
    counts = {
        one: sum(row.turned_out == one for row in rows)
        for one in ("came true", "came to nothing", "new")
    }
    settled = [row for row in rows if row.turned_out in ("came true", "came to nothing")]
    chances = sum((row.chance for row in settled if row.chance is not None), Decimal(0))
    total = quantiles(worked.repair.total.money)
    return Itemized(
        findings=tuple(rows),
        expected_faults=chances.quantize(ONE_PLACE),
        came_true=counts["came true"],
        came_to_nothing=counts["came to nothing"],
        new=counts["new"],
        expected=expected.money if expected else None,
        now=total,
        words=_words(rows, chances, expected.money.mean, total.mean)
        if expected
        else "What was expected at the purchase was not kept: there is nothing to compare it with.",
    )


def _label(finding: Finding | None, otherwise: str) -> str:
    if finding is None:
        return otherwise
    return finding.label or finding.area.value.replace("_", " ")


def _turned_out(finding: Finding | None, *, listed_before: bool) -> TurnedOut:
    if finding is None:
        return "not listed any more"
    if not listed_before:
        return "new"
    if finding.truth is None:
        return "still open" if finding.trouble else "came to nothing"
    return "came true" if finding.truth.fault else "came to nothing"


def _cause(finding: Finding | None, reference: Reference) -> str:
    """Return in words what a finding turned out to be, or an empty string."""
    if finding is None or finding.truth is None:
        return ""
    if not finding.truth.fault:
        return "Nothing to repair"
    if finding.truth.cause is None:
        return ""
    own = {one.id: one.label for one in finding.causes}
    known = reference.causes.get(finding.truth.cause)
    return own.get(finding.truth.cause) or (known.label if known else finding.truth.cause)


def _words(rows: list[ItemizedFinding], chances: Decimal, expected: Decimal, now: Decimal) -> str:
    settled = sum(row.turned_out in ("came true", "came to nothing") for row in rows)
    true = sum(row.turned_out == "came true" for row in rows)
    new = sum(row.turned_out == "new" for row in rows)
    parts = []
    if settled:
        parts.append(
            f"Of {settled} settled so far {true} came true; {chances:.1f} were to be expected."
        )
    if new:
        parts.append(f"{new} new {'fault was' if new == 1 else 'faults were'} found.")
    more = now - expected
    change = "more" if more >= 0 else "less"
    parts.append(
        f"The whole repair now looks like {now:,.0f} on average, {abs(more):,.0f} {change} "
        f"than the {expected:,.0f} expected at the purchase."
    )
    return " ".join(parts)
