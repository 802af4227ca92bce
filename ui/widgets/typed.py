"""Numbers from widgets back into values: what nobody touched stays to its last digit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from appraise.models.findings import JobChoice

__all__ = ["choices_of", "listed_choices", "number"]


def number(given: float, old: Decimal | None = None, digits: int = 2) -> Decimal:
    """Return what a widget holds, to so many places; the old value if it still holds that.

    Examples
    --------
    >>> number(0.1, Decimal("0.1000001")), number(0.1000001, Decimal("0.1000001"))
    (Decimal('0.10'), Decimal('0.1000001'))
    """
    if old is not None and float(given) == float(old):
        return old
    return Decimal(f"{given:.{digits}f}")


def listed_choices(jobs: Iterable[JobChoice], names: Mapping[str, Any]) -> list[str]:
    """Return the jobs that a list of names can show as chosen, each once."""
    return list(dict.fromkeys(one.job for one in jobs if one.job in names))


def choices_of(
    chosen: Sequence[str], old: Iterable[JobChoice], names: Mapping[str, Any]
) -> list[dict[str, Any]]:
    """Return the jobs chosen, with the own figures that the old ones had.

    Those of the old ones that the list cannot show stay, each in its place.
    """
    before = list(old)
    kept = [one.model_dump() for one in before if one.job in chosen or one.job not in names]
    had = {one.job for one in before}
    return kept + [{"job": job} for job in chosen if job not in had]
