"""Same case, same numbers; one finding more or less leaves every other draw as it was."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable

import numpy as np
import pytest

from appraise.engine import appraise
from appraise.engine.draws import Spread, Streams
from appraise.engine.repair import RepairDraws, Tally
from appraise.models.case import Case
from appraise.reference.load import Reference

PROGRAM = """
import sys
from appraise.engine import appraise
from appraise.models.case import Case
from appraise.reference.load import load_reference
case = Case.model_validate_json(sys.stdin.read())
print(appraise(case, load_reference()).model_dump_json())
"""


def same(one: Tally, two: Tally) -> bool:
    """Return whether two tallies agree bit for bit."""
    return one.labour == two.labour and all(
        np.array_equal(getattr(one, name), getattr(two, name))
        for name in ("money", "hours", "bill")
    )


@pytest.fixture(scope="module")
def busy(random_case: Callable[..., Case]) -> Case:
    return random_case(np.random.default_rng(5), 8, draws=4000)


def test_a_case_gives_the_same_appraisal_again_and_in_a_fresh_process(
    busy: Case, reference: Reference
) -> None:
    first = appraise(busy, reference).model_dump_json()
    assert appraise(busy, reference).model_dump_json() == first
    for seed in ("0", "12345"):
        fresh = subprocess.run(  # noqa: S603 - our own interpreter and words
            [sys.executable, "-c", PROGRAM],
            input=busy.model_dump_json(),
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        )
        assert fresh.stdout.strip() == first


def test_removing_one_finding_leaves_every_other_as_it_was(
    busy: Case, mend: Callable[..., RepairDraws]
) -> None:
    whole = mend(busy, unseen=True)
    for gone in busy.findings:
        fewer = busy.model_copy(
            update={"findings": tuple(one for one in busy.findings if one is not gone)}
        )
        rest = mend(fewer, unseen=True)
        assert set(rest.by_finding) == set(whole.by_finding) - {gone.id}
        for name, tally in rest.by_finding.items():
            assert same(tally, whole.by_finding[name]), name
        for before, after in zip(
            [one for one in whole.needs if one.id != gone.id], rest.needs, strict=True
        ):
            for had, has in zip(before.needs, after.needs, strict=True):
                assert np.array_equal(had.rows, has.rows)


def test_changing_one_finding_leaves_every_other_as_it_was(
    busy: Case, mend: Callable[..., RepairDraws]
) -> None:
    whole = mend(busy)
    changed = busy.findings[0].model_copy(update={"jobs": busy.findings[0].jobs[:1], "label": "x"})
    other = mend(busy.model_copy(update={"findings": (changed, *busy.findings[1:])}))
    for one in busy.findings[1:]:
        assert same(whole.by_finding[one.id], other.by_finding[one.id])


def test_streams_hang_on_their_name_and_seed_alone() -> None:
    first = Streams(4, 5000)
    alone = first.normals("a").copy()
    for name in "bcdefgh":
        first.normals(name)
        first.uniforms(name)
    assert np.array_equal(first.normals("a"), alone)
    assert np.array_equal(Streams(4, 5000).normals("a"), alone)
    assert not np.array_equal(Streams(5, 5000).normals("a"), alone)
    assert not np.array_equal(first.normals("b"), alone)


def test_names_and_seeds_do_not_run_into_each_other() -> None:
    """Seed 1 with the name 2/x is not seed 12 with x, nor 1/2 with /x."""
    assert not np.array_equal(Streams(1, 1000).uniforms("2/x"), Streams(12, 1000).uniforms("x"))
    assert not np.array_equal(Streams(1, 1000).uniforms("/x"), Streams(1, 1000).uniforms("x"))


def test_every_slice_of_equal_probability_holds_one_draw() -> None:
    for draws in (1000, 1001, 20_000):
        uniforms = Streams(1, draws).uniforms("x")
        slices = np.floor(np.sort(uniforms) * draws).astype(int)
        assert np.array_equal(slices, np.arange(draws))
        assert np.all((uniforms >= 0) & (uniforms < 1))


def test_streams_of_different_names_are_independent() -> None:
    """Largest of 190 correlations of independent streams: 4.5 standard errors are never passed."""
    draws = 10_000
    scores = np.array([Streams(3, draws).normals(f"n/{at}") for at in range(20)])
    off = np.corrcoef(scores)[np.triu_indices(20, 1)]
    assert np.max(np.abs(off)) < 4.5 / draws**0.5
    # Nor does the order of the draws mean anything: neighbours are independent too.
    for one in scores:
        assert abs(float(np.corrcoef(one[1:], one[:-1])[0, 1])) < 4.5 / draws**0.5


def test_draws_cannot_be_written_over() -> None:
    streams = Streams(1, 1000)
    spread = Spread(1, 2, 3)
    for drawn in (
        streams.uniforms("x"),
        streams.normals("x"),
        streams.students("x", 5, 0.001),
        streams.amounts("x", spread),
    ):
        with pytest.raises(ValueError, match="read-only"):
            drawn[0] = 5.0


def test_a_number_of_draws_has_streams_of_its_own() -> None:
    """The cache is by number of draws too."""
    assert len(Streams(1, 1000).normals("x")) == 1000
    assert len(Streams(1, 2000).normals("x")) == 2000
