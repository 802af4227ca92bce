"""What a restore still has to do outside of the database, kept in it until that is done.

It is written in the transaction that puts the cars in place: so whoever opens the database after
the program was killed knows whether to do it.
"""

from __future__ import annotations

from base64 import b64decode, b64encode
from typing import Any

from sqlalchemy import Engine, delete, select

from appraise.store.database import transaction
from appraise.store.tables import PreferencesRow, utc_now

__all__ = ["MARK", "forget_what_waits", "row_that_waits", "what_waits"]

MARK = "own values to be put back"
"""Key of a row among the preferences; it is in no backup."""


def row_that_waits(own_values: bytes | None, instead_of: str) -> tuple[str, dict[str, Any]]:
    """Return a row, with the name of its table, that says which own values belong to the cars.

    Parameters
    ----------
    own_values : None if there are to be none.
    instead_of : tells those that are there now from any others.
    """
    text = None if own_values is None else b64encode(own_values).decode()
    doc = {"own_values": text, "instead_of": instead_of}
    moment = utc_now().isoformat()
    return "preferences", {"key": MARK, "version": 1, "updated_at": moment, "doc": doc}


def what_waits(engine: Engine) -> tuple[bytes | None, str] | None:
    """Return both parts of such a row; None if there is none, as nearly always."""
    statement = select(PreferencesRow.doc).where(PreferencesRow.key == MARK)
    with transaction(engine) as connection:
        doc = connection.execute(statement).scalar_one_or_none()
    if doc is None:
        return None
    text = doc["own_values"]
    return None if text is None else b64decode(text), str(doc["instead_of"])


def forget_what_waits(engine: Engine) -> None:
    """Say that it is done."""
    with transaction(engine) as connection:
        connection.execute(delete(PreferencesRow).where(PreferencesRow.key == MARK))
