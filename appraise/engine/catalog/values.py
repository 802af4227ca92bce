"""Reference values as floats, with a record of which were used."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise

from appraise.engine.draws.streams import Spread
from appraise.errors import AppraiseError
from appraise.models.ranges import Range
from appraise.reference.load import Reference
from appraise.reference.schema import Value

__all__ = ["Lookup", "spread_of"]


@lru_cache(maxsize=8192)
def spread_of(given: Range, factor: float = 1.0) -> Spread:
    """Return a model's range as floats, times `factor`."""
    return Spread(
        float(given.low) * factor,
        float(given.likely) * factor,
        float(given.high) * factor,
        given.reads_as == "bounds",
    )


@dataclass(slots=True)
class Lookup:
    """Reads reference values and remembers their ids, so that a result can name its sources."""

    reference: Reference
    used: set[str] = field(default_factory=set)

    def number(self, value_id: str) -> float:
        """Return the single figure of that id."""
        value = self._value(value_id).value
        if value is None:
            raise AppraiseError("has to be a single value", where=value_id)
        return float(value)

    def spread(self, value_id: str, factor: float = 1.0) -> Spread:
        """Return the range of that id, times `factor`."""
        given = self._value(value_id)
        if given.range is not None:
            return spread_of(given.range, factor)
        if given.value is not None:
            one = float(given.value) * factor
            return Spread(one, one, one)
        raise AppraiseError("has to be a range", where=value_id)

    def entry(self, value_id: str, key: str) -> float:
        """Return one entry of the table of that id."""
        table = self._value(value_id).table
        if table is None or key not in table:
            raise AppraiseError(f"has no entry {key!r}", where=value_id)
        return float(table[key])

    def curve(self, value_id: str, at: float) -> float:
        """Return the curve of that id at `at`: straight lines between points, flat beyond."""
        points = self._value(value_id).points
        if points is None:
            raise AppraiseError("has to be a curve", where=value_id)
        if at <= points[0][0]:
            return float(points[0][1])
        for (x0, y0), (x1, y1) in pairwise(points):
            if at <= x1:
                share = (at - float(x0)) / float(x1 - x0)
                return float(y0) + share * float(y1 - y0)
        return float(points[-1][1])

    def mean(self, value_id: str, start: float, end: float) -> float:
        """Return the mean of the curve of that id between two places: exact."""
        low, high = min(start, end), max(start, end)
        if low == high:
            return self.curve(value_id, low)
        points = self._value(value_id).points or ()
        places = [low, *(float(x) for x, _ in points if low < x < high), high]
        heights = [self.curve(value_id, at) for at in places]
        area = sum(
            (b - a) * (left + right) / 2
            for (a, b), (left, right) in zip(pairwise(places), pairwise(heights), strict=True)
        )
        return area / (high - low)

    def _value(self, value_id: str) -> Value:
        self.used.add(value_id)
        return self.reference.values[value_id]
