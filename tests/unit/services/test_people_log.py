"""The log of who came and went: a line each, bounded, read back newest first."""

from __future__ import annotations

import json
import os
import stat
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from appraise.accounts import log as people_log
from appraise.accounts.log import note, read_log
from appraise.errors import StoreUnavailable


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "data" / "people.log"


def test_each_event_is_one_json_object_on_a_line_of_its_own(path: Path) -> None:
    note(path, "signed in", "Ada", "192.0.2.7")
    note(path, "signed out", "Ada")

    rows = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    assert [set(row) for row in rows] == [{"at", "what", "who", "from"}] * 2
    at = datetime.fromisoformat(rows[0]["at"])
    assert abs(at - datetime.now(UTC)) < timedelta(minutes=1)


@pytest.mark.parametrize("name", ['"}\n{"what": "signed in"}', "\u2028", "\r\n", "\x1b[2J", "Zoë"])
def test_a_hostile_name_makes_no_line_of_its_own(path: Path, name: str) -> None:
    note(path, "wrong password", name)

    assert path.read_bytes().count(b"\n") == 1
    assert path.read_bytes().isascii()
    assert [(one.what, one.who) for one in read_log(path, 9)] == [("wrong password", name)]


@pytest.mark.skipif(os.name != "posix", reason="permission bits are of POSIX")
def test_only_the_owner_may_read_it(path: Path) -> None:
    old = os.umask(0)
    try:
        note(path, "signed in", "Ada")
    finally:
        os.umask(old)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_it_never_grows_beyond_its_bound(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(people_log, "LARGEST_LOG", 1000)
    for at in range(60):
        note(path, "signed in", f"P{at}")
        sizes = [one.stat().st_size for one in path.parent.iterdir()]
        assert max(sizes) <= 1000
        assert len(sizes) <= 2
    names = [one.who for one in read_log(path, 999)]
    assert names[:10] == [f"P{at}" for at in range(59, 49, -1)]
    assert len(names) > 10  # those of the file before are read too


def test_the_bound_is_five_megabytes() -> None:
    assert people_log.LARGEST_LOG == 5_000_000


def test_what_is_there_is_added_to_and_never_written_over(path: Path) -> None:
    note(path, "signed in", "Ada")
    first = path.read_bytes()
    note(path, "signed out", "Ada")

    assert path.read_bytes().startswith(first)


def test_lines_at_once_stay_whole(path: Path) -> None:
    def many(who: str) -> None:
        for _ in range(50):
            note(path, "signed in", who)

    threads = [threading.Thread(target=many, args=(f"P{at}",)) for at in range(6)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(read_log(path, 9999)) == 300


def test_the_reader_passes_over_what_is_no_line_of_the_log(path: Path) -> None:
    note(path, "signed in", "Ada")
    with path.open("ab") as log:
        log.write(b'not json\n\xff\xfe\n[]\n{"at": "yesterday"}\n')
        log.write(b'{"at": "2026-01-01T00:00:00+00:00", "what": "flew", "who": "A", "from": ""}\n')
        log.write(
            b'{"at": "2026-01-01T00:00:00+00:00", "what": "signed in", "who": 7, "from": ""}\n'
        )
        log.write(b'{"at": "2026-01-01T00:00:0')

    assert [one.who for one in read_log(path, 9)] == ["Ada"]


@pytest.mark.parametrize(("most", "found"), [(1, 1), (2, 2), (9, 3)])
def test_only_so_many_lines_are_read_as_are_wanted(path: Path, most: int, found: int) -> None:
    for who in ("A", "B", "C"):
        note(path, "added", who)

    assert [one.who for one in read_log(path, most)] == ["C", "B", "A"][:found]


def test_no_log_is_nothing_and_one_that_cannot_be_written_is_said(path: Path) -> None:
    assert read_log(path, 9) == ()
    path.mkdir(parents=True)
    with pytest.raises(StoreUnavailable, match="cannot be written"):
        note(path, "signed in", "Ada")
    with pytest.raises(StoreUnavailable, match="cannot be read"):
        read_log(path, 9)
