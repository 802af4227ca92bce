"""What each finding takes alone, and what falls to it of the margin's doubt."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from appraise.engine.bid.simulation import Worked
from appraise.engine.draws.rounding import quantiles, share
from appraise.engine.money.margin import paid_for
from appraise.engine.repair.totals import Tally
from appraise.models.appraisal import Driver, Quantiles

__all__ = ["Alone", "Doubt", "alone_of", "doubt_of", "drivers"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Doubt:
    """The margin's doubt, to be shared out.

    Attributes
    ----------
    centerd : (draws,) the margin less its mean.
    variance : of the margin.
    own_rate : what an own hour is paid.
    landed : what the car costs until it stands in the yard.
    """

    centerd: Floats
    variance: float
    own_rate: float
    landed: float

    def share_of(self, draws: Floats) -> float:
        """Return what falls to a part of the margin: ``cov(part, margin) / var(margin)``."""
        if not self.variance:
            return 0.0
        return float(np.einsum("i,i", draws, self.centerd)) / len(draws) / self.variance

    def share_of_work(self, tally: Tally) -> float:
        """Return what falls to money and own hours that lower the margin."""
        return -self.share_of(tally.money) - self.own_rate * self.share_of(tally.hours)


def doubt_of(money: Worked) -> Doubt:
    """Return the doubt of the margin at the price judged, or of all but the price if none is."""
    case, price = money.case, money.price
    landed = 0.0 if price is None else float(paid_for(case, price))
    margin = money.rest.margin(landed)
    return Doubt(margin - margin.mean(), float(margin.var()), float(case.deal.own_rate), landed)


@dataclass(frozen=True, slots=True)
class Alone:
    """What a finding takes alone, as far as it is shown.

    Attributes
    ----------
    money : money out, rounded.
    mean, hours : unrounded means of money out and of own hours.
    doubt : its share of the margin's variance.
    """

    money: Quantiles
    mean: float
    hours: float
    doubt: float


def alone_of(money: Worked, name: str, doubt: Doubt) -> Alone:
    """Read from a finding's draws all that is shown of them, so that they need not be kept."""
    tally = money.repair.by_finding[name]
    mean = float(tally.money.mean())
    return Alone(
        money=quantiles(tally.money, mean=mean),
        mean=mean,
        hours=float(tally.hours.mean()),
        doubt=doubt.share_of_work(tally),
    )


def drivers(money: Worked, each: Mapping[str, Alone], doubt: Doubt) -> tuple[Driver, ...]:
    """Return what the margin's variance comes from: shares that sum to 1, the largest first."""
    if not doubt.variance:
        return ()
    work = money.repair
    found, total = doubt.share_of_work(work.found), doubt.share_of_work(work.total)
    alone = sum(one.doubt for one in each.values())
    time = -money.holding - doubt.landed * (money.rest.growth - 1)
    parts: list[tuple[str, str, float]] = [
        ("resale", "Price after repair", doubt.share_of(money.mended - money.selling)),
        ("unseen", "What was not inspected", total - found),
        ("time", "Days until sold", doubt.share_of(time)),
        ("shared", "What the findings share", found - alone),
    ]
    parts += [(f"finding.{needs.id}", needs.label, each[needs.id].doubt) for needs in work.needs]
    out = [Driver(id=name, label=label, share=share(value)) for name, label, value in parts]
    return tuple(sorted((one for one in out if one.share), key=lambda one: -abs(one.share)))
