"""A person's cars, preferences and own values, kept in a database."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from stat import S_IMODE, S_ISVTX
from typing import Self

from sqlalchemy import Engine

from appraise.errors import BadCase
from appraise.intake.files import checked
from appraise.models.case import Case
from appraise.models.files import Attachment
from appraise.services.cases.casework import example_cases, today
from appraise.services.cases.editing import free_id
from appraise.settings import Settings
from appraise.store.cases import CaseStore, StoredCase
from appraise.store.database import open_database
from appraise.store.files import FileStore, StoredFile
from appraise.store.history import HistoryStore
from appraise.store.own_values import OwnValuesStore
from appraise.store.people import PeopleStore
from appraise.store.preferences import PreferenceStore

__all__ = [
    "Attached",
    "Workspace",
    "add_copy",
    "attach",
    "attachment",
    "open_workspace",
    "thumbnails",
]


@dataclass(frozen=True, slots=True)
class Workspace:
    """Everything of one person that is kept."""

    settings: Settings
    cases: CaseStore
    preferences: PreferenceStore
    files: FileStore
    history: HistoryStore
    own_values: OwnValuesStore
    people: PeopleStore

    @classmethod
    def on(cls, settings: Settings, engine: Engine) -> Self:
        """Return what is kept in a database that is open."""
        return cls(
            settings,
            CaseStore(engine),
            PreferenceStore(engine),
            FileStore(engine),
            HistoryStore(engine),
            OwnValuesStore(engine),
            PeopleStore(engine),
        )


@dataclass(frozen=True, slots=True)
class Attached:
    """A photo or PDF that is kept and may now be named in a case.

    Attributes
    ----------
    attachment : what the case keeps of it.
    words : what was changed about it, a sentence each.
    """

    attachment: Attachment
    words: tuple[str, ...]


def open_workspace(settings: Settings) -> Workspace:
    """Return the workspace; one that has never held a car gets the example cars.

    Raises
    ------
    StoreUnavailable
        The database cannot be opened.
    """
    engine = open_database(settings.url, folder=settings.data_folder)
    workspace = Workspace.on(settings, engine)
    with suppress(OSError):  # passwords are kept there, as hashes
        mode = settings.data_folder.stat().st_mode
        if not mode & S_ISVTX:  # a place that many share, such as /tmp
            settings.data_folder.chmod(S_IMODE(mode) & 0o700)
    try:
        if not workspace.cases.summaries() and not workspace.cases.removed():
            for case in reversed(example_cases()):
                with suppress(BadCase):  # another program that was opened just now has added it
                    workspace.cases.add(case)
    except BaseException:
        engine.dispose()
        raise
    return workspace


def add_copy(workspace: Workspace, case: Case) -> StoredCase:
    """Keep a case under an id of its own, whatever its id was."""
    taken = [one.id for one in (*workspace.cases.summaries(), *workspace.cases.removed())]
    own_id = free_id(case.id, taken)
    title = case.title if own_id == case.id else f"{case.title[:190]} (copy)"
    return workspace.cases.add(case.model_copy(update={"id": own_id, "title": title}))


def attach(
    workspace: Workspace, data: bytes, name: str, *, keep_position: bool = False
) -> Attached:
    """Keep a photo or PDF; save it in a case only afterwards, so that none names what is not there.

    Raises
    ------
    BadFile
        It cannot be kept; the words say why and what to do.
    """
    found = checked(data, name, keep_position=keep_position)
    kept = Attachment(
        id=workspace.files.put(found.content, found.media_type, found.thumbnail),
        name=found.name,
        media_type=found.media_type,
        size=len(found.content),
        added_on=today(),
        position_kept=found.position_kept,
    )
    return Attached(kept, found.words)


def attachment(workspace: Workspace, kept: Attachment) -> StoredFile:
    """Return a photo or PDF with its bytes.

    Raises
    ------
    BadFile
        It is not here, as with a case that came from somewhere else, or it is damaged.
    """
    return workspace.files.get(kept.id)


def thumbnails(workspace: Workspace, kept: Iterable[Attachment]) -> dict[str, bytes | None]:
    """Return small pictures by id, None for a PDF; what is not here is left out."""
    return workspace.files.thumbnails(one.id for one in kept)
