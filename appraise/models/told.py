"""What has to be known beside a bid, sorted once so that every face shows the same."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from appraise.errors import Problem

__all__ = ["Told"]


@dataclass(frozen=True, slots=True)
class Told:
    """What has to be known beside a bid: on the command line, the screen and paper alike.

    Attributes
    ----------
    stops, warnings, notes : what speaks against the car, its papers or the figures, gravest first.
    laws : notes that only state a law, one a section, to stand last.
    """

    stops: tuple[Problem, ...] = ()
    warnings: tuple[Problem, ...] = ()
    notes: tuple[Problem, ...] = ()
    laws: tuple[Problem, ...] = ()

    @classmethod
    def of(cls, problems: Iterable[Problem]) -> Told:
        """Return problems sorted, each once; a law that is no note stands before the figures."""
        found = tuple(dict.fromkeys(problems))
        noted = tuple(one for one in found if one.weight == "note")
        return cls(
            stops=tuple(one for one in found if one.weight == "stop"),
            warnings=tuple(one for one in found if one.weight == "warning"),
            notes=tuple(one for one in noted if not one.law),
            laws=tuple({one.law: one for one in noted if one.law}.values()),
        )

    @property
    def first(self) -> tuple[Problem, ...]:
        """What stands before the figures."""
        return (*self.stops, *self.warnings, *self.notes)

    @property
    def everything(self) -> tuple[Problem, ...]:
        """All of it, laws last."""
        return (*self.first, *self.laws)
