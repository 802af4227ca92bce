"""The choice of repairs against published knapsack, project selection and covering problems."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from every_choice import enumerate_all

from appraise.engine.decide.frontier import frontier
from appraise.engine.decide.selection import choose, net_of
from appraise.engine.decide.selection_items import Access, Item, Selection


@dataclass(frozen=True)
class Knapsack:
    """A 0/1 knapsack: published optimal selection and profit, and what taking by ratio reaches."""

    capacity: int
    weights: tuple[int, ...]
    profits: tuple[int, ...]
    optimal: str
    profit: int
    by_ratio: int


# Florida State University, J. Burkardt, data set KNAPSACK_01, p01 to p06: capacity, weights,
# profits and optimal selection as published there. What taking by ratio reaches is not published:
# it is worked out again below.
KNAPSACKS = {
    "p01": Knapsack(
        165,
        (23, 31, 29, 44, 53, 38, 63, 85, 89, 82),
        (92, 57, 49, 68, 60, 43, 67, 84, 87, 72),
        "1111010000",
        309,
        309,
    ),
    "p02": Knapsack(26, (12, 7, 11, 8, 9), (24, 13, 23, 15, 16), "01110", 51, 47),
    "p03": Knapsack(190, (56, 59, 80, 64, 75, 17), (50, 50, 64, 46, 50, 5), "110010", 150, 146),
    "p04": Knapsack(50, (31, 10, 20, 19, 4, 3, 6), (70, 20, 39, 37, 7, 5, 10), "1001000", 107, 102),
    "p05": Knapsack(
        104, (25, 35, 45, 5, 25, 3, 2, 2), (350, 400, 450, 20, 70, 8, 5, 5), "10111011", 900, 858
    ),
    "p06": Knapsack(
        170,
        (41, 50, 49, 59, 55, 57, 60),
        (442, 525, 511, 593, 546, 564, 617),
        "0101001",
        1735,
        1478,
    ),
}


def as_hours(one: Knapsack) -> Selection:
    """Weights are hours that cost nothing, so that the net is the profit."""
    items = tuple(
        Item(f"{at:02}", float(profit), 0.0, float(weight))
        for at, (weight, profit) in enumerate(zip(one.weights, one.profits, strict=True))
    )
    return Selection(items, hours_limit=float(one.capacity))


def as_money(one: Knapsack) -> Selection:
    """Weights are money, which the gain gives back on top of the profit."""
    items = tuple(
        Item(f"{at:02}", float(profit + weight), float(weight), 0.0)
        for at, (weight, profit) in enumerate(zip(one.weights, one.profits, strict=True))
    )
    return Selection(items, money_limit=float(one.capacity))


def taken_by_ratio(one: Knapsack) -> int:
    """Return the profit of taking what has most profit for its weight, as long as it fits."""
    left, profit = one.capacity, 0
    pairs = zip(one.profits, one.weights, strict=True)
    for gain, weight in sorted(pairs, key=lambda pair: -pair[0] / pair[1]):
        if weight <= left:
            left, profit = left - weight, profit + gain
    return profit


@pytest.mark.parametrize("name", KNAPSACKS)
def test_knapsacks_are_filled_as_published(name: str) -> None:
    one = KNAPSACKS[name]
    optimal = {f"{at:02}" for at, bit in enumerate(one.optimal) if bit == "1"}
    by_hours, by_money = choose(as_hours(one)), choose(as_money(one))

    assert by_hours.chosen == by_money.chosen == optimal
    assert by_hours.net == by_money.net == one.profit
    assert by_hours.hours == by_money.money <= one.capacity
    assert by_hours.proven
    assert by_money.proven
    assert by_hours == enumerate_all(as_hours(one))


@pytest.mark.parametrize("name", KNAPSACKS)
def test_taking_by_ratio_goes_wrong_on_all_but_the_first(name: str) -> None:
    one = KNAPSACKS[name]

    assert taken_by_ratio(one) == one.by_ratio
    assert (taken_by_ratio(one) == choose(as_hours(one)).net) == (name == "p01")


@pytest.mark.parametrize("name", KNAPSACKS)
def test_the_frontier_of_a_knapsack_ends_in_the_published_optimum(name: str) -> None:
    """Against the table of dynamic programming: the best profit for every capacity."""
    one = KNAPSACKS[name]
    best = [0] * (one.capacity + 1)
    for weight, profit in zip(one.weights, one.profits, strict=True):
        for room in range(one.capacity, weight - 1, -1):
            best[room] = max(best[room], best[room - weight] + profit)
    steps = [
        (room, best[room]) for room in range(1, one.capacity + 1) if best[room - 1] < best[room]
    ]
    found = frontier(as_hours(one), "hours", points=100)

    assert not found.capped
    assert [(one.hours, one.net) for one in found.points] == [(0, 0), *steps]
    assert found.points[-1].net == one.profit


# California Manufacturing: Hillier & Lieberman, Introduction to Operations Research, section 11.1.
# Net present values 9, 5, 6, 4 and capital 6, 3, 5, 2, of 10 million dollars; at most one
# warehouse, and a warehouse only with its factory. Published: both factories, 14; the relaxed
# program, (5/6, 1, 0, 1), is worth 16.5.
FACTORIES = (
    Item("1 factory LA", 9 + 6, 6, 0),
    Item("2 factory SF", 5 + 3, 3, 0),
)
WAREHOUSES = (
    Item("3 warehouse LA", 6 + 5, 5, 0, requires=("1 factory LA",)),
    Item("4 warehouse SF", 4 + 2, 2, 0, requires=("2 factory SF",)),
)
CALIFORNIA = Selection(
    (*FACTORIES, *WAREHOUSES),
    at_most_one=(("3 warehouse LA", "4 warehouse SF"),),
    money_limit=10,
)


def test_california_manufacturing() -> None:
    best = choose(CALIFORNIA)

    assert best.chosen == {"1 factory LA", "2 factory SF"}
    assert (best.net, best.money) == (14, 9)
    assert best == enumerate_all(CALIFORNIA)
    assert best.net < 16.5  # the bound of the relaxed program


def test_california_manufacturing_rounded_down_is_not_the_optimum() -> None:
    rounded = net_of(CALIFORNIA, frozenset({"2 factory SF", "4 warehouse SF"}))

    assert not rounded.problem
    assert rounded.net == 9


def test_california_manufacturing_without_its_rules() -> None:
    """Without "only if" and "at most one" it would be (0, 1, 1, 1), worth 15: the rules bind."""
    free = Selection(
        (*FACTORIES, *(Item(one.name, one.gain, one.money, 0) for one in WAREHOUSES)),
        money_limit=10,
    )
    best = choose(free)

    assert best.chosen == {"2 factory SF", "3 warehouse LA", "4 warehouse SF"}
    assert best.net == 15
    assert net_of(CALIFORNIA, best.chosen).problem == (
        "3 warehouse LA needs what is not chosen: 1 factory LA; "
        "only one of these can be chosen: 3 warehouse LA, 4 warehouse SF"
    )


# Three crews for eleven flights: Hillier & Lieberman, the same chapter, set covering. The flights
# of each of twelve sequences and their cost in thousand dollars. Published: 18, by sequences 3, 4,
# 11 or 1, 5, 12. Here the flights are access that one repair needs, the sequences larger access
# that covers them; a flight by itself costs more than all. "Exactly three" does not bind: trying
# all 4,096 sets of sequences gives the same two.
SEQUENCES = (
    (2, (1, 5)),
    (3, (2, 8)),
    (4, (3, 10)),
    (6, (1, 4, 6, 8)),
    (7, (2, 6, 8, 9)),
    (5, (3, 5, 11)),
    (7, (1, 4, 7, 10)),
    (8, (2, 7, 9, 10)),
    (9, (3, 4, 6, 8, 11)),
    (9, (1, 4, 5, 7, 11)),
    (8, (2, 5, 7, 9, 11)),
    (9, (3, 4, 7, 10, 11)),
)
FLIGHTS = tuple(f"flight {at}" for at in range(1, 12))
CREWS = Selection(
    (Item("all flown", 100, 0, 0, access=FLIGHTS),),
    (
        *(Access(flight, 80, 0) for flight in FLIGHTS),
        *(
            Access(f"sequence {at:02}", float(cost), 0, tuple(f"flight {one}" for one in flights))
            for at, (cost, flights) in enumerate(SEQUENCES, 1)
        ),
    ),
)


def test_the_cheapest_access_covers_as_published() -> None:
    best = choose(CREWS)

    assert best.chosen == {"all flown"}
    assert best.money == 18
    assert best.net == 100 - 18
    assert best.access in (
        {"sequence 03", "sequence 04", "sequence 11"},
        {"sequence 01", "sequence 05", "sequence 12"},
    )
    assert best == net_of(CREWS, frozenset({"all flown"}))


def test_the_cheapest_access_decides_whether_it_pays() -> None:
    def worth(gain: float) -> bool:
        item = Item("all flown", gain, 0, 0, access=FLIGHTS)
        return bool(choose(Selection((item,), CREWS.access)).chosen)

    assert worth(18.01)
    assert not worth(18.0)
