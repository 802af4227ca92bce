"""The list of those who may sign in: what it takes, how it is kept, what it refuses."""

from __future__ import annotations

import os
import re
import stat
import threading
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from appraise.accounts import people
from appraise.accounts.people import (
    LEAST_PASSWORD,
    MOST_PASSWORD,
    Person,
    add_person,
    find_person,
    hasher,
    read_people,
    remove_person,
    set_password,
    set_role,
)
from appraise.errors import AppraiseError

GOOD = "four words are long"
POSIX = pytest.mark.skipif(os.name != "posix", reason="permission bits are of POSIX")
PHC = re.compile(r"\$argon2id\$v=19\$m=(\d+),t=(\d+),p=(\d+)\$[A-Za-z0-9+/]+\$[A-Za-z0-9+/]+")
"""An Argon2id hash as a string (the reference implementation's encoding; version 19 is 0x13)."""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "data" / "people.toml"


def test_a_password_is_kept_as_an_argon2id_hash_and_nowhere_else(path: Path) -> None:
    add_person(path, "Ada", "edit", GOOD)

    text = path.read_text(encoding="utf-8")
    kept = tomllib.loads(text)["person"][0]
    found = PHC.fullmatch(kept["password"])
    assert found is not None
    memory, passes, lanes = (int(one) for one in found.groups())
    # RFC 9106, section 4, second recommended option: t=3, p=4, m=2^16 KiB.
    assert (memory, passes, lanes) >= (65_536, 3, 4)
    assert GOOD not in text
    assert GOOD not in repr(read_people(path))
    assert kept["password"] not in repr(read_people(path))


def test_the_hash_is_right_for_this_password_alone_and_salted(path: Path) -> None:
    first = add_person(path, "Ada", "edit", GOOD)
    second = add_person(path, "Bo", "look", GOOD)

    assert hasher().verify(GOOD, first.password)
    assert not hasher().verify(GOOD + "x", first.password)
    assert first.password != second.password


@pytest.mark.parametrize("written", ["Ada", "ADA", " ada ", "\uff21da"])
def test_a_name_is_found_however_it_is_written(path: Path, written: str) -> None:
    add_person(path, "Ada", "look", None)

    found = find_person(read_people(path), written)
    assert found is not None
    assert found.name == "Ada"
    with pytest.raises(AppraiseError, match="there already"):
        add_person(path, written, "edit", None)
    assert [one.role for one in read_people(path)] == ["look"]


@pytest.mark.parametrize(
    "name",
    [
        "",
        " ",
        "a\nb",
        "a\tb",
        "a\x00b",
        "a\x1b[2Jb",
        "a\u202eb",
        "a\u2066b",
        "\u200b\u00ad",
        "a\x85b",
        "a\ud800b",
        "x" * 101,
    ],
    ids=ascii,
)
def test_a_name_that_is_empty_long_or_holds_what_cannot_be_seen_is_refused(
    path: Path, name: str
) -> None:
    with pytest.raises(AppraiseError, match=r"^NAME: ") as caught:
        add_person(path, name, "edit", None)
    assert str(caught.value).isprintable()
    assert not path.exists()


@pytest.mark.parametrize(
    "name",
    [
        '"',
        "'''",
        '"""',
        "\\",
        'x"\nrole = "edit"'.replace("\n", " "),
        "]] [[person]]",
        "# no comment",
        "=",
        "{}",
        "../../etc",
        "<b>bold</b>",
        "**bold**",
        "Zoë 李",
    ],
)
def test_a_hostile_name_comes_back_as_it_went_in_and_adds_nothing(path: Path, name: str) -> None:
    add_person(path, name, "look", None)
    add_person(path, "Ada", "edit", None)

    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    assert set(raw) == {"person"}
    assert [one["name"] for one in raw["person"]] == [name, "Ada"]
    assert [one.role for one in read_people(path)] == ["look", "edit"]


@pytest.mark.parametrize("length", [0, 1, LEAST_PASSWORD - 1, MOST_PASSWORD + 1, 100_000])
def test_a_password_too_short_or_too_long_is_refused_and_not_repeated(
    path: Path, length: int
) -> None:
    with pytest.raises(AppraiseError, match=f"password: .*not {length}$") as caught:
        add_person(path, "Ada", "edit", "\u20ac" * length)
    assert "\u20ac" not in str(caught.value)
    assert not path.exists()


@pytest.mark.parametrize(
    "password", ["ten letters\n", "with\x00in the middle", "half \ud800 a pair"]
)
def test_a_password_that_no_form_can_send_is_refused(path: Path, password: str) -> None:
    with pytest.raises(AppraiseError, match="control character"):
        add_person(path, "Ada", "edit", password)


def test_the_name_is_no_password(path: Path) -> None:
    with pytest.raises(AppraiseError, match="should not be the name"):
        add_person(path, "Bartholomew", "edit", "bartholomew")


def test_a_password_is_the_same_on_a_keyboard_that_composes_letters(path: Path) -> None:
    """RFC 8265, section 4.2: an OpaqueString is brought into Normalization Form C."""
    kept = add_person(path, "Ada", "edit", "cafe\u0301 au lait").password

    assert hasher().verify(people.plain_password("caf\u00e9 au lait"), kept)


@pytest.mark.parametrize("role", ["", "admin", "EDIT", "edit\nlook"])
def test_a_role_that_is_none_is_refused(path: Path, role: str) -> None:
    with pytest.raises(AppraiseError, match="--role"):
        add_person(path, "Ada", role, None)


def test_password_and_role_change_and_people_go(path: Path) -> None:
    old = add_person(path, "Ada", "edit", GOOD)
    add_person(path, "Bo", "look", GOOD)
    new = set_password(path, "ada", "another long one")
    set_role(path, "ADA", "look")
    remove_person(path, "bo")

    (left,) = read_people(path)
    assert (left.name, left.role, left.password) == ("Ada", "look", new.password)
    assert hasher().verify("another long one", left.password)
    assert left.password != old.password


@pytest.mark.parametrize(
    ("change", "given"), [(remove_person, ()), (set_password, (GOOD,)), (set_role, ("edit",))]
)
def test_somebody_unknown_cannot_be_changed(
    path: Path, change: Callable[..., Person], given: tuple[str, ...]
) -> None:
    add_person(path, "Ada", "edit", None)
    before = path.read_bytes()

    with pytest.raises(AppraiseError, match="nobody called 'Bo'"):
        change(path, "Bo", *given)
    assert path.read_bytes() == before
    assert [one.name for one in path.parent.iterdir()] == ["people.toml"]


@POSIX
def test_only_the_owner_may_read_the_list(path: Path) -> None:
    old = os.umask(0)
    try:
        add_person(path, "Ada", "edit", None)
        set_role(path, "Ada", "look")
    finally:
        os.umask(old)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


@POSIX
@pytest.mark.parametrize("mode", [0o644, 0o640, 0o604, 0o620, 0o602])
def test_a_list_that_others_can_read_or_change_is_refused_with_what_to_do(
    path: Path, mode: int
) -> None:
    add_person(path, "Ada", "edit", None)
    path.chmod(mode)

    with pytest.raises(AppraiseError, match=r"by others on this machine.* chmod 600 "):
        read_people(path)
    with pytest.raises(AppraiseError, match="by others on this machine"):
        add_person(path, "Bo", "edit", None)
    path.chmod(0o600)
    assert [one.name for one in read_people(path)] == ["Ada"]


def test_no_list_is_nobody(path: Path) -> None:
    assert read_people(path) == ()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[person", "no TOML"),
        ('[[person]]\nname = "Ada"\nrole = "owner"\n', "role"),
        ('[[person]]\nname = "Ada"\nrole = "edit"\npassword = "plain text"\n', "no Argon2id hash"),
        ('[[person]]\nname = "Ada"\nrole = "edit"\nmay = "all"\n', "may"),
        ('[[person]]\nname = "A\\u0007"\nrole = "edit"\n', "cannot be seen"),
        ('[[person]]\nname = "Ada"\nrole = "edit"\n' * 2, "twice"),
        ('people = ["Ada"]\n', "people"),
    ],
)
def test_a_list_written_by_hand_that_is_wrong_is_refused_in_one_line(
    path: Path, text: str, words: str
) -> None:
    path.parent.mkdir()
    path.write_text(text, encoding="utf-8")
    path.chmod(0o600)

    with pytest.raises(AppraiseError, match=words) as caught:
        read_people(path)
    assert str(path) in str(caught.value)
    assert str(caught.value).isprintable()


def test_a_plain_password_in_the_list_is_not_repeated(path: Path) -> None:
    path.parent.mkdir()
    path.write_text('[[person]]\nname = "A"\nrole = "edit"\npassword = "s3cret words"\n')
    path.chmod(0o600)

    with pytest.raises(AppraiseError) as caught:
        read_people(path)
    assert "s3cret" not in str(caught.value)


def test_a_write_that_fails_leaves_the_list_as_it_was(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_person(path, "Ada", "edit", None)
    before = path.read_bytes()

    def full(handle: int) -> None:
        del handle
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(people.os, "fsync", full)
    with pytest.raises(AppraiseError, match="No space left"):
        add_person(path, "Bo", "edit", None)
    assert path.read_bytes() == before
    assert [one.name for one in path.parent.iterdir()] == ["people.toml"]


def test_two_changes_at_once_lose_nobody(path: Path) -> None:
    """The second is told to try again, or comes after the first; neither overwrites the other."""
    done, told = list[str](), list[str]()

    def add(name: str) -> None:
        try:
            add_person(path, name, "look", None)
        except AppraiseError as error:
            told.append(str(error))
        else:
            done.append(name)

    threads = [threading.Thread(target=add, args=(f"P{at}",)) for at in range(12)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert sorted(one.name for one in read_people(path)) == sorted(done)
    assert len(done) + len(told) == 12
    assert done
    assert all("just now" in one for one in told)


def test_a_change_that_is_done_leaves_the_next_ones_file_alone(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody else begins the moment the list is in place: their file is not ours to remove."""
    beside, put = path.with_suffix(".new"), Path.replace

    def replace(self: Path, target: Path) -> Path:
        out = put(self, target)
        beside.write_text("somebody else's")
        return out

    monkeypatch.setattr(Path, "replace", replace)
    add_person(path, "Ada", "edit", None)

    assert beside.read_text() == "somebody else's"


def test_a_file_left_by_a_program_that_was_killed_is_in_nobodys_way(path: Path) -> None:
    add_person(path, "Ada", "edit", None)
    beside = path.with_suffix(".new")
    beside.write_text("[[person]]\n" * 99)
    beside.chmod(0o644)

    add_person(path, "Bo", "look", None)
    assert [one.name for one in read_people(path)] == ["Ada", "Bo"]
    assert not beside.exists()


def test_where_nothing_is_held_a_file_that_is_there_is_told(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on Windows."""
    monkeypatch.setattr(people, "POSIX", False)
    add_person(path, "Ada", "edit", None)
    beside = path.with_suffix(".new")
    beside.touch()

    with pytest.raises(AppraiseError, match=r"just now.* remove that file"):
        remove_person(path, "Ada")
    assert beside.exists()
    beside.unlink()
    remove_person(path, "Ada")
    assert read_people(path) == ()
