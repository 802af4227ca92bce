"""Read the reference values that ship with the package, and a person's own values over them.

Strict: a key that is not known, a name that is not defined or a value out of bounds is a problem
with its file, id and field; all of them are collected before anything is refused.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from appraise.errors import BadReference, Problem
from appraise.models.base import Model
from appraise.models.findings import Area
from appraise.models.jobs import HoursFamily, Job, PartFamily
from appraise.models.problems import problems_of
from appraise.models.vehicle import PriceClass
from appraise.reference.schema import (
    Access,
    AreaReference,
    CauseReference,
    Caution,
    Check,
    CodeGroup,
    JobFile,
    Kind,
    Limit,
    Provenance,
    Source,
    Symptom,
    Tool,
    Unit,
    Value,
)

__all__ = ["JobEntry", "Reference", "check_own_values", "load_reference", "read_reference"]

AnyModel = TypeVar("AnyModel", bound=Model)
Raw = dict[str, Any]

OWN_JOB_HEADER: Raw = {
    "schema_version": 1,
    "kind": Kind.OWN.value,
    "currency": "USD",
    "base_year": 2025,
}
"""What an own file's jobs are read with; their amounts are still moved by the price level."""

NONE_BELOW = Decimal(0)
SMALLEST_FACTOR = Decimal("0.001")
BOUNDS: dict[str, tuple[Decimal | None, Decimal | None]] = {
    "chance": (NONE_BELOW, Decimal(1)),
    "share": (NONE_BELOW, Decimal(1)),
    "correlation": (NONE_BELOW, Decimal(1)),
    "factor": (SMALLEST_FACTOR, None),
    "money": (NONE_BELOW, None),
    "money_per_hour": (NONE_BELOW, None),
    "days": (NONE_BELOW, None),
    "years": (NONE_BELOW, None),
    "miles": (NONE_BELOW, None),
    "log": (NONE_BELOW, None),
    "count": (NONE_BELOW, None),
}
"""What figures of a unit may be; a slope (change of log price) may be anything."""

TABLES: dict[str, type[Model]] = {
    "source": Source,
    "unit": Unit,
    "value": Value,
    "access": Access,
    "tool": Tool,
    "caution": Caution,
    "area": AreaReference,
    "cause": CauseReference,
    "symptom": Symptom,
    "code_group": CodeGroup,
    "check": Check,
    "limit": Limit,
}


@dataclass(frozen=True, slots=True)
class JobEntry:
    """A job of the catalogue with what stands behind its figures."""

    job: Job
    provenance: Provenance
    currency: str
    base_year: int
    file: str


@dataclass(frozen=True, slots=True)
class Reference:
    """Every reference value, by id; made once, never changed."""

    sources: Mapping[str, Source]
    units: Mapping[str, Unit]
    values: Mapping[str, Value]
    access: Mapping[str, Access]
    tools: Mapping[str, Tool]
    cautions: Mapping[str, Caution]
    areas: Mapping[Area, AreaReference]
    jobs: Mapping[str, JobEntry]
    causes: Mapping[str, CauseReference]
    symptoms: Mapping[str, Symptom]
    code_groups: Mapping[str, CodeGroup]
    checks: Mapping[str, Check]
    limits: Mapping[str, Limit]

    @property
    def currency(self) -> str:
        """The currency of the catalogue's amounts."""
        return next((entry.currency for entry in self.jobs.values()), "USD")

    def value(self, value_id: str) -> Value:
        """Return the reference value of that id; KeyError if there is none."""
        return self.values[value_id]


@dataclass(slots=True)
class _Gathered:
    """What has been read so far: raw entries by table and id, with their files."""

    entries: dict[str, dict[str, Raw]]
    jobs: dict[str, tuple[Raw, Raw]]
    files: dict[tuple[str, str], str]
    problems: list[Problem]

    def complain(self, where: str, message: str) -> None:
        self.problems.append(Problem(where=where, message=message, weight="stop"))


def _toml_files(folder: Traversable) -> Iterable[tuple[str, str]]:
    for entry in sorted(folder.iterdir(), key=lambda one: one.name):
        if entry.is_dir():
            for name, text in _toml_files(entry):
                yield f"{entry.name}/{name}", text
        elif entry.name.endswith(".toml"):
            yield entry.name, entry.read_text(encoding="utf-8")


def _short_ranges(raw: Raw) -> Raw:
    """Let a range be written as [low, likely, high] wherever a job or tool has one."""
    out: Raw = {}
    for key, value in raw.items():
        if key in ("hours", "price", "range") and isinstance(value, list):
            if len(value) == 3:  # noqa: PLR2004
                out[key] = dict(zip(("low", "likely", "high"), value, strict=True))
            else:
                out[key] = value
        elif key == "parts" and isinstance(value, list):
            out[key] = [_short_ranges(one) if isinstance(one, dict) else one for one in value]
        else:
            out[key] = value
    return out


def _gather(name: str, text: str, into: _Gathered, *, own: bool) -> None:
    """Sort a file's entries into their tables; an own file changes what it names."""
    try:
        raw = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        into.complain(name, f"not TOML: {error}")
        return
    is_jobs = name.startswith("jobs/") or (own and "job" in raw)
    header = {key: value for key, value in raw.items() if key not in TABLES and key != "job"}
    if own:
        for key in header.keys() - JobFile.model_fields.keys():
            into.complain(name, f"unknown key {key!r}")
        header = {**OWN_JOB_HEADER, **header}
    elif not is_jobs and header:
        into.complain(name, f"unknown key {next(iter(header))!r}")
    for table in TABLES:
        entries = raw.get(table, [])
        for entry in _entries(name, table, entries, into):
            _take(name, table, _short_ranges(entry), into, own=own)
    jobs = raw.get("job", [])
    if jobs and not is_jobs:
        into.complain(name, "jobs stand in the folder jobs")
    for entry in _entries(name, "job", jobs, into):
        _take_job(name, _short_ranges(entry), header, into, own=own)


def _entries(name: str, table: str, entries: Any, into: _Gathered) -> list[Raw]:  # noqa: ANN401
    if isinstance(entries, list) and all(isinstance(entry, dict) for entry in entries):
        return entries
    into.complain(f"{name}: {table}", f"has to be a list of tables: write [[{table}]]")
    return []


def _take(name: str, table: str, entry: Raw, into: _Gathered, *, own: bool) -> None:
    entry_id = entry.get("id")
    if not isinstance(entry_id, str):
        into.complain(f"{name}: {table}", "an entry has no id")
        return
    known = into.entries[table]
    if entry_id in known:
        if not own:
            into.complain(f"{name}: {entry_id}", f"stands in {into.files[table, entry_id]} already")
            return
        if table in ("value", "area"):
            entry = _as_own(known[entry_id], entry)
        else:
            entry = {**known[entry_id], **entry}
    elif own and table in ("value", "area", "unit"):
        into.complain(f"{name}: {entry_id}", f"there is no such {table} to change")
        return
    known[entry_id] = entry
    into.files[table, entry_id] = name


def _as_own(before: Raw, change: Raw) -> Raw:
    """Return a value or area with own figures: its shape replaced, its source the person's own."""
    replaced = {"value", "range", "table", "points", "sources", "note", "checked_on"}
    kept = {key: value for key, value in before.items() if key not in replaced}
    return {**kept, "kind": Kind.OWN.value, **change}


def _take_job(name: str, entry: Raw, header: Raw, into: _Gathered, *, own: bool) -> None:
    entry_id = entry.get("id")
    if not isinstance(entry_id, str):
        into.complain(f"{name}: job", "a job has no id")
        return
    if entry_id in into.jobs:
        if not own:
            into.complain(f"{name}: {entry_id}", f"stands in {into.files['job', entry_id]} already")
            return
        before, before_header = into.jobs[entry_id]
        entry = {**before, **entry}
        header = {**before_header, "kind": Kind.OWN.value, "sources": []}
    into.jobs[entry_id] = (entry, header)
    into.files["job", entry_id] = name


def _check(model: type[AnyModel], raw: Raw, where: str, into: _Gathered) -> AnyModel | None:
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        for problem in problems_of(error):
            into.complain(f"{where}: {problem.where}", problem.message)
        return None


def _build(into: _Gathered) -> Reference:
    made: dict[str, dict[str, Any]] = {}
    for table, model in TABLES.items():
        made[table] = {}
        for entry_id, raw in into.entries[table].items():
            item = _check(model, raw, f"{into.files[table, entry_id]}: {entry_id}", into)
            if item is not None:
                made[table][entry_id] = item
    jobs: dict[str, JobEntry] = {}
    headers: dict[str, JobFile | None] = {}
    for entry_id, (raw, header) in into.jobs.items():
        name = into.files["job", entry_id]
        key = f"{name} {header.get('kind')}"
        if key not in headers:
            headers[key] = _check(JobFile, header, name, into)
        job = _check(Job, raw, f"{name}: {entry_id}", into)
        head = headers[key]
        if job is not None and head is not None:
            jobs[entry_id] = JobEntry(job, head, head.currency, head.base_year, name)
    made["access"] = _all_covered(made["access"], into)
    areas = {area.id: area for area in made["area"].values()}
    reference = Reference(
        sources=made["source"],
        units=made["unit"],
        values=made["value"],
        access=made["access"],
        tools=made["tool"],
        cautions=made["caution"],
        areas=areas,
        jobs=jobs,
        causes=made["cause"],
        symptoms=made["symptom"],
        code_groups=made["code_group"],
        checks=made["check"],
        limits=made["limit"],
    )
    _check_names(reference, into)
    if into.problems:
        raise BadReference(tuple(into.problems))
    return reference


def _all_covered(groups: dict[str, Access], into: _Gathered) -> dict[str, Access]:
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


def _check_names(reference: Reference, into: _Gathered) -> None:
    """Every id that one entry takes from another table has to stand there."""

    def known(where: str, what: str, ids: Iterable[str], table: Iterable[str]) -> None:
        for missing in sorted(set(ids) - set(table)):
            into.complain(where, f"{what} {missing!r} is not defined")

    for value in reference.values.values():
        where = f"{into.files['value', value.id]}: {value.id}"
        known(where, "source", (one.id for one in value.sources), reference.sources)
        known(where, "unit", [value.unit], reference.units)
    for area in reference.areas.values():
        where = f"{into.files['area', area.id]}: {area.id.value}"
        known(where, "source", (one.id for one in area.sources), reference.sources)
        known(where, "job", (one.job for one in area.typical), reference.jobs)
    for caution in reference.cautions.values():
        where = f"{into.files['caution', caution.id]}: {caution.id}"
        known(where, "source", (one.id for one in caution.sources), reference.sources)
    for group in reference.access.values():
        where = f"{into.files['access', group.id]}: {group.id}"
        known(where, "caution", group.cautions, reference.cautions)
        known(where, "access", group.covers, reference.access)
    _check_diagnosis(reference, into, known)
    for entry in reference.jobs.values():
        where = f"{entry.file}: {entry.job.id}"
        known(where, "source", (one.id for one in entry.provenance.sources), reference.sources)
        known(where, "access", entry.job.access, reference.access)
        known(where, "tool", entry.job.tools, reference.tools)
        known(where, "job that follows", entry.job.follows, reference.jobs)
        known(where, "caution", entry.job.cautions, reference.cautions)
    _check_bounds(reference, into)
    _check_tables(reference, into)


def _check_diagnosis(
    reference: Reference,
    into: _Gathered,
    known: Callable[[str, str, Iterable[str], Iterable[str]], None],
) -> None:
    """Causes, symptoms, codes and checks name only what is there; a code stands once."""
    for cause in reference.causes.values():
        where = f"{into.files['cause', cause.id]}: {cause.id}"
        known(where, "job", cause.jobs, reference.jobs)
    seen: set[str] = set()
    for group in reference.code_groups.values():
        where = f"{into.files['code_group', group.id]}: {group.id}"
        known(where, "cause", (one.cause for one in group.causes), reference.causes)
        for code in group.codes:
            if code.code in seen:
                into.complain(where, f"{code.code} stands twice")
            seen.add(code.code)
    for symptom in reference.symptoms.values():
        where = f"{into.files['symptom', symptom.id]}: {symptom.id}"
        known(where, "cause", (one.cause for one in symptom.causes), reference.causes)
    for check in reference.checks.values():
        where = f"{into.files['check', check.id]}: {check.id}"
        named = (cause for one in check.given for cause in one.causes)
        known(where, "cause", named, reference.causes)
        known(where, "tool", check.tools, reference.tools)
        known(where, "caution", check.cautions, reference.cautions)
    for limit in reference.limits.values():
        where = f"{into.files['limit', limit.id]}: {limit.id}"
        known(where, "job", limit.jobs, reference.jobs)
        known(where, "source", (one.id for one in limit.sources), reference.sources)


def _check_bounds(reference: Reference, into: _Gathered) -> None:
    """Figures lie where their unit allows."""
    for value in reference.values.values():
        low, high = BOUNDS.get(value.unit, (None, None))
        for figure in _figures(value):
            if (low is not None and figure < low) or (high is not None and figure > high):
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


def _check_tables(reference: Reference, into: _Gathered) -> None:
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


def read_reference(
    folder: Traversable, own_text: str = "", own_name: str = "own file"
) -> Reference:
    """Return every reference value under `folder`, changed by the text of a person's own file.

    Raises
    ------
    BadReference
        With every problem found, each with its file, id and field.
    """
    into = _Gathered({table: {} for table in TABLES}, {}, {}, [])
    for name, text in _toml_files(folder):
        _gather(name, text, into, own=False)
    if own_text:
        _gather(own_name, own_text, into, own=True)
    return _build(into)


@lru_cache(maxsize=4)
def _load(own_text: str, own_name: str) -> Reference:
    return read_reference(files("appraise.reference") / "data", own_text, own_name)


def check_own_values(text: str) -> Reference:
    """Return the reference values as a person's own text changes them.

    Raises
    ------
    BadReference
        The text does not hold together with the rest.
    """
    return _load(text, "own values")


def load_reference(own_file: Path | None = None) -> Reference:
    """Return the shipped reference values, with those of `own_file` over them if it is there.

    Raises
    ------
    BadReference
        The own file does not hold together with the rest.
    """
    if own_file is None or not own_file.exists():
        return _load("", "own file")
    try:
        text = own_file.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        problem = Problem(where=str(own_file), message="is not text in UTF-8", weight="stop")
        raise BadReference((problem,)) from error
    except OSError as error:
        message = f"cannot be read: {error.strerror}"
        raise BadReference((Problem(str(own_file), message, "stop"),)) from error
    return _load(text, own_file.name)
