"""Signing in: the same words and work for whatever was wrong, slowed down after wrong tries."""

from __future__ import annotations

import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from statistics import median

import pytest

from appraise.accounts import signing_in
from appraise.accounts.people import add_person, hasher, set_password
from appraise.accounts.signing_in import (
    MOST_NAMES,
    MOST_TRIES,
    SPAN,
    TRIES,
    WAIT,
    Brake,
    Door,
    Refused,
)
from appraise.store.database import open_database
from appraise.store.people import PeopleStore

GOOD, WRONG = "four words are long", "some other long words"


class Clock:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


class Quick:
    """Compares as the real one does, with no work, and counts how often."""

    def __init__(self) -> None:
        self.compared: list[str] = []

    def hash(self, password: str) -> str:
        return f"$argon2id${password}"

    def verify(self, password: str, kept: str) -> bool:
        self.compared.append(kept)
        return kept == self.hash(password)


@pytest.fixture
def people(tmp_path: Path) -> Iterator[PeopleStore]:
    engine = open_database(f"sqlite:///{tmp_path}/cases.sqlite")
    yield PeopleStore(engine)
    engine.dispose()


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def door(clock: Clock) -> Door:
    return Door(Brake(clock))


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> Quick:
    """Keep the rules about counting from taking the time of real hashes."""
    found = Quick()
    monkeypatch.setattr(signing_in, "hasher", lambda: found)
    monkeypatch.setattr("appraise.accounts.people.hasher", lambda: found)
    monkeypatch.setattr(signing_in, "_nobody", lambda: "$argon2id$nobody")
    return found


def refusal(door: Door, people: PeopleStore, name: str, password: str) -> str:
    with pytest.raises(Refused) as caught:
        door.sign_in(people, name, password)
    return str(caught.value)


def test_the_right_password_lets_in_and_a_wrong_one_does_not(
    door: Door, people: PeopleStore
) -> None:
    add_person(people, "Ada", "edit", GOOD)

    assert door.sign_in(people, "ada", GOOD).name == "Ada"
    for wrong in ("", WRONG, GOOD + " ", GOOD.upper(), GOOD + "x" * 300):
        refusal(door, people, "Ada", wrong)


@pytest.mark.usefixtures("quick")
def test_unknown_name_wrong_password_and_no_password_are_told_in_the_same_words(
    door: Door, people: PeopleStore
) -> None:
    add_person(people, "Ada", "edit", GOOD)
    add_person(people, "bo@example.org", "edit", None)

    words = {refusal(door, people, name, WRONG) for name in ("Ada", "Nobody", "bo@example.org", "")}
    assert words == {"Name or password is wrong."}


def test_each_wrong_try_compares_one_hash_whoever_it_is(
    door: Door, people: PeopleStore, quick: Quick
) -> None:
    add_person(people, "Ada", "edit", GOOD)
    add_person(people, "bo@example.org", "edit", None)

    for name in ("Ada", "Nobody", "bo@example.org"):
        quick.compared.clear()
        refusal(door, people, name, WRONG)
        assert len(quick.compared) == 1


def test_an_unknown_name_takes_as_long_as_a_known_one(people: PeopleStore) -> None:
    """Compared by middle values; a factor of two is far from the hundredfold of no hash at all."""
    add_person(people, "Ada", "edit", GOOD)
    signing_in._nobody()

    def seconds(name: str) -> float:
        begun = time.perf_counter()
        refusal(Door(), people, name, WRONG)
        return time.perf_counter() - begun

    known, unknown = (median(seconds(one) for _ in range(5)) for one in ("Ada", "Nobody"))
    assert known / 2 < unknown < known * 2


def test_nobody_s_hash_is_of_the_same_make_as_everybody_s(people: PeopleStore) -> None:
    kept = add_person(people, "Ada", "edit", GOOD).password

    assert signing_in._nobody().split("$")[:4] == kept.split("$")[:4]


@pytest.mark.parametrize("name", ["Ada", "Nobody"])
@pytest.mark.usefixtures("quick")
def test_after_five_wrong_tries_a_name_waits_also_with_the_right_password(
    door: Door, people: PeopleStore, clock: Clock, name: str
) -> None:
    add_person(people, "Ada", "edit", GOOD)
    for _ in range(TRIES):
        refusal(door, people, name, WRONG)

    assert refusal(door, people, name, GOOD) == "Too many wrong tries. Try again in 30 seconds."
    clock.now += WAIT - 1
    assert refusal(door, people, name.upper(), GOOD).endswith("in 1 seconds.")
    clock.now += 1
    if name == "Ada":
        assert door.sign_in(people, name, GOOD).name == "Ada"
        refusal(door, people, name, WRONG)
        assert refusal(door, people, name, WRONG) == "Name or password is wrong."
    else:
        assert refusal(door, people, name, WRONG) == "Name or password is wrong."
        assert "30 seconds" in refusal(door, people, name, WRONG)


@pytest.mark.usefixtures("quick")
def test_one_name_that_waits_keeps_no_other_out(door: Door, people: PeopleStore) -> None:
    add_person(people, "Ada", "edit", GOOD)
    for _ in range(TRIES):
        refusal(door, people, "Bo", WRONG)

    assert door.sign_in(people, "Ada", GOOD).name == "Ada"


@pytest.mark.usefixtures("quick")
def test_many_names_tried_slow_everybody_down(
    door: Door, people: PeopleStore, clock: Clock
) -> None:
    add_person(people, "Ada", "edit", GOOD)
    for at in range(MOST_TRIES):
        refusal(door, people, f"name {at}", WRONG)

    assert "Too many" in refusal(door, people, "Ada", GOOD)
    clock.now += SPAN
    assert door.sign_in(people, "Ada", GOOD).name == "Ada"


def test_a_try_that_has_to_wait_costs_no_hash_and_no_line(
    door: Door, people: PeopleStore, quick: Quick
) -> None:
    add_person(people, "Ada", "edit", GOOD)
    for _ in range(TRIES):
        refusal(door, people, "Ada", WRONG)
    quick.compared.clear()
    before = people.noted(99)
    for _ in range(50):
        refusal(door, people, "Ada", WRONG)

    assert quick.compared == []
    assert people.noted(99) == before


@pytest.mark.usefixtures("quick")
def test_tries_at_once_do_not_get_round_the_brake(door: Door, people: PeopleStore) -> None:
    add_person(people, "Ada", "edit", GOOD)

    def go(at: int) -> str:
        return refusal(door, people, "Ada", f"{WRONG} {at}")

    with ThreadPoolExecutor(16) as pool:
        found = list(pool.map(go, range(64)))
    assert found.count("Name or password is wrong.") == TRIES


def test_what_the_brake_remembers_is_bounded(clock: Clock) -> None:
    brake = Brake(clock)
    for at in range(MOST_NAMES * 3):
        brake.wrong(f"name {at}")

    assert len(brake) == MOST_NAMES
    assert len(brake._last) == MOST_TRIES


def test_wrong_tries_are_forgotten_after_a_rest(clock: Clock) -> None:
    brake = Brake(clock)
    for _ in range(TRIES - 1):
        brake.wrong("ada")
    clock.now += signing_in.FORGET
    brake.wrong("ada")

    assert brake.wait("ada") == 0


def test_tries_over_all_names_cannot_push_a_name_out_of_memory(clock: Clock) -> None:
    """Within the time that a name is remembered, fewer tries get through than names are kept."""
    assert signing_in.FORGET / SPAN * MOST_TRIES < MOST_NAMES
    brake = Brake(clock)
    for at in range(MOST_TRIES):
        brake.wrong(str(at))
    assert brake.wait("another") == SPAN


@pytest.mark.usefixtures("quick")
def test_the_log_says_who_and_when_and_never_a_password(door: Door, people: PeopleStore) -> None:
    add_person(people, "Ada", "edit", GOOD)
    door.sign_in(people, "ada", GOOD, "192.0.2.7")
    refusal(door, people, "Ada", WRONG)
    refusal(door, people, GOOD, "Ada")  # the two fields mixed up

    noted = people.noted(9)
    assert GOOD not in repr(noted)
    assert WRONG not in repr(noted)
    assert [(one.what, one.who, one.came_from) for one in noted] == [
        ("unknown name", "", ""),
        ("wrong password", "Ada", ""),
        ("signed in", "Ada", "192.0.2.7"),
        ("added", "Ada", ""),
    ]


def test_another_password_counts_from_the_next_try_on(door: Door, people: PeopleStore) -> None:
    add_person(people, "Ada", "edit", GOOD)
    door.sign_in(people, "Ada", GOOD)
    set_password(people, "Ada", WRONG)

    refusal(door, people, "Ada", GOOD)
    assert door.sign_in(people, "Ada", WRONG).name == "Ada"


def test_a_password_typed_with_composed_letters_lets_in(door: Door, people: PeopleStore) -> None:
    add_person(people, "Ada", "edit", "caf\u00e9 caf\u00e9 caf\u00e9")

    assert door.sign_in(people, "Ada", "cafe\u0301 cafe\u0301 cafe\u0301").name == "Ada"


def test_the_real_hash_is_what_the_door_compares(people: PeopleStore) -> None:
    """No stand-in: the hash that is kept, this password, Argon2."""
    kept = add_person(people, "Ada", "edit", GOOD).password

    assert hasher().verify(GOOD, kept)
    assert Door().sign_in(people, "Ada", GOOD).password == kept
