"""What holds of everything that finished jobs teach."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from appraise.engine.work.learning import (
    LEAST_SD,
    PRIOR_SD,
    Done,
    adjusted,
    coverage,
    crps_of_draws,
    learn,
    shrunk_by_system,
)

ROUNDING = 1e-12
SYSTEMS = ("brakes", "body", "engine", "lights")
amounts = st.floats(0.5, 5000)


@st.composite
def finished(draw: st.DrawFn) -> Done:
    likely = draw(amounts)
    low, high = likely / draw(st.floats(1, 4)), likely * draw(st.floats(1, 6))
    actual = draw(st.sampled_from([0.0, likely]) | st.floats(likely / 8, likely * 8))
    return Done(likely, low, high, actual)


jobs = st.lists(finished(), max_size=12)
groups = st.dictionaries(st.sampled_from(SYSTEMS), jobs)
draws = st.lists(st.floats(0, 1e6), min_size=1, max_size=40).map(np.array)


@given(done=jobs)
def test_the_mean_lies_between_the_prior_and_the_data(done: list[Done]) -> None:
    surprises = [0.0, *(one.surprise for one in done if one.teaches)]

    assert min(surprises) - ROUNDING <= learn(done).mean <= max(surprises) + ROUNDING


@given(done=jobs, more=finished())
def test_one_more_job_lessens_the_doubt_and_pulls_the_mean_its_way(
    done: list[Done], more: Done
) -> None:
    before, after = learn(done), learn([*done, more])
    if not more.teaches:
        assert after.mean == before.mean
        assert after.sd == before.sd
        return
    assert after.sd < before.sd <= PRIOR_SD
    pull = more.surprise - before.mean
    assert (after.mean - before.mean) * pull >= -ROUNDING
    assert abs(after.mean - before.mean) <= abs(pull) + ROUNDING


@given(data=st.data(), done=jobs)
def test_the_order_of_the_jobs_changes_nothing(data: st.DataObject, done: list[Done]) -> None:
    other = data.draw(st.permutations(done))

    assert learn(other) == learn(done)


@given(done=jobs, scale=st.floats(0.01, 100))
def test_the_unit_changes_nothing(done: list[Done], scale: float) -> None:
    scaled = [
        Done(one.likely * scale, one.low * scale, one.high * scale, one.actual * scale)
        for one in done
    ]
    before, after = learn(done), learn(scaled)

    # logs of rounded products, each weighed by up to 1/LEAST_SD² against at least 1/PRIOR_SD²
    assert after.mean == pytest.approx(before.mean, abs=1e-9)
    assert after.count == before.count


@given(done=jobs)
def test_the_factor_lies_within_its_range_and_the_doubt_has_a_floor(done: list[Done]) -> None:
    found = learn(done)

    assert found.factor_low < found.factor < found.factor_high
    assert found.count + found.left_out == len(done)
    floor = (1 / PRIOR_SD**2 + found.count / LEAST_SD**2) ** -0.5
    assert found.sd >= floor - ROUNDING


@given(values=draws, done=jobs)
def test_adjusting_keeps_the_order_of_the_draws_and_needs_evidence(
    values: np.ndarray, done: list[Done]
) -> None:
    found = learn(done)
    after = adjusted(values, found)

    if not found.count:
        assert np.array_equal(after, values)
    assert after.shape == values.shape
    assert np.all(np.diff(after[np.argsort(values, kind="stable")]) >= 0)


@given(by_system=groups)
def test_a_system_lies_between_the_overall_factor_and_its_own_jobs(
    by_system: dict[str, list[Done]],
) -> None:
    found = shrunk_by_system(by_system)
    for name, done in by_system.items():
        near = [found.overall.mean, *(one.surprise for one in done if one.teaches)]
        assert min(near) - ROUNDING <= found.systems[name].mean <= max(near) + ROUNDING
        assert found.systems[name].count + found.systems[name].left_out == len(done)
    assert found.overall.count == sum(one.count for one in found.systems.values())


@given(data=st.data(), by_system=groups)
def test_the_order_of_systems_and_of_their_jobs_changes_nothing(
    data: st.DataObject, by_system: dict[str, list[Done]]
) -> None:
    names = data.draw(st.permutations(sorted(by_system)))
    other = {name: data.draw(st.permutations(by_system[name])) for name in names}

    assert shrunk_by_system(other) == shrunk_by_system(by_system)


@given(done=jobs, more=finished())
def test_one_more_job_in_a_system_lessens_every_system_s_doubt(
    done: list[Done], more: Done
) -> None:
    before = shrunk_by_system({"brakes": done, "body": done[:2]})
    after = shrunk_by_system({"brakes": [*done, more], "body": done[:2]})

    assert after.overall.sd <= before.overall.sd + ROUNDING
    for name in ("brakes", "body"):
        assert after.systems[name].sd <= before.systems[name].sd + ROUNDING


@given(done=jobs, confidence=st.floats(0.5, 0.99))
def test_coverage_rises_with_the_level_and_lies_in_its_interval(
    done: list[Done], confidence: float
) -> None:
    forecasts = [(one.low, one.likely, one.high) for one in done]
    found = coverage(forecasts, [one.actual for one in done], confidence)
    hits = [one.hits for one in found]

    assert hits == sorted(hits)
    for one in found:
        assert one.count == sum(low < high for low, _, high in forecasts)
        assert 0 <= one.low < one.high <= 1
        assert one.share is None or one.low <= one.share <= one.high


@given(values=draws, actual=st.floats(0, 1e6))
def test_a_score_is_never_below_0_and_never_above_the_mean_miss(
    values: np.ndarray, actual: float
) -> None:
    score = crps_of_draws(values, actual)
    miss = float(np.abs(values - actual).mean())
    rounding = 1e-9 * (1 + miss)

    assert -rounding <= score <= miss + rounding
    assert score >= abs(values.mean() - actual) - miss - rounding


@given(data=st.data(), values=draws, actual=st.floats(0, 1e6), scale=st.floats(0.01, 100))
def test_a_score_goes_with_the_unit_and_not_with_the_order(
    data: st.DataObject, values: np.ndarray, actual: float, scale: float
) -> None:
    score = crps_of_draws(values, actual)
    other = np.array(data.draw(st.permutations(values.tolist())))

    assert crps_of_draws(other, actual) == score
    scaled = crps_of_draws(values * scale, actual * scale)
    assert scaled == pytest.approx(score * scale, rel=1e-9, abs=1e-9 * scale * 1e6)


@given(value=st.floats(0, 1e6), actual=st.floats(0, 1e6), count=st.integers(1, 30))
def test_a_forecast_without_doubt_scores_its_miss(value: float, actual: float, count: int) -> None:
    # the pairs' sum of as many equal terms of both signs cancels but for rounding
    assert crps_of_draws(np.full(count, value), actual) == pytest.approx(
        abs(value - actual), rel=1e-9, abs=1e-12
    )
