"""What is forgotten in time, and what no clock and no save at that very moment may take away."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, event

from appraise.models.case import Case
from appraise.services.records.tidying import tidy
from appraise.services.records.workspace import Workspace
from appraise.settings import Settings
from appraise.store.cases import CaseStore
from appraise.store.files import FileStore
from appraise.store.history import LEAST_DAYS, HistoryStore
from appraise.store.own_values import OwnValuesStore
from appraise.store.people import PeopleStore
from appraise.store.preferences import PreferenceStore

BEGIN = datetime(2026, 1, 1, tzinfo=UTC)
YEAR = 365


def titled(case: Case, title: str) -> Case:
    return case.model_copy(update={"title": title})


def day(number: int) -> datetime:
    return BEGIN + timedelta(days=number)


@pytest.fixture
def at(engine: Engine) -> Callable[[int], CaseStore]:
    """Return the store as it is used on a day."""
    return lambda number: CaseStore(engine, now=lambda: day(number))


@pytest.fixture
def forget(engine: Engine) -> Callable[[int, int], int]:
    """Forget on a day what was replaced so many days before."""
    return lambda number, days: HistoryStore(engine, now=lambda: day(number)).forget(days)


@pytest.fixture
def busy(engine: Engine, small_case: Case) -> Callable[[int, int], None]:
    """Use the program every day from one to another: somebody saves another car."""
    case = small_case.model_copy(update={"id": "busy"})

    def use(first: int, last: int) -> None:
        store = CaseStore(engine)
        known = {one.id: one.version for one in store.summaries()}
        version = known.get("busy", 0)
        for number in range(first, last + 1):
            store = CaseStore(engine, now=lambda number=number: day(number))  # type: ignore[misc]
            version = (store.save(case, version) if version else store.add(case)).version

    return use


def versions(engine: Engine, case: Case) -> list[int]:
    return [one.version for one in HistoryStore(engine).versions(case.id)]


# --- in time --------------------------------------------------------------------------------------


def test_old_versions_are_forgotten_and_the_present_one_never(
    engine: Engine, at: Any, forget: Any, busy: Any, small_case: Case
) -> None:
    at(0).add(small_case)
    at(0).save(titled(small_case, "Second"), 1)
    busy(1, 61)

    assert forget(60, 60) == 0
    assert forget(61, 60) == 1
    assert versions(engine, small_case) == [2]
    assert CaseStore(engine).load(small_case.id).case.title == "Second"
    assert forget(61, 60) == 0


def test_what_stood_for_years_is_kept_for_as_long_after_it_was_replaced(
    engine: Engine, at: Any, forget: Any, busy: Any, small_case: Case
) -> None:
    """Spoilt on day 80, found out on day 81: how old the good version is says nothing."""
    at(0).add(small_case)
    busy(1, 80)
    at(80).save(titled(small_case, "Spoilt"), 1)
    busy(81, 141)

    forget(81, 60)
    assert HistoryStore(engine).load(small_case.id, 1) == small_case
    forget(140, 60)
    assert HistoryStore(engine).load(small_case.id, 1) == small_case
    forget(141, 60)
    assert versions(engine, small_case) == [2]


def test_what_was_removed_can_be_undone_for_thirty_days_at_least(
    engine: Engine, at: Any, forget: Any, busy: Any, small_case: Case
) -> None:
    """Whoever sets the retention lower gets thirty days all the same."""
    at(0).add(small_case)
    at(0).remove(small_case.id, 1)
    busy(1, LEAST_DAYS)
    forget(LEAST_DAYS, 1)
    at(LEAST_DAYS).put_back(small_case.id)
    assert at(LEAST_DAYS).load(small_case.id).case == small_case
    at(LEAST_DAYS).remove(small_case.id, 3)
    busy(LEAST_DAYS + 1, 2 * LEAST_DAYS + 1)

    assert forget(2 * LEAST_DAYS, 1) > 0
    assert [one.id for one in CaseStore(engine).removed()] == [small_case.id]
    assert forget(2 * LEAST_DAYS + 1, 1) > 0
    assert CaseStore(engine).removed() == ()
    assert versions(engine, small_case) == []


# --- the clock ------------------------------------------------------------------------------------


def test_a_clock_that_jumps_ahead_makes_nothing_old(
    engine: Engine, at: Any, forget: Any, busy: Any, small_case: Case
) -> None:
    """Not even if it stays so for two weeks of work."""
    at(0).add(small_case)
    busy(1, 10)
    at(10).save(titled(small_case, "Second"), 1)
    at(10).remove(small_case.id, 2)
    for number in range(14):
        busy(10 * YEAR + number, 10 * YEAR + number)
        forget(10 * YEAR + number, 1)

    assert versions(engine, small_case) == [3, 2, 1]
    at(11).put_back(small_case.id)
    assert at(11).load(small_case.id).case.title == "Second"


def test_a_car_removed_while_the_clock_was_behind_is_not_old_once_it_is_right(
    engine: Engine, at: Any, forget: Any, busy: Any, small_case: Case
) -> None:
    at(0).add(small_case)
    busy(1, 100)
    at(100).save(titled(small_case, "Second"), 1)
    at(-50 * YEAR).save(titled(small_case, "Third"), 2)
    at(-50 * YEAR).remove(small_case.id, 3)
    busy(101, 102)

    forget(102, 1)
    assert versions(engine, small_case) == [4, 3, 2, 1]
    at(102).put_back(small_case.id)
    assert at(102).load(small_case.id).case.title == "Third"


def test_a_long_rest_counts_for_a_week(at: Any, forget: Any, busy: Any, small_case: Case) -> None:
    at(0).add(small_case)
    at(0).save(titled(small_case, "Second"), 1)
    busy(1, 53)
    busy(53 + YEAR, 53 + YEAR)

    assert forget(53 + YEAR, 60) == 0
    assert forget(53 + YEAR, 59) == 1


def test_a_database_in_which_little_was_saved_forgets_nothing(
    engine: Engine, at: Any, forget: Any, small_case: Case
) -> None:
    at(0).add(small_case)
    at(0).save(titled(small_case, "Second"), 1)

    assert forget(YEAR, 30) == 0
    assert HistoryStore(engine).line(30) is None
    assert versions(engine, small_case) == [2, 1]


# --- at that very moment --------------------------------------------------------------------------


def before(engine: Engine, words: str, then: Callable[[], object]) -> list[object]:
    """Do something once, just before the first statement that begins with these words."""
    done: list[object] = []

    @event.listens_for(engine, "before_cursor_execute")
    def _(_1: Any, _2: Any, statement: str, *_rest: Any) -> None:
        if statement.startswith(words) and not done:
            done.append(None)
            done.append(then())

    return done


def test_a_car_put_back_while_it_is_forgotten_is_put_back_or_told(
    engine: Engine, opened: Callable[..., Engine], url: str, at: Any, busy: Any, small_case: Case
) -> None:
    """The other window's put-back waits for the end, or comes first: it never says so falsely."""
    at(0).add(small_case)
    at(0).remove(small_case.id, 1)
    busy(1, LEAST_DAYS + 1)
    other = CaseStore(opened(url, wait_seconds=0.2))
    said: list[str] = []

    def put_back() -> None:
        try:
            other.put_back(small_case.id)
        except Exception as error:  # noqa: BLE001 - whatever it is, it is told
            said.append(str(error))
        else:
            said.append("put back")

    done = before(engine, "DELETE", put_back)
    HistoryStore(engine, now=lambda: day(LEAST_DAYS + 1)).forget(1)

    assert done
    here = [one.id for one in CaseStore(engine).summaries()]
    assert (said == ["put back"]) == (small_case.id in here)


@dataclass
class Days:
    """A clock that is set by days."""

    number: int = 100

    def __call__(self) -> datetime:
        return day(self.number)


@pytest.fixture
def clock_of_days() -> Days:
    return Days()


@pytest.fixture
def workspace(engine: Engine, tmp_path: Path, clock_of_days: Days) -> Workspace:
    return Workspace(
        Settings(data_folder=tmp_path / "data"),
        CaseStore(engine),
        PreferenceStore(engine),
        FileStore(engine),
        HistoryStore(engine, now=clock_of_days),
        OwnValuesStore(engine),
        PeopleStore(engine),
    )


def naming(case: Case, file_id: str) -> Case:
    one = {
        "id": file_id,
        "name": "a.pdf",
        "media_type": "application/pdf",
        "size": 10,
        "added_on": "2026-01-01",
    }
    paper = {"id": "p", "kind": "invoice", "attachments": [one]}
    return Case.model_validate(case.model_dump() | {"papers": [paper]})


def test_a_photo_that_a_removed_car_or_an_old_version_names_is_not_forgotten(
    engine: Engine, workspace: Workspace, busy: Any, at: Any, small_case: Case
) -> None:
    """All were kept long ago; the third is named by nothing."""
    busy(1, 100)
    long_ago = FileStore(engine, now=lambda: day(-YEAR))
    ids = [long_ago.put(b"%PDF " + bytes([65 + at]), "application/pdf", None) for at in range(3)]
    at(90).add(naming(small_case, ids[0]))
    at(91).save(naming(small_case, ids[1]), 1)
    at(92).remove(small_case.id, 2)
    tidy(workspace)

    assert set(workspace.files.thumbnails(ids)) == set(ids[:2])


def test_a_photo_that_a_car_names_at_that_very_moment_stays(
    engine: Engine, workspace: Workspace, busy: Any, small_case: Case
) -> None:
    """As when a car comes back from a file, after its photo had been kept long for nobody."""
    busy(1, 100)
    store = FileStore(engine, now=lambda: day(2))
    wanted = store.put(b"%PDF-1.4 a", "application/pdf", None)
    unwanted = store.put(b"%PDF-1.4 b", "application/pdf", None)
    case = naming(small_case, wanted)
    done = before(engine, "SELECT files.id", lambda: CaseStore(engine).add(case))

    assert tidy(workspace, 30)[1] == 1
    assert done
    assert set(workspace.files.thumbnails([wanted, unwanted])) == {wanted}


def test_a_photo_just_added_outlives_a_clock_that_jumps_ahead(
    engine: Engine, workspace: Workspace, clock_of_days: Days, busy: Any
) -> None:
    """Its form is open and not saved yet."""
    busy(1, 20)
    kept = FileStore(engine, now=lambda: day(20)).put(b"%PDF-1.4 a", "application/pdf", None)
    clock_of_days.number = 10 * YEAR
    assert tidy(workspace)[1] == 0
    assert workspace.files.thumbnails([kept])

    busy(21, 21 + LEAST_DAYS)
    clock_of_days.number = 21 + LEAST_DAYS
    assert tidy(workspace)[1] == 1
