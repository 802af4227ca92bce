"""What the car will fetch: mended, from comparable cars, and as it stands."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import starmap
from math import exp, log

import numpy as np
from numpy.typing import NDArray
from scipy import special

from appraise.engine.draws import Spread, Streams
from appraise.engine.lookup import Lookup, spread_of
from appraise.engine.marks import priced_mark
from appraise.engine.regression import Fit, Prior, fit_line
from appraise.engine.shapes import Z90
from appraise.errors import CannotPrice, Problem
from appraise.models.case import Case
from appraise.models.market import Comparable, Condition, PriceKind
from appraise.models.vehicle import TitleBrand, age_in_years

__all__ = ["EDGE", "MarketFit", "as_it_stands", "days_to_sell", "fit_market", "mended_draws"]

Floats = NDArray[np.float64]

EDGE = 0.001
"""Draws of log price stay between these quantiles: a log Student-t has no mean without an end."""

FEW = 3
FAR_YEARS = 3.0
FAR_MILES = 40_000.0
MILES_A_STEP = 10_000.0


@dataclass(frozen=True, slots=True)
class Adjustment:
    """A factor between sorts of price: from asked to sold, from one title mark to another.

    Attributes
    ----------
    on_comps : (comparables,) the power of the factor that turns each price into a like one.
    on_car : the power with which it comes back on this car.
    """

    id: str
    spread: Spread
    on_comps: Floats
    on_car: float


@dataclass(frozen=True, slots=True)
class UsedComparable:
    """A comparable as the fit sees it: its like-for-like price, place and weight."""

    id: str
    age: float
    miles: float
    weight: float
    price: float
    like_price: float
    kind: PriceKind


@dataclass(frozen=True, slots=True)
class MarketFit:
    """The price of like cars as a line in age and distance, seen from this car.

    Attributes
    ----------
    fit : terms are level at this car, a year of age, 10,000 miles.
    leave_one_out : mean absolute error in predicting each comparable from the others, as a
        share of its price, or None with fewer than three.
    """

    age: float
    miles: float
    fit: Fit
    used: tuple[UsedComparable, ...]
    adjustments: tuple[Adjustment, ...]
    leave_one_out: float | None
    problems: tuple[Problem, ...]

    @property
    def car_shift(self) -> float:
        """Log of the likely factors that come back on this car (its own title mark)."""
        return sum(one.on_car * log(one.spread.likely) for one in self.adjustments)

    @property
    def middle(self) -> float:
        """The middle of what this car fetches, mended."""
        return exp(float(self.fit.coefficients[0]) + self.car_shift)

    def quantiles(self, shares: tuple[float, ...], miles: float) -> list[float]:
        """Return quantiles of the sold price of this car, had it another distance behind it."""
        point = np.array([1.0, 0.0, (miles - self.miles) / MILES_A_STEP])
        middle, _, scale = self.fit.at(point)
        scale = (scale**2 + self.adjustment_variance) ** 0.5
        scores = _scores(self.fit.freedom, shares)
        return [exp(middle + self.car_shift + score * scale) for score in scores]

    @property
    def adjustment_variance(self) -> float:
        """About how much the adjustments add to the variance of log price, at this car."""
        return sum(
            (self.power(one) * log(one.spread.high / one.spread.low) / (2 * Z90)) ** 2
            for one in self.adjustments
        )

    def power(self, one: Adjustment) -> float:
        """How far a doubt about an adjustment moves this car's price: 1 is in full."""
        return one.on_car + float(self.fit.pull[0] @ one.on_comps)


@lru_cache(maxsize=64)
def _scores(freedom: float, shares: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(float(special.stdtrit(freedom, share)) for share in shares)


def _usable(case: Case) -> tuple[list[Comparable], list[Problem]]:
    problems = []
    usable = []
    for at, comp in enumerate(case.market.comparables):
        where = f"market.comparables[{at}]"
        if comp.left_out:
            continue
        if comp.currency is not None and comp.currency != case.currency:
            problems.append(
                Problem(
                    f"{where}.currency",
                    f"priced in {comp.currency}, the case in {case.currency}: left out",
                    hint="Enter its price in the case's currency.",
                )
            )
            continue
        usable.append(comp)
    return usable, problems


def _adjustments(case: Case, comps: list[Comparable], lookup: Lookup) -> tuple[Adjustment, ...]:
    out = []

    def add(value_id: str, spread: Spread, on_comps: list[float], on_car: float) -> None:
        if on_car or any(on_comps):
            out.append(Adjustment(value_id, spread, np.array(on_comps), on_car))

    own = case.market.asked_to_sold
    asked = "resale.asked_to_sold"
    add(
        asked,
        spread_of(own) if own else lookup.spread(asked),
        [1.0 if comp.kind is PriceKind.ASKED else 0.0 for comp in comps],
        0.0,
    )
    for condition in (Condition.TIDIER, Condition.ROUGHER):
        value_id = f"resale.{condition.value}"
        on_comps = [-1.0 if comp.condition is condition else 0.0 for comp in comps]
        add(value_id, lookup.spread(value_id), on_comps, 0.0)
    mark = priced_mark(case, lookup)
    for brand in TitleBrand:
        if brand is TitleBrand.CLEAR:
            continue
        value_id = f"brand.{brand.value}"
        on_comps = [-1.0 if comp.title_brand is brand else 0.0 for comp in comps]
        on_car = 1.0 if mark is brand else 0.0
        if on_car or any(on_comps):
            add(value_id, lookup.spread(value_id), on_comps, on_car)
    return tuple(out)


def market_prior(age: float, lookup: Lookup) -> Prior:
    """Return the prior of the price line for a car of that age: level unknown, slopes and spread.

    Parameters
    ----------
    age : years.
    lookup : the reference values.
    """
    return Prior(
        mean=np.array(
            [0.0, lookup.curve("resale.slope_age", age), lookup.curve("resale.slope_miles", age)]
        ),
        sd=np.array(
            [
                np.inf,
                lookup.curve("resale.slope_age_sd", age),
                lookup.curve("resale.slope_miles_sd", age),
            ]
        ),
        scale=lookup.curve("resale.scale", age),
        freedom=lookup.number("resale.scale_weight"),
    )


def nearness(years: Floats, miles: Floats, lookup: Lookup) -> Floats:
    """Return how much a comparable counts, by its distance in age and miles: 1 at none.

    ``1 / (1 + (years/reach)² + (miles/reach)²)``: one half at one reach away in either.
    """
    return 1.0 / (
        1
        + (years / lookup.number("resale.reach_years")) ** 2
        + (miles / lookup.number("resale.reach_miles")) ** 2
    )


def fit_market(case: Case, lookup: Lookup) -> MarketFit:
    """Fit the price line through the comparables.

    ``log price = a + b1 (age difference) + b2 (distance difference) + e``: the level is nearly
    unknown, the slopes and the spread have priors from open listing data. Asked prices are turned
    into sold ones, other conditions and title marks into this car's, by ranges.

    Raises
    ------
    CannotPrice
        There is no usable comparable.
    """
    comps, problems = _usable(case)
    if not comps:
        foreign = f": {len(problems)} left out for their currency" if problems else ""
        raise CannotPrice(
            f"no comparable car to price this one from{foreign}",
            where="market.comparables",
            hint="Enter at least one car like it with its price, model year and odometer; "
            "five or more make a usable price.",
        )
    car_age = case.vehicle.age_years(case.appraised_on)
    car_miles = float(case.vehicle.odometer.miles)
    ages = np.array([age_in_years(comp.model_year, case.appraised_on) for comp in comps])
    miles = np.array([float(comp.odometer.miles) for comp in comps])
    adjustments = _adjustments(case, comps, lookup)
    prices = np.array([float(comp.price) for comp in comps])
    y = np.log(prices)
    for one in adjustments:
        y = y + one.on_comps * log(one.spread.likely)
    x = np.column_stack([np.ones(len(comps)), ages - car_age, (miles - car_miles) / MILES_A_STEP])
    weights = nearness(ages - car_age, miles - car_miles, lookup)
    prior = market_prior(car_age, lookup)
    fit = fit_line(y, x, weights, prior)
    problems += _warnings(ages - car_age, miles - car_miles)
    used = tuple(
        starmap(
            UsedComparable,
            zip(
                (comp.id for comp in comps),
                ages.tolist(),
                miles.tolist(),
                weights.tolist(),
                prices.tolist(),
                np.exp(y).tolist(),
                (comp.kind for comp in comps),
                strict=True,
            ),
        )
    )
    return MarketFit(
        age=car_age,
        miles=car_miles,
        fit=fit,
        used=used,
        adjustments=adjustments,
        leave_one_out=_leave_one_out(y, x, weights, prior),
        problems=tuple(problems),
    )


def _warnings(years: Floats, miles: Floats) -> list[Problem]:
    where = "market.comparables"
    out = []
    if len(years) < FEW:
        out.append(
            Problem(
                where,
                f"priced from {len(years)} comparable{'s' if len(years) > 1 else ''} only: the "
                "price is wide",
                hint="Add more cars like it.",
            )
        )
    for what, off, far in (("age", years, FAR_YEARS), ("distance", miles, FAR_MILES)):
        if np.all(off > far) or np.all(off < -far):
            out.append(
                Problem(
                    where,
                    f"every comparable is far from this car in {what}: its price is stretched "
                    "beyond them",
                    hint="Add cars nearer to it.",
                )
            )
    return out


def _leave_one_out(y: Floats, x: Floats, weights: Floats, prior: Prior) -> float | None:
    if len(y) < FEW:
        return None
    misses = []
    for left in range(len(y)):
        kept = np.arange(len(y)) != left
        fit = fit_line(y[kept], x[kept], weights[kept], prior)
        misses.append(abs(exp(float(x[left] @ fit.coefficients) - float(y[left])) - 1))
    return float(np.mean(misses))


def mended_draws(market: MarketFit, streams: Streams) -> Floats:
    """Return the sold price of this car, mended: (draws,).

    Student-t about the line, held between the 1-in-1,000 quantiles, times what the doubt about
    each adjustment adds.
    """
    middle, _, scale = market.fit.at(np.array([1.0, 0.0, 0.0]))
    scores = streams.students("resale/price", market.fit.freedom, EDGE)
    out = middle + scale * scores
    for one in market.adjustments:
        likely = log(one.spread.likely)
        if one.spread.is_fixed:
            out = out + one.on_car * likely
            continue
        moved = np.log(streams.amounts(f"resale/{one.id}", one.spread)) - likely
        out = out + one.on_car * likely + market.power(one) * moved
    return np.exp(out)


def as_it_stands(
    mended: Floats, bill: Floats, scrap: float, streams: Streams, lookup: Lookup
) -> Floats:
    """Return the sold price of the car with its visible faults left as they are: (draws,).

    The next buyer sees the symptom, not the cause: the mended price less a high quantile of what
    a shop would charge for what can be seen, less a share for the trouble, never below scrap.

    Parameters
    ----------
    mended : (draws,) sold price mended.
    bill : (draws,) a shop's bill for all that can be seen.
    scrap : what a breaker pays.
    """
    feared = float(np.quantile(bill, lookup.number("as_it_stands.eyes")))
    if not feared:
        return mended
    hassle = streams.amounts("resale/hassle", lookup.spread("as_it_stands.hassle"))
    return np.maximum(mended * (1 - hassle) - feared, scrap)


def days_to_sell(case: Case, price: float, streams: Streams, lookup: Lookup) -> Floats:
    """Return the days from advert to sale at about `price`: (draws,)."""
    own = case.market.days_to_sell
    if own is not None:
        return streams.amounts("sell/days", spread_of(own))
    bands: tuple[tuple[float, str], ...] = (
        (1500, "sell.days_under_1500"),
        (4000, "sell.days_1500_to_4000"),
        (10000, "sell.days_4000_to_10000"),
        (float("inf"), "sell.days_over_10000"),
    )
    level = float(case.deal.price_level)
    value_id = next(value_id for most, value_id in bands if price < most * level)
    return streams.amounts("sell/days", lookup.spread(value_id))
