"""Measurements: read as people type them, held against limits, a fail turned into a finding."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_DOWN, Decimal
from typing import TYPE_CHECKING

from pydantic import ValidationError

from appraise.errors import AppraiseError
from appraise.intake.units import convert_value, parse_measure
from appraise.models.case import Case
from appraise.models.findings import Area, Cause, Finding, JobChoice, Look, State
from appraise.models.measurements import Measurement
from appraise.models.problems import problems_of
from appraise.reference.load import Reference
from appraise.reference.schema import Limit
from appraise.services.cases.editing import changed, free_id, put_finding, without_finding

if TYPE_CHECKING:
    from appraise.engine.measure.limits import Verdict

__all__ = [
    "Measured",
    "limits_of",
    "read_measurement",
    "take_measurement",
    "tire_words",
    "verdict_of",
    "without_measurement",
]

PLACES = Decimal("0.0001")


@dataclass(frozen=True, slots=True)
class Measured:
    """A case with a new measurement, and what that says."""

    case: Case
    verdict: Verdict


def limits_of(area: Area, reference: Reference) -> tuple[Limit, ...]:
    """Return the limits that measurements of an area are held against, by label."""
    found = [one for one in reference.limits.values() if one.area is area]
    return tuple(sorted(found, key=lambda one: one.label))


def take_measurement(
    case: Case,
    limit_id: str,
    typed: str,
    reference: Reference,
    *,
    by: Decimal | None = None,
    place: str = "",
    on: date | None = None,
) -> Measured:
    """Return the case with a measurement; one that fails becomes a finding.

    Parameters
    ----------
    typed : a number with or without a unit, or yes / no where the limit asks a question.
    by : what the limit hangs on, in its unit.
    place : where on the car, such as left front.

    Raises
    ------
    AppraiseError
        There is no such limit, or the text is no measurement of that kind.
    """
    taken = [one.id for one in case.measurements]
    measurement = read_measurement(
        limit_id, typed, reference, by=by, place=place, on=on, taken=taken
    )
    limit = reference.limits[limit_id]
    rows = [*(one.model_dump() for one in case.measurements), measurement.model_dump()]
    new = changed(case, ("measurements",), rows)
    said = verdict_of(measurement, reference)
    if said.result == "fails":
        new = put_finding(new, _finding(new, measurement, limit, reference))
    return Measured(new, said)


def read_measurement(
    limit_id: str,
    typed: str,
    reference: Reference,
    *,
    by: Decimal | None = None,
    place: str = "",
    on: date | None = None,
    taken: Iterable[str] = (),
) -> Measurement:
    """Return a measurement as it was typed.

    Parameters
    ----------
    typed, by, place : as for `take_measurement`.
    taken : ids that it may not have.

    Raises
    ------
    AppraiseError
        There is no such limit, or the text is no measurement of that kind.
    """
    limit = reference.limits.get(limit_id)
    if limit is None:
        raise AppraiseError("there is no such limit", where=limit_id)
    value, unit, answer = None, "", None
    if limit.asks == "number":
        measure = parse_measure(typed, limit.unit)
        value, unit = measure.value, measure.unit
    else:
        answer = _answer(typed)
    try:
        return Measurement(
            id=free_id(f"{limit_id} {place}", taken),
            limit=limit_id,
            typed=typed.strip(),
            value=value,
            unit=unit,
            answer=answer,
            by=by,
            place=place,
            measured_on=on,
        )
    except ValidationError as error:
        problem = problems_of(error)[0]
        raise AppraiseError(problem.message, where=problem.where, hint=problem.hint) from error


def verdict_of(measurement: Measurement, reference: Reference) -> Verdict:
    """Return what a measurement says about its limit."""
    from appraise.engine.measure.limits import verdict  # noqa: PLC0415 - the engine only when needed

    limit = reference.limits.get(measurement.limit)
    if limit is None:
        raise AppraiseError("there is no such limit", where=measurement.limit)
    value = measurement.answer if limit.asks != "number" else measurement.value
    return verdict(limit, value, measurement.unit, measurement.by, convert=convert_value)


def tire_words(typed: str, case: Case) -> str:
    """Return what a tire's date code, or its whole number, says on the day of the appraisal."""
    from appraise.engine.measure.tire_date import age, read_date_code, read_number  # noqa: PLC0415

    on, year = case.appraised_on, case.vehicle.model_year
    problems: tuple[str, ...] = ()
    if typed.strip().isdecimal():
        made = read_date_code(typed.strip(), on, year)
    else:
        number = read_number(typed, on, year)
        made, problems = number.made, number.problems
    words = [f"{one}." for one in dict.fromkeys((*problems, *made.problems))]
    old = age(made, on)
    if made.first is not None and made.last is not None:
        words.insert(0, f"Made between {made.first} and {made.last} (49 CFR 574.5).")
    if old is not None:
        most = "" if old.at_most is None else f", at most {old.at_most:.1f}"
        words.append(f"At least {old.at_least:.1f} years old{most}.")
    return " ".join(words) or "That is no date code."


def without_measurement(case: Case, measurement_id: str) -> Case:
    """Return the case without a measurement and the finding that came of it."""
    kept = [one.model_dump() for one in case.measurements if one.id != measurement_id]
    new = changed(case, ("measurements",), kept)
    return without_finding(new, f"measured-{measurement_id}"[:80])


def _answer(typed: str) -> bool:
    words = {"yes": True, "y": True, "no": False, "n": False}
    found = words.get(typed.strip().lower())
    if found is None:
        raise AppraiseError(f"{typed.strip()!r} is neither yes nor no")
    return found


def _finding(case: Case, measurement: Measurement, limit: Limit, reference: Reference) -> Finding:
    """Return the finding that a failed measurement is; its jobs, if several, as even chances."""
    jobs = [name for name in limit.jobs if reference.jobs[name].job.allows(case.vehicle)]
    where = f", {measurement.place}" if measurement.place else ""
    causes: tuple[Cause, ...] = ()
    if len(jobs) > 1:
        even = (Decimal(1) / len(jobs)).quantize(PLACES, ROUND_DOWN)
        causes = tuple(
            Cause(
                id=name,
                label=reference.jobs[name].job.label,
                chance=even,
                jobs=(JobChoice(job=name),),
            )
            for name in jobs
        )
    return Finding(
        id=f"measured-{measurement.id}"[:80],
        area=limit.area,
        state=State.FAULTY,
        look=Look.MEASURED,
        label=f"{limit.failed}{where}"[:200],
        severity=limit.severity,
        jobs=() if causes else tuple(JobChoice(job=name) for name in jobs),
        causes=causes,
        note=f"Measured {measurement.typed}. {limit.jurisdiction}.",
    )
