"""Somebody who may sign in."""

from __future__ import annotations

import unicodedata
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, StringConstraints

from appraise.letters import JOINERS, cleaned, refused_in_line
from appraise.models.base import Model

__all__ = ["MOST_NAME", "Person", "Role", "same_name"]

Role = Literal["look", "edit"]
"""`look` sees everything and saves nothing; `edit` may do both."""

MOST_NAME = 100
WITHOUT_JOINERS = dict.fromkeys(map(ord, JOINERS))


def _name(text: Any) -> Any:  # noqa: ANN401 - whatever is kept
    if not isinstance(text, str):
        return text
    plain = cleaned(text)
    if refused_in_line(plain):
        raise ValueError("holds a line break or a character that cannot be seen")
    return unicodedata.normalize("NFC", plain)


def _hash(text: str) -> str:
    if text and not text.startswith("$argon2id$"):
        raise ValueError("is no Argon2id hash; set it with: appraise people password NAME")
    return text


class Person(Model):
    """Somebody who may sign in; without a password only through the provider of the log-in."""

    name: Annotated[
        str, StringConstraints(min_length=1, max_length=MOST_NAME), BeforeValidator(_name)
    ] = Field(description="Name")
    role: Role = Field(description="Whether they may edit or only look")
    password: Annotated[str, AfterValidator(_hash)] = Field(
        default="", repr=False, description="Password, salted and hashed; empty if none"
    )

    @property
    def may_edit(self) -> bool:
        """Whether this person may save anything."""
        return self.role == "edit"


def same_name(name: str) -> str:
    """Return what a name is compared by: neither capitals nor ways of writing a letter count.

    Examples
    --------
    >>> same_name(" Ada ") == same_name("ada")
    True
    """
    return unicodedata.normalize("NFKC", cleaned(name)).translate(WITHOUT_JOINERS).casefold()
