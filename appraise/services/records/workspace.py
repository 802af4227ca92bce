"""A person's cars and preferences, kept in a database, and their own values in a file."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from threading import Lock
from typing import Any

import tomli_w

from appraise.errors import AppraiseError, BadCase, CaseChangedElsewhere, StoreUnavailable
from appraise.files.whole_files import write_whole
from appraise.given import file_text
from appraise.intake.files import checked
from appraise.models.case import Case
from appraise.models.files import Attachment
from appraise.reference.load import LARGEST_OWN, Reference, check_own_values
from appraise.services.cases.casework import example_cases, today
from appraise.services.cases.editing import free_id
from appraise.services.records.own_back import finish_putting_back
from appraise.settings import Settings
from appraise.store.cases import CaseStore, StoredCase
from appraise.store.database import open_database
from appraise.store.files import FileStore, StoredFile
from appraise.store.history import HistoryStore
from appraise.store.preferences import PreferenceStore

__all__ = [
    "Attached",
    "Workspace",
    "add_copy",
    "attach",
    "attachment",
    "open_workspace",
    "own_entry",
    "own_text",
    "save_own_text",
    "thumbnails",
]


_one_at_a_time = Lock()


@dataclass(frozen=True, slots=True)
class Workspace:
    """Everything of one person that is kept."""

    settings: Settings
    cases: CaseStore
    preferences: PreferenceStore
    files: FileStore
    history: HistoryStore


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
        The database cannot be opened; or a restore was killed, and its last step fails again.
    """
    engine = open_database(settings.url)
    workspace = Workspace(
        settings,
        CaseStore(engine),
        PreferenceStore(engine),
        FileStore(engine),
        HistoryStore(engine),
    )
    try:
        finish_putting_back(engine, settings.own_values)
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


def own_text(path: Path) -> str:
    """Return the text of the own values, empty if there is none."""
    if not path.exists():
        return ""
    return file_text(path, LARGEST_OWN)


def save_own_text(path: Path, text: str, *, read: str | None = None) -> Reference:
    """Keep own values if they hold together with the rest; return the reference they give.

    Parameters
    ----------
    read : what was kept before the change, as it was read.

    Raises
    ------
    BadReference
        They do not; nothing is written.
    CaseChangedElsewhere
        They were saved by somebody else since they were read.
    StoreUnavailable
        The file cannot be written.
    """
    reference = check_own_values(text)
    with _one_at_a_time:
        if read is not None and own_text(path) != read:
            raise CaseChangedElsewhere(
                "your own values were saved elsewhere after they were opened here",
                where=str(path),
                hint="Look at what is kept now, and choose.",
            )
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            write_whole(path, text.encode())
        except OSError as error:
            said = error.strerror or error
            raise StoreUnavailable(f"cannot be written: {said}", where=str(path)) from error
    return reference


def own_entry(reference: Reference, entry_id: str) -> str:
    """Return a value or job as text for the own file, to be changed there.

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
