"""Read the reference values that ship with the package, and a person's own values over them.

Strict: a key that is not known, a name that is not defined or a value out of bounds is a problem
with its file, id and field; all of them are collected before anything is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, TypeVar

import tomli
from pydantic import ValidationError

from appraise.errors import AppraiseError, BadReference, Problem
from appraise.given import file_text, toml_of
from appraise.models.base import Model
from appraise.models.jobs import Job
from appraise.models.problems import problems_of
from appraise.reference.schema import (
    Access,
    AreaReference,
    Caution,
    Check,
    CodeGroup,
    Fault,
    JobFile,
    Kind,
    Limit,
    Source,
    Symptom,
    Tool,
    Unit,
    Value,
)
from appraise.reference.tables import Diagnosing, JobEntry, Reference
from appraise.reference.verify import Gathered, all_covered, verify, verify_diagnosing

__all__ = [
    "LARGEST_OWN",
    "JobEntry",
    "Reference",
    "check_own_values",
    "load_reference",
    "read_reference",
    "shipped_list",
]

AnyModel = TypeVar("AnyModel", bound=Model)
Raw = dict[str, Any]

LARGEST_OWN = 2**20
"""Bytes of a person's own file; all the shipped values together are smaller."""

OWN_JOB_HEADER: Raw = {
    "schema_version": 1,
    "kind": Kind.OWN.value,
    "currency": "USD",
    "base_year": 2025,
}
"""What an own file's jobs are read with; their amounts are still moved by the price level."""

TABLES: dict[str, type[Model]] = {
    "source": Source,
    "unit": Unit,
    "value": Value,
    "access": Access,
    "tool": Tool,
    "caution": Caution,
    "area": AreaReference,
    "cause": Fault,
    "symptom": Symptom,
    "code_group": CodeGroup,
    "check": Check,
    "limit": Limit,
}


LISTS = "lists"
"""Folder of what a standard fixes and nobody overrides: read by `shipped_list`, file by file."""
DIAGNOSING = ("causes", "checks", "limits.toml")
"""What is only needed to look behind a symptom, and takes longer to read than the rest."""
SHIPPED = files("appraise.reference") / "data"


def _toml_files(
    folder: Traversable, *, keep: Callable[[str], bool] = lambda _: True
) -> Iterable[tuple[str, str]]:
    for entry in sorted(folder.iterdir(), key=lambda one: one.name):
        if entry.name == LISTS or not keep(entry.name):
            continue
        if entry.is_dir():
            for name, text in _toml_files(entry):
                yield f"{entry.name}/{name}", text
        elif entry.name.endswith(".toml"):
            yield entry.name, entry.read_text(encoding="utf-8")


def _short_ranges(raw: Raw) -> Raw:
    """Let a range be written as [low, likely, high] wherever a job or tool has one."""
    out: Raw = {}
    for key, value in raw.items():
        if key in ("hours", "price", "range", "minutes") and isinstance(value, list):
            if len(value) == 3:  # noqa: PLR2004
                out[key] = dict(zip(("low", "likely", "high"), value, strict=True))
            else:
                out[key] = value
        elif key == "parts" and isinstance(value, list):
            out[key] = [_short_ranges(one) if isinstance(one, dict) else one for one in value]
        else:
            out[key] = value
    return out


def _gather(name: str, text: str, into: Gathered, *, own: bool) -> None:
    """Sort a file's entries into their tables; an own file changes what it names."""
    try:
        raw = toml_of(text) if own else tomli.loads(text, parse_float=Decimal)
    except ValueError as error:
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


def _entries(name: str, table: str, entries: Any, into: Gathered) -> list[Raw]:  # noqa: ANN401
    if isinstance(entries, list) and all(isinstance(entry, dict) for entry in entries):
        return entries
    into.complain(f"{name}: {table}", f"has to be a list of tables: write [[{table}]]")
    return []


def _take(name: str, table: str, entry: Raw, into: Gathered, *, own: bool) -> None:
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


def _take_job(name: str, entry: Raw, header: Raw, into: Gathered, *, own: bool) -> None:
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


def _check(model: type[AnyModel], raw: Raw, where: str, into: Gathered) -> AnyModel | None:
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        for problem in problems_of(error):
            into.complain(f"{where}: {problem.where}", problem.message)
        return None


def _made(into: Gathered) -> dict[str, dict[str, Any]]:
    """Return the entries of every table but the jobs, as models."""
    made: dict[str, dict[str, Any]] = {}
    for table, model in TABLES.items():
        made[table] = {}
        for entry_id, raw in into.entries[table].items():
            item = _check(model, raw, f"{into.files[table, entry_id]}: {entry_id}", into)
            if item is not None:
                made[table][entry_id] = item
    return made


def _diagnosing_of(made: dict[str, dict[str, Any]]) -> Diagnosing:
    groups = made["code_group"]
    return Diagnosing(
        causes=made["cause"],
        symptoms=made["symptom"],
        code_groups=groups,
        group_of_code={one.code: group for group in groups.values() for one in group.codes},
        checks=made["check"],
        limits=made["limit"],
    )


def _build(into: Gathered, later: Callable[[], Diagnosing] | None) -> Reference:
    made = _made(into)
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
    made["access"] = all_covered(made["access"], into)
    areas = {area.id: area for area in made["area"].values()}
    diagnosing = _diagnosing_of(made)
    reference = Reference(
        sources=made["source"],
        units=made["unit"],
        values=made["value"],
        access=made["access"],
        tools=made["tool"],
        cautions=made["caution"],
        areas=areas,
        jobs=jobs,
        diagnosing=later or (lambda: diagnosing),
    )
    verify(reference, into, diagnosing=later is None)
    if into.problems:
        raise BadReference(tuple(into.problems))
    return reference


def read_reference(
    folder: Traversable,
    own_text: str = "",
    own_name: str = "own file",
    *,
    later: Callable[[], Diagnosing] | None = None,
) -> Reference:
    """Return every reference value under `folder`, changed by the text of a person's own file.

    Parameters
    ----------
    later : reads causes, symptoms, codes, checks and limits when they are asked for; they are
        then left out here.

    Raises
    ------
    BadReference
        With every problem found, each with its file, id and field.
    """
    into = Gathered({table: {} for table in TABLES}, {}, {}, [])
    for name, text in _toml_files(
        folder, keep=lambda entry: later is None or entry not in DIAGNOSING
    ):
        _gather(name, text, into, own=False)
    if own_text:
        _gather(own_name, own_text, into, own=True)
    return _build(into, later)


@lru_cache(maxsize=4)
def _load(own_text: str, own_name: str) -> Reference:
    """Read everything at once if there are own values to be checked, else the diagnosis later."""
    return read_reference(SHIPPED, own_text, own_name, later=None if own_text else _shipped)


@lru_cache(maxsize=1)
def _shipped() -> Diagnosing:
    """Read only what the catalog left for later, and hold it against the catalog."""
    into = Gathered({table: {} for table in TABLES}, {}, {}, [])
    for name, text in _toml_files(SHIPPED, keep=DIAGNOSING.__contains__):
        _gather(name, text, into, own=False)
    diagnosing = _diagnosing_of(_made(into))
    verify_diagnosing(replace(load_reference(), diagnosing=lambda: diagnosing), into)
    if into.problems:
        raise BadReference(tuple(into.problems))
    return diagnosing


def shipped_list(name: str, model: type[AnyModel]) -> AnyModel:
    """Return one of the lists that a standard fixes.

    Parameters
    ----------
    name : of its file in the folder `lists`, without the ending.
    model : what the whole file has to be.

    Raises
    ------
    BadReference
        With every problem found.
    """
    file = SHIPPED / LISTS / f"{name}.toml"
    into = Gathered({}, {}, {}, [])
    found = _check(model, toml_of(file.read_text(encoding="utf-8")), file.name, into)
    if found is None:
        raise BadReference(tuple(into.problems))
    return found


def check_own_values(text: str, name: str = "own values") -> Reference:
    """Return the reference values as a person's own text changes them.

    Parameters
    ----------
    name : of the text in what is wrong with it.

    Raises
    ------
    BadReference
        The text does not hold together with the rest, or is longer than it may be.
    """
    if len(text.encode()) > LARGEST_OWN:
        message = f"is larger than {LARGEST_OWN // 2**20} MB"
        raise BadReference((Problem(name, message, "stop"),))
    return _load(text, name)


def load_reference(own_file: Path | None = None) -> Reference:
    """Return the shipped reference values, with those of `own_file` over them if it is there.

    Raises
    ------
    BadReference
        The own file does not hold together with the rest.
    """
    if own_file is None or not own_file.exists():
        return _load("", "own values")
    try:
        text = file_text(own_file, LARGEST_OWN)
    except AppraiseError as error:
        raise BadReference((Problem(error.where, error.message, "stop"),)) from error
    return _load(text, own_file.name)
