"""Textbook project networks: with every activity at a shop, only the longest path counts."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest

from appraise.engine.work.schedule import Task, plan_days

Network = dict[str, tuple[int, str]]

# Hillier and Lieberman, Introduction to Operations Research, chapter 22 (Reliable Construction):
# mean weeks and immediate predecessors of the activities A to N; 44 weeks by A-B-C-E-F-J-L-N.
RELIABLE: Network = {
    "A": (2, ""),
    "B": (4, "A"),
    "C": (10, "B"),
    "D": (6, "C"),
    "E": (4, "C"),
    "F": (5, "E"),
    "G": (7, "D"),
    "H": (9, "EG"),
    "I": (7, "C"),
    "J": (8, "FI"),
    "K": (4, "J"),
    "L": (5, "J"),
    "M": (2, "H"),
    "N": (6, "KL"),
}
# An open course on project management, "Network construction - critical path method": 41 days by
# A-B-F-I-K-L-N.
COURSE: Network = {
    "A": (2, ""),
    "B": (10, "A"),
    "C": (13, "A"),
    "D": (12, "A"),
    "E": (12, "B"),
    "F": (7, "B"),
    "G": (10, "D"),
    "H": (16, "D"),
    "I": (6, "F"),
    "J": (12, "CG"),
    "K": (5, "I"),
    "L": (8, "EK"),
    "M": (5, "H"),
    "N": (3, "JLM"),
}
START = date(2026, 3, 2)
BOOKS = [(RELIABLE, 44, "ABCEFJLN"), (COURSE, 41, "ABFIKLN")]


@pytest.mark.parametrize(("network", "length", "path"), BOOKS)
def test_the_plan_is_as_long_as_the_published_critical_path(
    network: Network, length: int, path: str
) -> None:
    tasks = [
        Task(name, 0, shop_days=days, after=tuple(after)) for name, (days, after) in network.items()
    ]
    plan = plan_days(tasks, START, 8.0, {}, {})
    slots = {one.name: one for one in plan.slots}

    assert plan.finish == START + timedelta(days=length - 1)
    assert len(plan.days) == length
    assert slots[path[0]].begins == START
    assert slots[path[-1]].ends == plan.finish
    for before, after in pairwise(path):
        assert slots[after].begins == slots[before].ends + timedelta(days=1)


@pytest.mark.parametrize(("network", "length", "path"), BOOKS)
def test_one_pair_of_hands_takes_the_sum_instead(network: Network, length: int, path: str) -> None:
    """8 hours a day of one person: 79 and 121 days, whatever the order."""
    tasks = [Task(name, 8.0 * days, after=tuple(after)) for name, (days, after) in network.items()]
    plan = plan_days(tasks, START, 8.0, {}, {})

    assert len(plan.days) == {44: 79, 41: 121}[length]
    assert all(day.hours == 8.0 for day in plan.days)
    places = [plan.order.index(name) for name in path]
    assert places == sorted(places)
