"""A workspace for one person: what may not be saved is refused, and what is saved bears a name.

The places where things are kept are guarded themselves, so that no page can get round it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace
from datetime import datetime

from sqlalchemy import Connection

from appraise.errors import AppraiseError
from appraise.models.case import Case
from appraise.models.files import MediaType
from appraise.models.preferences import Preferences
from appraise.services.records.workspace import Workspace
from appraise.store.cases import CaseStore, StoredCase
from appraise.store.files import FileStore
from appraise.store.history import HistoryStore
from appraise.store.own_values import OwnValuesStore
from appraise.store.preferences import PreferenceStore, StoredPreferences

__all__ = ["guarded", "may_not"]


def may_not() -> AppraiseError:
    """Return the refusal for somebody who may look and not change."""
    return AppraiseError(
        "you may look, not change",
        hint="Ask whoever keeps the list of people for the role edit.",
    )


class _Cases(CaseStore):
    """The cases, saved in the name of one person or not at all."""

    def __init__(self, store: CaseStore, who: str, *, may_edit: bool) -> None:
        super().__init__(store._engine, store._now)  # noqa: SLF001 - the same store, guarded
        self._who = who
        self._may_edit = may_edit

    def _need(self) -> None:
        if not self._may_edit:
            raise may_not()

    def add(self, case: Case, *, who: str = "") -> StoredCase:
        """Keep a new case in this person's name."""
        del who  # nobody saves in another one's name
        self._need()
        return super().add(case, who=self._who)

    def save(
        self,
        case: Case,
        version: int,
        *,
        who: str = "",
        what: str = "saved",
        read_at: datetime | None = None,
    ) -> StoredCase:
        """Keep a changed case in this person's name."""
        del who
        self._need()
        return super().save(case, version, who=self._who, what=what, read_at=read_at)

    def remove(
        self, case_id: str, version: int, *, who: str = "", read_at: datetime | None = None
    ) -> None:
        """Take a case out of the list in this person's name."""
        del who
        self._need()
        super().remove(case_id, version, who=self._who, read_at=read_at)

    def put_back(self, case_id: str, *, who: str = "") -> None:
        """Return a removed case to the list in this person's name."""
        del who
        self._need()
        super().put_back(case_id, who=self._who)


class _LookedAtPreferences(PreferenceStore):
    """The preferences of somebody who may not change them."""

    def save(
        self, preferences: Preferences, version: int, *, read_at: datetime | None = None
    ) -> StoredPreferences:
        """Refuse."""
        del preferences, version, read_at
        raise may_not()


class _LookedAtOwnValues(OwnValuesStore):
    """The own values for somebody who may not change them."""

    def save(self, text: str, *, read: str | None = None) -> None:
        """Refuse."""
        del text, read
        raise may_not()


class _LookedAtFiles(FileStore):
    """The photos and PDFs of somebody who may not add any."""

    def put(self, content: bytes, media_type: MediaType, thumbnail: bytes | None) -> str:
        """Refuse."""
        del content, media_type, thumbnail
        raise may_not()

    def forget_unused(
        self,
        used: Collection[str],
        older_than: datetime,
        look_again: Callable[[Connection], Collection[str]] | None = None,
    ) -> int:
        """Refuse."""
        del used, older_than, look_again
        raise may_not()


class _LookedAtHistory(HistoryStore):
    """The history for somebody who may not shorten it."""

    def forget(self, days: int) -> int:
        """Refuse."""
        del days
        raise may_not()


def guarded(workspace: Workspace, who: str, *, may_edit: bool) -> Workspace:
    """Return the workspace as one person has it.

    Parameters
    ----------
    who : name for the history of every case saved.
    may_edit : without it, all that would change something raises `AppraiseError`.
    """
    cases = _Cases(workspace.cases, who, may_edit=may_edit)
    if may_edit:
        return replace(workspace, cases=cases)
    preferences, files, history = workspace.preferences, workspace.files, workspace.history
    own_values = workspace.own_values
    return replace(
        workspace,
        cases=cases,
        preferences=_LookedAtPreferences(preferences._engine, preferences._now),  # noqa: SLF001
        files=_LookedAtFiles(files._engine, files._now),  # noqa: SLF001
        history=_LookedAtHistory(history._engine, history._now),  # noqa: SLF001
        own_values=_LookedAtOwnValues(own_values._engine, own_values._now),  # noqa: SLF001
    )
