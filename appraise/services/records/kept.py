"""Cars that are kept in the database, by name, for the command line."""

from __future__ import annotations

from dataclasses import dataclass

from appraise.errors import BadCase, CaseNotFound, NewerSchema
from appraise.models.case import Case
from appraise.services.cases.casework import example_cases
from appraise.services.records.workspace import Workspace, open_workspace
from appraise.settings import Settings
from appraise.store.cases import SaleRecord

__all__ = ["KeptCar", "kept_car", "kept_cars", "kept_sales"]


@dataclass(frozen=True, slots=True)
class KeptCar:
    """A car in the list.

    Attributes
    ----------
    name : what a command takes for it: its id, or its title where an example has that id.
    wrong : why it cannot be read; empty if it can.
    """

    name: str
    title: str
    standing: str
    wrong: str = ""


def kept_cars(settings: Settings) -> tuple[KeptCar, ...]:
    """Return the cars that are kept, as the list on the screens has them; none where none ever was.

    Raises
    ------
    StoreUnavailable
        The database cannot be opened.
    """
    examples = {one.id for one in example_cases()}
    workspace = _opened(settings)
    if workspace is None:
        return ()
    return tuple(
        KeptCar(
            one.title if one.id in examples else one.id,
            one.title,
            one.standing.replace("_", " "),
            _wrong(workspace, one.id),
        )
        for one in workspace.cases.summaries()
    )


def _wrong(workspace: Workspace, case_id: str) -> str:
    try:
        workspace.cases.load(case_id)
    except (BadCase, NewerSchema) as error:
        return str(error)
    return ""


def kept_car(settings: Settings, name: str) -> Case | None:
    """Return a car that is kept, by its id or by its title, capitals alike; None if there is none.

    Raises
    ------
    CaseNotFound
        Several cars have that title.
    BadCase, NewerSchema, StoreUnavailable
        It cannot be read.
    """
    workspace = _opened(settings)
    if workspace is None:
        return None
    listed = workspace.cases.summaries()
    found = [one for one in listed if one.id == name] or [
        one for one in listed if one.title.casefold() == name.casefold()
    ]
    if not found:
        return None
    if len(found) > 1:
        raise CaseNotFound(
            f"is the title of {len(found)} cars",
            where=name,
            hint=f"Say which: {', '.join(one.id for one in found)}",
        )
    return workspace.cases.load(found[0].id).case


def kept_sales(settings: Settings) -> tuple[SaleRecord, ...]:
    """Return the cars offered or sold, of a database that is there.

    Raises
    ------
    StoreUnavailable
        The database cannot be opened.
    """
    return open_workspace(settings).cases.sales()


def _opened(settings: Settings) -> Workspace | None:
    """Return what is kept, without making a database where there is none."""
    return open_workspace(settings) if settings.has_database else None
