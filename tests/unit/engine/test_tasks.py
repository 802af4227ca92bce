"""Tasks before they have days: their order, and what has to come off for them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from appraise.engine.draws.subset import Rows
from appraise.engine.repair.totals import access_hours
from appraise.engine.work.tasks import Task, order_of, teardown
from appraise.reference.load import Reference

ACCESS = {"belt_off": 0.5, "bumper_off": 1.0, "engine_out": 6.0, "lid_off": 0.2}
COVERS = {"engine_out": ("belt_off", "bumper_off")}


@pytest.mark.parametrize(
    ("needed", "hours"),
    [
        ((), 0.0),
        (("belt_off", "lid_off"), 0.7),
        (("engine_out",), 6.0),
        (("engine_out", "belt_off", "bumper_off"), 6.0),
        (("box_out", "engine_out", "bumper_off"), 6.0),
        (("box_out", "lid_off"), 3.2),
    ],
)
def test_access_hours_together(needed: tuple[str, ...], hours: float) -> None:
    """`box_out` takes 3 alone, but with the engine in it 6; the lid is no part of either."""
    access, covers = ACCESS | {"box_out": 3.0}, COVERS | {"box_out": ("engine_out",)}

    assert teardown(needed, access, covers).total == pytest.approx(hours)


def test_what_two_larger_groups_cover_is_counted_in_the_one_that_covers_less() -> None:
    """The head takes 1 alone, but 2.5 with manifold and belt; the engine covers the belt too."""
    access = {"belt": 1.0, "engine": 6.0, "head": 1.0, "manifold": 1.5}
    covers = {"engine": ("belt", "manifold", "mounts"), "head": ("belt", "manifold")}
    found = teardown(access, access, covers)

    assert found.home == {"belt": "head", "manifold": "head"}
    assert found.hours == access | {"head": 2.5}
    assert found.total == 8.5


def test_what_is_covered_is_followed_down_to_the_bottom() -> None:
    found = teardown(("bolt",), {"bolt": 1.0}, {"z": ("bolt",), "a": ("z",)})

    assert found.covered["a"] == {"z", "bolt"}
    assert found.total == 1.0


def test_a_plan_counts_the_access_hours_that_the_repair_counts(reference: Reference) -> None:
    """Random sets of the catalog's groups, at hours that make larger ones take less at times."""
    generator = np.random.default_rng(4)
    names = sorted(reference.access)
    covers = {name: one.covers for name, one in reference.access.items()}
    for _ in range(300):
        hours = {
            name: float(one.hours.likely) * float(generator.lognormal(0, 0.5))
            for name, one in reference.access.items()
        }
        needed = [str(one) for one in generator.choice(names, int(generator.integers(1, 15)))]
        workshop: Any = SimpleNamespace(
            lookup=SimpleNamespace(reference=reference),
            access=lambda name, hours=hours: np.array([hours[name]]),
        )
        paid = access_hours({name: Rows(np.array([True])) for name in needed}, workshop)
        total = sum(float(each[0]) for each, rows in paid if rows.mask[0])
        assert teardown(needed, hours, covers).total == pytest.approx(total)


def test_groups_that_cover_each_other_are_refused() -> None:
    with pytest.raises(ValueError, match="in a ring: a -> b -> a"):
        teardown((), {}, {"a": ("b",), "b": ("a",)})


def test_an_order_keeps_what_was_given_where_it_may() -> None:
    tasks = [Task("d", 1, after=("b",)), Task("c", 1), Task("b", 1), Task("a", 1)]

    assert order_of(tasks) == ("c", "b", "d", "a")
    assert order_of([]) == ()
