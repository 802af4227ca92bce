"""What finding the faults takes: checks in the best order, and parts bought in vain."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from appraise.engine.catalog.prices import PriceList
from appraise.engine.faults.car import CarFaults
from appraise.engine.faults.rates import CarFault
from appraise.models.case import Case
from appraise.reference.schema import Check

__all__ = ["Search", "Step", "check_cost", "search_of", "settling_checks", "steps_of"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

MINUTES = 60.0
LEAST_CHANCE = 0.01
"""Of a fault that anybody looks for."""
TELLS, SEEN_SO = 5.0, 0.5
"""A check settles a fault where one outcome is so many times likelier with it than without, and is
seen in at least so many of the cars that have it."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step in finding what is behind the signs.

    Attributes
    ----------
    check : that settles it; None where its repair is tried.
    minutes, money : of the step; a repair that is tried costs them only where it is in vain.
    cost : both, time at the own rate.
    """

    fault: str
    chance: float
    check: str | None
    minutes: float
    money: float
    cost: float


@dataclass(frozen=True, slots=True)
class Search:
    """What finding the faults takes.

    Attributes
    ----------
    money, hours : (draws,).
    by_group : the same for each group of signs, in the order of the car's.
    steps : in the order of least expected cost, for each group of signs.
    """

    money: Floats
    hours: Floats
    by_group: tuple[tuple[Floats, Floats], ...]
    steps: tuple[Step, ...]


def check_cost(check: Check, case: Case, prices: PriceList) -> float:
    """Return what a check costs: money, tools that are not owned, and time at the own rate."""
    time = float(check.minutes.likely) / MINUTES * float(case.deal.own_rate)
    return _money(check, case, prices) + time


def _money(check: Check, case: Case, prices: PriceList) -> float:
    deal = case.deal
    tools = sum(
        prices.tool_price(tool).likely for tool in check.tools if tool not in deal.tools_owned
    )
    return float(check.cost) * float(deal.price_level) + tools


def settling_checks(
    faults: Sequence[str], case: Case, prices: PriceList, checks: Mapping[str, Check]
) -> dict[str, Check]:
    """Return by fault the cheapest check that settles it, where there is one."""
    wanted, out = set(faults), dict[str, tuple[float, Check]]()
    for check in checks.values():
        for one in check.given:
            named = wanted.intersection(one.causes)
            if not named:
                continue
            tells = any(
                chance >= SEEN_SO and chance >= TELLS * float(other)
                for chance, other in zip(map(float, one.chances), check.otherwise, strict=True)
            )
            if tells:
                cost = check_cost(check, case, prices)
                for fault in named:
                    if fault not in out or (cost, check.id) < (out[fault][0], out[fault][1].id):
                        out[fault] = cost, check
    return {fault: check for fault, (_, check) in out.items()}


def steps_of(
    chances: Mapping[str, float],
    repairs: Mapping[str, tuple[float, float]],
    settling: Mapping[str, Check],
    case: Case,
    prices: PriceList,
) -> list[Step]:
    """Return the steps in the order of least expected cost: highest chance over cost first.

    A check costs what it does whether it finds the fault or not, a repair only where it is in vain;
    the same order is the best of both. A fault is settled by its check, or by its repair where that
    is likely enough to be right.

    Parameters
    ----------
    chances : by fault.
    repairs : by fault, mean money and hours of its repair.
    settling : by fault, the check that settles it.

    References
    ----------
    heckerman-1995
    """
    rate = float(case.deal.own_rate)
    out = []
    for fault, chance in chances.items():
        money, hours = repairs[fault]
        step = Step(fault, chance, None, hours * MINUTES, money, money + hours * rate)
        check = settling.get(fault)
        if check is not None:
            cost = check_cost(check, case, prices)
            if cost < (1 - chance) * step.cost:
                minutes = float(check.minutes.likely)
                step = Step(fault, chance, check.id, minutes, _money(check, case, prices), cost)
        out.append((-chance / max(step.cost, 1e-6), fault, step))
    return [step for _, _, step in sorted(out, key=lambda one: one[:2])]


def search_of(
    car: CarFaults,
    case: Case,
    prices: PriceList,
    cost_of: Callable[[CarFault], tuple[float, float]],
    draws: int,
    weights: Floats | None = None,
) -> Search:
    """Return what finding the faults behind the signs takes, draw by draw.

    In each draw the steps are taken in order until all faults behind the signs are found; where
    something else is behind one, all of them.

    Parameters
    ----------
    cost_of : mean money and hours of a fault's repair.
    weights : (draws,) how much each draw counts after something more was seen, or None.
    """
    listed: list[Step] = []
    by_group = []
    checks = car.checks
    for names, signs in car.groups:
        money, hours = np.zeros(draws), np.zeros(draws)
        by_group.append((money, hours))
        now = {name: _chance(name, car, weights) for name in names if name in car.behind}
        chances = {name: chance for name, chance in now.items() if chance >= LEAST_CHANCE}
        if not chances:
            continue
        settling = settling_checks(list(chances), case, prices, checks)
        repairs = {name: cost_of(car.faults[name]) for name in chances}
        steps = steps_of(chances, repairs, settling, case, prices)
        last = np.full(draws, -1)
        for place, step in enumerate(steps):
            last[car.shows[step.fault]] = place
        for sign in signs:
            last[car.otherwise[sign]] = len(steps)
        for place, step in enumerate(steps):
            paid = last >= place
            if step.check is None:
                paid &= ~car.shows[step.fault]
            money += paid * step.money
            hours += paid * (step.minutes / MINUTES)
        listed += steps
    nothing = np.zeros(draws)
    return Search(
        money=sum((one for one, _ in by_group), nothing),
        hours=sum((one for _, one in by_group), nothing),
        by_group=tuple(by_group),
        steps=tuple(listed),
    )


def _chance(name: str, car: CarFaults, weights: Floats | None) -> float:
    if weights is None:
        return car.behind[name]
    return float(car.shows[name] @ weights / weights.sum())
