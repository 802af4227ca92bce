"""What can go wrong, in words for a person.

Two kinds: an exception stops the work and names the field; a `Problem` is a value in a result and
does not stop anything.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from appraise.letters import one_line, plain_json

__all__ = [
    "AppraiseError",
    "BadCase",
    "BadFile",
    "BadReference",
    "CannotPrice",
    "CaseChangedElsewhere",
    "CaseNotFound",
    "Contradiction",
    "NewerSchema",
    "Problem",
    "StoreUnavailable",
    "one_line",
    "plain_json",
]

Weight = Literal["stop", "warning", "note"]

LONGEST, CUT = 500, "…"
"""Characters that are said of what somebody wrote, and what stands for the rest."""


@dataclass(frozen=True, slots=True)
class Problem:
    """Something a person should know about a result; it did not stop the work.

    Attributes
    ----------
    where : dotted path to the field or part of the case it speaks of.
    message : one sentence, what it is and what it means.
    weight : `stop` (no answer until corrected), `warning` (the answer may mislead) or `note`.
    hint : what to do about it, or an empty string.
    law : section that it states, or an empty string.
    """

    where: str
    message: str
    weight: Weight = "warning"
    hint: str = ""
    law: str = ""

    @property
    def words(self) -> str:
        """Message and hint as one run of sentences."""
        return f"{self.message.rstrip('.')}. {self.hint}" if self.hint else self.message


def _short(text: str) -> str:
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + CUT


class AppraiseError(Exception):
    """The work cannot go on.

    Attributes
    ----------
    message : one line for a person.
    where : dotted path to the field, or an empty string.
    hint : what to do about it, or an empty string.
    """

    def __init__(self, message: str, *, where: str = "", hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.where = where
        self.hint = hint

    def __str__(self) -> str:
        """One line: where, what, what to do; nothing that could move a terminal's cursor."""
        where, message = _short(self.where), _short(self.message)
        line = f"{where}: {message}" if where else message
        if self.hint:
            line = f"{line.rstrip('.')}. {self.hint}"
        return one_line(line)


class BadCase(AppraiseError):
    """A case holds a value that cannot be, or a field that is not known."""

    def __init__(self, problems: tuple[Problem, ...], *, source: str = "") -> None:
        first = problems[0]
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        where = f"{source}: {first.where}" if source and first.where else source or first.where
        super().__init__(first.message + more, where=where, hint=first.hint)
        self.problems = problems


class NewerSchema(AppraiseError):
    """A case was written by a newer version of this program."""


class BadReference(AppraiseError):
    """The reference values, or the user's own values over them, do not hold together."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        first = problems[0]
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        super().__init__(first.message + more, where=first.where)
        self.problems = problems


class BadFile(AppraiseError):
    """A photo or PDF that cannot be kept, or is not kept here."""


class CannotPrice(AppraiseError):
    """There is nothing to price the car from."""


class Contradiction(AppraiseError):
    """What was found cannot all be true."""


class CaseNotFound(AppraiseError):
    """No such case."""


class CaseChangedElsewhere(AppraiseError):
    """Somebody else saved this case after it was read."""


class StoreUnavailable(AppraiseError):
    """The place where cases are kept cannot be read or written."""
