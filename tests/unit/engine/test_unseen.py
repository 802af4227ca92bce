"""What may hide in an area: base rates, odds, and what a look is worth."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.engine.faults.unseen import AreaDoubt, after_look, area_doubts, with_odds
from appraise.models.case import Case
from appraise.models.findings import Area, Look
from appraise.reference.load import Reference

Doubts = Callable[..., dict[Area, AreaDoubt]]


@pytest.fixture
def doubts(case_of: Callable[..., Case], reference: Reference) -> Doubts:
    def run(*findings: dict[str, Any], **more: Any) -> dict[Area, AreaDoubt]:
        case = case_of(findings, **more)
        lookup = Lookup(reference)
        return {one.area: one for one in area_doubts(case, PriceList.of(case, lookup), lookup)}

    return run


def look(area: str, kind: str | None, state: str = "fine", name: str = "x") -> dict[str, Any]:
    return {"id": name, "area": area, "state": state, "look": kind}


@pytest.mark.parametrize(("chance", "found"), [(0.2, 0.5), (0.01, 0.9), (0.9, 0.1), (1.0, 0.5)])
def test_a_clean_look_is_bayes_rule(chance: float, found: float) -> None:
    missed = chance * (1 - found)
    assert after_look(chance, found) == pytest.approx(missed / (missed + 1 - chance))


def test_a_negative_test_is_the_published_mammogram() -> None:
    """Eddy; Gigerenzer: 1 % ill, 80 % found, 9.6 % false alarms; after a negative 0.2230 %.

    A look has no false alarms of its own here, so the odds fall by 0.2/0.904 there and 0.2 here.
    """
    assert with_odds(0.01, 0.2 / 0.904) == pytest.approx(0.002230, abs=5e-7)
    assert after_look(0.01, 0.8) == pytest.approx(with_odds(0.01, 0.2))


def test_odds_move_by_a_factor() -> None:
    assert with_odds(0.2, 4) / (1 - with_odds(0.2, 4)) == pytest.approx(4 * 0.25)
    assert with_odds(0.3, 1) == pytest.approx(0.3)
    assert (with_odds(0.0, 9), with_odds(1.0, 9)) == (0.0, 1.0)


def test_not_looked_at_leaves_the_base_rate(doubts: Doubts) -> None:
    untouched = doubts()
    said = doubts({"id": "x", "area": "brakes", "state": "not_looked_at"})
    assert said == untouched
    assert all(one.chance == one.before and one.look is None for one in untouched.values())


def test_no_look_raises_an_areas_chance_and_a_better_one_lowers_it_more(
    doubts: Doubts, reference: Reference
) -> None:
    for area, before in doubts().items():
        found = reference.areas[area].found
        chances = []
        for kind in sorted(Look, key=lambda one: float(found.get(one, 0))):
            after = doubts(look(area.value, kind.value))[area]
            assert after.before == before.chance
            chances.append(after.chance)
        assert chances == sorted(chances, reverse=True)
        assert chances[0] <= before.chance


def test_the_best_of_several_looks_counts(doubts: Doubts) -> None:
    both = doubts(look("brakes", "glance", name="a"), look("brakes", "measured", name="b"))
    best = doubts(look("brakes", "measured"))
    assert both == best
    assert both[Area.BRAKES].look is Look.MEASURED


def test_a_finding_without_a_look_is_a_glance(doubts: Doubts) -> None:
    assert doubts(look("brakes", None)) == doubts(look("brakes", "glance"))


def test_older_and_further_cars_hide_more(doubts: Doubts) -> None:
    def car(year: int, miles: int) -> dict[str, Any]:
        return {
            "make": "Invented",
            "model": "One",
            "model_year": year,
            "odometer": {"value": miles, "unit": "mi"},
        }

    young, old = doubts(vehicle=car(2023, 90_000)), doubts(vehicle=car(2005, 90_000))
    near, far = doubts(vehicle=car(2015, 20_000)), doubts(vehicle=car(2015, 200_000))
    for area in young:
        assert 0 < young[area].chance < old[area].chance < 1
        assert near[area].chance < far[area].chance


def test_an_electric_car_has_no_exhaust_and_weights_sum_to_one(doubts: Doubts) -> None:
    car = {
        "make": "Invented",
        "model": "One",
        "model_year": 2018,
        "odometer": {"value": 50_000, "unit": "km"},
        "fuel": "electric",
        "transmission": "single_speed",
    }
    electric = doubts(vehicle=car)
    assert Area.EXHAUST not in electric
    assert Area.EXHAUST in doubts()
    for one in (*electric.values(), *doubts().values()):
        assert sum(weight for _, weight in one.typical) == pytest.approx(1)
