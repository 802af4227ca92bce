"""Cases in and out, the appraisal, the catalog: what needs no database."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from appraise.errors import AppraiseError, BadCase, CaseNotFound, NewerSchema, Problem
from appraise.given import Twice, file_text, json_of
from appraise.models.case import SCHEMA_VERSION, Case
from appraise.models.problems import problems_of
from appraise.reference.elsewhere import here
from appraise.reference.load import JobEntry, Reference, load_reference
from appraise.store.documents import LARGEST_DOCUMENT
from appraise.store.upgrades import CASE_UPGRADES, upgraded

if TYPE_CHECKING:
    from appraise.models.appraisal import Appraisal
    from appraise.models.told import Told

__all__ = [
    "appraise_case",
    "bid_summary",
    "case_schema",
    "case_text",
    "check_text",
    "example_cases",
    "find_jobs",
    "load_case_file",
    "read_case",
    "reference_values",
    "text_of",
    "today",
]

LARGEST_FILE = LARGEST_DOCUMENT


def reference_values(own_file: Path | None = None) -> Reference:
    """Return the reference values, a person's own file over the shipped ones."""
    return load_reference(own_file)


def read_case(text: str, source: str = "") -> Case:
    """Return the case in a JSON text.

    Raises
    ------
    BadCase
        Not JSON, or a field is missing, unknown or impossible; names the field and why.
    NewerSchema
        Written by a newer version of this program.
    """
    raw = _read_json(text, source)
    if not isinstance(raw, dict):
        raise BadCase((Problem("", "is JSON, but not a case", "stop"),), source=source)
    version = raw.get("schema_version", 1)
    if isinstance(version, (int, Decimal)) and version > SCHEMA_VERSION:
        raise NewerSchema(
            f"was written in layout {version}; this program knows up to {SCHEMA_VERSION}",
            where=f"{source}: schema_version" if source else "schema_version",
            hint="Install the newer program to open it.",
        )
    if type(version) is int and version in range(1, SCHEMA_VERSION):
        raw = upgraded(raw, to=SCHEMA_VERSION, upgrades=CASE_UPGRADES, what="The case")
    try:
        return Case.model_validate(raw)
    except ValidationError as error:
        raise BadCase(problems_of(error), source=source) from error


def _read_json(text: str, source: str) -> Any:  # noqa: ANN401
    """Return what a JSON text holds: decimals exact, a repeated key or no number refused."""
    try:
        return json_of(text)
    except Twice as error:
        raise BadCase(
            (Problem(str(error), "stands there twice", "stop"),), source=source
        ) from error
    except json.JSONDecodeError as error:
        message = f"is not JSON: line {error.lineno}, column {error.colno}"
        raise BadCase((Problem("", message, "stop"),), source=source) from error
    except ValueError as error:
        message = "is not a case: nested too deep, or a number too long"
        raise BadCase((Problem("", message, "stop"),), source=source) from error


def load_case_file(name: str) -> Case:
    """Return the case in a file, or the example case of that name.

    Raises
    ------
    CaseNotFound
        There is no such file and no such example.
    BadCase, NewerSchema
        As for `read_case`.
    """
    path = Path(name)
    if os.path.isdir(path):  # noqa: PTH112 - answers False for names that are too long
        raise CaseNotFound("is a folder, not a case file", where=name)
    if not os.path.isfile(path):  # noqa: PTH113 - the same
        for example in _example_files():
            if example.name.removesuffix(".json") == name:
                return read_case(example.read_text(encoding="utf-8"), example.name)
        if name == "demo":
            first = next(iter(_example_files()))
            return read_case(first.read_text(encoding="utf-8"), first.name)
        raise CaseNotFound(
            "there is no such file, and no example or car kept of that name", where=name
        )
    try:
        text = file_text(path, LARGEST_FILE)
    except AppraiseError as error:
        raise BadCase((Problem("", error.message, "stop"),), source=name) from error
    return read_case(text, name)


def text_of(path: Path) -> str:
    """Return the text of a file that a person named.

    Raises
    ------
    AppraiseError
        It is not there, is a folder, too large, or no text.
    """
    return file_text(path, LARGEST_FILE)


def case_text(case: Case) -> str:
    """Return a case as JSON, the layout that `read_case` takes."""
    return case.model_dump_json(indent=2, exclude_defaults=False) + "\n"


def case_schema() -> dict[str, Any]:
    """Return the JSON Schema of a case."""
    return Case.model_json_schema()


def _example_files() -> list[Traversable]:
    folder = files("demo_cases")
    return sorted(
        (entry for entry in folder.iterdir() if entry.name.endswith(".json")),
        key=lambda entry: entry.name,
    )


def example_cases() -> tuple[Case, ...]:
    """Return the invented cases that ship with the program."""
    return tuple(read_case(one.read_text(encoding="utf-8"), one.name) for one in _example_files())


def appraise_case(case: Case, reference: Reference) -> Appraisal:
    """Return what the estimate says of a case."""
    from appraise.engine import appraise  # noqa: PLC0415 - NumPy and SciPy only when needed

    return appraise(case, reference)


def check_text(case: Case, reference: Reference) -> tuple[Problem, ...]:
    """Return what is amiss in a case without working it out."""
    from appraise.engine.bid.check import check_case  # noqa: PLC0415

    return check_case(case, reference)


def find_jobs(words: Iterable[str], reference: Reference) -> tuple[JobEntry, ...]:
    """Return the jobs whose id, label or system holds each of the words, American or British."""
    wanted = [here(word.lower()) for word in words]

    def holds(entry: JobEntry) -> bool:
        text = f"{entry.job.id} {entry.job.label} {entry.job.system.value}".lower()
        return all(any(word in text for word in either) for either in wanted)

    return tuple(filter(holds, reference.jobs.values()))


def bid_summary(appraisal: Appraisal, told: Told) -> dict[str, Any]:
    """Return the bid as one flat JSON object, amounts as numbers, with what has to be known."""
    outcome = appraisal.outcome
    four = ("mean", "p10", "p50", "p90")
    three = four[1:]

    def pick(quantiles: Any, keys: tuple[str, ...]) -> dict[str, float]:  # noqa: ANN401
        return {key: float(getattr(quantiles, key)) for key in keys}

    return {
        "case": appraisal.case_id,
        "currency": appraisal.currency,
        "walk_away_price": appraisal.walk_away_price,
        "walk_away_error": _float(appraisal.walk_away_error),
        "walk_away_words": appraisal.walk_away_words,
        "asking_price": _float(appraisal.asking_price),
        "judged_at": appraisal.judged,
        "margin": None if outcome is None else pick(outcome.margin, four),
        "margin_without_own_hours": None if outcome is None else pick(outcome.margin_unpaid, four),
        "chance_of_loss": None if outcome is None else float(outcome.chance_of_loss),
        "chance_of_target": None if outcome is None else float(outcome.chance_of_target),
        "if_seller_knows": None if outcome is None else _float(outcome.if_seller_knows),
        "seller_accepts": None if outcome is None else float(outcome.seller_accepts),
        "repair": {
            **pick(appraisal.repair.money, four),
            "own_hours": pick(appraisal.repair.own_hours, four),
            "found": pick(appraisal.repair.found, four),
            "unseen": pick(appraisal.repair.unseen, four),
        },
        "resale": {
            "mended": pick(appraisal.resale.mended, three),
            "as_it_stands": pick(appraisal.resale.as_it_stands, three),
        },
        "landed_cost": None if outcome is None else float(outcome.landed_cost),
        "drivers": [
            {"id": one.id, "label": one.label, "share": float(one.share)}
            for one in appraisal.drivers
        ],
        "problems": [
            {
                "where": one.where,
                "message": one.message,
                "weight": one.weight,
                "hint": one.hint,
                "law": one.law,
            }
            for one in told.everything
        ],
        "unsourced_share": float(appraisal.unsourced_share),
        "seed": appraisal.seed,
        "draws": appraisal.draws,
    }


def _float(value: Any) -> float | None:  # noqa: ANN401
    return None if value is None else float(value)


def today() -> date:
    """Return today's date; the only place where the clock is read for a case."""
    return date.today()  # noqa: DTZ011 - the user's own calendar day is meant
