"""Outcomes of checks under several faults at once against the published rule for ladders."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from appraise.engine.faults.results import chances_under, said_by
from appraise.reference.load import load_reference
from appraise.reference.schema import Check

CHECKS = load_reference().checks
ROUNDING = 1e-9


def check_of(outcomes: int, rows: list[list[float]], none: list[float]) -> Check:
    """Return a check of faults a, b, c ... with chances of its outcomes."""
    raw = {
        "kind": "own",
        "id": "ladder",
        "label": "A ladder",
        "minutes": {"low": 1, "likely": 1, "high": 1},
        "how": "Read off how far it has gone.",
        "needs": "standing",
        "outcomes": [f"step {at}" for at in range(outcomes)],
        "given": [
            {"causes": [chr(97 + at)], "chances": [f"{one:.12f}" for one in row]}
            for at, row in enumerate(rows)
        ],
        "otherwise": [f"{one:.12f}" for one in none],
    }
    return Check.model_validate(raw)


def random_ladder(generator: np.random.Generator, faults: int, steps: int) -> Check:
    """Return a check whose faults each lift the result, as noisy-MAX has it."""

    def chances(upto: np.ndarray) -> list[float]:
        out = np.round(np.diff(upto, prepend=0.0), 12)
        out[-1] = 1 - out[:-1].sum()
        return out.tolist()

    none = np.cumsum(generator.dirichlet(np.ones(steps)))
    lifts = [np.cumsum(generator.dirichlet(np.ones(steps))) for _ in range(faults)]
    return check_of(steps, [chances(none * one) for one in lifts], chances(none))


@pytest.mark.parametrize("seed", range(20))
def test_the_outcomes_of_a_ladder_are_the_products_of_its_cumulative_tables(seed: int) -> None:
    """F. J. Diez, Parameter adjustment in Bayes networks: the generalized noisy OR-gate, UAI 1993.

    ``P(<= o) = P0(<= o) prod of C_f(o)``, over every set of faults.
    """
    generator = np.random.default_rng(seed)
    faults, steps = int(generator.integers(1, 5)), int(generator.integers(2, 6))
    check = random_ladder(generator, faults, steps)
    names = [chr(97 + at) for at in range(faults)]
    none = np.cumsum([float(one) for one in check.otherwise])
    for there in product([False, True], repeat=faults):
        upto = none.copy()
        for at, has in enumerate(there):
            if has:
                upto *= np.cumsum([float(one) for one in check.given[at].chances]) / none
        expected = np.diff(upto, prepend=0.0)
        for place, outcome in enumerate(check.outcomes):
            said = said_by(check, outcome)
            spared, times = 1 - said.leak, 1.0
            for name, has in zip(names, there, strict=True):
                if has:
                    spared *= 1 - said.links.get(name, 0.0)
                    times *= said.factors.get(name, 1.0)
            chance = said.base * (1 - spared) * times
            assert chance == pytest.approx(expected[place], abs=ROUNDING)
        sets = {name: np.array([has]) for name, has in zip(names, there, strict=True)}
        assert chances_under(check, sets, 1)[:, 0] == pytest.approx(expected, abs=ROUNDING)


@pytest.mark.parametrize("check", CHECKS.values(), ids=lambda one: one.id)
def test_every_outcome_has_the_chances_of_the_table_under_any_one_fault(check: Check) -> None:
    """The tables of the catalog, as each names its own source."""
    none = chances_under(check, {}, 1)[:, 0]
    assert none == pytest.approx([float(one) for one in check.otherwise], abs=ROUNDING)
    for one in check.given:
        for cause in one.causes:
            under = chances_under(check, {cause: np.array([True])}, 1)[:, 0]
            assert under == pytest.approx([float(chance) for chance in one.chances], abs=ROUNDING)
