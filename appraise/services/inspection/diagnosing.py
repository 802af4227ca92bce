"""From a symptom or a trouble code to a finding; what is behind it; results of checks."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from appraise.errors import AppraiseError, BadCase, Problem
from appraise.models.case import Case
from appraise.models.diagnosis import Diagnosis
from appraise.models.findings import (
    Area,
    CheckResult,
    Finding,
    Severity,
    State,
)
from appraise.models.vehicle import Vehicle
from appraise.reference.load import Reference
from appraise.reference.schema import Symptom
from appraise.reference.signs import can_have, possible_causes
from appraise.services.cases.editing import changed, free_id, put_finding

__all__ = [
    "codes_in",
    "diagnose_case",
    "enter_absent",
    "enter_result",
    "finding_from_code",
    "finding_from_symptom",
    "possible_causes",
    "symptoms_for",
    "tool_names",
    "without_absent",
    "without_result",
]

SEVERITY_OF = {
    "stop": Severity.DANGEROUS,
    "high": Severity.MAJOR,
    "medium": Severity.MAJOR,
    "low": Severity.MINOR,
}
MOST_MINUTES = 1_000_000
LONGEST_TEXT, SHOWN = 20_000, 40
"""Characters; three thousand codes."""


def diagnose_case(
    case: Case,
    reference: Reference,
    minutes: float | None = None,
    tools: Sequence[str] | None = None,
    *,
    drive: bool = True,
) -> Diagnosis:
    """Return what is wrong with a car and what to look at next; see `engine.bid.diagnosis`.

    Raises
    ------
    AppraiseError
        There is no such tool, or no such number of minutes.
    """
    from appraise.engine.bid.diagnosis import diagnose  # noqa: PLC0415 - NumPy only when needed
    from appraise.engine.bid.looks import EVERYDAY  # noqa: PLC0415

    if minutes is not None and not 0 < minutes <= MOST_MINUTES:
        raise AppraiseError(f"has to be above 0 and at most {MOST_MINUTES}", where="minutes")
    for tool in tools or ():
        if tool not in reference.tools and tool not in EVERYDAY:
            named = {one for check in reference.checks.values() for one in check.tools}
            known = sorted({*named, *EVERYDAY})
            hint = f"Checks take: {', '.join(known)}"
            raise AppraiseError("there is no such tool", where=tool, hint=hint)
    return diagnose(case, reference, minutes, tools, drive=drive)


def tool_names(reference: Reference) -> dict[str, str]:
    """Return the tools that looking may take, by id with their names, in their order."""
    from appraise.engine.bid.looks import EVERYDAY  # noqa: PLC0415 - NumPy only when needed

    names = {one: one.capitalize() for one in EVERYDAY}
    names |= {one.id: one.label for one in reference.tools.values()}
    return dict(sorted(names.items(), key=lambda one: one[1]))


def symptoms_for(car: Vehicle, reference: Reference, area: Area | None = None) -> list[Symptom]:
    """Return the symptoms that this car can have, those of the area first, then by label."""
    found = [
        one
        for one in reference.symptoms.values()
        if one.allows(car)
        and any(can_have(reference.causes[cause.cause], car, reference) for cause in one.causes)
    ]
    return sorted(found, key=lambda one: (one.area is not area, one.label))


def finding_from_symptom(case: Case, symptom_id: str, reference: Reference) -> Case:
    """Return the case with a finding for a symptom; what is behind it is worked out for the car.

    Raises
    ------
    AppraiseError
        There is no such symptom.
    """
    symptom = reference.symptoms.get(symptom_id)
    if symptom is None:
        raise AppraiseError("there is no such symptom", where=symptom_id)
    finding = Finding(
        id=free_id(symptom.label, [one.id for one in case.findings]),
        area=symptom.area,
        state=State.FAULTY,
        label=symptom.label,
        severity=symptom.severity,
        symptom=symptom.id,
    )
    return put_finding(case, finding)


def finding_from_code(case: Case, code: str, reference: Reference) -> Case:
    """Return the case with a finding for a trouble code.

    A code that is noted already changes nothing; one that goes with a finding already there is
    added to it. A code without an entry gives a finding without causes.

    Parameters
    ----------
    code : five characters, upper case.
    """
    if any(code in one.codes for one in case.findings):
        return case
    group = reference.group_of_code.get(code)
    if group is None:
        from appraise.engine.scan.trouble_codes import unlisted  # noqa: PLC0415

        finding = Finding(
            id=free_id(code, [one.id for one in case.findings]),
            area=Area.ENGINE if code.startswith("P") else Area.ELECTRICAL,
            state=State.SUSPECT,
            label=f"{code} stored: {unlisted(code)}",
            codes=(code,),
        )
        return put_finding(case, finding)
    same = {one.code for one in group.codes}
    for finding in case.findings:
        if set(finding.codes) & same:
            codes = tuple(dict.fromkeys((*finding.codes, code)))
            return put_finding(case, finding.model_copy(update={"codes": codes}))
    label = next(one.label for one in group.codes if one.code == code)
    finding = Finding(
        id=free_id(code, [one.id for one in case.findings]),
        area=group.area,
        state=State.FAULTY,
        label=f"{code}: {label}",
        severity=SEVERITY_OF[group.urgency],
        codes=(code,),
    )
    return put_finding(case, finding)


def codes_in(text: str) -> tuple[str, ...]:
    """Return the trouble codes in a text, each once: as typed, or decoded from a raw answer.

    Raises
    ------
    AppraiseError
        A word that is no code, or an answer that cannot be read.
    """
    from appraise.engine.scan.answers import NOISE  # noqa: PLC0415
    from appraise.engine.scan.trouble_codes import decode_messages, read_code  # noqa: PLC0415

    if len(text) > LONGEST_TEXT:
        raise AppraiseError(f"is longer than {LONGEST_TEXT:,} characters: no list of codes is")
    words = [one for one in text.replace(",", " ").replace(";", " ").split() if one]
    printed = re.search(r"\b[0-9A-F:]*\d[0-9A-F:]*\b", text, re.IGNORECASE)
    by_a_tool = printed is not None or not NOISE.sub(" ", text.upper()).strip()
    if words and (words[0][0].upper() in "PBCU" or not by_a_tool):
        for one in words:
            if not re.search(r"\d", one):
                raise AppraiseError(f"{one[:SHOWN].upper()} is not a code; codes look like P0302")
        return tuple(dict.fromkeys(read_code(one).code for one in words))
    if not words:
        return ()
    found = (code for message in decode_messages(text) for code in message.codes)
    return tuple(dict.fromkeys(found))


def enter_result(
    case: Case, check_id: str, outcome: str, reference: Reference, done_on: date | None = None
) -> Case:
    """Return the case with the result of a check; an older one of it is replaced.

    Raises
    ------
    BadCase
        There is no such check or outcome.
    """
    check = reference.checks.get(check_id)
    if check is None:
        raise BadCase((Problem("check", f"there is no check {check_id!r}", "stop"),))
    if outcome not in check.outcomes:
        known = ", ".join(check.outcomes)
        message = f"{check.label} has no outcome {outcome!r}: it is one of {known}"
        raise BadCase((Problem("outcome", message, "stop"),))
    kept = [one for one in case.results if one.check != check_id]
    results = (*kept, CheckResult(check=check_id, outcome=outcome, done_on=done_on))
    return changed(case, ("results",), [one.model_dump() for one in results])


def without_result(case: Case, check_id: str) -> Case:
    """Return the case without the result of a check."""
    kept = tuple(one for one in case.results if one.check != check_id)
    return case.model_copy(update={"results": kept})


def enter_absent(case: Case, symptom_id: str, reference: Reference) -> Case:
    """Return the case with a symptom that was looked for and is not there.

    Raises
    ------
    AppraiseError
        There is no such symptom.
    """
    if symptom_id not in reference.symptoms:
        raise AppraiseError("there is no such symptom", where=symptom_id)
    return case.model_copy(update={"not_seen": tuple(dict.fromkeys((*case.not_seen, symptom_id)))})


def without_absent(case: Case, symptom_id: str) -> Case:
    """Return the case without a symptom that was looked for and is not there."""
    kept = tuple(one for one in case.not_seen if one != symptom_id)
    return case.model_copy(update={"not_seen": kept})
