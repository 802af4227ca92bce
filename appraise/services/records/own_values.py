"""A person's own values over the catalog: kept, checked before they are saved, and begun."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import tomli_w

from appraise.errors import AppraiseError
from appraise.reference.load import Reference, check_own_values
from appraise.settings import Settings
from appraise.store.database import open_database
from appraise.store.own_values import OwnValuesStore

__all__ = ["kept_own_text", "own_entry", "save_own_text"]


def kept_own_text(settings: Settings) -> str:
    """Return the own values that are kept, for whoever needs nothing else of the database.

    Raises
    ------
    StoreUnavailable
        The database cannot be opened.
    """
    engine = open_database(settings.url, folder=settings.data_folder)
    try:
        return OwnValuesStore(engine).load()
    finally:
        engine.dispose()


def save_own_text(
    store: OwnValuesStore, text: str, *, read: str | None = None, name: str = "own values"
) -> None:
    """Keep own values if they hold together with the rest.

    Parameters
    ----------
    read : what was kept before the change, as it was read; None to save over whatever it is.
    name : of the text in what is wrong with it.

    Raises
    ------
    BadReference
        They do not; nothing is saved.
    CaseChangedElsewhere
        They were saved by somebody else since they were read.
    """
    check_own_values(text, name)
    store.save(text, read=read)


def own_entry(reference: Reference, entry_id: str) -> str:
    """Return a value or job as text for the own values, to be changed there.

    Raises
    ------
    AppraiseError
        There is nothing of that id.
    """
    if entry_id in reference.values:
        value = reference.values[entry_id]
        raw = value.model_dump(exclude_none=True, exclude_defaults=True)
        shape = next(name for name in ("value", "range", "table", "points") if name in raw)
        return tomli_w.dumps({"value": [_plain({"id": entry_id, shape: raw[shape]})]})
    if entry_id in reference.jobs:
        job = reference.jobs[entry_id].job
        raw = job.model_dump(include={"id", "hours", "parts"}, exclude_defaults=True)
        return tomli_w.dumps({"job": [_plain(raw)]})
    raise AppraiseError("there is no such value or job", where=entry_id)


def _plain(raw: Any) -> Any:  # noqa: ANN401
    """Return numbers as TOML has them."""
    if isinstance(raw, dict):
        return {key: _plain(value) for key, value in raw.items()}
    if isinstance(raw, (list, tuple)):
        return [_plain(value) for value in raw]
    if isinstance(raw, Decimal):
        return int(raw) if raw == raw.to_integral() else float(raw)
    return str(raw) if isinstance(raw, str) else raw
