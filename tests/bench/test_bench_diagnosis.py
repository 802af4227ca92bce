"""How long weighing checks and entering a result take: reported; only generous bounds asserted."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import cycle
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from appraise.engine.bid.diagnosis import check_values, diagnose
from appraise.engine.bid.simulation import work_out
from appraise.engine.bid.value_of_checks import Bidding
from appraise.engine.faults.odds import speaks_to
from appraise.models.case import Case
from appraise.reference.load import Reference, load_reference
from appraise.services import enter_result, example_cases
from ui.session import cached

FINDINGS = 40
CHECKS = 60
SLOW = 10
"""Target times the allowance for a machine that is shared, slow or measures for coverage."""

APP = Path(__file__).parents[2] / "ui" / "app.py"
CAR, FINDING, CHECK = "auction-engine-light", "misfire", "plug_swap"


@pytest.fixture(scope="module")
def reference() -> Reference:
    return load_reference()


def median(benchmark: Any) -> float:
    """Return the seconds that half the rounds took at most; skip where nothing is measured."""
    if benchmark.stats is None:
        pytest.skip("nothing is measured: --benchmark-disable")
    return float(benchmark.stats.stats.median)


def suspect_case(reference: Reference) -> Case:
    """Return an example car with 40 suspect findings, each with the causes of another symptom."""
    base = next(one for one in example_cases() if one.id == CAR)
    findings: list[dict[str, Any]] = [
        {
            "id": f"finding-{at}",
            "area": symptom.area,
            "state": "suspect",
            "chance": "0.5",
            "label": symptom.label,
            "causes": [
                {
                    "id": one.cause,
                    "label": reference.causes[one.cause].label,
                    "chance": one.share,
                    "jobs": [{"job": job} for job in reference.causes[one.cause].jobs],
                }
                for one in symptom.causes
            ],
        }
        for at, symptom in zip(range(FINDINGS), reference.symptoms.values(), strict=False)
    ]
    more = {"findings": findings, "papers": [], "measurements": [], "draws": 20_000}
    return Case.model_validate(base.model_dump() | more)


def test_sixty_checks_against_the_bid_on_a_car_with_40_suspicions(
    benchmark: Any, reference: Reference
) -> None:
    """The finding with the most checks that tell its causes apart, filled up to 60."""
    worked = work_out(suspect_case(reference), reference)
    needs = max(
        worked.repair.needs,
        key=lambda one: sum(
            speaks_to(check, one.odds.causes) for check in reference.checks.values() if one.odds
        ),
    )
    assert needs.odds is not None
    apart = [one for one in reference.checks.values() if speaks_to(one, needs.odds.causes)]
    checks = [one for one, _ in zip(cycle(apart), range(max(CHECKS, len(apart))), strict=False)]
    values = benchmark.pedantic(
        lambda: check_values(Bidding.of(worked), needs, checks)[0],
        rounds=5,
        iterations=1,
        warmup_rounds=1,
    )

    assert len(values) >= CHECKS
    assert np.all(values >= 0)
    assert median(benchmark) < 0.5 * SLOW  # target 0.5 s; tenfold for a slow machine


def test_the_whole_diagnosis_of_a_car_with_40_suspicions(
    benchmark: Any, reference: Reference
) -> None:
    """Working the case out and weighing every check of the catalog on every finding."""
    case = suspect_case(reference)
    found = benchmark.pedantic(
        diagnose, args=(case, reference), rounds=3, iterations=1, warmup_rounds=1
    )

    assert len(found.findings) == FINDINGS
    assert sum(len(one.checks) for one in found.findings) > CHECKS
    assert median(benchmark) < 0.5 * SLOW  # target 0.5 s; tenfold for a slow machine


def test_one_finding_with_the_price_after_every_outcome(
    benchmark: Any, reference: Reference
) -> None:
    case = suspect_case(reference)
    found = benchmark.pedantic(
        diagnose, args=(case, reference, "finding-0"), rounds=3, iterations=1, warmup_rounds=1
    )

    assert [one.id for one in found.findings] == ["finding-0"]


@pytest.fixture
def window(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[AppTest]:
    """Open the causes page on a fresh copy of the examples, with a check chosen."""
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(tmp_path / "data"))
    monkeypatch.delenv("APPRAISE_DATABASE_URL", raising=False)
    opened = AppTest.from_file(APP, default_timeout=60)  # the first run reads the catalog
    opened.query_params["car"] = CAR
    opened.switch_page("app_pages/diagnose.py").run()
    box = next(one for one in opened.selectbox if (one.key or "").endswith(f"check.{FINDING}"))
    box.set_value(CHECK).run()
    yield opened
    cached.workspace().cases._engine.dispose()
    st.cache_resource.clear()
    st.cache_data.clear()


def test_a_result_entered_on_the_causes_page(benchmark: Any, window: AppTest) -> None:
    """From the button to the page with the new odds; taken back and forgotten before each round."""
    outcome = cached.reference().checks[CHECK].outcomes[0]
    ending = f"outcome.{FINDING}.{CHECK}"

    def again() -> tuple[tuple[Any, ...], dict[str, Any]]:
        for one in window.button:
            if one.key == f"back:{FINDING}:{CHECK}":
                one.click().run()
                box = next(
                    two for two in window.selectbox if (two.key or "").endswith(f"check.{FINDING}")
                )
                box.set_value(CHECK).run()
                break
        st.cache_data.clear()
        next(one for one in window.radio if (one.key or "").endswith(ending)).set_value(outcome)
        button = next(one for one in window.button if (one.key or "").endswith(f"{ending}:enter"))
        return (button.click(),), {}

    benchmark.pedantic(lambda button: button.run(), setup=again, rounds=4)

    assert not window.exception
    stored = cached.workspace().cases.load(CAR).case
    entered = next(one for one in stored.findings if one.id == FINDING).results
    assert [(one.check, one.outcome) for one in entered] == [(CHECK, outcome)]
    assert median(benchmark) < 0.3 * SLOW  # target 300 ms; tenfold for a slow machine


def test_a_result_entered_without_the_screens(benchmark: Any, reference: Reference) -> None:
    case = next(one for one in example_cases() if one.id == CAR)
    outcome = reference.checks[CHECK].outcomes[0]
    new = benchmark.pedantic(
        enter_result, args=(case, FINDING, CHECK, outcome, reference), rounds=5, iterations=1
    )

    assert new != case
