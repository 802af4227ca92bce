"""What can be chosen, what binds the choice, and what a choice comes to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Access", "Choice", "Clean", "Frontier", "Item", "Selection"]


@dataclass(frozen=True, slots=True)
class Item:
    """A repair that may be chosen.

    Attributes
    ----------
    name : like no other.
    gain : what it adds to the price.
    money : own money out for it, access apart.
    hours : own hours on it, access apart.
    access : groups of teardown that it needs.
    requires : names of the repairs that have to be chosen with it.
    must : it has to be done.
    """

    name: str
    gain: float
    money: float
    hours: float
    access: tuple[str, ...] = ()
    requires: tuple[str, ...] = ()
    must: bool = False


@dataclass(frozen=True, slots=True)
class Access:
    """Teardown that is paid once, however many repairs need it.

    Attributes
    ----------
    covers : groups that need not be paid beside it, each one named: what those cover in turn
        counts only where it is named here too.
    """

    name: str
    money: float
    hours: float
    covers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Clean:
    """What a car with nothing left wrong brings on top.

    Attributes
    ----------
    bonus : added to the price once all of `items` are chosen; at least 0.
    """

    bonus: float
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Selection:
    """Repairs to choose from, and what binds the choice.

    Attributes
    ----------
    at_most_one : sets of names of which no two may be chosen together.
    hour_cost : what an own hour is worth, holding the car meanwhile included.
    money_limit, hours_limit : most that all chosen, with access, may take; None is no limit.
    """

    items: tuple[Item, ...]
    access: tuple[Access, ...] = ()
    clean: Clean | None = None
    at_most_one: tuple[tuple[str, ...], ...] = ()
    hour_cost: float = 0.0
    money_limit: float | None = None
    hours_limit: float | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """Repairs chosen, and what comes of them.

    Attributes
    ----------
    access : groups paid for them, the cheapest that serve.
    net : gain - money - hours times what an hour is worth; to the cent.
    gain : what is added to the price, the clean car's bonus included.
    money, hours : taken by the repairs and their access.
    proven : that nothing better exists is proven (of a choice given: its figures are exact).
    problem : which rule or limit cannot be kept, or is not; an empty string if all are.
    """

    chosen: frozenset[str]
    access: frozenset[str]
    net: float
    gain: float
    money: float
    hours: float
    proven: bool = True
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Frontier:
    """Choices of which none takes less and brings as much as another.

    Attributes
    ----------
    points : from the least spent to the best net; both rise from each to the next.
    by : what is spent.
    capped : there are more such choices; those given lie about evenly in what is spent.
    problem : why nothing can be chosen, or an empty string.
    """

    points: tuple[Choice, ...]
    by: Literal["money", "hours"]
    capped: bool = False
    problem: str = ""
