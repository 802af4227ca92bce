"""Faults and signs the plain way: every set of faults in turn, and Quickscore."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from appraise.engine.faults.network import Group

Floats = NDArray[np.float64]

__all__ = ["every_set", "quickscore", "random_group", "shown_by"]


def random_group(generator: np.random.Generator, faults: int, signs: int, care: int = 1) -> Group:
    """Return a group of random links, chances, leaks and evidence beside the signs."""
    links = []
    for _ in range(faults):
        shown = sorted(generator.permutation(signs)[: generator.integers(1, signs + 1)].tolist())
        links.append(tuple((sign, float(generator.uniform(0.05, 0.95))) for sign in shown))
    return Group(
        names=tuple(f"fault-{at:02}" for at in range(faults)),
        chances=np.sort(generator.uniform(0.002, 0.3, (care, faults)), axis=0),
        weights=np.exp(generator.normal(0, 0.7, faults)),
        links=tuple(links),
        leaks=generator.uniform(0.001, 0.05, signs),
    )


def every_set(group: Group) -> tuple[Floats, Floats, Floats]:
    """Return evidence, chance of each fault, and that it shows nothing: (care,), twice + (faults,).

    By going through all sets of faults; a fault that is there and shows nothing is one fault more,
    which takes the place of the other with the chance that each of its links fails.
    """
    care, faults = group.chances.shape
    evidence, has, silent = np.zeros(care), np.zeros((care, faults)), np.zeros((care, faults))
    quiet = [np.prod([1 - q for _, q in links]) for links in group.links]
    shows = shown_by(group)
    for code in range(1 << faults):
        there = np.array([bool(code >> at & 1) for at in range(faults)])
        odds = np.where(there, group.chances * group.weights, 1 - group.chances).prod(axis=1)
        chance = odds * (1 - (1 - group.leaks) * (1 - shows[there]).prod(axis=0)).prod()
        evidence += chance
        has[:, there] += chance[:, None]
        for at in np.flatnonzero(there):
            others = there.copy()
            others[at] = False
            alone = (1 - (1 - group.leaks) * (1 - shows[others]).prod(axis=0)).prod()
            silent[:, at] += odds * quiet[at] * alone
    return evidence, has / evidence[:, None], silent / evidence[:, None]


def shown_by(group: Group) -> Floats:
    """Return the chance that each fault shows each sign: (faults, signs)."""
    out = np.zeros((len(group.links), len(group.leaks)))
    for at, links in enumerate(group.links):
        for sign, chance in links:
            out[at, sign] = chance
    return out


def quickscore(group: Group) -> tuple[Floats, Floats]:
    """Return evidence and the chance of each fault: (care,) and (care, faults).

    Heckerman (1989), A tractable inference algorithm for diagnosing multiple diseases: the chance
    that all signs are seen is the alternating sum, over the sets of signs, of the chance that none
    of a set is, a product over faults.
    """
    shows, signs = 1 - shown_by(group), len(group.leaks)
    p, w = group.chances, group.weights
    evidence, has = np.zeros(len(p)), np.zeros_like(p)
    for size in range(signs + 1):
        for chosen in combinations(range(signs), size):
            none = shows[:, list(chosen)].prod(axis=1)
            each = p * w * none + 1 - p
            term = (-1) ** size * np.prod(1 - group.leaks[list(chosen)]) * each.prod(axis=1)
            evidence += term
            has += term[:, None] * p * w * none / each
    return evidence, has / evidence[:, None]
