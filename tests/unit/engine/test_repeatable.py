"""Same case, same numbers; one finding more or less leaves every other draw as it was."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from appraise.engine import appraise
from appraise.engine.draws.streams import Spread, Streams
from appraise.engine.repair.repair import RepairDraws, Tally
from appraise.models.case import Case
from appraise.reference.load import Reference, check_own_values

PROGRAM = """
import sys
from appraise.engine import appraise
from appraise.models.case import Case
from appraise.reference.load import load_reference
case = Case.model_validate_json(sys.stdin.read())
print(appraise(case, load_reference()).model_dump_json())
"""

ALONE = """
import json, sys
from appraise.engine import appraise
from appraise.models.case import Case
from appraise.reference.load import check_own_values
asked = json.load(sys.stdin)
case = Case.model_validate(asked["case"])
print(appraise(case, check_own_values(asked["own_values"])).model_dump_json())
"""
DEARER_PADS = """
[[job]]
id = "brakes.front_pads"
parts = [{ label = "pad set, front axle", family = "wear", price = [2500, 4200, 8000] }]
"""


def same(one: Tally, two: Tally) -> bool:
    """Return whether two tallies agree bit for bit."""
    return one.labor == two.labor and all(
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


def test_nothing_kept_from_other_cases_cars_and_catalogs_gets_into_an_appraisal(
    busy: Case,
) -> None:
    """One after another in this process, each is what it is in a process of its own."""
    raw = busy.model_dump(mode="json")
    pads = {"id": "pads", "area": "brakes", "state": "suspect", "chance": "0.6"}
    pads["jobs"] = [{"job": "brakes.front_pads", "quantity": 2}]
    raw["findings"].append(pads)
    dear = [
        {**one, "parts": [{**part, "price": {**part["price"], "high": "9999"}}]}
        for one in raw["own_jobs"]
        for part in one["parts"][:1]
    ]
    variants: list[tuple[dict[str, Any], str]] = [
        (raw, ""),
        (raw | {"own_jobs": dear}, ""),
        (raw | {"deal": raw["deal"] | {"price_level": "2", "done_by": "cheaper"}}, ""),
        (raw | {"vehicle": raw["vehicle"] | {"price_class": "premium"}}, ""),
        (raw | {"findings": [*raw["findings"][:-1], pads | {"chance": "0.1"}]}, ""),
        (raw, DEARER_PADS),
        (raw | {"seed": 9}, ""),
    ]
    together = [
        appraise(Case.model_validate(case), check_own_values(own)).model_dump_json()
        for case, own in (*variants, *variants)
    ]
    assert together[: len(variants)] == together[len(variants) :]
    assert len(set(together)) == len(variants)
    for (case, own), ours in zip(variants, together, strict=False):
        alone = subprocess.run(  # noqa: S603 - our own interpreter and words
            [sys.executable, "-c", ALONE],
            input=json.dumps({"case": case, "own_values": own}),
            capture_output=True,
            text=True,
            check=True,
        )
        assert alone.stdout.strip() == ours


def test_each_finding_alone_is_the_same_whenever_it_is_asked_for(
    busy: Case, mend: Callable[..., RepairDraws]
) -> None:
    work = mend(busy, unseen=True)
    assert len(work.by_finding) == len(work.needs) == len(busy.findings)
    before = dict(work.by_finding)
    for name in reversed(list(work.by_finding)):
        assert same(work.by_finding[name], before[name])
    with pytest.raises(KeyError):
        work.by_finding["no such finding"]


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
    # Nor does the order of the draws mean anything: neighbors are independent too.
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
