"""Documents as they stand in the database, also those that are none: cut short, or no object.

What cannot be taken for a document is handed on as its text, so that it can be saved, backed up and
put back as it was, and stops nobody from reading the others.
"""

from __future__ import annotations

import json
from typing import Any, NoReturn

__all__ = ["RawText", "from_column", "is_keepable", "text_of", "to_server", "to_sqlite"]


class RawText(str):
    """The text of what should have been a document."""

    __slots__ = ()


def from_column(text: str | bytes) -> Any:  # noqa: ANN401 - null, where a part is asked for
    """Return the object that a column holds, or its text if that is none that can be kept."""
    plain = text if isinstance(text, str) else text.decode()
    try:
        found = json.loads(plain, parse_constant=_no_number)
    except (ValueError, RecursionError):
        return RawText(plain)
    if found is None or (isinstance(found, dict) and is_keepable(found)):
        return found
    return RawText(plain)


def to_sqlite(value: Any) -> str:  # noqa: ANN401 - a document, or its text as it was
    """Return what SQLite keeps for a document: any text, be it JSON or not."""
    return str(value) if isinstance(value, RawText) else json.dumps(value)


def to_server(value: Any) -> str:  # noqa: ANN401
    """Return what a server keeps for a document: text that is not JSON as a JSON string."""
    return str(value) if isinstance(value, RawText) and _is_json(value) else json.dumps(value)


def text_of(document: Any) -> str:  # noqa: ANN401
    """Return a document as the text of a file."""
    if isinstance(document, dict):
        return json.dumps(document, indent=2, ensure_ascii=False) + "\n"
    return str(document)


def is_keepable(value: Any) -> bool:  # noqa: ANN401
    """Whether both databases can keep all text in it: no NUL, no half of a character."""
    written = json.dumps(value, ensure_ascii=False)
    try:
        written.encode()
    except UnicodeEncodeError:
        return False
    return "\\u0000" not in written.replace("\\\\", "")


def _is_json(text: str) -> bool:
    try:
        return is_keepable(json.loads(text, parse_constant=_no_number))
    except (ValueError, RecursionError):
        return False


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")
