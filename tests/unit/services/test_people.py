"""Who may sign in: what names, passwords and roles may be, and how a password is kept."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from appraise.accounts.people import (
    LEAST_PASSWORD,
    MOST_PASSWORD,
    add_person,
    hasher,
    plain_password,
    remove_person,
    set_password,
    set_role,
)
from appraise.errors import AppraiseError
from appraise.models.people import Person
from appraise.store.database import open_database
from appraise.store.people import PeopleStore

GOOD = "four words are long"
PHC = re.compile(r"\$argon2id\$v=19\$m=(\d+),t=(\d+),p=(\d+)\$[A-Za-z0-9+/]+\$[A-Za-z0-9+/]+")
"""An Argon2id hash as a string (the reference implementation's encoding; version 19 is 0x13)."""


@pytest.fixture
def people(tmp_path: Path) -> Iterator[PeopleStore]:
    engine = open_database(f"sqlite:///{tmp_path}/cases.sqlite")
    yield PeopleStore(engine)
    engine.dispose()


def test_a_password_is_kept_as_an_argon2id_hash_and_nowhere_else(
    people: PeopleStore, tmp_path: Path
) -> None:
    add_person(people, "Ada", "edit", GOOD)

    (kept,) = people.everybody()
    found = PHC.fullmatch(kept.password)
    assert found is not None
    memory, passes, lanes = (int(one) for one in found.groups())
    # RFC 9106, section 4, second recommended option: t=3, p=4, m=2^16 KiB.
    assert (memory, passes, lanes) >= (65_536, 3, 4)
    assert kept.password not in repr(kept)
    people._engine.dispose()
    for file in tmp_path.iterdir():
        assert GOOD.encode() not in file.read_bytes()


def test_the_hash_is_right_for_this_password_alone_and_salted(people: PeopleStore) -> None:
    first = add_person(people, "Ada", "edit", GOOD)
    second = add_person(people, "Bo", "look", GOOD)

    assert hasher().verify(GOOD, first.password)
    assert not hasher().verify(GOOD + "x", first.password)
    assert first.password != second.password


@pytest.mark.parametrize("written", ["Ada", "ADA", " ada ", "\uff21da"])
def test_a_name_is_found_however_it_is_written(people: PeopleStore, written: str) -> None:
    add_person(people, "Ada", "look", None)

    found = people.find(written)
    assert found is not None
    assert found.name == "Ada"
    with pytest.raises(AppraiseError, match="there already"):
        add_person(people, written, "edit", None)
    assert [one.role for one in people.everybody()] == ["look"]


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
    people: PeopleStore, name: str
) -> None:
    with pytest.raises(AppraiseError, match=r"^NAME: ") as caught:
        add_person(people, name, "edit", None)
    assert str(caught.value).isprintable()
    assert (people.everybody(), people.noted(9)) == ((), ())


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
def test_a_hostile_name_comes_back_as_it_went_in_and_adds_nothing(
    people: PeopleStore, name: str
) -> None:
    add_person(people, name, "look", None)
    add_person(people, "Ada", "edit", None)

    assert {one.name: one.role for one in people.everybody()} == {name: "look", "Ada": "edit"}
    assert [one.who for one in people.noted(9)] == ["Ada", name]


@pytest.mark.parametrize("length", [0, 1, LEAST_PASSWORD - 1, MOST_PASSWORD + 1, 100_000])
def test_a_password_too_short_or_too_long_is_refused_and_not_repeated(
    people: PeopleStore, length: int
) -> None:
    with pytest.raises(AppraiseError, match=f"password: .*not {length}$") as caught:
        add_person(people, "Ada", "edit", "\u20ac" * length)
    assert "\u20ac" not in str(caught.value)
    assert (people.everybody(), people.noted(9)) == ((), ())


@pytest.mark.parametrize(
    "password", ["ten letters\n", "with\x00in the middle", "half \ud800 a pair"]
)
def test_a_password_that_no_form_can_send_is_refused(people: PeopleStore, password: str) -> None:
    with pytest.raises(AppraiseError, match="control character"):
        add_person(people, "Ada", "edit", password)


def test_the_name_is_no_password(people: PeopleStore) -> None:
    with pytest.raises(AppraiseError, match="should not be the name"):
        add_person(people, "Bartholomew", "edit", "bartholomew")


def test_a_password_is_the_same_on_a_keyboard_that_composes_letters(people: PeopleStore) -> None:
    """RFC 8265, section 4.2: an OpaqueString is brought into Normalization Form C."""
    kept = add_person(people, "Ada", "edit", "cafe\u0301 au lait").password

    assert hasher().verify(plain_password("caf\u00e9 au lait"), kept)


@pytest.mark.parametrize("role", ["", "admin", "EDIT", "edit\nlook"])
def test_a_role_that_is_none_is_refused(people: PeopleStore, role: str) -> None:
    with pytest.raises(AppraiseError, match="--role"):
        add_person(people, "Ada", role, None)


def test_password_and_role_change_and_people_go(people: PeopleStore) -> None:
    old = add_person(people, "Ada", "edit", GOOD)
    add_person(people, "Bo", "look", GOOD)
    new = set_password(people, "ada", "another long one")
    set_role(people, "ADA", "look")
    remove_person(people, "bo")

    (left,) = people.everybody()
    assert (left.name, left.role, left.password) == ("Ada", "look", new.password)
    assert hasher().verify("another long one", left.password)
    assert left.password != old.password


@pytest.mark.parametrize(
    ("change", "given"), [(remove_person, ()), (set_password, (GOOD,)), (set_role, ("edit",))]
)
def test_somebody_unknown_cannot_be_changed(
    people: PeopleStore, change: Callable[..., Person], given: tuple[str, ...]
) -> None:
    add_person(people, "Ada", "edit", None)
    before = people.everybody(), people.noted(9)

    with pytest.raises(AppraiseError, match="nobody called 'Bo'"):
        change(people, "Bo", *given)
    assert (people.everybody(), people.noted(9)) == before
