"""People and their log: several programs at once, all or nothing, taken over from their files."""

from __future__ import annotations

import os
import sqlite3
import stat
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import Engine, event

from appraise.errors import AppraiseError, StoreUnavailable
from appraise.models.people import Person
from appraise.services.records.backup import restore, write_backup
from appraise.services.records.workspace import Workspace, open_workspace
from appraise.settings import Settings
from appraise.store import people as module
from appraise.store.database import transaction
from appraise.store.own_values import OwnValuesStore
from appraise.store.people import Noted, PeopleStore

OLD = (Path(__file__).parent / "old" / "0003.sql").read_text(encoding="utf-8")
HASH = "$argon2id$v=19$m=65536,t=3,p=4$c2FsdA$aGFzaA"
ADA, BO = Person(name="Ada", role="edit", password=HASH), Person(name="Bo", role="look")
EACH = 8


@pytest.fixture
def people(engine: Engine) -> PeopleStore:
    return PeopleStore(engine)


def names(people: PeopleStore) -> list[str]:
    return [one.name for one in people.everybody()]


def notes(people: PeopleStore) -> list[tuple[str, str]]:
    return [(one.what, one.who) for one in people.noted(99)]


def test_people_come_and_go_and_the_log_says_so(people: PeopleStore) -> None:
    assert (people.everybody(), people.find("Ada"), people.noted(9)) == ((), None, ())
    assert people.add(BO)
    assert people.add(ADA)
    assert not people.add(Person(name=" ADA ", role="look"))
    assert people.everybody() == (ADA, BO)
    assert people.find("\uff21da") == ADA
    changed = people.change("bo", "role set", role="edit")
    assert changed == people.find("Bo") == BO.model_copy(update={"role": "edit"})
    assert people.remove("ADA") == ADA
    assert (people.remove("Ada"), people.change("Ada", "role set", role="look")) == (None, None)

    assert names(people) == ["Bo"]
    assert notes(people) == [
        ("removed", "Ada"),
        ("role set", "Bo"),
        ("added", "Ada"),
        ("added", "Bo"),
    ]


@pytest.mark.parametrize("name", ["", "a\0b", "\ud800", "'; DROP TABLE people; --"])
def test_whatever_is_typed_for_a_name_is_looked_for(people: PeopleStore, name: str) -> None:
    people.add(ADA)

    assert people.find(name) is None
    assert names(people) == ["Ada"]


def test_several_programs_that_change_the_list_lose_nobody_and_no_change(
    url: str, opened: Callable[..., Engine]
) -> None:
    """Each adds people, gives one of them another password, a role, and takes one off."""
    stores = [PeopleStore(opened(url)) for _ in range(3)]

    def change(mark: int) -> None:
        for number in range(EACH):
            name = f"P{mark}-{number}"
            assert stores[mark].add(Person(name=name, role="look"))
            stores[mark].change(name, "password set", password=f"{HASH}{name}")
            if number % 4 == 0:
                stores[mark].change(name, "role set", role="edit")
            if number % 4 == 1:
                stores[mark].remove(name)

    with ThreadPoolExecutor(len(stores)) as pool:
        list(pool.map(change, range(len(stores))))
    found = {one.name: one for one in stores[0].everybody()}
    assert set(found) == {f"P{mark}-{at}" for mark in range(3) for at in range(EACH) if at % 4 != 1}
    for name, one in found.items():
        assert (one.password, one.may_edit) == (f"{HASH}{name}", int(name[3:]) % 4 == 0)
    assert len(stores[0].noted(999)) == 3 * EACH * 2 + 3 * EACH // 2
    for mark in range(3):
        added = [who for what, who in notes(stores[0]) if what == "added" and who[1] == str(mark)]
        assert added == [f"P{mark}-{number}" for number in reversed(range(EACH))], "in their order"


def test_of_several_that_take_one_name_one_has_it(url: str, opened: Callable[..., Engine]) -> None:
    stores = [PeopleStore(opened(url)) for _ in range(4)]
    with ThreadPoolExecutor(len(stores)) as pool:
        assert sum(pool.map(lambda one: one.add(ADA), stores)) == 1
    assert notes(stores[0]) == [("added", "Ada")]


def test_a_change_that_cannot_be_noted_is_not_made(people: PeopleStore) -> None:
    people.add(ADA)

    @event.listens_for(people._engine, "before_cursor_execute", retval=True)
    def _(
        _1: object, _2: object, statement: str, given: object, *_rest: object
    ) -> tuple[str, object]:
        return statement.replace("INSERT INTO people_log", "INSERT INTO no_such_table"), given

    for work in (
        lambda: people.add(BO),
        lambda: people.change("Ada", "role set", role="look"),
        lambda: people.remove("Ada"),
        lambda: people.note("signed in", "Ada"),
    ):
        with pytest.raises(StoreUnavailable):
            work()
    assert people.everybody() == (ADA,)
    assert notes(people) == [("added", "Ada")]


def test_the_log_gives_back_what_it_was_given(people: PeopleStore) -> None:
    for name in ('"}\n{"what": "signed in"}', "\u2028", "\x1b[2J", "Zoë"):
        people.note("wrong password", name, "192.0.2.7")
        (last,) = people.noted(1)
        assert (last.what, last.who, last.came_from) == ("wrong password", name, "192.0.2.7")
        assert abs((datetime.now(UTC) - last.at).total_seconds()) < 60


def test_the_log_never_grows_beyond_its_bound(
    people: PeopleStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert module.MOST_NOTES == 100_000
    monkeypatch.setattr(module, "MOST_NOTES", 5)
    for number in range(12):
        people.note("signed in", f"P{number}")
    assert [one.who for one in people.noted(99)] == ["P11", "P10", "P9", "P8", "P7"]
    assert [one.who for one in people.noted(2)] == ["P11", "P10"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("role = 'owner'", "role"),
        ("password = 's3cret'", "no Argon2id hash"),
        ("name = ''", "name"),
    ],
)
def test_people_that_another_program_spoiled_are_refused_in_one_line(
    people: PeopleStore, change: str, words: str
) -> None:
    people.add(ADA)
    with transaction(people._engine) as connection:
        connection.exec_driver_sql(f"UPDATE people SET {change}")  # noqa: S608 - our own
    for look in (people.everybody, lambda: people.find("Ada")):
        with pytest.raises(AppraiseError, match=words) as caught:
            look()
        assert str(caught.value).isprintable()
        assert "s3cret" not in str(caught.value)


def test_neither_is_in_a_backup_and_a_restore_leaves_them(engine: Engine, tmp_path: Path) -> None:
    """Whoever hands on a backup hands on no hash; whoever puts one back locks nobody out."""
    workspace = Workspace.on(Settings(data_folder=tmp_path / "data"), engine)
    workspace.people.add(ADA)
    write_backup(workspace, tmp_path / "all.zip")
    workspace.people.add(BO)
    restore(workspace, tmp_path / "all.zip", over=True)

    assert names(workspace.people) == ["Ada", "Bo"]
    assert notes(workspace.people) == [("added", "Bo"), ("added", "Ada")]


# --- taken over -----------------------------------------------------------------------------------

LISTED = f"""
[[person]]
name = "Bo"
role = "look"

[[person]]
name = "Ada"
role = "edit"
password = "{HASH}"
"""
LINE = '{"at": "2026-03-04T05:06:0%d+01:00", "what": "%s", "who": "%s", "from": "%s"}\n'


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """Return the data folder of the program before, with people and their log in files."""
    folder = tmp_path / "data"
    folder.mkdir()
    with sqlite3.connect(folder / "cases.sqlite") as connection:
        connection.executescript(OLD)
    connection.close()
    (folder / "people.toml").write_text(LISTED)
    (folder / "people.toml").chmod(0o600)
    (folder / "people.log.1").write_text(LINE % (1, "added", "Ada", ""))
    (folder / "people.log").write_text(
        LINE % (2, "signed in", "Ada", "192.0.2.7")
        + 'not json\n[]\n{"at": "yesterday"}\n'
        + LINE % (3, "unknown name", "\\u0000\\ud800", "")
        + '{"at": "2026-01-01T00:00:0'
    )
    return folder


def opened_anew(folder: Path) -> PeopleStore:
    return open_workspace(Settings(data_folder=folder, database_url="")).people


def test_the_files_of_an_older_program_are_taken_over(old: Path) -> None:
    people = opened_anew(old)

    assert people.everybody() == (ADA, BO)
    at = datetime(2026, 3, 4, 4, 6, 1, tzinfo=UTC)
    assert people.noted(9) == (
        Noted(at.replace(second=3), "unknown name", "\ufffd?"),
        Noted(at.replace(second=2), "signed in", "Ada", "192.0.2.7"),
        Noted(at, "added", "Ada"),
    )
    assert sorted(one.name for one in old.glob("people*")) == [
        "people.log.1.old",
        "people.log.old",
        "people.toml.old",
    ]
    people.note("signed out", "Ada")
    assert people.noted(1)[0].what == "signed out"


def test_they_are_taken_over_into_either_database(
    old: Path, url: str, opened: Callable[..., Engine]
) -> None:
    (old / "own_values.toml").write_text("# mine\n")
    engine = opened(url, folder=old)

    assert PeopleStore(engine).everybody() == (ADA, BO)
    assert [one.what for one in PeopleStore(engine).noted(2)] == ["unknown name", "signed in"]
    PeopleStore(engine).note("signed out", "Ada")
    assert OwnValuesStore(engine).load() == "# mine\n"
    OwnValuesStore(engine).save("# newer\n", read="# mine\n")


@pytest.mark.skipif(os.name != "posix", reason="permission bits are of POSIX")
@pytest.mark.parametrize("mode", [0o644, 0o640, 0o604, 0o620, 0o602])
def test_a_list_that_others_can_read_or_change_is_not_taken_over(old: Path, mode: int) -> None:
    (old / "people.toml").chmod(mode)
    with pytest.raises(AppraiseError, match=r"by others on this machine.* chmod 600 "):
        opened_anew(old)
    (old / "people.toml").chmod(0o600)
    assert names(opened_anew(old)) == ["Ada", "Bo"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[person", "no list of people"),
        ('[[person]]\nname = "Ada"\nrole = "owner"\n', "role"),
        ('[[person]]\nname = "Ada"\nrole = "edit"\npassword = "s3cret"\n', "no Argon2id hash"),
        ('[[person]]\nname = "Ada"\nrole = "edit"\nmay = "all"\n', "may"),
        ('[[person]]\nname = "A\\u0007"\nrole = "edit"\n', "cannot be seen"),
        ('[[person]]\nname = "Ada"\nrole = "edit"\n' * 2, "twice"),
        ("person = 3\n", "no list of people"),
        ("a = " + "[\n" * 100_000, "people"),
        ("a" * 2**25, r"people\.toml: is larger than"),
    ],
    ids=lambda text: text[:20],
)
def test_a_list_that_is_wrong_is_told_in_one_line_and_taken_over_in_no_part(
    old: Path, text: str, words: str
) -> None:
    (old / "people.toml").write_text(text)
    with pytest.raises(AppraiseError, match=words) as caught:
        opened_anew(old)
    assert str(caught.value).isprintable()
    assert "s3cret" not in str(caught.value)
    assert not list(old.glob("*.old"))
    (old / "people.toml").write_text(LISTED)
    assert names(opened_anew(old)) == ["Ada", "Bo"]


@pytest.mark.skipif(os.name != "posix", reason="permission bits are of POSIX")
@pytest.mark.parametrize(("before", "after"), [(0o755, 0o700), (0o550, 0o500), (0o1777, 0o1777)])
def test_nobody_else_on_this_machine_may_look_into_the_data_folder(
    old: Path, before: int, after: int
) -> None:
    """The hashes are in the database there; a place that many share is left as it is."""
    opened_anew(old)
    old.chmod(before)
    opened_anew(old)
    assert stat.S_IMODE(old.stat().st_mode) == after
    old.chmod(0o700)
    made = old / "made" / "anew"
    opened_anew(made)
    assert stat.S_IMODE(made.stat().st_mode) == 0o700
