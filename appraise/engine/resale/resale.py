"""What the car will fetch: mended, from comparable cars, and as it stands."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import starmap
from math import exp, log

import numpy as np
from numpy.typing import NDArray
from scipy import special

from appraise.engine.catalog.values import Lookup, spread_of
from appraise.engine.draws.ranges import Z90
from appraise.engine.draws.streams import Spread, Streams
from appraise.engine.papers.priced_brand import priced_mark
from appraise.engine.resale.regression import Fit, Prior, fit_line, outlier_weights
from appraise.errors import CannotPrice, Problem
from appraise.models.case import Case
from appraise.models.market import Comparable, Condition, PriceKind, SoldBy
from appraise.models.vehicle import TitleBrand, age_in_years

__all__ = [
    "EDGE",
    "MarketFit",
    "as_it_stands",
    "days_to_sell",
    "fit_market",
    "mended_draws",
    "sale_scores",
]

Floats = NDArray[np.float64]

EDGE = 0.001
"""Draws of log price stay between these quantiles: a log Student-t has no mean without an end."""

FEW = 3
FAR_YEARS = 3.0
FAR_MILES = 40_000.0
MILES_A_STEP = 10_000.0
SAME_AGE = 1e-6
"""Years that rounding may take off a difference of whole years."""

TENFOLD = 9.5
ODD, HARDLY = 0.5, 0.05
"""A row that counts less than this is named; one under this counts almost not at all."""
BANDS = ("under_1500", "1500_to_4000", "4000_to_10000", "over_10000")


@dataclass(frozen=True, slots=True)
class Adjustment:
    """A factor between sorts of price: asked and sold, dealer's and private, two title marks.

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
    """A comparable as the fit sees it: its like-for-like price, place and weight.

    Attributes
    ----------
    weight : by its nearness and by how well it agrees with the others, 0 to 1.
    like_price : a private sale's of a like car; the bend of the line between the ages is off it.
    """

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
        share of its price, or None with fewer than three. A row that does not fit the others
        counts in it as little as in the fit.
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


def _usable(case: Case) -> tuple[dict[int, Comparable], list[Problem]]:
    """Return the comparables that count, by their place in the case, and what is wrong."""
    problems = []
    usable = {}
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
        usable[at] = comp
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
    for seller in (SoldBy.DEALER, SoldBy.AUCTION):
        value_id = f"resale.{seller.value}"
        on_comps = [1.0 if comp.sold_by is seller else 0.0 for comp in comps]
        add(value_id, lookup.spread(value_id), on_comps, 0.0)
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


def market_prior(age: float, lookup: Lookup, *, private: bool = False) -> Prior:
    """Return the prior of the price line for a car of that age: level unknown, slopes and spread.

    Parameters
    ----------
    age : years.
    lookup : the reference values.
    private : whether the spread is that of cars in private hands.
    """
    scale = "resale.scale_private" if private else "resale.scale"
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
        scale=lookup.curve(scale, age),
        freedom=lookup.number("resale.scale_weight"),
    )


def _wider_where_one_sided(prior: Prior, years: Floats, miles: Floats, lookup: Lookup) -> Prior:
    """Return the prior with more doubt about a slope along which the line has to be stretched."""
    sd = prior.sd.copy()
    for term, off, name in ((1, years, "age"), (2, miles, "miles")):
        if np.all(off > 0) or np.all(off < 0):
            sd[term] *= lookup.number(f"resale.one_sided_{name}")
    return replace(prior, sd=sd)


def _bend(ages: Floats, car_age: float, miles: Floats, prior: Prior, lookup: Lookup) -> Floats:
    """Return the log price by which the line, straight at this car's age, misses each comparable.

    The slopes change with age; between two ages the mean of the curve between them holds.
    """
    off = np.zeros(len(ages))
    for slope, name, steps in (
        (prior.mean[1], "resale.slope_age", ages - car_age),
        (prior.mean[2], "resale.slope_miles", miles / MILES_A_STEP),
    ):
        between = {age: lookup.mean(name, car_age, age) for age in set(ages.tolist())}
        off += (np.array([between[age] for age in ages.tolist()]) - slope) * steps
    return off


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
    into sold ones, dealers' and auction prices into private sellers', other conditions and title
    marks into this car's, by ranges.

    A comparable pulls the line by ``w``, its nearness times how well it agrees with the others;
    its own noise has the variance ``s²/sqrt(w)``: a far car's price does not scatter as much more
    as its weight says, the rest is doubt about the line. Once anybody says who sells the
    comparables, ``s`` is the spread of private sales; a dealer's price scatters less.

    Raises
    ------
    CannotPrice
        There is no usable comparable.
    """
    places, problems = _usable(case)
    comps = list(places.values())
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
    years_off, miles_off = ages - car_age, miles - car_miles
    adjustments = _adjustments(case, comps, lookup)
    prices = np.array([float(comp.price) for comp in comps])
    prior = market_prior(car_age, lookup, private=any(comp.sold_by for comp in comps))
    y = np.log(prices) - _bend(ages, car_age, miles_off, prior, lookup)
    for one in adjustments:
        y = y + one.on_comps * log(one.spread.likely)
    x = np.column_stack([np.ones(len(comps)), years_off, miles_off / MILES_A_STEP])
    agreeing = outlier_weights(y, x, prior)
    weights = nearness(years_off, miles_off, lookup) * agreeing
    dealers = (lookup.curve("resale.scale", car_age) / prior.scale) ** 2
    noise = np.array([dealers if comp.sold_by is SoldBy.DEALER else 1.0 for comp in comps])
    prior = _wider_where_one_sided(prior, years_off, miles_off, lookup)
    rows = Rows(y, x, weights / noise, noise / weights**0.5)
    fit = rows.fit(prior)
    problems += _odd_rows(places, y - x @ fit.coefficients, agreeing)
    problems += _warnings(years_off, miles_off)
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
        leave_one_out=_leave_one_out(rows, agreeing, prior),
        problems=tuple(problems),
    )


@dataclass(frozen=True, slots=True)
class Rows:
    """What the line is fitted to; see `fit_line`."""

    y: Floats
    x: Floats
    weights: Floats
    noise: Floats

    def fit(self, prior: Prior, kept: slice | NDArray[np.bool_] = slice(None)) -> Fit:
        """Return the line through the rows that are kept."""
        return fit_line(
            self.y[kept], self.x[kept], self.weights[kept], prior, noise=self.noise[kept]
        )


def _odd_rows(places: dict[int, Comparable], misses: Floats, agreeing: Floats) -> list[Problem]:
    out = []
    for (at, comp), miss, share in zip(
        places.items(), misses.tolist(), agreeing.tolist(), strict=True
    ):
        if share >= ODD:
            continue
        ratio = exp(miss)
        times = (
            f"{ratio:,.{0 if ratio >= TENFOLD else 1}f} times"
            if miss > 0
            else f"{100 * ratio:.0f} % of"
        )
        counts = "counted almost not at all" if share < HARDLY else "counts less"
        out.append(
            Problem(
                f"market.comparables[{at}]",
                f"row {at + 1} (price {comp.price:,.0f}): {times} what the others say; {counts}",
                hint="Check its price, year and odometer: correct it or leave it out.",
            )
        )
    return out


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
        if np.all(off > far - SAME_AGE) or np.all(off < SAME_AGE - far):
            out.append(
                Problem(
                    where,
                    f"every comparable is far from this car in {what}: its price is stretched "
                    "beyond them",
                    hint="Add cars nearer to it.",
                )
            )
    return out


def _leave_one_out(rows: Rows, agreeing: Floats, prior: Prior) -> float | None:
    if len(rows.y) < FEW:
        return None
    misses = []
    for left in range(len(rows.y)):
        fit = rows.fit(prior, np.arange(len(rows.y)) != left)
        predicted = float(rows.x[left] @ fit.coefficients)
        misses.append(abs(exp(predicted - float(rows.y[left])) - 1))
    return float(np.average(misses, weights=agreeing))


def sale_scores(market: MarketFit, streams: Streams) -> tuple[Floats, float]:
    """Return how well the sale goes, as Student-t scores (draws,), and the log price of one score.

    The scores are held between the 1-in-1,000 quantiles and hang on nothing else in the case.
    """
    _, _, scale = market.fit.at(np.array([1.0, 0.0, 0.0]))
    return streams.students("resale/price", market.fit.freedom, EDGE), scale


def mended_draws(market: MarketFit, streams: Streams) -> Floats:
    """Return the sold price of this car, mended: (draws,).

    Student-t about the line, held between the 1-in-1,000 quantiles, times what the doubt about
    each adjustment adds.
    """
    scores, scale = sale_scores(market, streams)
    out = float(market.fit.coefficients[0]) + scale * scores
    for one in market.adjustments:
        likely = log(one.spread.likely)
        if one.spread.is_fixed:
            out = out + one.on_car * likely
            continue
        moved = np.log(streams.amounts(f"resale/{one.id}", one.spread)) - likely
        out = out + one.on_car * likely + market.power(one) * moved
    return np.exp(out)


def as_it_stands(
    mended: Floats,
    bill: Floats,
    scrap: float,
    streams: Streams,
    lookup: Lookup,
    *,
    unseen: float = 0.0,
) -> Floats:
    """Return the sold price of the car with its visible faults left as they are: (draws,).

    The next buyer sees the symptom, not the cause, and fears ``F``: the mean of the worst fifth of
    the bills, and what nobody inspected at its mean. With ``x = F / P`` of the mean price mended
    and ``m`` the most that fear takes off, the price is
    ``mended (1 - m x / (m + x) - hassle c)``, never below scrap; ``c`` is the mean share of the
    hassle that a bill brings with what nobody inspected: twice the amount, and at most all of it.
    A bill small beside the price goes off in full, and twice more for the hassle; one that is not,
    less and less, because cheap cars are repaired cheaply or driven as they are. Continuous in
    chance and amount, and lower for more to fear. Where the bill is known, its worst fifth is the
    bill with the doubt of its price.

    Parameters
    ----------
    mended : (draws,) sold price mended.
    bill : (draws,) a shop's bill for all that can be seen.
    scrap : what a breaker pays.
    unseen : what a shop would charge, on average, for what nobody inspected; see `unseen_bill`.
    """
    worst = max(1, round(len(bill) * (1 - lookup.number("as_it_stands.eyes"))))
    feared = float(np.partition(bill, len(bill) - worst)[-worst:].mean()) + unseen
    price = float(mended.mean())
    if feared <= 0 or price <= 0:
        return mended
    feared /= price
    most = lookup.number("as_it_stands.most")
    off = most * feared / (most + feared)
    hassle = streams.amounts("resale/hassle", lookup.spread("as_it_stands.hassle"))
    whole = price * float(hassle.mean()) / lookup.number("as_it_stands.hassle_times")
    trouble = float(np.minimum((bill + unseen) / whole, 1.0).mean())
    return np.maximum(mended * (1 - off - hassle * trouble), scrap)


def days_to_sell(case: Case, price: float, streams: Streams, lookup: Lookup) -> Floats:
    """Return the days from advert to sale at about `price`: (draws,).

    Each band's range stands for one price in it; between two of them low, likely and high are read
    by straight lines, so that no price stands at a jump. In the catalog's own money the price
    level says what parts and shops cost here and nothing of the car: it moves no days. In another
    money it is also what turns the price into the catalog's.
    """
    own = case.market.days_to_sell
    if own is not None:
        return streams.amounts("sell/days", spread_of(own))
    foreign = case.currency != lookup.reference.currency
    level = float(case.deal.price_level) if foreign else 1.0
    at = [lookup.entry("sell.band_prices", band) for band in BANDS]
    spreads = [lookup.spread(f"sell.days_{band}") for band in BANDS]
    low, likely, high = (
        float(np.interp(price / level, at, [getattr(one, name) for one in spreads]))
        for name in ("low", "likely", "high")
    )
    return streams.amounts("sell/days", Spread(low, likely, high))
