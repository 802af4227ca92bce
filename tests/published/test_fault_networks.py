"""Faults behind signs against a textbook, a general library and a second published algorithm."""

from __future__ import annotations

import warnings
from dataclasses import replace

import numpy as np
import pytest
from fault_sets import quickscore, random_group

from appraise.engine.draws.streams import Streams
from appraise.engine.faults.network import Group, explain

with warnings.catch_warnings():  # a warning made an error ends the process there
    warnings.simplefilter("ignore", DeprecationWarning)
    import pyagrum

NETWORKS, LARGE = 1000, 40
"""Networks in all, and those of up to 15 faults and 10 signs; the rest are smaller, for speed."""
SAME = 1e-9
SAMPLES = 200_000
ERRORS = 4.0


@pytest.mark.parametrize(
    ("there", "fever"), [("110", 0.88), ("101", 0.94), ("011", 0.98), ("111", 0.988), ("000", 0.0)]
)
def test_fever_under_colds_flu_and_malaria(there: str, fever: float) -> None:
    """S. Russell and P. Norvig, Artificial Intelligence: A Modern Approach.

    Chapter on probabilistic reasoning, noisy-OR: fever fails to show with .6 in a cold, .2 in the
    flu and .1 in malaria, and never comes without one.
    """
    group = Group(
        names=("cold", "flu", "malaria"),
        chances=np.array([[float(one) for one in there]]),
        weights=np.ones(3),
        links=(((0, 1 - 0.6),), ((0, 1 - 0.2),), ((0, 1 - 0.1),)),
        leaks=np.zeros(1),
    )

    assert explain(group).evidence[0] == pytest.approx(fever, abs=1e-12)


def few_links(generator: np.random.Generator, group: Group) -> Group:
    """Return the same with up to three signs of each fault, which the library takes quickly."""
    links = tuple(one[: generator.integers(1, 4)] for one in group.links)
    return replace(group, links=links)


def by_library(group: Group) -> np.ndarray:
    """Return the chance of each fault by pyAgrum, an open library for Bayesian networks.

    Its net noisy-OR with an external weight is ours with a leak; evidence beside the
    signs is entered as a likelihood of each fault.
    """
    network = pyagrum.BayesNet()
    evidence: dict[str, list[float]] = {}
    for name, chance, weight in zip(group.names, group.chances[0], group.weights, strict=True):
        network.add(pyagrum.RangeVariable(name, name, 0, 1))
        network.cpt(name).fillWith([1 - chance, chance])
        evidence[name] = [1 / max(1.0, weight), weight / max(1.0, weight)]
    for sign, leak in enumerate(group.leaks):
        network.addNoisyORNet(pyagrum.RangeVariable(f"sign-{sign}", "", 0, 1), float(leak))
        evidence[f"sign-{sign}"] = [0.0, 1.0]
    for name, links in zip(group.names, group.links, strict=True):
        for sign, chance in links:
            network.addWeightedArc(name, f"sign-{sign}", chance)
    engine = pyagrum.LazyPropagation(network)
    engine.setEvidence(evidence)
    engine.makeInference()
    return np.array([engine.posterior(name)[1] for name in group.names])


def test_odds_of_a_thousand_random_networks_are_those_of_a_library_for_them() -> None:
    """By pyAgrum, lazy propagation: the same within 1e-9 on every network."""
    generator = np.random.default_rng(14)
    for number in range(NETWORKS):
        faults, signs = (15, 10) if number < LARGE else (7, 5)
        group = random_group(
            generator, int(generator.integers(1, faults + 1)), int(generator.integers(1, signs + 1))
        )
        group = few_links(generator, group)
        assert explain(group).chances[0] == pytest.approx(by_library(group), abs=SAME), number


def test_sampled_sets_of_faults_are_those_of_the_library() -> None:
    """By pyAgrum, on one network of 15 faults and 10 signs: 200,000 sets, four standard errors."""
    generator = np.random.default_rng(2014)
    group = few_links(generator, random_group(generator, 15, 10))
    known = by_library(group)
    drawn = explain(group).draw(np.zeros(SAMPLES, dtype=np.intp), Streams(3, SAMPLES).uniforms)
    error = np.sqrt(known * (1 - known) / SAMPLES)

    assert (np.abs(drawn.there.mean(axis=1) - known) <= ERRORS * error).all()


@pytest.mark.parametrize("signs", range(1, 11))
def test_odds_are_those_of_quickscore(signs: int) -> None:
    """D. Heckerman, A tractable inference algorithm for diagnosing multiple diseases, UAI 1989.

    Its alternating sum loses digits: two to the number of signs terms, each about as large as 1.
    """
    generator = np.random.default_rng(signs)
    group = random_group(generator, 20, signs, care=2)
    evidence, chances = quickscore(group)
    lost = 1e-15 * 2**signs / float(evidence.min())

    assert explain(group).evidence == pytest.approx(evidence, rel=max(1e-11, lost))
    assert explain(group).chances == pytest.approx(chances, rel=max(1e-10, 100 * lost))
