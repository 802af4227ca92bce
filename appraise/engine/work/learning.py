"""What finished jobs teach about those still to do, and how good the forecasts were.

A job's forecast is its range, read as P10 / P50 / P90; what it taught is the log of what it came
to over what was likely.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, fsum, isfinite, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy import special

from appraise.engine.draws.ranges import Z90, two_piece_spreads

__all__ = [
    "BETWEEN_SD",
    "LEAST_SD",
    "PRIOR_SD",
    "BySystem",
    "Coverage",
    "Done",
    "Learned",
    "adjusted",
    "coverage",
    "crps_of_draws",
    "learn",
    "shrunk_by_system",
]

Floats = NDArray[np.float64]

PRIOR_SD = 0.3
"""How far, in natural-log units, all of a person's figures may be off together: four times in five
within a factor of 0.68 to 1.47. No published source; from memory."""
BETWEEN_SD = 0.2
"""How far one system of the car may differ from the rest. No published source; from memory."""
LEAST_SD = 0.1
"""No figure is taken for surer than this, however narrow its range: else one job that was a quote
to begin with would settle the factor for all others. No published source; from memory."""
LEVELS = (0.1, 0.5, 0.9)


@dataclass(frozen=True, slots=True)
class Done:
    """A finished job: what was expected, as P50, P10 and P90, and what it came to.

    All four are in one unit, money or hours.
    """

    likely: float
    low: float
    high: float
    actual: float

    def __post_init__(self) -> None:
        """Refuse what is no number, and a range out of order."""
        if not all(isfinite(one) for one in (self.likely, self.low, self.high, self.actual)):
            raise ValueError("a finished job needs numbers for low, likely, high and actual")
        if not self.low <= self.likely <= self.high:
            raise ValueError(
                f"low {self.low}, likely {self.likely}, high {self.high} are not in order"
            )

    @property
    def teaches(self) -> bool:
        """Whether it has a ratio at all: nothing expected or nothing paid has none."""
        return min(self.low, self.likely, self.actual) > 0

    @property
    def sd(self) -> float:
        """The spread of the log ratio that its own range lets expect, at least `LEAST_SD`."""
        return max(log(self.high / self.low) / (2 * Z90), LEAST_SD)

    @property
    def surprise(self) -> float:
        """The log ratio of actual to likely, less what a skewed range lets expect of it.

        A range wider above than below is over its likely figure on average: the log of a
        two-piece lognormal has the mean (a - b)/sqrt(2 pi), with a the spread above and b the
        spread below. That much is in the range already and is no news. It is 0 for a range that is
        even in the log.
        """
        below, above = two_piece_spreads(self.low, self.likely, self.high)
        return log(self.actual / self.likely) - (above - below) / sqrt(2 * pi)


@dataclass(frozen=True, slots=True)
class Learned:
    """What is known of a common factor on figures.

    Attributes
    ----------
    mean, sd : of the factor's natural log.
    count : finished jobs that it rests on.
    left_out : finished jobs with nothing expected or nothing paid, which have no ratio.
    """

    mean: float
    sd: float
    count: int
    left_out: int = 0

    @property
    def factor(self) -> float:
        """The factor: as likely too low as too high."""
        return exp(self.mean)

    @property
    def factor_low(self) -> float:
        """The factor's P10."""
        return exp(self.mean - Z90 * self.sd)

    @property
    def factor_high(self) -> float:
        """The factor's P90."""
        return exp(self.mean + Z90 * self.sd)


@dataclass(frozen=True, slots=True)
class BySystem:
    """Factors by system of the car, and the one that they share.

    Attributes
    ----------
    systems : by the system's name; a system without a finished job has the overall factor, with
        more doubt and a count of 0.
    """

    overall: Learned
    systems: Mapping[str, Learned]


@dataclass(frozen=True, slots=True)
class Coverage:
    """How often the actual came in at or under a forecast quantile.

    Attributes
    ----------
    level : the share that was forecast.
    hits, count : how often it did, of how many.
    low, high : exact binomial interval of the true share.
    """

    level: float
    hits: int
    count: int
    low: float
    high: float

    @property
    def share(self) -> float | None:
        """The share that did, or None without any."""
        return self.hits / self.count if self.count else None

    @property
    def fits(self) -> bool:
        """Whether the forecast share lies within the interval."""
        return self.low <= self.level <= self.high


def learn(done: Iterable[Done], prior_sd: float = PRIOR_SD) -> Learned:
    """Return what finished jobs teach about the factor that all figures share.

    Normal-normal: the log factor m is N(0, prior_sd²) beforehand, and each job's surprise
    y_i is N(m, s_i²). With the weights w_i = 1/s_i², ``precision = 1/prior_sd² + sum w_i``,
    ``mean = sum w_i y_i / precision`` and ``sd = precision^(-1/2)``. Without a job the mean is
    exactly 0. Ranges that are true bounds have to be turned into tenths first.

    Parameters
    ----------
    done : the finished jobs, in any order.
    prior_sd : spread of the log factor before anything is finished, above 0.

    Raises
    ------
    ValueError
        If `prior_sd` is not above 0.

    References
    ----------
    `gelman-bda`, the normal model with known variance.

    Examples
    --------
    >>> found = learn([Done(100.0, 80.0, 125.0, 140.0)] * 3)
    >>> round(found.factor, 2), found.count
    (1.35, 3)
    """
    _positive(prior_sd, "prior_sd")
    jobs = tuple(done)
    weight, weighted, count = _evidence(jobs)
    precision = prior_sd**-2 + weight
    return Learned(weighted / precision, precision**-0.5, count, len(jobs) - count)


def shrunk_by_system(
    groups: Mapping[str, Iterable[Done]],
    prior_sd: float = PRIOR_SD,
    between_sd: float = BETWEEN_SD,
) -> BySystem:
    """Return a factor for each system, shrunk towards the overall one by how little it rests on.

    Two levels, in closed form for a given `between_sd` = t: the overall log factor m is
    N(0, prior_sd²), a system's m_k is N(m, t²), a job's surprise y is N(m_k, s²). With
    w_k = sum 1/s² and the weighted mean y_k of a system,

    ``1/var(m) = 1/prior_sd² + sum_k 1/(t² + 1/w_k)``,
    ``E[m] = var(m) sum_k y_k/(t² + 1/w_k)``,
    ``E[m_k] = (w_k y_k + E[m]/t²)/(w_k + 1/t²)``,
    ``var(m_k) = 1/(w_k + 1/t²) + (1/(1 + t² w_k))² var(m)``.

    t is given and not estimated: with a handful of jobs an estimate of it is 0 as often as not.

    Parameters
    ----------
    groups : finished jobs by system.
    prior_sd, between_sd : spreads of the overall log factor and between systems, above 0.

    Raises
    ------
    ValueError
        If a spread is not above 0.

    References
    ----------
    `gelman-bda`, hierarchical normal model.
    """
    _positive(prior_sd, "prior_sd")
    _positive(between_sd, "between_sd")
    jobs = {name: tuple(done) for name, done in groups.items()}
    found = {name: _evidence(done) for name, done in jobs.items()}
    square = between_sd**2
    # w/(1 + t² w) is 1/(t² + 1/w), and 0 for a system without evidence
    shared = {name: 1 / (1 + square * weight) for name, (weight, _, _) in found.items()}
    precision = prior_sd**-2 + fsum(found[name][0] * share for name, share in shared.items())
    mean = fsum(found[name][1] * share for name, share in shared.items()) / precision
    systems = {
        name: Learned(
            (weighted + mean / square) / (weight + 1 / square),
            sqrt(1 / (weight + 1 / square) + shared[name] ** 2 / precision),
            count,
            len(jobs[name]) - count,
        )
        for name, (weight, weighted, count) in found.items()
    }
    total = sum(one.count for one in systems.values())
    left_out = sum(one.left_out for one in systems.values())
    return BySystem(Learned(mean, precision**-0.5, total, left_out), systems)


def adjusted(draws: Floats, learned: Learned) -> Floats:
    """Return the draws of what is still to do, moved by what the finished jobs taught.

    ``draws * exp(mean)``: every quantile moves by the factor, the spread of the log stays. With
    nothing learned the factor is exactly 1 and every draw stays as it is, bit for bit.

    Nothing else is added or taken away, because a range holds the doubt about the common factor
    already, as the share of its spread that moves with all others. To add the factor's own
    spread would count that twice, and a first job that taught next to nothing would widen every
    range; to multiply by exp(mean + sd²/2) would raise the budget before anything is finished.
    What is finished does lessen the doubt, but a range is not narrowed for it: it is the person's
    own, and too narrow a range is the commoner mistake. So the result errs towards too wide.

    Parameters
    ----------
    draws : (draws,) money or hours of jobs not done.
    learned : the factor, as `learn` or `shrunk_by_system` gives it.

    Returns
    -------
    (draws,) in the same unit, a new array.
    """
    out: Floats = draws * learned.factor
    return out


def coverage(
    forecasts: Sequence[tuple[float, float, float]],
    actuals: Sequence[float],
    confidence: float = 0.95,
) -> tuple[Coverage, Coverage, Coverage]:
    """Return how often the actual came in at or under P10, P50 and P90.

    The interval is Clopper and Pearson's: with k hits of n and tails of (1 - confidence)/2 it runs
    between that quantile of Beta(k, n - k + 1) and that of Beta(k + 1, n - k) from above. It is
    never too narrow. A fixed amount (low equal to high) is no forecast of tenths and is left out.

    Parameters
    ----------
    forecasts : (forecasts, 3) low, likely, high of each.
    actuals : (forecasts,) what each came to, in the same order and unit.
    confidence : of the interval, between 0 and 1.

    Raises
    ------
    ValueError
        If there are not as many actuals as forecasts, or the confidence is not between 0 and 1.

    Notes
    -----
    Clopper and Pearson, The use of confidence or fiducial limits illustrated in the case of the
    binomial, Biometrika 26 (1934), 404-413.

    Examples
    --------
    >>> [one.hits for one in coverage([(80, 100, 130)] * 4, [75, 95, 110, 150])]
    [1, 2, 3]
    """
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence of {confidence} is not between 0 and 1")
    pairs = [
        (range_, actual)
        for range_, actual in zip(forecasts, actuals, strict=True)
        if range_[0] < range_[-1]
    ]
    count = len(pairs)
    out = []
    for at, level in enumerate(LEVELS):
        hits = sum(actual <= range_[at] for range_, actual in pairs)
        out.append(Coverage(level, hits, count, *_clopper_pearson(hits, count, confidence)))
    return out[0], out[1], out[2]


def crps_of_draws(draws: Floats, actual: float) -> float:
    """Return the continuous ranked probability score of a forecast's draws: 0 is best.

    Energy form ``mean|x - y| - mean|x - x'|/2`` over all pairs, a draw with itself among them
    (the score of the draws' own distribution, not the "fair" form); sorted once, so that it takes
    n log n steps: ``mean|x - x'|/2 = sum_i (2i - n + 1) x_(i) / n²`` with i from 0.

    Parameters
    ----------
    draws : (draws,) the forecast, at least one.
    actual : what it came to.

    Returns
    -------
    In the unit of the draws.

    Raises
    ------
    ValueError
        If there are no draws, or one of them or the actual is no number.

    Notes
    -----
    Gneiting and Raftery, Strictly proper scoring rules, prediction, and estimation, Journal of the
    American Statistical Association 102 (2007), equation 21.

    Examples
    --------
    >>> crps_of_draws(np.array([9000.0, 10000.0, 11000.0, 12500.0, 14000.0]), 11500.0)
    600.0
    """
    # taken from the actual first, so that nothing is lost where the draws lie close together
    off = np.sort(np.asarray(draws, dtype=np.float64)) - actual
    count = len(off)
    if not count or not np.isfinite(off).all():
        raise ValueError("a forecast is scored by its draws: at least one, and all numbers")
    ranks = 2 * np.arange(count) - (count - 1)
    return float(np.abs(off).mean() - (ranks * off).sum() / count**2)


def _evidence(done: Sequence[Done]) -> tuple[float, float, int]:
    """Return the sum of weights, the weighted sum of surprises, and how many jobs have one.

    The sums are exact before rounding, so that the order of the jobs does not show.
    """
    used = [one for one in done if one.teaches]
    weights = [one.sd**-2 for one in used]
    weighted = [weight * one.surprise for weight, one in zip(weights, used, strict=True)]
    return fsum(weights), fsum(weighted), len(used)


def _clopper_pearson(hits: int, count: int, confidence: float) -> tuple[float, float]:
    tail = (1 - confidence) / 2
    low = float(special.betaincinv(hits, count - hits + 1, tail)) if hits else 0.0
    high = float(special.betaincinv(hits + 1, count - hits, 1 - tail)) if hits < count else 1.0
    return low, high


def _positive(value: float, name: str) -> None:
    if not (isfinite(value) and value > 0):
        raise ValueError(f"{name} is {value}: give a spread above 0")
