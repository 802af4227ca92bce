"""One change taken back, and nothing that was changed since."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from pydantic import ValidationError

from appraise.errors import BadCase, Problem
from appraise.models.case import Case
from appraise.models.problems import problems_of

__all__ = ["taken_back"]


class _Nothing:
    """What stands where an entry does not."""


NOTHING: Final = _Nothing()


def taken_back(before: Case, after: Case, now: Case) -> Case:
    """Return a case as it is now, without one change that was made to it.

    Parameters
    ----------
    before, after : the case around that change.

    Raises
    ------
    BadCase
        What it changed was changed again since, or the rest no longer allows what was before.
    """
    before_, after_, now_ = (one.model_dump(mode="json") for one in (before, after, now))
    try:
        return Case.model_validate(_back(before_, after_, now_, ""))
    except ValidationError as error:
        raise BadCase(problems_of(error)) from error


def _back(before: Any, after: Any, now: Any, path: str) -> Any:  # noqa: ANN401 - any part of a case
    if before in (after, now):
        return now
    if now == after:
        return before
    if isinstance(before, dict) and isinstance(after, dict) and isinstance(now, dict):
        return {
            key: _back(before[key], after[key], now[key], f"{path}.{key}" if path else key)
            for key in now
        }
    if isinstance(before, list) and isinstance(after, list) and isinstance(now, list):
        named = _by_id(before), _by_id(after), _by_id(now)
        if None not in named:
            return _entries_back(*named, path)  # type: ignore[arg-type]
    hint = "Go back to an earlier version on Inspect."
    raise BadCase((Problem(path, "was changed again since", "stop", hint),))


def _by_id(entries: Sequence[Any]) -> dict[str, Any] | None:
    """Return entries by their ids; None if one has none, or two share one."""
    if not all(isinstance(one, dict) and "id" in one for one in entries):
        return None
    found = {one["id"]: one for one in entries}
    return found if len(found) == len(entries) else None


def _entries_back(
    before: Mapping[str, Any], after: Mapping[str, Any], now: Mapping[str, Any], path: str
) -> list[Any]:
    """Return the entries as they are now, what the change added gone, what it took out again."""
    out = {}
    for name in _order(list(before), list(after), list(now)):
        was, became, is_ = (one.get(name, NOTHING) for one in (before, after, now))
        entry = _back(was, became, is_, f"{path}[{name}]")
        if entry is not NOTHING:
            out[name] = entry
    return list(out.values())


def _order(before: Sequence[str], after: Sequence[str], now: Sequence[str]) -> list[str]:
    """Return all names in their order now; one that is not there now follows whom it followed."""
    if list(now) == list(after):
        return [*before, *(one for one in now if one not in before)]
    out = list(now)
    for place, name in enumerate(before):
        if name not in out:
            ahead = [out.index(one) for one in before[:place] if one in out]
            out.insert(max(ahead) + 1 if ahead else 0, name)
    return out
