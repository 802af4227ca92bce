"""What money earned: every rate of return there is, and plainer figures where a rate means little.

A rate of return is a growth at which dated payments cancel out. There may be none, one or several;
all of them are found and none is picked, for where there are several no single one means anything.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from math import expm1, fsum, isfinite, log, log1p
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "HIGHEST",
    "LOWEST",
    "Basis",
    "CashFlow",
    "Rates",
    "annualized",
    "break_even_price",
    "per_hour",
    "rates_of_return",
    "simple_annual",
    "simple_interest",
]

Basis = Literal["Act/360", "Act/365", "Act/365.25"]
Floats = NDArray[np.float64]
Days = TypeVar("Days", float, Floats)

DAYS_A_YEAR = 365.0
DAYS_OF = {"Act/360": 360.0, "Act/365": 365.0, "Act/365.25": 365.25}
LOWEST, HIGHEST = -0.9999, 1e4
"""Between these yearly rates is searched: nearly all lost, and ten thousand times the money."""
MOST_GROWTH = 1e4
"""Growth in a year above which a yearly figure of a short deal means nothing."""
TOUCH = 1e-12
"""Share of all sizes below which a sum is nought: what rounding leaves over some decades."""
STEPS = 4000
"""Of the grid, each about 0.5% of growth a year."""
COUNTS = ("no", "one", "two", "three", "four", "five", "six")
PLACES = (2, 4, 6, 8)
WHOLE = 100


@dataclass(frozen=True, slots=True)
class CashFlow:
    """One payment on one day.

    Attributes
    ----------
    day : when it is paid.
    amount : money in is positive, money out negative.
    """

    day: date
    amount: float

    def __post_init__(self) -> None:
        """Refuse an amount that is no number."""
        if not isfinite(self.amount):
            raise ValueError(f"amount on {self.day} is {self.amount}: give a number")


@dataclass(frozen=True, slots=True)
class Rates:
    """All rates at which payments cancel out.

    Attributes
    ----------
    rates : ascending, as fractions (0.1 is 10%).
    words : the same in one line, with what it means.
    beyond : how many more there are under `LOWEST` or above `HIGHEST`.
    """

    rates: tuple[float, ...]
    words: str
    beyond: int = 0

    @property
    def only(self) -> float | None:
        """The rate where there is exactly one, else None."""
        return self.rates[0] if len(self.rates) == 1 and not self.beyond else None


def rates_of_return(flows: Iterable[CashFlow]) -> Rates:
    """Return every yearly rate in [`LOWEST`, `HIGHEST`] at which dated payments are worth nought.

    Payments of one day are netted; days count as 365ths of a year. The value ``Σ a / (1+r)^t`` and
    its slope are watched for changes of sign on a grid of `STEPS` steps of growth. A rate at which
    the value touches nought within rounding counts once; of two rates within one step, the slope
    that turns between them tells.

    Parameters
    ----------
    flows : in any order.

    Examples
    --------
    >>> flows = [CashFlow(date(2021 + at, 1, 1), one) for at, one in enumerate((-100, 230, -132))]
    >>> print(rates_of_return(flows).words)
    Two rates solve it, 10 % and 20 %: no single figure means anything; look at the margin instead.
    """
    by_day: dict[date, list[float]] = defaultdict(list)
    for one in flows:
        by_day[one.day].append(one.amount)
    most = max((abs(one) for amounts in by_day.values() for one in amounts), default=0.0) or 1.0
    net = {}
    for day in sorted(by_day):
        parts = [one / most for one in by_day[day]]
        total = fsum(parts)
        if abs(total) > TOUCH * fsum(map(abs, parts)):
            net[day] = total
    if not net:
        return Rates((), "No rate solves it: no money moves, or it cancels out on its own day.")
    totals = np.array(list(net.values()))
    if len(set(np.sign(totals))) == 1:
        way = "goes out" if totals[0] < 0 else "comes in"
        when = ", and all on one day" if len(net) == 1 else ""
        return Rates((), f"No rate solves it: money only {way}{when}.")
    times = np.array([(day - min(net)).days / DAYS_A_YEAR for day in net])
    every = _zeros(times, totals)
    low, high = log1p(LOWEST), log1p(HIGHEST)
    found = tuple(expm1(one) for one in every if low <= one <= high)
    under, above = sum(one < low for one in every), sum(one > high for one in every)
    if len(every) > 1:
        words = _several(found, under, above)
    else:
        words = _at_most_one(found, under, above, totals)
    return Rates(found, words, under + above)


def annualized(margin: float, money_in: float, days: float) -> float | None:
    """Return ``(1 + margin / money in)^(365/days) - 1``, as a fraction a year.

    None where it means nothing: no money in, no time, everything lost, or so much in so short a
    time that money would grow more than `MOST_GROWTH` times in a year.

    Parameters
    ----------
    margin : what is left over.
    money_in : what was tied up to earn it.
    days : for how long.

    Raises
    ------
    ValueError
        One of them is no number.

    Examples
    --------
    >>> round(annualized(120, 1000, 45), 4)
    1.5073
    """
    gain = _gain(margin, money_in, days)
    if gain is None:
        return None
    power = DAYS_A_YEAR * log1p(gain) / days
    return None if power > log(MOST_GROWTH) else expm1(power)


def simple_annual(margin: float, money_in: float, days: float) -> float | None:
    """Return ``margin / money in · 365/days``, as a fraction a year: nothing earns on earnings.

    None where `annualized` has no gain to speak of, or above `MOST_GROWTH`.

    Parameters
    ----------
    margin : what is left over.
    money_in : what was tied up to earn it.
    days : for how long.

    Raises
    ------
    ValueError
        One of them is no number.
    """
    gain = _gain(margin, money_in, days)
    if gain is None:
        return None
    rate = DAYS_A_YEAR * gain / days
    return None if abs(rate) > MOST_GROWTH else rate


def simple_interest(principal: float, rate: float, days: Days, basis: Basis = "Act/365") -> Days:
    """Return ``principal · rate · days / days of a year``.

    Days run from the first day to the last, the first not counted: 1 to 11 April is 10.

    Parameters
    ----------
    principal : money lent.
    rate : a year, as a fraction.
    days : for how long, 0 or more; a number or (draws,).
    basis : how many days a year has.

    Examples
    --------
    >>> round(simple_interest(1500, 0.065, 10, "Act/360"), 2)
    2.71
    """
    return principal * rate * days / DAYS_OF[basis]


def break_even_price(
    spent: float, to_spend: float, selling_percent: float, selling_flat: float
) -> float | None:
    """Return the price at which all that was and will be spent comes back.

    ``(spent + to spend + flat) / (1 - percent/100)``; 0 where more has come back already, None
    where selling takes the whole price or more.

    Parameters
    ----------
    spent : so far, less what came back.
    to_spend : still to come.
    selling_percent : of the price, in percent.
    selling_flat : of every sale.

    Raises
    ------
    ValueError
        One of them is no number.

    Examples
    --------
    >>> break_even_price(6000, 1500, 4, 180)
    8000.0
    """
    _finite(
        spent=spent, to_spend=to_spend, selling_percent=selling_percent, selling_flat=selling_flat
    )
    if selling_percent >= WHOLE:
        return None
    return max(0.0, (spent + to_spend + selling_flat) * WHOLE / (WHOLE - selling_percent))


def per_hour(margin: float, hours: float) -> float | None:
    """Return the margin for each hour, or None where no hour was worked.

    Parameters
    ----------
    margin : without pay for those hours.
    hours : worked with own hands.

    Raises
    ------
    ValueError
        One of them is no number.
    """
    _finite(margin=margin, hours=hours)
    return margin / hours if hours > 0 else None


def _finite(**given: float) -> None:
    for name, one in given.items():
        if not isfinite(one):
            raise ValueError(f"{name} is {one}: give a number")


def _gain(margin: float, money_in: float, days: float) -> float | None:
    """Return the margin as a share of the money in; None where no yearly figure means anything."""
    _finite(margin=margin, money_in=money_in, days=days)
    if money_in <= 0 or days <= 0:
        return None
    gain = margin / money_in
    return gain if gain > -1 else None


def _zeros(times: Floats, totals: Floats) -> list[float]:
    """Return every growth ``x`` at which ``Σ total · exp(-x · time)`` is nought, ascending."""
    logs, room = np.log(np.abs(totals)), np.log(len(times))
    # beyond these, the last or the first payment outweighs all others together
    low = ((logs[-1] - logs[:-1] - room) / (times[-1] - times[:-1])).min()
    high = ((logs[1:] - logs[0] + room) / (times[1:] - times[0])).max()
    ends = log1p(LOWEST), log1p(HIGHEST)
    outer = np.linspace(min(low, ends[0]), max(high, ends[1]), STEPS)
    grid = np.union1d(outer, np.linspace(*ends, STEPS))
    turns = _crossings(times[1:], totals[1:] * times[1:], grid)
    return _crossings(times, totals, np.union1d(grid, turns))


def _crossings(times: Floats, totals: Floats, points: Floats) -> list[float]:
    """Return where the sum is nought at points, or changes its sign between two of them."""
    from scipy.optimize import brentq  # noqa: PLC0415 (slow to import, and seldom needed)

    def part(at: Floats | float) -> Floats:
        """Return the sum as a share of its sizes: within [-1, 1], however large they are."""
        powers = np.log(np.abs(totals)) - np.multiply.outer(at, times)
        sizes = np.exp(powers - powers.max(axis=-1, keepdims=True))
        share: Floats = (sizes @ np.sign(totals)) / sizes.sum(axis=-1)
        return share

    shares = part(points)
    signs = np.where(np.abs(shares) <= TOUCH, 0.0, np.sign(shares))
    changes = np.flatnonzero(signs[1:] * signs[:-1] < 0)
    found = [float(brentq(part, points[at], points[at + 1], xtol=1e-15)) for at in changes]
    noughts = np.flatnonzero(signs == 0)
    runs = np.split(noughts, np.flatnonzero(np.diff(noughts) > 1) + 1) if len(noughts) else []
    return sorted(found + [float(points[run].mean()) for run in runs])


def _several(rates: tuple[float, ...], under: int, above: int) -> str:
    """Say that several rates solve it: those told, some under and some above them."""
    count = len(rates) + under + above
    bottom, top = _percents([LOWEST, HIGHEST])
    named = [f"{_count(under)} under {bottom}"] * bool(under) + _percents(rates)
    named += [f"{_count(above)} above {top}"] * bool(above)
    *some, last = named
    told = f"{', '.join(some)} and {last}" if some else last
    return (
        f"{_count(count).capitalize()} rates solve it, {told}: no single figure means anything; "
        "look at the profit instead."
    )


def _at_most_one(rates: tuple[float, ...], under: int, above: int, totals: Floats) -> str:
    """Say what one rate means, told or beyond those told, or that there is none."""
    first = totals[0]
    bottom, top = _percents([LOWEST, HIGHEST])
    weight = "more comes in than goes out" if first > 0 else "more goes out than comes in"
    shown = f"{_percents(rates)[0]} a year" if rates else ""
    if rates and first * totals[-1] > 0:
        return f"One rate solves it, {shown}, and at every other rate {weight}."
    if rates and first > 0:
        return f"One rate solves it, {shown}: money comes in first, and this is what it costs."
    if rates:
        return f"One rate solves it: {shown}."
    if under:
        return f"No rate down to {bottom} a year solves it: too much lost in too short a time."
    if above:
        return f"No rate up to {top} a year solves it: too much in too short a time."
    return f"No rate solves it: at every rate {weight}."


def _count(number: int) -> str:
    return COUNTS[number] if number < len(COUNTS) else str(number)


def _percents(rates: Iterable[float]) -> list[str]:
    """Return rates in percent, with as many places as keep them apart."""
    listed = list(rates)
    for places in PLACES:
        shown = [f"{round(one * WHOLE, places) + 0.0:,.{places}f}" for one in listed]
        out = [f"{one.rstrip('0').rstrip('.')} %" for one in shown]
        if len(set(out)) == len(listed):
            break
    return out
