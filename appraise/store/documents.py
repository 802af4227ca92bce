"""Models to stored documents and back."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any, TypeVar

from pydantic import ValidationError

from appraise.errors import BadCase, Problem
from appraise.models.base import Model
from appraise.models.case import SCHEMA_VERSION, Case
from appraise.models.problems import path_of, problems_of
from appraise.store.raw import RawText
from appraise.store.upgrades import CASE_UPGRADES, Document, Upgrade, upgraded

__all__ = ["LARGEST_DOCUMENT", "case_of", "from_document", "to_document"]

MEGABYTE = 2**20
LARGEST_DOCUMENT = 8 * MEGABYTE
"""Bytes as a file has them: so that what is kept can also be read from a file and from a backup."""

AnyModel = TypeVar("AnyModel", bound=Model)


def to_document(model: Model) -> Document:
    """Return the model as plain JSON values, decimals and dates as text.

    Raises
    ------
    BadCase : it could not be read back: a text holds what not every database can keep, a value is
        not what the model allows, or all of it is too large.
    """
    document = model.model_dump(mode="json")
    odd = tuple(
        Problem(where=path, message=f"holds {what}, which cannot be kept", weight="stop")
        for path, what in _odd_texts(document, ())
    )
    if odd:
        raise BadCase(odd)
    size = len(json.dumps(document, indent=2, ensure_ascii=False).encode())
    if size > LARGEST_DOCUMENT:
        message = (
            f"all of it takes {size / MEGABYTE:.1f} MB as a file; the most is "
            f"{LARGEST_DOCUMENT // MEGABYTE} MB"
        )
        hint = "Shorten the longest notes."
        raise BadCase((Problem("", message, "stop", hint),))
    try:
        type(model).model_validate(document)
    except ValidationError as error:  # it was copied with changes, which asks no model
        raise BadCase(problems_of(error)) from error
    return document


def from_document(
    model: type[AnyModel],
    document: Document | RawText,
    *,
    schema: int,
    upgrades: Mapping[int, Upgrade],
    what: str,
) -> AnyModel:
    """Return the model that a stored document holds.

    Parameters
    ----------
    schema, upgrades : the layout this program knows, and the steps to it.
    what : the document's name in messages, at the start of a sentence.

    Raises
    ------
    NewerSchema : it was written by a newer version of this program.
    BadCase : it does not fit the model.
    """
    if not isinstance(document, dict):
        message = "what is kept of it is cut short, or no document"
        raise BadCase((Problem("", message, "stop"),), source=what)
    document = upgraded(document, to=schema, upgrades=upgrades, what=what)
    try:
        return model.model_validate(document)
    except ValidationError as error:
        raise BadCase(problems_of(error), source=what) from error


def case_of(document: Any, case_id: str, what: str) -> Case:  # noqa: ANN401 - as it is kept
    """Return the case that a stored document holds.

    Parameters
    ----------
    what : its name in messages, at the start of a sentence.

    Raises
    ------
    NewerSchema : a newer version of this program has saved it.
    BadCase : it is cut short, does not fit the model, or is another car.
    """
    case = from_document(Case, document, schema=SCHEMA_VERSION, upgrades=CASE_UPGRADES, what=what)
    if case.id != case_id:
        problem = Problem("id", f"is {case.id!r}: what is kept is another car", "stop")
        raise BadCase((problem,), source=what)
    return case


def _odd_texts(value: Any, path: tuple[int | str, ...]) -> Iterator[tuple[str, str]]:  # noqa: ANN401
    if isinstance(value, str):
        if "\0" in value:
            yield path_of(path), "the character NUL"
        if any("\ud800" <= one <= "\udfff" for one in value):
            yield path_of(path), "half of a character"
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from _odd_texts(inner, (*path, key))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from _odd_texts(inner, (*path, place))
