"""Faults behind more signs than can be worked out exactly: Gibbs sampling, with its error.

A few signs at a time are explained anew, exactly, while the rest stay explained as they are: all
signs of one fault together, so that another can take its place. Many chains run at once; so does
how well the car was kept. The samples hang on the group alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from appraise.engine.faults.network import Drawn, Group, fired, forward

__all__ = ["Sampled", "sampled"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Places = NDArray[np.intp]

CHAINS, FIRST, KEPT = 160, 60, 80
"""Chains, steps before the first that counts, and steps that count."""
AT_ONCE = 7
"""Signs that are explained anew in one step."""
SURE = 1e-9


@dataclass(frozen=True, slots=True)
class Sampled:
    """What the signs say of a group's faults, as `network.Behind`, from samples.

    Attributes
    ----------
    care : (samples,) state of care of each.
    drawn : the samples.
    error : the largest standard error of a fault's chance.
    """

    group: Group
    evidence: Floats
    chances: Floats
    silent: Floats
    care: Places
    drawn: Drawn
    error: float

    def draw(self, care: Places, uniform: Callable[[str], Floats]) -> Drawn:
        """Return sets of faults, each draw one of the samples of its state of care."""
        pick = np.zeros(len(care), dtype=np.intp)
        share = uniform(f"{self.group.names[0]}/sample")
        for state in np.unique(care):
            mine = np.flatnonzero(self.care == state)
            if not len(mine):
                mine = np.flatnonzero(self.care == self.care[np.abs(self.care - state).argmin()])
            rows = care == state
            pick[rows] = mine[(share[rows] * len(mine)).astype(np.intp)]
        one = self.drawn
        return Drawn(one.there[:, pick], one.shows[:, pick], one.otherwise[:, pick])


def sampled(group: Group, before: Floats) -> Sampled:
    """Return what the signs of a group say of its faults, from `CHAINS * KEPT` samples.

    Parameters
    ----------
    before : (care,) chance of each state of care before anything was seen.
    """
    rng = np.random.default_rng(len(group.names))
    links = tuple(
        tuple((sign, min(chance, 1 - SURE)) for sign, chance in one) for one in group.links
    )
    leaks = np.maximum(group.leaks, SURE)
    odds = group.chances * group.weights
    chances = odds / (odds + 1 - group.chances)
    with np.errstate(divide="ignore"):
        log_has, log_not = np.log(group.chances), np.log1p(-group.chances)
    faults, signs = len(links), len(leaks)
    shown = np.zeros((faults, signs, CHAINS), dtype=bool)
    otherwise = np.ones((signs, CHAINS), dtype=bool)
    there = np.zeros((faults, CHAINS), dtype=bool)
    care = rng.choice(len(before), CHAINS, p=before)
    kept: list[tuple[Places, Drawn]] = []
    seen = np.zeros_like(before)
    for step, chosen in zip(range(FIRST + KEPT), _turns(links, signs, rng), strict=False):
        mine = [at for at, one in enumerate(links) if any(sign in chosen for sign, _ in one)]
        held = np.delete(shown[mine], chosen, axis=1).any(axis=1).T
        missed = [np.prod([1 - q for sign, q in links[at] if sign not in chosen]) for at in mine]
        free = chances[care][:, mine]
        free = free * missed / (free * missed + 1 - free)
        part = Group(
            names=tuple(group.names[at] for at in mine),
            chances=np.where(held, 1.0, free),
            weights=np.ones(len(mine)),
            links=tuple(
                tuple((chosen.index(sign), q) for sign, q in links[at] if sign in chosen)
                for at in mine
            ),
            leaks=leaks[chosen],
        )
        there[mine], bits, otherwise[chosen] = fired(
            part, forward(part)[1], np.arange(CHAINS), lambda _: rng.random(CHAINS)
        )
        for place, sign in enumerate(chosen):
            shown[mine, sign] = bits >> place & 1
        logs = np.where(there[:, :, None], log_has.T[:, None, :], log_not.T[:, None, :]).sum(axis=0)
        weight = before * np.exp(logs - logs.max(axis=1, keepdims=True))
        weight /= weight.sum(axis=1, keepdims=True)
        care = (rng.random((CHAINS, 1)) > np.cumsum(weight, axis=1)[:, :-1]).sum(axis=1)
        if step >= FIRST:
            seen += weight.mean(axis=0)
            any_sign: Bools = np.logical_or.reduce(shown, axis=1)
            kept.append((care, Drawn(there.copy(), any_sign, otherwise.copy())))
    return _summed(group, seen / KEPT / before, kept)


def _turns(
    links: tuple[tuple[tuple[int, float], ...], ...], signs: int, rng: np.random.Generator
) -> Iterator[list[int]]:
    """Yield the signs to explain anew: those of each fault in turn, filled up with any others."""
    while True:
        for fault in rng.permutation(len(links)):
            own = rng.permutation([sign for sign, _ in links[fault]]).tolist()
            others = [sign for sign in rng.permutation(signs).tolist() if sign not in own]
            yield [int(sign) for sign in (own + others)[:AT_ONCE]]


def _summed(group: Group, evidence: Floats, kept: list[tuple[Places, Drawn]]) -> Sampled:
    care = np.concatenate([one for one, _ in kept])
    every = [one for _, one in kept]
    drawn = Drawn(
        np.concatenate([one.there for one in every], axis=1),
        np.concatenate([one.shows for one in every], axis=1),
        np.concatenate([one.otherwise for one in every], axis=1),
    )
    each = [
        rows if (rows := care == at).any() else np.ones_like(rows) for at in range(len(evidence))
    ]
    by_chain = np.mean([one.there for one in every], axis=0)
    return Sampled(
        group=group,
        evidence=evidence,
        chances=np.array([drawn.there[:, rows].mean(axis=1) for rows in each]),
        silent=np.array([(drawn.there & ~drawn.shows)[:, rows].mean(axis=1) for rows in each]),
        care=care,
        drawn=drawn,
        error=float((by_chain.std(axis=1, ddof=1) / np.sqrt(CHAINS)).max()),
    )
