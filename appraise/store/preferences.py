"""A person's defaults, kept."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from sqlalchemy import insert, select, update
from sqlalchemy.exc import IntegrityError

from appraise.errors import BadCase, CaseChangedElsewhere, NewerSchema
from appraise.models.preferences import Preferences
from appraise.store.database import Store, transaction
from appraise.store.documents import from_document, to_document
from appraise.store.tables import PreferencesRow
from appraise.store.upgrades import PREFERENCES_SCHEMA, PREFERENCES_UPGRADES

__all__ = ["PreferenceStore", "StoredPreferences"]

KEY = "preferences"


@dataclass(frozen=True, slots=True)
class StoredPreferences:
    """Preferences with the version to hand back when saving; 0 if none were ever saved.

    Attributes
    ----------
    updated_at : when they were saved, in UTC; None if they never were.
    wrong : why what is kept cannot be read, and the defaults stand in its place; else empty.
    """

    preferences: Preferences
    version: int
    updated_at: datetime | None = field(default=None, compare=False)
    wrong: str = ""


class PreferenceStore(Store):
    """The preferences in one database."""

    def load(self) -> StoredPreferences:
        """Return what was last saved, or the defaults: also where that cannot be read."""
        kept = PreferencesRow
        statement = select(kept.version, kept.updated_at, kept.doc).where(kept.key == KEY)
        with transaction(self._engine) as connection:
            row = connection.execute(statement).one_or_none()
        if row is None:
            return StoredPreferences(preferences=Preferences(), version=0)
        try:
            preferences = from_document(
                Preferences,
                row.doc,
                schema=PREFERENCES_SCHEMA,
                upgrades=PREFERENCES_UPGRADES,
                what="The set of preferences",
            )
        except (BadCase, NewerSchema) as error:
            return StoredPreferences(Preferences(), row.version, row.updated_at, str(error))
        return StoredPreferences(preferences, row.version, row.updated_at)

    def save(
        self, preferences: Preferences, version: int, *, read_at: datetime | None = None
    ) -> StoredPreferences:
        """Keep changed preferences.

        Parameters
        ----------
        version : the one that was read before the change; 0 if there were none.
        read_at : its `updated_at`; a number alone may come again after an older copy of the
            database was put back.

        Raises
        ------
        CaseChangedElsewhere : they were saved by somebody else since then.
        BadCase : a text cannot be kept.
        """
        moment = self._now()
        values = {"updated_at": moment, "doc": to_document(preferences)}
        seen = [PreferencesRow.key == KEY, PreferencesRow.version == version]
        if read_at is not None:
            seen.append(PreferencesRow.updated_at == read_at)
        elsewhere = CaseChangedElsewhere(
            "The preferences were saved elsewhere after they were opened here.",
            hint="Open them again.",
        )
        try:
            with transaction(self._engine) as connection:
                if version == 0:
                    connection.execute(insert(PreferencesRow).values(key=KEY, version=1, **values))
                else:
                    changed = connection.execute(
                        update(PreferencesRow).where(*seen).values(version=version + 1, **values)
                    )
                    if changed.rowcount != 1:
                        raise elsewhere
        except IntegrityError as error:
            raise elsewhere from error
        return StoredPreferences(preferences, version + 1, moment)
