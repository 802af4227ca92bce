"""The commands for the list of people: what they ask, print, keep and refuse."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from appraise import cli
from appraise.accounts.people import hasher
from appraise.services import example_cases
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings
from appraise.store.people import PeopleStore

GOOD = "four words are long"
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Run:
    """Run `appraise people`, with bytes on its standard input."""
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(tmp_path / "data"))

    def go(*arguments: str, given: bytes = b"") -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["appraise", "people", *arguments])
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(given), encoding="utf-8"))
        code = 0
        try:
            cli.main()
        except SystemExit as stopped:
            code = int(stopped.code or 0)
        seen = capsys.readouterr()
        return code, seen.out, seen.err

    return go


def kept() -> PeopleStore:
    return open_workspace(Settings()).people


def test_nothing_is_made_by_looking(run: Run, tmp_path: Path) -> None:
    assert run("list") == (0, "", "")
    assert not (tmp_path / "data").exists()


def test_somebody_is_added_listed_given_a_role_and_removed(run: Run) -> None:
    """By itself the role is the lesser one."""
    added = run("add", "Ada", "--password-stdin", given=f"{GOOD}\n".encode())
    assert added == (0, "Ada may sign in, to look.\n", "")
    assert run("list") == (0, "look  Ada\n", "")
    assert run("role", "ada", "edit") == (0, "Ada may sign in, to edit.\n", "")
    assert run("list") == (0, "edit  Ada\n", "")
    assert run("remove", "Ada") == (0, "Ada may not sign in any more.\n", "")
    assert run("list") == (0, "", "")


@pytest.mark.parametrize("end", [b"", b"\n", b"\r\n", b"\nmore lines\n"])
def test_a_script_hands_over_the_password_as_one_line(run: Run, end: bytes) -> None:
    run("add", "Ada", "--role", "edit", "--password-stdin", given=GOOD.encode() + end)

    (found,) = kept().everybody()
    assert found.role == "edit"
    assert hasher().verify(GOOD, found.password)


def test_another_password_takes_the_place_of_the_old_one(run: Run) -> None:
    run("add", "Ada", "--password-stdin", given=GOOD.encode())
    code, out, _ = run("password", "Ada", "--password-stdin", given=b"some other long words")

    assert (code, out) == (0, "Ada has another password.\n")
    (found,) = kept().everybody()
    assert hasher().verify("some other long words", found.password)
    assert not hasher().verify(GOOD, found.password)


def test_somebody_who_comes_through_the_provider_has_no_password(run: Run) -> None:
    run("add", "ada@example.org", "--role", "edit", "--provider")

    assert run("list")[1] == "edit  ada@example.org  through the provider\n"
    assert kept().everybody()[0].password == ""


@pytest.mark.parametrize(
    ("arguments", "given", "words"),
    [
        (("add", "Ada", "--password-stdin"), b"too short", "password: should have 10 to 256"),
        (("add", "Ada", "--password-stdin"), b"", "password: should have 10 to 256"),
        (("add", "Ada", "--password-stdin"), b"\xff" * 12, "password: is no text in UTF-8"),
        (("add", "A\nb", "--password-stdin"), GOOD.encode(), "NAME: "),
        (("add", "Ada", "--role", "admin", "--provider"), b"", "--role: 'admin' must be look"),
        (("add", "Ada"), GOOD.encode(), "Use --password-stdin"),
        (("remove", "Nobody"), b"", "nobody called 'Nobody'"),
        (("role", "Nobody", "edit"), b"", "nobody called 'Nobody'"),
    ],
)
def test_what_cannot_be_is_one_line_and_changes_nothing(
    run: Run, arguments: tuple[str, ...], given: bytes, words: str
) -> None:
    code, out, said = run(*arguments, given=given)

    assert (code, out) == (2, "")
    assert said.startswith("appraise: ")
    assert words in said
    assert said.count("\n") == 1
    assert (kept().everybody(), kept().noted(9)) == ((), ())


def test_the_log_says_what_was_done_to_the_list_without_passwords(run: Run) -> None:
    run("add", "Ada", "--password-stdin", given=GOOD.encode())
    run("password", "Ada", "--password-stdin", given=b"some other long words")
    run("role", "Ada", "edit")
    run("remove", "Ada")

    noted = kept().noted(9)
    assert GOOD not in repr(noted)
    assert "$argon2" not in repr(noted)
    assert [one.what for one in noted] == ["removed", "role set", "password set", "added"]
    code, out, _ = run("log")
    assert code == 0
    said = [line.split("  ")[1:] for line in out.splitlines()]
    assert [one for one in said if one[0] == "Ada"] == [
        ["Ada", "taken off the list of people"],
        ["Ada", "given another role"],
        ["Ada", "given another password"],
        ["Ada", "put on the list of people"],
    ]
    assert ["-", f"added a car: {example_cases()[0].title}"] in said
    assert len(run("log", "--most", "3")[1].splitlines()) == 3


@pytest.mark.skipif(sys.platform != "linux", reason="needs a terminal of its own")
def test_the_password_is_asked_for_twice_and_not_shown(tmp_path: Path) -> None:
    """A terminal echoes all it is not told to keep; what comes back from it is what was shown."""
    master, slave = os.openpty()
    command = [sys.executable, "-m", "appraise", "people", "add", "Ada", "--role", "edit"]
    environment = {**os.environ, "APPRAISE_DATA_FOLDER": str(tmp_path / "data")}
    shown = b""

    def until(words: bytes) -> None:
        nonlocal shown
        before, deadline = len(shown), time.monotonic() + 60
        while words not in shown[before:]:
            assert time.monotonic() < deadline, shown
            shown += os.read(master, 1024)

    with subprocess.Popen(  # noqa: S603 - our own words only
        command,
        stdin=slave,
        stdout=slave,
        stderr=slave,
        env=environment,
        start_new_session=True,
    ) as asking:
        try:
            until(b"Password: ")
            time.sleep(0.2)  # the echo is turned off around the question
            os.write(master, f"{GOOD}\n".encode())
            until(b"Once more: ")
            time.sleep(0.2)
            os.write(master, f"{GOOD}\n".encode())
            until(b"may sign in, to edit.")
            assert asking.wait(60) == 0
        finally:
            asking.kill()
            os.close(slave)
            os.close(master)
    assert GOOD.encode() not in shown
    (found,) = open_workspace(Settings(data_folder=tmp_path / "data")).people.everybody()
    assert hasher().verify(GOOD, found.password)
