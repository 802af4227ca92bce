"""How long ago a save was, though a clock may be wrong."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from itertools import groupby
from typing import NamedTuple

__all__ = ["LONGEST_PAUSE", "SavedAt", "line_before", "replaced_before"]

LONGEST_PAUSE = timedelta(days=7)
"""What a pause between two saves counts for at most: a clock that jumps a year ahead makes nothing
a year old."""


class SavedAt(NamedTuple):
    """When one version of a case was saved, as the clock said then."""

    case_id: str
    version: int
    saved_at: datetime


def line_before(moments: Iterable[datetime], now: datetime, days: int) -> datetime | None:
    """Return the moment that so many days lie behind; None if that many are not known to.

    Parameters
    ----------
    moments : when something was saved; those that now lie ahead say nothing.
    days : counted back from `now`, a pause for at most `LONGEST_PAUSE`.

    Examples
    --------
    >>> from datetime import UTC
    >>> saved = [datetime(2026, 3, day, tzinfo=UTC) for day in (1, 6, 11)]
    >>> line_before(saved, datetime(2026, 3, 12, tzinfo=UTC), 3).day
    9
    >>> line_before(saved, datetime(2027, 3, 12, tzinfo=UTC), 9).day
    9
    >>> line_before(saved, datetime(2026, 3, 12, tzinfo=UTC), 12) is None
    True
    """
    left = timedelta(days=days)
    later = now
    for moment in sorted((one for one in moments if one <= now), reverse=True):
        counted = min(later - moment, LONGEST_PAUSE)
        if counted >= left:
            return moment + counted - left
        left -= counted
        later = moment
    return None


def replaced_before(
    saves: Iterable[SavedAt], line: datetime
) -> tuple[dict[str, int], dict[str, datetime]]:
    """Return what was replaced before the line, and when each case was last saved.

    What counts is the save that took a version's place, not its own: one that stood for years was
    replaced only when the next one came. A save that says it was made before an earlier one of the
    same case is taken to be as late as that.

    Parameters
    ----------
    saves : of all cases, those of one together and in the order of their versions.

    Returns
    -------
    first : by case, the first version that was not replaced before the line; what is before it was.
    last : by case.
    """
    first: dict[str, int] = {}
    last: dict[str, datetime] = {}
    for case_id, some in groupby(saves, key=lambda one: one.case_id):
        for version, moment in _never_back(some):
            if case_id not in last or moment < line:
                first[case_id] = version
            last[case_id] = moment
    return first, last


def _never_back(saves: Iterable[SavedAt]) -> Iterator[tuple[int, datetime]]:
    latest = None
    for one in saves:
        latest = one.saved_at if latest is None else max(latest, one.saved_at)
        yield one.version, latest
