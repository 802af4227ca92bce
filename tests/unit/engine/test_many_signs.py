"""More signs than can be worked out exactly: samples against the exact chances."""

from __future__ import annotations

import numpy as np
import pytest
from fault_sets import random_group

from appraise.engine.draws.streams import Streams
from appraise.engine.faults.care import Care
from appraise.engine.faults.many_signs import Sampled, sampled
from appraise.engine.faults.network import Behind, Group, explain

ERRORS = 4.0
"""Standard errors allowed, of those stated."""


@pytest.fixture(scope="module", params=[0, 3, 4])
def both(request: pytest.FixtureRequest) -> tuple[Care, Behind, Sampled]:
    """Return twelve signs of thirty faults, each seldom there, by both ways.

    Faults that take each other's place: drawing one fault at a time was off by .1 to .2 here.
    """
    generator = np.random.default_rng(request.param)
    care = Care.of(2)
    group = random_group(generator, 30, 12)
    rates = generator.uniform(0.001, 0.03, 30)
    few = tuple(links[: generator.integers(1, 7)] for links in group.links)
    seldom = Group(
        group.names,
        np.stack([care.has(rate) for rate in rates], axis=1),
        group.weights,
        few,
        group.leaks / 10,
    )
    return care, explain(seldom), sampled(seldom, care.before)


def after(care: Care, evidence: np.ndarray) -> np.ndarray:
    weight = care.before * evidence
    return weight / weight.sum()


def test_chances_are_the_exact_ones_within_four_stated_errors(
    both: tuple[Care, Behind, Sampled],
) -> None:
    care, exact, samples = both
    known, drawn = after(care, exact.evidence), after(care, samples.evidence)

    assert 0 < samples.error < 0.04
    assert drawn @ samples.chances == pytest.approx(
        known @ exact.chances, abs=ERRORS * samples.error
    )
    assert drawn @ samples.silent == pytest.approx(known @ exact.silent, abs=ERRORS * samples.error)
    assert drawn @ care.factor == pytest.approx(known @ care.factor, rel=0.02)


def test_draws_are_of_the_samples_and_leave_no_sign_unexplained(
    both: tuple[Care, Behind, Sampled],
) -> None:
    care, _, samples = both
    state = np.repeat(np.arange(len(care.before)), 2000)
    drawn = samples.draw(state, Streams(1, len(state)).uniforms)
    explained = drawn.otherwise.copy()
    for at, links in enumerate(samples.group.links):
        for sign, _ in links:
            explained[sign] |= drawn.shows[at]

    assert explained.all()
    assert not (drawn.shows & ~drawn.there).any()
    usual = state == int(after(care, samples.evidence).argmax())
    assert drawn.there[:, usual].mean(axis=1) == pytest.approx(
        samples.chances[state[usual][0]], abs=ERRORS * 0.5 / np.sqrt(2000)
    )


def test_how_well_the_car_was_kept_is_found_where_hardly_a_state_is_likely_before() -> None:
    """Twenty signs of twenty faults of their own: the gamma factor's own posterior.

    Of a mean m of faults in all and n found, gamma of shape k and rate k is gamma of shape k + n
    and rate k + m where faults are seldom (conjugate to the Poisson).
    """
    care = Care.of(2)
    rate, count = 0.0005, 20
    group = Group(
        tuple(f"fault-{at:02}" for at in range(count)),
        np.repeat(care.has(rate)[:, None], count, axis=1),
        np.ones(count),
        tuple(((at, 0.9),) for at in range(count)),
        np.full(count, 1e-12),
    )
    found = after(care, sampled(group, care.before).evidence)

    assert found @ care.factor == pytest.approx((2 + 20) / (2 + count * rate), rel=0.1)
