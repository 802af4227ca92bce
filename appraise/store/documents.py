"""Models to stored documents and back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, TypeVar

from pydantic import ValidationError

from appraise.errors import BadCase, Problem
from appraise.models.base import Model
from appraise.models.problems import path_of, problems_of
from appraise.store.upgrades import Document, Upgrade, upgraded

__all__ = ["from_document", "to_document"]

AnyModel = TypeVar("AnyModel", bound=Model)


def to_document(model: Model) -> Document:
    """Return the model as plain JSON values, decimals and dates as text.

    Raises
    ------
    BadCase : a text holds the character NUL, which PostgreSQL cannot keep.
    """
    document = model.model_dump(mode="json")
    nul = tuple(
        Problem(where=path, message="holds the character NUL, which cannot be kept", weight="stop")
        for path in _paths_with_nul(document, ())
    )
    if nul:
        raise BadCase(nul)
    return document


def from_document(
    model: type[AnyModel],
    document: Document,
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
    document = upgraded(document, to=schema, upgrades=upgrades, what=what)
    try:
        return model.model_validate(document)
    except ValidationError as error:
        raise BadCase(problems_of(error), source=what) from error


def _paths_with_nul(value: Any, path: tuple[int | str, ...]) -> Iterator[str]:  # noqa: ANN401
    if isinstance(value, str):
        if "\0" in value:
            yield path_of(path)
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from _paths_with_nul(inner, (*path, key))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from _paths_with_nul(inner, (*path, place))
