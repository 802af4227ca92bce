"""Whether the reference values hold together: names that exist, figures within their units."""

from __future__ import annotations

from collections.abc import Container, Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from appraise.errors import Problem
from appraise.models.base import MOST
from appraise.models.findings import Area
from appraise.models.jobs import HoursFamily, PartFamily
from appraise.models.vehicle import PriceClass
from appraise.reference.schema import Access, Value
from appraise.reference.tables import Reference

__all__ = ["Gathered", "all_covered", "verify", "verify_diagnosing"]

Raw = dict[str, Any]

NUMBERS: dict[str, tuple[str, str]] = {
    "chance": ("0", "1"),
    "share": ("0", "1"),
    "correlation": ("0", "1"),
    "factor": ("0.001", "1000"),
    "money": ("0", "100000000"),
    "money_per_hour": ("0", "100000"),
    "hours": ("0.01", "10000"),
    "minutes": ("0.1", "10000"),
    "days": ("0", "10000"),
    "years": ("0.5", "1000"),
    "miles": ("1000", "10000000"),
    "log": ("0.001", "3"),
    "log_per_year": ("-1", "1"),
    "log_per_10000_miles": ("-1", "1"),
    "count": ("0", "100000"),
}
SMALLEST_SPREAD = Decimal("0.001")
"""Of a guess: with none, nothing that is known could move it."""
BOUNDS = {unit: (Decimal(low), Decimal(high)) for unit, (low, high) in NUMBERS.items()}
"""What figures of a unit may be: a price of 20 times another is a natural logarithm of 3."""


@dataclass(slots=True)
class Gathered:
    """What has been read so far: raw entries by table and id, with their files."""

    entries: dict[str, dict[str, Raw]]
    jobs: dict[str, tuple[Raw, Raw]]
    files: dict[tuple[str, str], str]
    problems: list[Problem]

    def complain(self, where: str, message: str) -> None:
        """Note a problem, with the file, id and field it is in."""
        self.problems.append(Problem(where=where, message=message, weight="stop"))

    def known(self, where: str, what: str, ids: Iterable[str], table: Container[str]) -> None:
        """Complain of every id that is not in its table."""
        for missing in sorted({one for one in ids if one not in table}):
            self.complain(where, f"{what} {missing!r} is not defined")


def all_covered(groups: dict[str, Access], into: Gathered) -> dict[str, Access]:
    """Return access groups whose `covers` go down to the bottom: what is covered by the covered."""
    out = {}
    for name, group in groups.items():
        found: dict[str, None] = {}
        waiting = list(group.covers)
        while waiting:
            inner = waiting.pop(0)
            if inner not in found:
                found[inner] = None
                waiting += groups[inner].covers if inner in groups else ()
        if name in found:
            into.complain(f"{into.files['access', name]}: {name}", "covers itself")
        out[name] = group.model_copy(update={"covers": tuple(found)})
    return out


def verify(reference: Reference, into: Gathered, *, diagnosing: bool) -> None:
    """Complain of every id that one entry takes from another table and that is not there."""
    known = into.known
    for value in reference.values.values():
        where = f"{into.files['value', value.id]}: {value.id}"
        known(where, "source", (one.id for one in value.sources), reference.sources)
        known(where, "unit", [value.unit], reference.units)
    for area in reference.areas.values():
        where = f"{into.files['area', area.id]}: {area.id.value}"
        known(where, "source", (one.id for one in area.sources), reference.sources)
    for caution in reference.cautions.values():
        where = f"{into.files['caution', caution.id]}: {caution.id}"
        known(where, "source", (one.id for one in caution.sources), reference.sources)
    for group in reference.access.values():
        where = f"{into.files['access', group.id]}: {group.id}"
        known(where, "caution", group.cautions, reference.cautions)
        known(where, "access", group.covers, reference.access)
    if diagnosing:
        verify_diagnosing(reference, into)
    for entry in reference.jobs.values():
        where = f"{entry.file}: {entry.job.id}"
        known(where, "source", (one.id for one in entry.provenance.sources), reference.sources)
        known(where, "access", entry.job.access, reference.access)
        known(where, "tool", entry.job.tools, reference.tools)
        known(where, "job that follows", entry.job.follows, reference.jobs)
        known(where, "caution", entry.job.cautions, reference.cautions)
    _check_bounds(reference, into)
    _check_tables(reference, into)


def verify_diagnosing(reference: Reference, into: Gathered) -> None:
    """Complain of a fault, symptom, code, check or limit that names what is not there."""
    known = into.known
    for cause in reference.causes.values():
        where = f"{into.files['cause', cause.id]}: {cause.id}"
        known(where, "job", cause.jobs, reference.jobs)
    seen: set[str] = set()
    for group in reference.code_groups.values():
        where = f"{into.files['code_group', group.id]}: {group.id}"
        known(where, "cause", (one.cause for one in group.causes), reference.causes)
        known(where, "source", (one.id for one in group.sources), reference.sources)
        for code in group.codes:
            if code.code in seen:
                into.complain(where, f"{code.code} stands twice")
            seen.add(code.code)
    for symptom in reference.symptoms.values():
        where = f"{into.files['symptom', symptom.id]}: {symptom.id}"
        known(where, "cause", (one.cause for one in symptom.causes), reference.causes)
        known(where, "source", (one.id for one in symptom.sources), reference.sources)
    for check in reference.checks.values():
        where = f"{into.files['check', check.id]}: {check.id}"
        named = (cause for one in check.given for cause in one.causes)
        known(where, "cause", named, reference.causes)
        known(where, "tool", check.tools, reference.tools)
        known(where, "source", (one.id for one in check.sources), reference.sources)
        known(where, "caution", check.cautions, reference.cautions)
    for limit in reference.limits.values():
        where = f"{into.files['limit', limit.id]}: {limit.id}"
        known(where, "job", limit.jobs, reference.jobs)
        known(where, "caution", limit.cautions, reference.cautions)
        known(where, "source", (one.id for one in limit.sources), reference.sources)


def _check_bounds(reference: Reference, into: Gathered) -> None:
    """Figures lie where their unit allows."""
    for value in reference.values.values():
        low, high = BOUNDS.get(value.unit, (-MOST, MOST))
        if value.id.endswith("_sd"):
            low = SMALLEST_SPREAD
        for figure in _figures(value):
            if not low <= figure <= high:
                where = f"{into.files['value', value.id]}: {value.id}"
                into.complain(where, f"{figure} is out of bounds for a {value.unit}")


def _figures(value: Value) -> Iterable[Decimal]:
    if value.value is not None:
        yield value.value
    if value.range is not None:
        yield from (value.range.low, value.range.likely, value.range.high)
    if value.table is not None:
        yield from value.table.values()
    if value.points is not None:
        yield from (at for _, at in value.points)


def _check_tables(reference: Reference, into: Gathered) -> None:
    """Factors by price class have every class; every area of the model is there."""
    if not reference.areas and not reference.values:
        return
    classes = {one.value for one in PriceClass}
    for prefix, families in (("parts", PartFamily), ("hours", HoursFamily)):
        for family in families:
            value_id = f"{prefix}.class_factor.{family.value}"
            value = reference.values.get(value_id)
            if value is None or value.table is None or set(value.table) != classes:
                into.complain(value_id, "has to be a table with every price class")
    for area in Area:
        if area not in reference.areas:
            into.complain(f"areas.toml: {area.value}", "is missing")
