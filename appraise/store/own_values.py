"""A person's own values over the catalog, kept as they were typed: a text in TOML."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from appraise.errors import CaseChangedElsewhere
from appraise.store.database import Store, keep_others_out, transaction
from appraise.store.tables import PreferencesRow

__all__ = ["OWN_KEY", "OwnValuesStore", "own_rows", "own_text_in", "plain_text"]

OWN_KEY = "own values"
"""Key of their row among the preferences."""


class OwnValuesStore(Store):
    """The own values in one database."""

    def load(self) -> str:
        """Return their text, empty if there are none."""
        with transaction(self._engine) as connection:
            return own_text_in(connection)

    def save(self, text: str, *, read: str | None = None) -> None:
        """Keep a text in the place of the one before.

        Parameters
        ----------
        read : what was kept before the change, as it was read.

        Raises
        ------
        CaseChangedElsewhere : another one was saved since it was read.
        """
        with transaction(self._engine) as connection:
            keep_others_out(connection, PreferencesRow.__tablename__)
            if read is not None and own_text_in(connection) != read:
                raise CaseChangedElsewhere(
                    "your own values were saved elsewhere after they were opened here",
                    hint="Look at what is kept now, and choose.",
                )
            connection.execute(delete(PreferencesRow).where(PreferencesRow.key == OWN_KEY))
            for _, row in own_rows(text, self._now()):
                connection.execute(insert(PreferencesRow), row)


def own_text_in(connection: Connection) -> str:
    """Return the text that is kept, empty if there is none."""
    statement = select(PreferencesRow.doc).where(PreferencesRow.key == OWN_KEY)
    doc = connection.execute(statement).scalar_one_or_none()
    return str(doc["text"] if isinstance(doc, dict) and "text" in doc else doc or "")


def own_rows(text: str, moment: object) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield the row that keeps a text, with the name of its table; none for no text."""
    if text:
        row = {"key": OWN_KEY, "version": 1, "updated_at": moment, "doc": {"text": text}}
        yield PreferencesRow.__tablename__, row


def plain_text(data: bytes) -> str:
    """Return what a file says as a text that can be kept; what is no character is marked."""
    return data.decode("utf-8-sig", "replace").replace("\0", "\ufffd")
