"""Who did what, in one list: saves of every car, who came and went, settings and backups."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from appraise.services.records.workspace import Workspace

__all__ = ["Doing", "doings"]

CAR_WORDS = {
    "added": "added a car",
    "saved": "changed a car",
    "gone back": "went back to an earlier version of a car",
    "removed": "took a car off the list",
    "put back": "put a car back on the list",
    "kept": "history of a car began",
}
OTHER_WORDS = {
    "added": "put on the list of people",
    "removed": "taken off the list of people",
    "password set": "given another password",
    "role set": "given another role",
}


@dataclass(frozen=True, slots=True)
class Doing:
    """One thing that was done.

    Attributes
    ----------
    at : when, with its time zone.
    who : name of the person, or whom it was done to on the list of people; empty where nobody had
        signed in.
    what : in words.
    car : title of the car, empty if it was about none.
    came_from : address in the network, empty for this machine.
    """

    at: datetime
    who: str
    what: str
    car: str = ""
    came_from: str = ""


def doings(workspace: Workspace, most: int = 200) -> tuple[Doing, ...]:
    """Return what was done last, the newest first.

    What is older than history is kept for is in no list any more.

    Raises
    ------
    StoreUnavailable
        The database cannot be read.
    """
    cars = [
        Doing(one.saved_at, one.who, CAR_WORDS.get(one.what, one.what), one.title)
        for one in workspace.history.latest(most)
    ]
    others = [
        Doing(one.at, one.who, OTHER_WORDS.get(one.what, one.what), came_from=one.came_from)
        for one in workspace.people.noted(most)
    ]
    return tuple(sorted([*cars, *others], key=lambda one: one.at, reverse=True)[:most])
