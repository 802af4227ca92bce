"""What was changed in a case, when and by whom; going back to what it was."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from itertools import islice, pairwise

from appraise.errors import AppraiseError
from appraise.models.case import Case
from appraise.services.cases.editing import differences
from appraise.services.records.workspace import Workspace
from appraise.store.history import SavedVersion

__all__ = ["Change", "as_it_was", "changes_of", "readable_versions"]

MOST_SHOWN = 15
PLUMBING = ("schema version",)


@dataclass(frozen=True, slots=True)
class Change:
    """One save of a case.

    Attributes
    ----------
    who : name of the person; empty where nobody signed in.
    what : added, saved, gone back, removed, put back, kept.
    fields : which in words, before and after of each field that it changed; None if what was before
        it is not kept or cannot be read.
    """

    version: int
    saved_at: datetime
    who: str
    what: str
    fields: tuple[tuple[str, str, str], ...] | None


def changes_of(workspace: Workspace, case_id: str, most: int = MOST_SHOWN) -> tuple[Change, ...]:
    """Return the last saves of a case, the newest first, with the fields that each changed."""
    kept = workspace.history.versions(case_id, most + 1)
    cases = [_read(workspace, case_id, one.version) for one in kept]
    out = []
    for at, ((new, newer), (old, older)) in enumerate(
        pairwise([*zip(kept, cases, strict=True), (None, None)])
    ):
        if new is None or at >= most:
            break
        fields = None
        if newer is not None and older is not None and old is not None:
            fields = tuple(
                one for one in differences(older, newer) if not one[0].startswith(PLUMBING)
            )
        out.append(Change(new.version, new.saved_at, new.who, new.what, fields))
    return tuple(out)


def _read(workspace: Workspace, case_id: str, version: int) -> Case | None:
    try:
        return workspace.history.load(case_id, version)
    except AppraiseError:
        return None


def readable_versions(
    workspace: Workspace, case_id: str, most: int = MOST_SHOWN
) -> tuple[SavedVersion, ...]:
    """Return the last saves of a case that can be gone back to, the newest first."""
    kept = workspace.history.versions(case_id)
    return tuple(
        islice((one for one in kept if _read(workspace, case_id, one.version) is not None), most)
    )


def as_it_was(workspace: Workspace, case_id: str, version: int) -> Case:
    """Return a case as it was, to be saved as a new version: what came since stays to be seen.

    Raises
    ------
    CaseNotFound, NewerSchema, BadCase
        That version is not kept, or cannot be read.
    """
    return workspace.history.load(case_id, version)
