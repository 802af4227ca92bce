"""Changes to a case: every one gives a new, valid case or says which field is wrong."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from appraise.errors import BadCase
from appraise.models.case import Case
from appraise.models.findings import Area, Finding, State
from appraise.models.preferences import Preferences
from appraise.models.problems import problems_of
from appraise.models.vehicle import Vehicle

__all__ = [
    "areas_looked_at",
    "changed",
    "differences",
    "free_id",
    "new_case",
    "next_step",
    "put_finding",
    "without_finding",
]

Document = TypeVar("Document", bound=BaseModel)
Step = str | int

SOME_COMPS = 3


def changed(document: Document, path: Sequence[Step], value: Any) -> Document:  # noqa: ANN401
    """Return the document with one field changed.

    Parameters
    ----------
    document : any model; it stays as it was.
    path : field names; a step into a list is a position or the id of the entry.
    value : what the field is to hold, as the model takes it.

    Raises
    ------
    BadCase
        The value cannot be; the problem names the field.
    """
    raw = document.model_dump()
    at: Any = raw
    for step in path[:-1]:
        at = at[_place(at, step)]
    at[_place(at, path[-1])] = value
    try:
        return type(document).model_validate(raw)
    except ValidationError as error:
        raise BadCase(problems_of(error)) from error


def _place(at: Any, step: Step) -> Step:  # noqa: ANN401
    if isinstance(at, (list, tuple)) and isinstance(step, str):
        return next(index for index, entry in enumerate(at) if entry["id"] == step)
    return step


def put_finding(case: Case, finding: Finding) -> Case:
    """Return the case with a finding added, or put in place of the one with its id."""
    kept = [one for one in case.findings if one.id != finding.id]
    place = next((i for i, one in enumerate(case.findings) if one.id == finding.id), len(kept))
    kept.insert(place, finding)
    return changed(case, ("findings",), [one.model_dump() for one in kept])


def without_finding(case: Case, finding_id: str) -> Case:
    """Return the case without a finding, and without what papers were to prove of it."""
    raw = case.model_dump()
    raw["findings"] = [one for one in raw["findings"] if one["id"] != finding_id]
    for paper in raw["papers"]:
        paper["claims"] = [one for one in paper["claims"] if one["finding"] != finding_id]
    return Case.model_validate(raw)


def free_id(words: str, taken: Iterable[str]) -> str:
    """Return an id made from words that none of those taken has.

    Examples
    --------
    >>> free_id("Brake judder!", ["brake-judder"])
    'brake-judder-2'
    """
    base = re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-")[:40].strip("-") or "entry"
    used = set(taken)
    number, out = 2, base
    while out in used:
        out = f"{base}-{number}"
        number += 1
    return out


def new_case(vehicle: Vehicle, preferences: Preferences, on: date, taken: Iterable[str]) -> Case:
    """Return a new car with a person's own defaults."""
    return Case(
        id=free_id(vehicle.name, taken),
        title=vehicle.name,
        currency=preferences.currency,
        appraised_on=on,
        vehicle=vehicle,
        deal=preferences.deal,
    )


def areas_looked_at(case: Case) -> set[Area]:
    """Return the areas of the car that somebody looked at."""
    return {one.area for one in case.findings if one.state is not State.NOT_LOOKED_AT}


def next_step(case: Case) -> str:
    """Return the next thing to do on a case, in words."""
    looked = len(areas_looked_at(case))
    comps = sum(not one.left_out for one in case.market.comparables)
    bare = [one for one in case.findings if one.unpriced and not (one.symptom or one.codes)]
    open_steps = (
        (not looked, "Inspect it"),
        (comps < SOME_COMPS, "Add prices of comparable cars"),
        (bool(bare), "Say what repairs: " + "".join(one.label or one.id for one in bare[:1])),
        (case.purchase is not None, "Repair and sell"),
        (case.deal.asking_price is None, "Enter the asking price"),
        (looked < len(Area) // 2, f"Inspect more: {len(Area) - looked} areas left"),
        (True, "Decide on the bid"),
    )
    return next(words for due, words in open_steps if due)


def differences(mine: BaseModel, theirs: BaseModel) -> tuple[tuple[str, str, str], ...]:
    """Return where two versions of a document differ: which field in words, one side, the other."""
    return tuple(_differences("", mine.model_dump(mode="json"), theirs.model_dump(mode="json")))


def _differences(path: str, mine: Any, theirs: Any) -> Iterable[tuple[str, str, str]]:  # noqa: ANN401
    if isinstance(mine, dict) and isinstance(theirs, dict):
        for key in dict.fromkeys((*mine, *theirs)):
            words = str(key).replace("_", " ")
            inner = f"{path}: {words}" if path else words
            yield from _differences(inner, mine.get(key), theirs.get(key))
    elif isinstance(mine, list) and isinstance(theirs, list):
        for key in dict.fromkeys((*_names(mine), *_names(theirs))):
            one, other = _entry(mine, key), _entry(theirs, key)
            yield from _differences(f"{path}, {_called(one or other, key)}", one, other)
    elif mine != theirs:
        yield path, _short(mine), _short(theirs)


def _names(entries: list[Any]) -> list[str]:
    return [
        str(one["id"]) if isinstance(one, dict) and "id" in one else str(place)
        for place, one in enumerate(entries)
    ]


def _entry(entries: list[Any], key: str) -> Any:  # noqa: ANN401
    for place, one in enumerate(entries):
        if key == (str(one["id"]) if isinstance(one, dict) and "id" in one else str(place)):
            return one
    return None


def _called(entry: Any, key: str) -> str:  # noqa: ANN401
    """Return what an entry is called: by its words or its name if it has any."""
    if not isinstance(entry, dict):
        return key
    return _short(entry.get("label") or entry.get("name") or key)


def _short(value: Any) -> str:  # noqa: ANN401
    if value is None:
        return "nothing"
    if isinstance(value, dict):
        return str(value.get("label") or _called(value, value.get("id") or "an entry"))
    return str(value)
