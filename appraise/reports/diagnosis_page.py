"""Trouble codes, causes and checks as text."""

from __future__ import annotations

from collections.abc import Iterable

from appraise.engine.scan.trouble_codes import family
from appraise.errors import one_line
from appraise.models.diagnosis import CheckWorth, Diagnosis, FindingDiagnosis
from appraise.reference.load import Reference
from appraise.reference.schema import CodeGroup
from appraise.reports.cautions import caution_lines, cautions_of
from appraise.reports.columns import folded
from appraise.reports.job_list import job_totals

__all__ = ["checks_page", "code_page"]

MOST_CHECKS = 8
URGENCY = {
    "stop": "before driving",
    "high": "before sale",
    "medium": "soon",
    "low": "when convenient",
}


def code_page(codes: Iterable[str], reference: Reference) -> str:
    """Return what trouble codes mean and what usually lies behind them.

    A code without an entry is decoded to its family; a maker's own asks for the make.
    """
    lines: list[str] = []
    for code in codes:
        lines += [*_code(code, _group(code, reference), reference), ""]
    return "\n".join(map(one_line, lines)).rstrip()


def _group(code: str, reference: Reference) -> CodeGroup | None:
    return next(
        (
            group
            for group in reference.code_groups.values()
            if any(one.code == code for one in group.codes)
        ),
        None,
    )


def _code(code: str, group: CodeGroup | None, reference: Reference) -> list[str]:
    known = family(code)
    part = f", {known.part}" if known.part else ""
    if group is None:
        lines = [f"{code}: no entry. {known.meaning}{part}."]
        if known.asks_for_the_make:
            lines.append("  Look it up with the make in hand, never without.")
        return lines
    label = next(one.label for one in group.codes if one.code == code)
    urgency = f"repair {URGENCY[group.urgency]}"
    lines = [
        f"{code}: {label}",
        f"  {known.meaning}{part}; {group.system}; {urgency}",
        "  It names a circuit or a test that failed, not a part: test before buying the part.",
    ]
    if group.monitor:
        lines.append(f"  Proved repaired only once its monitor ({group.monitor}) has completed.")
    lines.append(f"  {'share':>5}  {'hours':>6} {'parts':>7}  cause (mid-size car)")
    for one in sorted(group.causes, key=lambda cause: -cause.share):
        cause = reference.causes[one.cause]
        totals = [job_totals(reference.jobs[job].job, reference, "mid_size") for job in cause.jobs]
        cost = f"{totals[0][0]:6.1f} {totals[0][1]:7.0f}" if totals else f"{'-':>6} {'-':>7}"
        lines.append(f"  {one.share:>5.0%}  {cost}  {cause.label}")
    lines.append(f"  {group.kind.value}; {group.note}")
    return lines


def checks_page(diagnosis: Diagnosis, currency: str, reference: Reference) -> str:
    """Return, finding by finding, the odds of its causes and which check is worth its price.

    Each check names its cautions below it; what they say stands once, at the foot.
    """
    lines = [f"Weighed for: {diagnosis.decision}{_at(diagnosis, currency)}"]
    for found in diagnosis.findings:
        lines += ["", *_finding(found, currency, reference)]
    if not diagnosis.findings:
        lines.append("Nothing suspect or faulty is noted.")
    names = [name for found in diagnosis.findings for one in _todo(found) for name in one.cautions]
    if names:
        lines += ["", *caution_lines(names, reference)]
    return "\n".join(map(one_line, lines))


def _todo(found: FindingDiagnosis) -> list[CheckWorth]:
    return [one for one in found.checks if not one.done][:MOST_CHECKS]


def _at(diagnosis: Diagnosis, currency: str) -> str:
    """Say at which price, or from which limit, the decision is weighed."""
    if diagnosis.decision == "which repair first":
        return "" if diagnosis.price is None else f" at {diagnosis.price:,.0f} {currency}"
    limit = diagnosis.walk_away_price
    now = "no bid works" if limit is None else f"{limit:,} {currency}"
    return f"; walk-away price now: {now}"


def _finding(found: FindingDiagnosis, currency: str, reference: Reference) -> list[str]:
    lines = [one_line(found.label), "-" * 78]
    if found.problem:
        lines.append(f"! {one_line(found.problem)}")
    lines += [
        f"  {one.after:>5.0%}{'' if one.before == one.after else f' (was {one.before:.0%})'}  "
        f"{one_line(one.label)}"
        for one in found.causes
        if one.before or one.after
    ]
    lines.append(f"  Knowing for certain would be worth {found.most:,.0f} {currency}.")
    lines.append(f"  > {one_line(found.advice)}")
    todo = _todo(found)
    if todo:
        lines.append(f"  {'worth':>7} {'costs':>7} {'min':>4}  check")
    for one in todo:
        row = f"  {one.worth:>7,.0f} {one.cost:>7,.0f} {one.minutes:>4.0f}  "
        lines.append(row + one.label)
        mind = "; ".join(each.work for each in cautions_of(one.cautions, reference))
        if mind:
            lines += folded(mind, " " * (len(row) - 2) + "! ")
    lines += [f"  done: {one.label}: {one.done}" for one in found.checks if one.done]
    if len(found.trials) > 1:
        order = ", ".join(one_line(one.label) for one in found.trials if one.chance)
        lines.append(
            f"  Trial repairs in this order cost {found.trials_cost:,.0f} on average: {order}"
        )
    return lines
