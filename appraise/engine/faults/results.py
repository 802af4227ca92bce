"""What the result of a check says of each fault, alone and beside others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from appraise.reference.schema import Check

__all__ = ["Said", "chances_under", "said_by"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class Said:
    """What one outcome says: its chance is ``base (1 - (1 - leak) prod (1 - q)) prod factor``.

    Attributes
    ----------
    factors : by fault, what its being there multiplies the chance by.
    links : by fault, the chance that it brings the outcome about.
    base, leak : ``base * leak`` is the chance of the outcome where none of the faults is there.
    """

    factors: Mapping[str, float] = field(default_factory=dict)
    links: Mapping[str, float] = field(default_factory=dict)
    leak: float = 1.0
    base: float = 1.0


@lru_cache(maxsize=2048)
def _table(check_id: str, check: Check) -> tuple[tuple[str, ...], Floats, Floats, int]:
    """Return faults, their chances (faults, outcomes), those of none, and which way it is ordered.

    1 or -1 where the outcomes, from the first or from the last, are a ladder on which no fault
    ever stands lower than none does; else 0.
    """
    del check_id
    faults = tuple(cause for one in check.given for cause in one.causes)
    rows = np.array([[float(c) for c in one.chances] for one in check.given for _ in one.causes])
    none = np.array([float(chance) for chance in check.otherwise])
    for way in (1, -1):
        with np.errstate(divide="ignore", invalid="ignore"):
            ladder = np.cumsum(rows[:, ::way], axis=1) / np.cumsum(none[::way])
        if np.isfinite(ladder).all() and (np.diff(ladder, axis=1) >= -SLACK).all():
            return faults, rows, none, way
    return faults, rows, none, 0


def said_by(check: Check, outcome: str) -> Said:
    """Return what an outcome says of the faults that a check speaks to.

    Where the outcomes are a ladder, each fault lifts the result to a step of its own and the
    highest counts (noisy-MAX): ``P(<= o) = P0(<= o) prod F_c(o)``, so the faults take ``F_c(o)``
    as a factor and bring the step about with ``1 - F_c(o-1) / F_c(o)``. Elsewhere a fault that
    makes the outcome likelier brings it about as a sign, and one that makes it less likely takes
    it as a factor. Either way the outcome has the chances of the table under any one fault.

    References
    ----------
    diez-1993
    """
    faults, rows, none, way = _table(check.id, check)
    at = check.outcomes.index(outcome)
    if way == 0:
        factors = {
            fault: float(chance / none[at])
            for fault, chance in zip(faults, rows[:, at], strict=True)
            if chance < none[at]
        }
        links = {
            fault: float((chance - none[at]) / (1 - none[at]))
            for fault, chance in zip(faults, rows[:, at], strict=True)
            if chance > none[at]
        }
        return Said(factors, links, float(none[at]))
    step = at if way == 1 else len(none) - 1 - at
    upto, base = np.cumsum(rows[:, ::way], axis=1), np.cumsum(none[::way])
    here = np.minimum(upto[:, step] / base[step], 1.0)
    if step == 0:
        return Said(dict(zip(faults, here.tolist(), strict=True)), base=float(base[0]))
    below = np.minimum(upto[:, step - 1] / base[step - 1], 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        shown = np.where(here > 0, 1 - below / here, 0.0)
    return Said(
        dict(zip(faults, here.tolist(), strict=True)),
        {fault: float(q) for fault, q in zip(faults, shown, strict=True) if q > SLACK},
        float(1 - base[step - 1] / base[step]),
        float(base[step]),
    )


def chances_under(check: Check, there: Mapping[str, Bools], count: int) -> Floats:
    """Return the chance of each outcome under sets of faults: (outcomes, sets).

    Parameters
    ----------
    there : by fault, (sets,) whether it is there.
    count : number of sets.
    """
    out = np.empty((len(check.outcomes), count))
    for at, outcome in enumerate(check.outcomes):
        said = said_by(check, outcome)
        spared = np.full(count, 1 - said.leak)
        times = np.ones(count)
        for fault, has in there.items():
            if fault in said.links:
                spared[has] *= 1 - said.links[fault]
            if fault in said.factors:
                times[has] *= said.factors[fault]
        out[at] = said.base * (1 - spared) * times
    total = out.sum(axis=0)
    return out / np.where(total > 0, total, 1.0)
