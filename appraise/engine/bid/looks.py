"""What one may look at next: checks, areas that nobody has inspected, symptoms to look for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.engine.faults.car import CarFaults
from appraise.engine.faults.needed_jobs import Needs
from appraise.engine.faults.results import chances_under
from appraise.engine.faults.search import MINUTES, check_cost
from appraise.engine.faults.seen import sign_of
from appraise.models.case import Case
from appraise.models.findings import Area, Look
from appraise.reference.schema import Check

__all__ = ["EVERYDAY", "Outlook", "looks_at", "states_of"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

MOST_FAULTS = 12
"""That one check is asked about: those that are likeliest."""
LEAST_CHANCE = 0.02
"""Of a fault that a check or symptom is looked at for."""
LOOKS: dict[Look, tuple[str, tuple[str, ...]]] = {
    Look.CLOSE: ("standing", ()),
    Look.ENGINE_RUNNING: ("running", ()),
    Look.UNDERNEATH: ("raised", ("jack", "flashlight")),
    Look.ROAD_TEST: ("driven", ()),
}
"""Where each look is done, and with what."""
EVERYDAY = ("flashlight", "jack")
"""What everybody has who repairs cars, at no price; it may still not be at hand."""
FOUND = ("nothing found", "a fault found")
THERE = ("not there", "there")


@dataclass(frozen=True, slots=True)
class Outlook:
    """Something that may be looked at, with what it would say in each state of the car.

    Attributes
    ----------
    state : (draws,) which state each draw is in.
    likelihood : (states, outcomes) chance of each outcome.
    cost : money and time at the own rate.
    """

    id: str
    kind: Literal["check", "area", "symptom"]
    label: str
    how: str
    needs: str
    tools: tuple[str, ...]
    minutes: float
    cost: float
    outcomes: tuple[str, ...]
    state: NDArray[np.intp]
    likelihood: Floats
    cautions: tuple[str, ...] = ()


def states_of(rows: Sequence[Bools], draws: int) -> tuple[NDArray[np.intp], Bools]:
    """Return which state each draw is in, and the states: (draws,) and (faults, states)."""
    code = np.zeros(draws, dtype=np.int64)
    for place, mask in enumerate(rows):
        code |= mask.astype(np.int64) << place
    codes, state = np.unique(code, return_inverse=True)
    there = (codes[None, :] >> np.arange(len(rows))[:, None] & 1).astype(bool)
    return state.astype(np.intp), there


def looks_at(
    case: Case, car: CarFaults, needs: Iterable[Needs], prices: PriceList, lookup: Lookup
) -> Iterator[Outlook]:
    """Yield what has not been looked at yet and tells anything of this car.

    Parameters
    ----------
    needs : of the findings, for the causes that a person states.
    """
    masks = {name: mask for name in car.faults if (mask := car.there(name)) is not None}
    usual = {name: float(mask.mean()) for name, mask in masks.items()}
    for one in needs:
        causes = one.odds.causes[:-1] if one.odds else ()
        for cause, mask in zip(causes, one.cause_rows, strict=False):
            masks[cause] = masks[cause] | mask if cause in masks else mask
            usual[cause] = float(masks[cause].mean())
    yield from _checks(case, masks, usual, prices, lookup)
    yield from _symptoms(case, car, masks, usual, lookup)
    yield from _areas(case, car, lookup)


def _checks(
    case: Case,
    masks: dict[str, Bools],
    usual: dict[str, float],
    prices: PriceList,
    lookup: Lookup,
) -> Iterator[Outlook]:
    done = {one.check for one in case.results}
    for check in lookup.reference.checks.values():
        named = [cause for one in check.given for cause in one.causes if cause in masks]
        named = sorted(named, key=lambda one: (-usual[one], one))[:MOST_FAULTS]
        if check.id in done or not named or usual[named[0]] < LEAST_CHANCE:
            continue
        state, likelihood = _said(check, named, masks)
        lookup.used.add(f"check.{check.id}")
        yield Outlook(
            id=check.id,
            kind="check",
            label=check.label,
            how=check.how,
            needs=check.needs,
            tools=check.tools,
            minutes=float(check.minutes.likely),
            cost=check_cost(check, case, prices),
            outcomes=check.outcomes,
            state=state,
            likelihood=likelihood,
            cautions=check.cautions,
        )


def _said(
    check: Check, named: Sequence[str], masks: dict[str, Bools]
) -> tuple[NDArray[np.intp], Floats]:
    rows = [masks[cause] for cause in named]
    state, there = states_of(rows, len(rows[0]))
    by_fault = dict(zip(named, there, strict=True))
    return state, chances_under(check, by_fault, there.shape[1]).T


def _symptoms(
    case: Case,
    car: CarFaults,
    masks: dict[str, Bools],
    usual: dict[str, float],
    lookup: Lookup,
) -> Iterator[Outlook]:
    """Yield the symptoms that would tell the faults in question apart."""
    asked = {one.symptom for one in case.findings} | set(case.not_seen)
    phenomena = {sign.name for sign in car.seen.signs}
    open_faults = {name for name, chance in car.behind.items() if chance >= LEAST_CHANCE}
    minutes, rate = lookup.number("symptom.minutes"), float(case.deal.own_rate)
    for symptom in lookup.reference.symptoms.values():
        known = symptom.id in asked or (symptom.phenomenon or symptom.id) in phenomena
        if known or not symptom.allows(case.vehicle):
            continue
        links, leak = sign_of(symptom, car.faults, lookup)
        named = sorted((one for one in links if one in masks), key=lambda one: (-usual[one], one))[
            :MOST_FAULTS
        ]
        if not open_faults & set(named):
            continue
        state, there = states_of([masks[one] for one in named], len(masks[named[0]]))
        missed = np.full(there.shape[1], 1 - leak)
        for cause, has in zip(named, there, strict=True):
            missed[has] *= 1 - links[cause]
        asked_for = sum(links[cause] * car.behind[cause] for cause in named if cause in open_faults)
        if asked_for < LEAST_CHANCE * 2:
            continue
        driven = symptom.area is Area.ROAD_TEST
        yield Outlook(
            id=symptom.id,
            kind="symptom",
            label=symptom.label,
            how="Look, listen, feel or smell for it.",
            needs="driven" if driven else "standing",
            tools=(),
            minutes=minutes,
            cost=minutes / MINUTES * rate,
            outcomes=THERE,
            state=state,
            likelihood=np.stack([missed, 1 - missed], axis=1),
        )


def _areas(case: Case, car: CarFaults, lookup: Lookup) -> Iterator[Outlook]:
    """Yield a look at each area, of every kind that finds more than those made."""
    rate = float(case.deal.own_rate)
    for doubt in car.doubts:
        known = lookup.reference.areas[doubt.area]
        rows = [mask for name, mask in car.hidden.items() if car.faults[name].area is doubt.area]
        if not rows:
            continue
        count = np.minimum(np.sum(rows, axis=0), 3).astype(np.intp)
        before = car.seen.looks[doubt.area][1] if doubt.area in car.seen.looks else 0.0
        for look, (needs, tools) in LOOKS.items():
            finds = float(known.found.get(look, 0))
            if finds <= before:
                continue
            more = 1 - (1 - finds) / (1 - before)
            missed = (1 - more) ** np.arange(4)
            minutes = lookup.entry("look.minutes", look.value)
            yield Outlook(
                id=f"{doubt.area.value}:{look.value}",
                kind="area",
                label=f"{known.label}: {look.value.replace('_', ' ')}",
                how=known.look_for,
                needs=needs,
                tools=tools,
                minutes=minutes,
                cost=minutes / MINUTES * rate,
                outcomes=FOUND,
                state=count,
                likelihood=np.stack([missed, 1 - missed], axis=1),
            )
