"""Trouble codes, and what is wrong with a car, as text."""

from __future__ import annotations

from collections.abc import Iterable

from appraise.engine.scan.trouble_codes import family, unlisted
from appraise.errors import one_line
from appraise.models.case import Case
from appraise.models.diagnosis import Diagnosis, FaultOdds, NextLook
from appraise.reference.load import Reference
from appraise.reference.schema import CodeGroup
from appraise.reports.cautions import caution_lines, cautions_of
from appraise.reports.columns import amount, folded, problem_lines
from appraise.reports.job_list import job_totals
from appraise.reports.wording import limit_words, percent, search_words

__all__ = ["code_page", "diagnosis_page"]

MOST_FAULTS = 12
URGENCY = {
    "stop": "before driving",
    "high": "before sale",
    "medium": "soon",
    "low": "when convenient",
}


def code_page(codes: Iterable[str], reference: Reference) -> str:
    """Return what trouble codes mean and what usually lies behind them.

    A code without an entry is decoded to its family, and nothing is made up about it.
    """
    lines: list[str] = []
    for code in codes:
        lines += [*_code(code, reference.group_of_code.get(code), reference), ""]
    return "\n".join(map(one_line, lines)).rstrip()


def _code(code: str, group: CodeGroup | None, reference: Reference) -> list[str]:
    known = family(code)
    part = f", {known.part}" if known.part else ""
    if group is None:
        return [f"{code}: no entry. {known.meaning}{part}.", f"  {unlisted(code).capitalize()}."]
    label = next(one.label for one in group.codes if one.code == code)
    urgency = f"repair {URGENCY[group.urgency]}"
    lines = [
        f"{code}: {label}",
        f"  {known.meaning}{part}; {group.system}; {urgency}",
        "  It names a circuit or a test that failed, not a part: test before buying the part.",
    ]
    if group.monitor:
        lines.append(
            f"  Repaired for certain only once its monitor ({group.monitor}) has completed."
        )
    lines.append(f"  {'share':>5}  {'hours':>6} {'parts':>7}  cause (mid-size car)")
    for one in sorted(group.causes, key=lambda cause: -cause.share):
        cause = reference.causes[one.cause]
        totals = [job_totals(reference.jobs[job].job, reference, "mid_size") for job in cause.jobs]
        cost = f"{totals[0][0]:6.1f} {totals[0][1]:7.0f}" if totals else f"{'-':>6} {'-':>7}"
        lines.append(f"  {100 * one.share:>4.0f} %  {cost}  {cause.label}")
    lines.append(f"  {group.kind.value}; {group.note}")
    return lines


def diagnosis_page(diagnosis: Diagnosis, case: Case, reference: Reference) -> str:
    """Return what is wrong with a car, most likely first, and what to look at next.

    Looks that cost more than they are worth are left out. Each names its cautions below it; what
    they say stands once, at the foot.
    """
    money = case.currency
    lines = [*problem_lines(diagnosis.problems), f"WHAT IS WRONG WITH IT, {money}"]
    if diagnosis.faults:
        lines.append(f"  {'chance':>9} {'cost':>7} {'8 in 10':>18}  fault")
        for one in diagnosis.faults[:MOST_FAULTS]:
            lines += _fault(one)
        lines += _rest(diagnosis, money)
    else:
        lines.append("  Nothing that was noted names a symptom, a code or a possible cause.")
    lines += ["", diagnosis.care.words, "", f"LOOK AT NEXT, {money}: {_weighed(diagnosis, money)}"]
    lines += folded(diagnosis.advice, "  > ", "    ")
    listed = [one for one in diagnosis.next if one.net > 0]
    if listed:
        lines.append(f"  {'worth':>7} {'costs':>7} {'min':>4}  look")
    for look in listed:
        lines += _look(look, reference, diagnosis.decision)
    if diagnosis.done:
        lines += ["", "RESULTS SO FAR"]
        lines += [f"  {one.label}: {one.outcome}" for one in diagnosis.done]
    names = [name for one in listed for name in one.cautions]
    if names:
        lines += ["", *caution_lines(names, reference)]
    return "\n".join(map(one_line, lines))


def _fault(one: FaultOdds) -> list[str]:
    within = f"{amount(one.cost.p10)} to {amount(one.cost.p90)}"
    row = f"  {percent(one.chance):>9} {amount(one.cost.p50):>7} {within:>18}  "
    lines = folded(one.label, row, " " * len(row))
    for words, said in (
        ("for", "; ".join(one.speaks_for)),
        ("against", "; ".join(one.speaks_against)),
        ("settled by", one.settled_by),
    ):
        if said:
            lines += folded(f"{words}: {said}", " " * 13, " " * 15)
    return lines


def _rest(diagnosis: Diagnosis, currency: str) -> list[str]:
    lines = []
    more = diagnosis.faults[MOST_FAULTS:]
    if more:
        lines.append(f"  {percent(more[0].chance):>9}  or less each: {len(more)} more")
    if diagnosis.something_else:
        lines.append(f"  {percent(diagnosis.something_else):>9}  Something else")
    if diagnosis.error:
        lines.append(f"  Chances give or take {percent(diagnosis.error)}.")
    if diagnosis.signs:
        lines.append(f"  One fault alone behind all signs: {percent(diagnosis.single_fault)}")
    for words in diagnosis.explained:
        lines += folded(words, "  ")
    if diagnosis.search.steps:
        lines.append(
            f"  {search_words(diagnosis.search.minutes, diagnosis.search.money, currency)}"
        )
    return lines


def _look(one: NextLook, reference: Reference, decision: str) -> list[str]:
    row = f"  {amount(one.worth):>7} {amount(one.cost):>7} {one.minutes:>4.0f}  "
    indent = " " * len(row)
    lines = [row + one.label]
    for outcome in one.outcomes:
        words = f"{outcome.label} ({percent(outcome.chance)})"
        if decision == "how high to bid":
            words += f": {limit_words(outcome.walk_away_price)}"
        lines += folded(words, f"{indent}- ")
    mind = "; ".join(each.work for each in cautions_of(one.cautions, reference))
    return [*lines, *folded(mind, f"{indent}! ")] if mind else lines


def _weighed(diagnosis: Diagnosis, currency: str) -> str:
    """Say for which decision, at which price or from which limit, looks are weighed."""
    if diagnosis.decision == "which repair first":
        at = "" if diagnosis.price is None else f" at {amount(diagnosis.price)} {currency}"
        return f"weighed for which repair first{at}"
    return f"weighed for how high to bid; now {limit_words(diagnosis.walk_away_price)}"
