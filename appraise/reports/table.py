"""A list of figures, defined once for every face: its columns, and how a row fills each."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal, TypeVar, cast

from appraise.models.appraisal import BandPoint, Quantiles
from appraise.models.diagnosis import CostRange
from appraise.models.forecast import LearnedFactor
from appraise.models.ranges import Range

__all__ = [
    "Cell",
    "Column",
    "Kind",
    "Table",
    "Value",
    "cells_of",
    "figures_table",
    "table_of",
    "yes",
]

Kind = Literal["text", "money", "hours", "count", "year", "share", "number", "day", "any"]
Doubtful = Literal["money range", "hours range", "count range", "money spread", "hours spread"]
Value = str | int | float | Decimal | date | None
Cell = Value | Quantiles | BandPoint | CostRange | Range | LearnedFactor
Row = TypeVar("Row")
PLACES = ("low", "likely", "high", "on average")


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its head, its width in letters, and what its cells are.

    Attributes
    ----------
    kind : `share` is a number in [0, 1], shown as percent; `any` goes by each value.
    """

    head: str
    width: int
    kind: Kind = "text"


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a name.

    Attributes
    ----------
    foot : sums below the rows, which sorting and filtering leave where they are; may be none.
    """

    name: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Value, ...], ...]
    foot: tuple[Value, ...] = ()

    def only(self, *labels: str) -> Table:
        """Return the columns of these labels: a label may take several, as low and high."""
        places = [at for label in labels for at in self._places(label)]
        return Table(
            self.name,
            tuple(self.columns[at] for at in places),
            tuple(tuple(row[at] for at in places) for row in self.rows),
            tuple(self.foot[at] for at in places) if self.foot else (),
        )

    def _places(self, label: str) -> list[int]:
        found = [
            at
            for at, one in enumerate(self.columns)
            if one.head == label or one.head.startswith((f"{label}, ", f"{label}: "))
        ]
        if not found:
            raise KeyError(label)
        return found


def table_of(
    name: str,
    rows: Iterable[Row],
    *columns: tuple[str, int, Kind | Doubtful, Callable[[Row], Cell]],
    currency: str = "",
    foot: tuple[Value, ...] = (),
) -> Table:
    """Return a table with a row for each thing.

    Parameters
    ----------
    columns : of each its head, width and kind, and what it shows of a thing. A `range` of money,
        hours or a count takes three columns, low, likely and high; a `spread` one more, on average.
    currency : of the columns of money; empty if none, or not the same in each row.
    """
    heads: list[Column] = []
    for label, width, kind, _ in columns:
        count, plain = _count(kind), cast("Kind", kind.split(" ")[0])
        head = f"{label}, {currency}" if currency and plain == "money" else label
        if count == 1:
            heads.append(Column(head, width, plain))
        else:
            heads += [Column(f"{head}: {one}", 12, plain) for one in PLACES[:3]]
            heads += [Column(f"{head}: {one}", width, plain) for one in PLACES[3:count]]
    listed = tuple(
        tuple(cell for _, _, kind, of in columns for cell in cells_of(of(one), _count(kind)))
        for one in rows
    )
    return Table(name, tuple(heads), listed, foot)


def _count(kind: str) -> int:
    return 3 if kind.endswith(" range") else 4 if kind.endswith(" spread") else 1


def cells_of(given: Cell, count: int) -> tuple[Value, ...]:
    """Return the cells that a figure takes: low, likely, high, on average, as many as asked for."""
    found: tuple[Value, ...]
    if isinstance(given, Quantiles):
        found = (given.p10, given.p50, given.p90, given.mean)
    elif isinstance(given, BandPoint | CostRange):
        found = (given.p10, given.p50, given.p90)
    elif isinstance(given, Range):
        found = (given.low, given.likely, given.high)
    elif isinstance(given, LearnedFactor):
        found = (given.low, given.factor, given.high)
    else:
        found = (given,) if count == 1 else (None, given)
    return (*found, None, None, None)[:count]


def figures_table(name: str, width: int, rows: Iterable[tuple[str, str, Cell]]) -> Table:
    """Return figures one below the other, those with doubt with theirs; none that is missing.

    Parameters
    ----------
    rows : what each is, its unit, itself.
    """
    heads = ("Low: 1 in 10 below", "Likely: half below", "High: 1 in 10 above", "On average")
    columns = (
        Column("What", width),
        Column("Unit", 7),
        *(Column(one, 12, "number") for one in heads),
    )
    shown = ((what, unit, *cells_of(given, 4)) for what, unit, given in rows if given is not None)
    return Table(name, columns, tuple(shown))


def yes(answer: object, no: str = "no") -> str:
    """Return the answer to a question in a cell."""
    return "yes" if answer else no
