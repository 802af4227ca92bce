"""How sign-in is set up: a list of people, or a provider that vouches for who is listed."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from appraise.accounts import signing_in
from appraise.accounts.people import add_person
from appraise.accounts.signing_in import person_of_provider, sign_in_kind
from appraise.errors import AppraiseError
from appraise.models.people import Person, same_name
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings

GOOD = "four words are long"


def kind(settings: Settings) -> str:
    return sign_in_kind(open_workspace(settings).people.everybody(), settings.secrets)


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(data_folder=tmp_path / "data")


LISTED = (
    Person(name="Ada@Example.org", role="edit"),
    Person(name="subject-7", role="look"),
    Person(name="bo@example.org", role="edit", password="$argon2id$v=19$x"),  # noqa: S106
)


def on_the_list(name: str) -> Person | None:
    return {same_name(one.name): one for one in LISTED}.get(same_name(name))


@pytest.mark.parametrize(
    ("claims", "name"),
    [
        ({"email": "ada@example.org", "email_verified": True}, "Ada@Example.org"),
        ({"email": "ada@example.org", "email_verified": False}, None),
        ({"email": "ada@example.org", "email_verified": "true"}, None),
        ({"email": "ada@example.org"}, None),
        ({"sub": "subject-7"}, "subject-7"),
        ({"sub": "subject-7", "email": "ada@example.org"}, "subject-7"),
        ({"sub": "subject-8", "email": "no@example.org", "email_verified": True}, None),
        ({"sub": "bo@example.org"}, None),
        ({"email": "bo@example.org", "email_verified": True}, None),
        ({"name": "Ada@Example.org"}, None),
        ({"email": ["ada@example.org"], "email_verified": True}, None),
        ({}, None),
    ],
)
def test_the_provider_vouches_only_for_who_is_listed_without_a_password(
    claims: dict[str, Any], name: str | None
) -> None:
    """OpenID Connect Core 1.0, section 5.1 (email_verified) and 5.7 (only sub is stable)."""
    found = person_of_provider(on_the_list, {"is_logged_in": True, **claims})

    assert (found.name if found else None) == name
    for not_in in (False, None, "yes"):
        assert person_of_provider(on_the_list, {**claims, "is_logged_in": not_in}) is None


SECRETS = {
    "redirect_uri": "https://cars.example/oauth2callback",
    "cookie_secret": "0123456789abcdef0123456789abcdef",
    "client_id": "appraise",
    "client_secret": "between the two of us",
    "server_metadata_url": "https://provider.example/.well-known/openid-configuration",
}


@pytest.fixture
def secret(settings: Settings) -> Callable[..., None]:
    """Write the section of the provider, with some keys otherwise."""

    def write(**otherwise: str) -> None:
        keys = SECRETS | otherwise
        lines = [f"{key} = {json.dumps(keys[key])}" for key in keys if keys[key]]
        settings.data_folder.mkdir(exist_ok=True)
        settings.secrets.write_text("\n".join(["[auth]", *lines, ""]), encoding="utf-8")
        settings.secrets.chmod(0o600)

    return write


@pytest.fixture
def packages(monkeypatch: pytest.MonkeyPatch) -> None:
    """As if the packages of the provider's protocol were there."""
    monkeypatch.setattr(signing_in, "find_spec", lambda name: name)


def test_without_anybody_sign_in_is_not_set_up(settings: Settings) -> None:
    with pytest.raises(AppraiseError, match="appraise people add NAME --role edit"):
        kind(settings)
    add_person(open_workspace(settings).people, "Ada@example.org", "edit", None)
    with pytest.raises(AppraiseError, match="needs people who sign in"):
        kind(settings)


def test_one_person_with_a_password_is_enough(settings: Settings) -> None:
    add_person(open_workspace(settings).people, "Ada", "look", GOOD)

    assert kind(settings) == "people"


@pytest.mark.usefixtures("packages")
def test_a_provider_needs_somebody_it_may_vouch_for(
    settings: Settings, secret: Callable[..., None]
) -> None:
    secret()
    add_person(open_workspace(settings).people, "Ada", "edit", GOOD)
    with pytest.raises(AppraiseError, match="--provider"):
        kind(settings)
    add_person(open_workspace(settings).people, "bo@example.org", "edit", None)
    assert kind(settings) == "provider"


@pytest.mark.usefixtures("packages")
@pytest.mark.parametrize(
    ("otherwise", "words"),
    [({key: ""}, f"auth.{key} is missing") for key in SECRETS]
    + [
        ({"redirect_uri": "https://cars.example/"}, "should end in /oauth2callback"),
        ({"cookie_secret": "short"}, "at least 32 characters"),
        ({"server_metadata_url": "http://provider.example/x"}, "must begin with https://"),
    ],
)
def test_a_provider_half_set_up_is_refused_and_no_secret_repeated(
    settings: Settings, secret: Callable[..., None], otherwise: dict[str, str], words: str
) -> None:
    secret(**otherwise)
    add_person(open_workspace(settings).people, "bo@example.org", "edit", None)

    with pytest.raises(AppraiseError, match=words) as caught:
        kind(settings)
    assert SECRETS["client_secret"] not in str(caught.value)


def test_a_provider_without_its_packages_is_refused_with_how_to_get_them(
    settings: Settings, secret: Callable[..., None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(signing_in, "find_spec", lambda name: None if name == "authlib" else name)
    secret()
    add_person(open_workspace(settings).people, "bo@example.org", "edit", None)

    with pytest.raises(AppraiseError, match=r"pip install 'streamlit\[auth\]'"):
        kind(settings)


@pytest.mark.usefixtures("packages")
def test_secrets_that_others_can_read_are_refused(
    settings: Settings, secret: Callable[..., None]
) -> None:
    secret()
    settings.secrets.chmod(0o644)

    with pytest.raises(AppraiseError, match=r"by others on this machine.*chmod 600"):
        kind(settings)


def test_secrets_for_other_things_do_not_make_a_provider(settings: Settings) -> None:
    add_person(open_workspace(settings).people, "Ada", "look", GOOD)
    settings.secrets.write_text("[other]\nkey = 1\n", encoding="utf-8")
    settings.secrets.chmod(0o600)

    assert kind(settings) == "people"
