"""A workspace for one person: what may not be saved is refused, and what is saved bears a name.

The places where things are kept are guarded themselves, so that no page can get round it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NoReturn, TypeVar

from appraise.errors import AppraiseError
from appraise.services.records.workspace import Workspace
from appraise.store.cases import CaseStore
from appraise.store.database import Store

__all__ = ["guarded", "may_not"]

WRITES = frozenset(
    {"add", "change", "forget", "forget_unused", "note", "put", "put_back", "remove", "save"}
)
"""The methods that change something, in whatever store they are."""

AnyStore = TypeVar("AnyStore", bound=Store)


def may_not() -> AppraiseError:
    """Return the refusal for somebody who may look and not change."""
    return AppraiseError(
        "you may look, not change",
        hint="Ask whoever keeps the list of people for the role edit.",
    )


def _refuse(*_given: object, **_named: object) -> NoReturn:
    raise may_not()


def _looked_at(store: AnyStore) -> AnyStore:
    """Return a store in which every way of changing something is refused."""
    kind = type(store)
    refused = {name: _refuse for name in WRITES if hasattr(kind, name)}
    found: AnyStore = type(kind.__name__, (kind,), refused)(store._engine, store._now)  # noqa: SLF001 - the same store, guarded
    return found


def guarded(workspace: Workspace, who: str, *, may_edit: bool) -> Workspace:
    """Return the workspace as one person has it.

    Parameters
    ----------
    who : name for the history of every case saved.
    may_edit : without it, all that would change something raises `AppraiseError`.
    """
    if may_edit:
        cases = workspace.cases
        return replace(workspace, cases=CaseStore(cases._engine, cases._now, who=who))  # noqa: SLF001 - the same store
    return Workspace(
        workspace.settings,
        _looked_at(workspace.cases),
        _looked_at(workspace.preferences),
        _looked_at(workspace.files),
        _looked_at(workspace.history),
        _looked_at(workspace.own_values),
        _looked_at(workspace.people),
    )
