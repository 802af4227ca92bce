"""Odds of a finding's causes as a person enters results: what moves them and what is refused."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from pydantic import ValidationError

from appraise.engine.faults.odds import (
    NOTHING,
    Odds,
    chances_of,
    odds_of,
    sample_value,
    updated,
)
from appraise.errors import BadCase
from appraise.models.findings import Cause, CheckResult, Finding
from appraise.reference.schema import Check

SUSPECT = 0.5
ROUNDING = 1e-12
"""Sums of a few doubles of size 1; their last bit is 2e-16."""

finite = st.floats(-1e5, 1e5, allow_nan=False, width=32)


def check_of(name: str = "look", **more: Any) -> Check:
    """Return a check: good with nothing wrong (.9), bad with a bad one (.9), mild in between."""
    raw = {
        "kind": "own",
        "id": name,
        "label": f"The {name} check",
        "minutes": {"low": 5, "likely": 6, "high": 10},
        "how": "Look at it closely, then decide.",
        "needs": "standing",
        "outcomes": ["good", "bad"],
        "given": [
            {"causes": ["bad"], "chances": ["0.1", "0.9"]},
            {"causes": ["mild"], "chances": ["0.6", "0.4"]},
        ],
        "otherwise": ["0.9", "0.1"],
    }
    return Check.model_validate(raw | more)


LOOK = check_of()
PROBE = check_of("probe", given=[{"causes": ["bad"], "chances": ["0.3", "0.7"]}])
ONLY_BAD = check_of(
    "only_bad", given=[{"causes": ["bad"], "chances": [0, 1]}], otherwise=["1", "0"]
)
ONLY_MILD = check_of(
    "only_mild", given=[{"causes": ["mild"], "chances": [0, 1]}], otherwise=["1", "0"]
)
CHECKS = {one.id: one for one in (LOOK, PROBE, ONLY_BAD, ONLY_MILD)}


def finding_of(**more: Any) -> Finding:
    raw = {
        "id": "noise",
        "area": "brakes",
        "state": "faulty",
        "causes": [
            {"id": "bad", "label": "Bad one", "chance": "0.4"},
            {"id": "mild", "label": "Mild one", "chance": "0.3"},
        ],
    }
    return Finding.model_validate(raw | more)


def results_of(*results: tuple[str, str]) -> list[CheckResult]:
    return [CheckResult(check=check, outcome=outcome) for check, outcome in results]


def odds(*results: tuple[str, str], **more: Any) -> Odds:
    return odds_of(finding_of(**more), results_of(*results), CHECKS, SUSPECT)


def test_what_the_causes_leave_is_that_there_is_nothing_to_mend() -> None:
    found = odds()

    assert found.causes == ("bad", "mild", NOTHING)
    assert found.labels == ("Bad one", "Mild one", "Nothing to repair")
    assert found.before == pytest.approx([0.4, 0.3, 0.3])
    assert found.after.tolist() == found.before.tolist()
    assert found.problem == ""


def test_the_chance_that_there_is_anything_spreads_over_the_causes() -> None:
    assert odds(state="suspect", chance="0.5").before == pytest.approx([0.2, 0.15, 0.65])


def test_a_suspicion_that_says_nothing_more_has_the_usual_chance() -> None:
    found = odds_of(finding_of(state="suspect", causes=[]), [], CHECKS, 0.35)

    assert found.causes == ("fault", NOTHING)
    assert found.labels == ("A fault", "Nothing to repair")
    assert found.before == pytest.approx([0.35, 0.65])


def test_a_fault_without_causes_is_certain() -> None:
    assert odds(causes=[]).before.tolist() == [1.0, 0.0]


def test_one_result_moves_the_odds_as_bayes_says() -> None:
    """By hand: .4 x .9, .3 x .4, .3 x .1 make .36, .12, .03 of .51."""
    found = odds(("look", "bad"))

    assert found.before == pytest.approx([0.4, 0.3, 0.3])
    assert found.after == pytest.approx([0.36 / 0.51, 0.12 / 0.51, 0.03 / 0.51])


def test_two_results_multiply_whatever_their_order() -> None:
    one = odds(("look", "bad"), ("probe", "good"))
    other = odds(("probe", "good"), ("look", "bad"))
    by_hand = np.array([0.36 * 0.3, 0.12 * 0.9, 0.03 * 0.9])

    assert one.after == pytest.approx(by_hand / by_hand.sum())
    assert one.after == pytest.approx(other.after, abs=ROUNDING)


def test_a_check_entered_twice_counts_once_as_last_entered() -> None:
    twice = odds(("look", "bad"), ("look", "bad"))
    changed = odds(("look", "bad"), ("probe", "bad"), ("look", "good"))

    assert twice.after.tolist() == odds(("look", "bad")).after.tolist()
    assert changed.after == pytest.approx(odds(("look", "good"), ("probe", "bad")).after)


def test_results_that_contradict_are_said_and_change_nothing() -> None:
    found = odds(("only_bad", "bad"), ("only_mild", "bad"))

    assert "contradict each other" in found.problem
    assert "The only_mild check: bad" in found.problem
    assert found.after.tolist() == found.before.tolist() == odds().before.tolist()


def test_a_single_result_that_no_cause_can_give_is_said_too() -> None:
    """The check speaks to the cause named, and excludes it as well as there being none."""
    never = check_of("never", given=[{"causes": ["bad"], "chances": [1, 0]}], otherwise=["1", "0"])
    causes = [{"id": "bad", "label": "Bad one", "chance": "0.4"}]
    results = results_of(("never", "bad"))
    found = odds_of(finding_of(causes=causes), results, {"never": never}, SUSPECT)

    assert found.problem
    assert found.after == pytest.approx([0.4, 0.6])


def test_a_result_that_names_none_of_the_causes_says_nothing_of_them() -> None:
    """It is the faults of the catalog that it speaks of."""
    found = odds(("only_mild", "bad"), causes=[{"id": "bad", "label": "Bad one", "chance": "0.4"}])

    assert found.problem == ""
    assert found.after == pytest.approx([0.4, 0.6])


@pytest.mark.parametrize(
    ("result", "words"),
    [
        (("crystal_ball", "good"), "no check 'crystal_ball'"),
        (("look", "fabulous"), "The look check has no outcome 'fabulous': it is one of good, bad"),
        (("look", "Bad"), "no outcome 'Bad'"),
    ],
)
def test_an_unknown_check_or_outcome_is_refused_by_name(
    result: tuple[str, str], words: str
) -> None:
    with pytest.raises(BadCase, match=words):
        odds(result)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"otherwise": ["0.9", "0.2"]}, "do not sum to 1"),
        ({"otherwise": ["1.1", "-0.1"]}, "less than or equal to 1"),
        ({"otherwise": ["0.5", "0.3", "0.2"]}, "one chance for each outcome"),
        ({"given": [{"causes": ["bad"], "chances": ["0.5", "0.4"]}]}, "do not sum to 1"),
        ({"given": [{"causes": ["bad"], "chances": ["NaN", "1"]}]}, "finite"),
        ({"given": [{"causes": ["bad", "bad"], "chances": [1, 0]}] * 2}, "speaks twice of bad"),
        ({"outcomes": ["good", "good"]}, "share one name"),
        ({"outcomes": ["good"], "otherwise": ["1"]}, "at least 2"),
    ],
)
def test_a_check_with_impossible_chances_is_refused(more: dict[str, Any], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        check_of(**more)


@pytest.mark.parametrize("chance", ["-0.1", "1.01", "NaN", "Infinity", "likely"])
def test_a_cause_with_an_impossible_chance_is_refused(chance: str) -> None:
    with pytest.raises(ValidationError, match="chance"):
        Cause.model_validate({"id": "bad", "label": "Bad one", "chance": chance})


def test_causes_above_certainty_together_are_refused() -> None:
    causes = [{"id": name, "label": name, "chance": "0.6"} for name in ("one", "two")]

    with pytest.raises(ValidationError, match=r"sum to 1\.2, above 1"):
        finding_of(causes=causes)


def test_a_cause_that_a_check_does_not_name_answers_like_a_sound_car() -> None:
    assert chances_of(LOOK, ("bad", "stranger", NOTHING)).tolist() == [
        [0.1, 0.9],
        [0.9, 0.1],
        [0.9, 0.1],
    ]


def test_the_day_and_note_of_a_result_move_no_odds() -> None:
    noted = CheckResult(check="look", outcome="bad", done_on=date(2026, 6, 30), note="in the rain")

    assert (
        odds_of(finding_of(), [noted], CHECKS, SUSPECT).after.tolist()
        == odds(("look", "bad")).after.tolist()
    )


@st.composite
def problems(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return odds (causes,), likelihood (causes, outcomes) and values (actions, causes)."""
    causes, outcomes, actions = (draw(st.integers(2, 5)) for _ in range(3))
    weights = st.integers(0, 20)
    prior = draw(arrays(float, causes, elements=weights).filter(lambda one: one.sum() > 0))
    rows = draw(arrays(float, (causes, outcomes), elements=weights))
    rows[:, 0] += rows.sum(axis=1) == 0
    values = draw(arrays(float, (actions, causes), elements=finite))
    return prior / prior.sum(), rows / rows.sum(axis=1, keepdims=True), values


@given(problems())
@settings(max_examples=200, deadline=None)
def test_a_check_is_worth_nothing_at_least_and_certainty_at_most(
    problem: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    prior, likelihood, values = problem
    worth = values * prior
    slack = ROUNDING * (1 + float(np.abs(values).max()))  # relative to what is added up

    perfect = float(worth.max(axis=0).sum() - worth.sum(axis=1).max())
    assert 0 <= sample_value(worth, likelihood) <= perfect + slack
    assert sample_value(worth, np.eye(len(prior))) == pytest.approx(perfect, abs=slack)


@given(problems())
@settings(max_examples=100, deadline=None)
def test_odds_after_an_outcome_average_to_the_odds_before(
    problem: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    prior, likelihood, _ = problem
    chances = prior @ likelihood
    back = sum(
        chance * updated(prior, likelihood[:, place])
        for place, chance in enumerate(chances)
        if chance > 0
    )

    assert chances.sum() == pytest.approx(1, abs=ROUNDING)
    assert back == pytest.approx(prior, abs=ROUNDING)


def test_a_finding_with_no_chance_left_for_nothing_keeps_its_odds_at_one() -> None:
    causes = [
        {"id": "bad", "label": "Bad one", "chance": Decimal("0.7")},
        {"id": "mild", "label": "Mild one", "chance": Decimal("0.3")},
    ]
    found = odds(("look", "good"), causes=causes)

    assert found.after[-1] == pytest.approx(0, abs=ROUNDING)
    assert found.after.sum() == pytest.approx(1, abs=ROUNDING)


def test_what_a_finding_turned_out_to_be_outweighs_every_result() -> None:
    """A part in the hand is better than any check or paper."""
    results = results_of(("look", LOOK.outcomes[0]))
    found = finding_of(truth={"fault": True, "cause": "mild"})
    sound = finding_of(truth={"fault": False})

    assert odds_of(found, results, CHECKS, SUSPECT, {"mild": 0.1}).after.tolist() == [0.0, 1.0, 0.0]
    assert odds_of(sound, results, CHECKS, SUSPECT).after.tolist() == [0.0, 0.0, 1.0]


@pytest.mark.parametrize(
    ("truth", "words"),
    [
        ({"fault": False, "cause": "bad"}, "names a cause"),
        ({"fault": True}, "say which of its causes"),
        ({"fault": True, "cause": "unheard"}, "say which of its causes"),
    ],
)
def test_a_truth_that_names_the_wrong_cause_is_refused(truth: dict[str, Any], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        finding_of(truth=truth)
