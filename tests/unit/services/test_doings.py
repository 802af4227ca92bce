"""One list of who did what, from the history of the cars and the log of people."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any, cast, get_args

import pytest

from appraise.services.records import doings as module
from appraise.services.records.doings import Doing, doings
from appraise.services.records.workspace import Workspace
from appraise.store.history import CarSaved
from appraise.store.people import Event, Noted

NOON = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)


def at(minute: int) -> datetime:
    return NOON + timedelta(minutes=minute)


@pytest.fixture
def place() -> Workspace:
    """Return a workspace of two saves, and a log of three lines between them."""
    saves = (
        CarSaved("a", "Blue estate", at(9), "Ada", "saved"),
        CarSaved("a", "Blue estate", at(1), "", "added"),
    )
    lines = (
        Noted(at(10), "backup put back", ""),
        Noted(at(5), "wrong password", "Bo", "192.0.2.7"),
        Noted(at(0), "added", "Ada"),
    )
    made = SimpleNamespace(
        history=SimpleNamespace(latest=lambda most: saves[:most]),
        people=SimpleNamespace(noted=lambda most: lines[:most]),
    )
    return cast("Workspace", made)


def test_both_come_in_one_order_the_newest_first(place: Workspace) -> None:
    assert doings(place) == (
        Doing(at(10), "", "backup put back"),
        Doing(at(9), "Ada", "changed a car", "Blue estate"),
        Doing(at(5), "Bo", "wrong password", came_from="192.0.2.7"),
        Doing(at(1), "", "added a car", "Blue estate"),
        Doing(at(0), "Ada", "put on the list of people"),
    )


@pytest.mark.parametrize("most", [0, 1, 3, 5, 99])
def test_no_more_than_were_asked_for_and_those_the_newest(place: Workspace, most: int) -> None:
    assert doings(place, most) == doings(place)[:most]


def test_adding_a_car_and_adding_a_person_are_told_apart() -> None:
    words: dict[Any, str] = {**module.OTHER_WORDS}
    assert set(words) <= set(get_args(Event))
    assert not set(module.CAR_WORDS.values()) & set(words.values())
