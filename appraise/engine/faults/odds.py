"""The odds of causes that a person states, and what a check is worth.

A finding's causes are exclusive; what their chances leave is "nothing to mend". Two checks are
independent given the cause.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum

import numpy as np
from numpy.typing import NDArray

from appraise.errors import BadCase, Contradiction, Problem
from appraise.models.findings import CheckResult, Finding, State
from appraise.reference.schema import Check

__all__ = [
    "NOTHING",
    "Odds",
    "chances_of",
    "odds_of",
    "sample_value",
    "updated",
]

Floats = NDArray[np.float64]

NOTHING = "nothing"
"""The cause that is none: there is nothing to mend."""

NO_CHANCE = 1e-15


@dataclass(frozen=True, slots=True)
class Odds:
    """The chances of a finding's causes, before its checks and after.

    Attributes
    ----------
    causes : ids, `NOTHING` last.
    labels : what each is called.
    before, after : (causes,) chances, each summing to 1.
    problem : what is amiss with the results, or an empty string.
    """

    causes: tuple[str, ...]
    labels: tuple[str, ...]
    before: Floats
    after: Floats
    problem: str = ""


def updated(prior: Floats, likelihood: Floats) -> Floats:
    """Return chances after an outcome: Bayes, ``p_c L_c / sum p L``.

    Parameters
    ----------
    prior : (causes,) chances, summing to 1.
    likelihood : (causes,) chance of the outcome under each cause.

    Raises
    ------
    Contradiction
        No cause with any chance can give that outcome.

    References
    ----------
    eddy-1982

    Examples
    --------
    One positive test at a prior of .01, sensitivity .80, false alarms .096:

    >>> updated(np.array([0.01, 0.99]), np.array([0.8, 0.096])).round(4).tolist()
    [0.0776, 0.9224]
    """
    joint: Floats = prior * likelihood
    total = fsum(joint.tolist())
    if total <= NO_CHANCE:
        raise Contradiction("no cause can give that outcome")
    return joint / total


def chances_of(check: Check, causes: Sequence[str]) -> Floats:
    """Return P(outcome | cause) of a check for some causes: (causes, outcomes)."""
    given = {cause: one.chances for one in check.given for cause in one.causes}
    rows = [given.get(cause, check.otherwise) for cause in causes]
    return np.array([[float(chance) for chance in row] for row in rows])


def prior_of(finding: Finding, suspect_chance: float) -> tuple[tuple[str, ...], Floats]:
    """Return a finding's causes with their chances before any check, `NOTHING` last.

    Parameters
    ----------
    finding : suspect or faulty.
    suspect_chance : of a suspected fault that says nothing more.
    """
    anything = 1.0
    if finding.chance is not None:
        anything = float(finding.chance)
    elif finding.state is State.SUSPECT and not finding.causes:
        anything = suspect_chance
    if finding.causes:
        chances = [anything * float(cause.chance) for cause in finding.causes]
        names = tuple(cause.id for cause in finding.causes)
    else:
        chances, names = [anything], ("fault",)
    return (*names, NOTHING), np.array([*chances, max(0.0, 1 - fsum(chances))])


def odds_of(
    finding: Finding,
    results: Sequence[CheckResult],
    checks: Mapping[str, Check],
    suspect_chance: float,
    papers: Mapping[str, float] | None = None,
) -> Odds:
    """Return the chances of a finding's causes before and after the results entered.

    Once it is known what it turned out to be, that alone counts. A check entered twice counts
    once, as last entered. Results that no cause can explain together are said to contradict each
    other, and the chances stay as before.

    Parameters
    ----------
    finding : suspect or faulty.
    results : of checks on the car; those that name none of the causes say nothing here.
    checks : every check by id.
    suspect_chance : of a suspected fault that says nothing more.
    papers : factor on the likelihood of each cause that papers speak to.

    Raises
    ------
    BadCase
        A result names a check or an outcome that does not exist.
    """
    causes, before = prior_of(finding, suspect_chance)
    labels = (*(cause.label for cause in finding.causes), "Nothing to repair")
    if not finding.causes:
        labels = (finding.label or "A fault", "Nothing to repair")
    if finding.truth is not None:
        true = (finding.truth.cause or causes[0]) if finding.truth.fault else NOTHING
        return Odds(causes, labels, before, np.array([float(one == true) for one in causes]))
    after, problem = before, ""
    last = {result.check: result for result in results}
    for result in last.values():
        check, place = _outcome(result, checks)
        if not any(cause in causes for one in check.given for cause in one.causes):
            continue
        try:
            after = updated(after, chances_of(check, causes)[:, place])
        except Contradiction:
            problem = (
                f"the results contradict each other: no cause listed can give "
                f"'{check.label}: {result.outcome}' after the others"
            )
            after = before
            break
    if papers:
        after = updated(after, np.array([papers.get(cause, 1.0) for cause in causes]))
    return Odds(causes, labels, before, after, problem)


def _outcome(result: CheckResult, checks: Mapping[str, Check]) -> tuple[Check, int]:
    check = checks.get(result.check)
    if check is None:
        raise BadCase((Problem("results.check", f"there is no check {result.check!r}", "stop"),))
    if result.outcome not in check.outcomes:
        known = ", ".join(check.outcomes)
        message = f"{check.label} has no outcome {result.outcome!r}: it is one of {known}"
        raise BadCase((Problem("results.outcome", message, "stop"),))
    return check, check.outcomes.index(result.outcome)


def sample_value(worth: Floats, likelihood: Floats) -> float:
    """Return what a check is worth before it is paid for (expected value of sample information).

    ``sum_o max_a sum_c L[c,o] W[a,c] - max_a sum_c W[a,c]``: never below 0, and 0 when no outcome
    changes what one would do.

    Parameters
    ----------
    worth : (actions, causes) expected value of each action together with each cause, that is
        ``P(c) E[value of a | c]``.
    likelihood : (causes, outcomes) chance of each outcome under each cause.

    References
    ----------
    howard-1966

    Examples
    --------
    A well site: drilling brings 700 with oil (chance .25), costs 100 if dry; selling brings 90. A
    survey is favorable in .6 of sites with oil and .2 of dry ones.

    >>> worth = np.array([[0.25 * 700, 0.75 * -100], [0.25 * 90, 0.75 * 90]])
    >>> survey = np.array([[0.6, 0.4], [0.2, 0.8]])
    >>> round(sample_value(worth, survey), 6)
    53.0
    """
    informed = float((worth @ likelihood).max(axis=0).sum())
    return max(0.0, informed - float(worth.sum(axis=1).max()))
