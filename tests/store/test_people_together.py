"""The list of people and its log: several programs at once, killed ones, and no room."""

from __future__ import annotations

import errno
import json
import os
import resource
import signal
import stat
import threading
import time
import traceback
from collections import Counter
from collections.abc import Callable
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher

from appraise.accounts import log as people_log
from appraise.accounts import people
from appraise.accounts.log import note, read_log
from appraise.accounts.people import (
    add_person,
    find_person,
    hasher,
    read_people,
    remove_person,
    set_password,
    set_role,
)
from appraise.errors import AppraiseError, StoreUnavailable
from appraise.files import held_file

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")

EACH = 25
FULL = errno.ENOSPC


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an empty data folder; passwords are hashed as weakly as the library lets one."""
    quick = PasswordHash((Argon2Hasher(time_cost=1, memory_cost=8, parallelism=1),))
    monkeypatch.setattr(people, "hasher", lambda: quick)
    return tmp_path


def begin(work: Callable[[], object]) -> int:
    """Begin work in a process of its own; return its number."""
    process = os.fork()
    if process == 0:
        try:
            work()
        except BaseException:  # noqa: BLE001 - nothing may get out into the tests
            traceback.print_exc()
            os._exit(1)
        os._exit(0)
    return process


def at_once(*works: Callable[[], object]) -> None:
    """Do works in processes of their own, all at the same time; each has to come to its end."""
    started = [begin(one) for one in works]
    assert [os.waitpid(one, 0)[1] for one in started] == [0] * len(works)


def names(path: Path) -> list[str]:
    return [one.name for one in read_people(path)]


# --- at once --------------------------------------------------------------------------------------


def test_two_programs_that_change_the_list_lose_nobody_and_no_change(folder: Path) -> None:
    """Each adds people, gives one of them another password, a role, and takes one off."""
    path = folder / "people.toml"
    add_person(path, "Ada", "edit", "four words are long")

    def change(mark: str) -> None:
        for number in range(EACH):
            add_person(path, f"{mark}{number}", "look", None)
            set_password(path, f"{mark}{number}", f"the password of {mark}{number}")
            if number % 5 == 0:
                set_role(path, f"{mark}{number}", "edit")
            if number % 5 == 1:
                remove_person(path, f"{mark}{number}")

    at_once(partial(change, "P"), partial(change, "Q"))
    found = {one.name: one for one in read_people(path)}
    left = {f"{mark}{number}" for mark in "PQ" for number in range(EACH) if number % 5 != 1}
    assert set(found) == left | {"Ada"}
    assert hasher().verify("four words are long", found.pop("Ada").password)
    for name, one in found.items():
        assert hasher().verify(f"the password of {name}", one.password)
        assert one.may_edit == (int(name[1:]) % 5 == 0)
    assert [one.name for one in folder.iterdir()] == ["people.toml"]
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_the_list_can_be_read_while_it_is_changed(folder: Path) -> None:
    path = folder / "people.toml"
    add_person(path, "Ada", "edit", None)

    def change_for_ever() -> None:
        while True:
            add_person(path, "Bo", "look", None)
            remove_person(path, "Bo")

    other = begin(change_for_ever)
    try:
        seen = Counter[int]()
        until = time.monotonic() + 20
        while (seen[1] < EACH or seen[2] < EACH) and time.monotonic() < until:
            found = names(path)
            assert found in (["Ada"], ["Ada", "Bo"])
            seen[len(found)] += 1
    finally:
        os.kill(other, signal.SIGKILL)
        os.waitpid(other, 0)
    assert min(seen[1], seen[2]) >= EACH, "before and after, many times"


def test_four_programs_that_write_the_log_lose_no_line(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It grows over its bound meanwhile, once, and goes on in a new file."""
    path = folder / "people.log"
    line = len(
        json.dumps({"at": "2026-11-27T14:00:00+00:00", "what": "signed in", "who": "P0-000"})
    )
    monkeypatch.setattr(people_log, "LARGEST_LOG", 4 * EACH * 8 * line * 2 // 3)

    def write(mark: int) -> None:
        for number in range(EACH * 8):
            note(path, "signed in", f"P{mark}-{number:03}")

    at_once(*(partial(write, mark) for mark in range(4)))
    found = [one.who for one in read_log(path, 9_999)]
    assert sorted(found) == [
        f"P{mark}-{number:03}" for mark in range(4) for number in range(EACH * 8)
    ]
    for mark in range(4):
        mine = [one for one in found if one.startswith(f"P{mark}")]
        assert mine == sorted(mine, reverse=True), "in their order"
    assert sorted(one.name for one in folder.iterdir()) == ["people.log", "people.log.1"]


def test_a_log_that_two_find_full_is_begun_anew_by_one_of_them(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else the second would put the new one, of one line, in the place of all that was before."""
    path = folder / "people.log"
    monkeypatch.setattr(people_log, "LARGEST_LOG", 1000)
    while not path.exists() or path.stat().st_size < 920:
        note(path, "signed in", "Ada")
    before = len(read_log(path, 99))
    usual = Path.replace
    other: list[int] = []

    def bo() -> None:
        people_log._turn = threading.Lock()  # the one that was copied is held
        note(path, "signed in", "Bo")

    def slowly(self: Path, target: Path) -> Path:
        if not other:
            other.append(begin(bo))
            time.sleep(0.3)
        return usual(self, target)

    monkeypatch.setattr(Path, "replace", slowly)
    note(path, "signed in", "Cy")
    assert os.waitpid(other[0], 0)[1] == 0

    assert sorted(one.who for one in read_log(path, 99)) == ["Ada"] * before + ["Bo", "Cy"]


def test_a_hold_on_what_somebody_else_has_moved_into_place_meanwhile_is_none(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Opened just before another program is done: by now that file is the list itself."""
    path = folder / "people.toml"
    usual = held_file._held
    others: list[None] = []

    def later(handle: int, *, wait: bool) -> bool:
        if not others:
            others.append(None)
            at_once(partial(add_person, path, "Bo", "look", None))
        return usual(handle, wait=wait)

    monkeypatch.setattr(held_file, "_held", later)
    add_person(path, "Ada", "edit", None)
    assert names(path) == ["Bo", "Ada"]


# --- killed ---------------------------------------------------------------------------------------


def killed_at(number: int, work: Callable[[], object]) -> bool:
    """Do work in a process that kills itself before its step of that number; whether it came there.

    Steps are what it does to files; a write is killed with half of it written.
    """

    def in_child() -> None:
        seen = count(1)

        def stepping(name: str, real: Callable[..., Any]) -> Callable[..., Any]:
            def call(*given: Any, **named: Any) -> Any:
                if next(seen) == number:
                    if name == "write":
                        real(given[0], given[1][: len(given[1]) // 2])
                    os.kill(os.getpid(), signal.SIGKILL)
                return real(*given, **named)

            return call

        for name in ("open", "write", "fsync", "replace", "unlink", "ftruncate", "fchmod", "close"):
            setattr(os, name, stepping(name, getattr(os, name)))
        work()

    status = os.waitpid(begin(in_child), 0)[1]
    assert status in (0, signal.SIGKILL)
    return status != 0


def test_killed_while_the_list_is_changed_it_is_the_one_before_or_after_and_can_be_changed(
    folder: Path,
) -> None:
    path = folder / "people.toml"
    found = []
    for number in count(1):
        path.unlink(missing_ok=True)
        add_person(path, "Ada", "edit", "four words are long")
        before = path.read_bytes()
        if not killed_at(number, partial(add_person, path, "Bo", "look", None)):
            break
        found.append(names(path))
        assert found[-1] == ["Ada", "Bo"] or path.read_bytes() == before
        add_person(path, "Cy", "look", None)
        assert names(path) == [*found[-1], "Cy"]
        assert [one.name for one in folder.iterdir()] == ["people.toml"]
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert ["Ada"] in found
    assert ["Ada", "Bo"] in found


@pytest.mark.parametrize("full", [False, True])
def test_killed_while_a_line_is_written_the_log_keeps_all_others(
    folder: Path, monkeypatch: pytest.MonkeyPatch, *, full: bool
) -> None:
    """Also while it is begun anew."""
    path = folder / "people.log"
    found = []
    for number in count(1):
        for one in folder.iterdir():
            one.unlink()
        note(path, "signed in", "Ada")
        if full:
            monkeypatch.setattr(people_log, "LARGEST_LOG", path.stat().st_size)
        if not killed_at(number, partial(note, path, "signed in", "Bo")):
            break
        monkeypatch.undo()
        note(path, "signed in", "Cy")
        found.append([one.who for one in read_log(path, 9)])
        assert found[-1] in (["Cy", "Ada"], ["Cy", "Bo", "Ada"])
    assert ["Cy", "Ada"] in found
    assert ["Cy", "Bo", "Ada"] in found


# --- the disk is full -----------------------------------------------------------------------------


@pytest.mark.parametrize("step", ["write", "fsync", "replace"])
def test_without_room_the_list_stays_and_is_changed_once_there_is(
    folder: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    path = folder / "people.toml"
    add_person(path, "Ada", "edit", None)
    before = path.read_bytes()

    def full(*_: object) -> None:
        raise OSError(FULL, os.strerror(FULL))

    if step == "write":
        monkeypatch.setattr(people, "_text", lambda _: "x" * 70_000)
        soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (4096, hard))
    else:
        monkeypatch.setattr(os, step, full)
    try:
        with pytest.raises(StoreUnavailable, match=r"cannot be written: (No space|File too large)"):
            add_person(path, "Bo", "look", None)
    finally:
        monkeypatch.undo()
        if step == "write":
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert path.read_bytes() == before
    assert [one.name for one in folder.iterdir()] == ["people.toml"]
    add_person(path, "Bo", "look", None)
    assert names(path) == ["Ada", "Bo"]


@pytest.mark.parametrize("room", [0, 1, 30])
def test_without_room_for_a_whole_line_the_log_is_told_and_keeps_all_others(
    folder: Path, room: int
) -> None:
    """The system writes what there is room for, and says only how much that was."""
    path = folder / "people.log"
    note(path, "signed in", "Ada")
    before = path.read_bytes()
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (len(before) + room, hard))
    try:
        with pytest.raises(StoreUnavailable, match="cannot be written"):
            note(path, "signed in", "Bo")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert path.read_bytes() == before
    note(path, "signed in", "Cy")
    assert [one.who for one in read_log(path, 9)] == ["Cy", "Ada"]


# --- somebody else's hold -------------------------------------------------------------------------


def test_a_change_under_way_in_another_program_is_waited_for_and_told_if_it_lasts(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = folder / "people.toml"
    add_person(path, "Ada", "edit", None)
    out, into = os.pipe()

    def slow_change() -> None:
        with people._changing(path) as found:
            os.write(into, b"!")
            time.sleep(0.6)
            found.append(people.Person(name="Bo", role="look"))

    other = begin(slow_change)
    os.read(out, 1)
    monkeypatch.setattr(people, "WAIT", 0.05)
    with pytest.raises(AppraiseError, match=r"just now.*Try again"):
        remove_person(path, "Ada")
    monkeypatch.undo()
    remove_person(path, "Ada")
    assert os.waitpid(other, 0)[1] == 0
    assert find_person(read_people(path), "Bo") is not None
    assert names(path) == ["Bo"]
    os.close(out)
    os.close(into)


def test_a_change_that_is_refused_takes_away_nobody_elses_file(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It deletes its own while it is held: let go of before, it could be another program's."""
    path = folder / "people.toml"
    add_person(path, "Ada", "edit", None)
    usual = Path.unlink
    others: list[int] = []

    def slow_change() -> None:
        with people._changing(path) as found:
            time.sleep(0.5)
            found.append(people.Person(name="Bo", role="look"))

    def later(self: Path, *, missing_ok: bool = False) -> None:
        if not others:
            others.append(begin(slow_change))
            time.sleep(0.2)
        usual(self, missing_ok=missing_ok)

    monkeypatch.setattr(Path, "unlink", later)
    with pytest.raises(AppraiseError, match="there already"):
        add_person(path, "Ada", "edit", None)
    assert os.waitpid(others[0], 0)[1] == 0
    assert names(path) == ["Ada", "Bo"]
