"""Common random numbers: every uncertain thing has a name, and its draws hang on that name alone.

The same case gives the same numbers on every run; adding, removing or changing one thing leaves
the draws of every other as they were. Each stream is stratified: the middles of as many slices of
equal probability as there are draws, in an order of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from hashlib import blake2b
from math import sqrt
from threading import Lock
from typing import Any

import numpy as np
from cachetools import LRUCache, cached
from numpy.typing import NDArray
from scipy import special

from appraise.engine.draws.ranges import (
    pert_moments,
    pert_quantile,
    two_piece,
    two_piece_moments,
)
from appraise.engine.draws.subset import Rows

__all__ = ["BILL", "HOURS", "PARTS", "JobSpec", "Means", "PartSpec", "Spread", "Streams"]

Floats = NDArray[np.float64]

CACHE_BYTES = 64 * 2**20


def _size(array: NDArray[Any]) -> int:
    return array.nbytes


@cached(cache=LRUCache(maxsize=CACHE_BYTES * 3 // 4, getsizeof=_size), lock=Lock())
def _order(name: str, seed: int, draws: int) -> NDArray[np.unsignedinteger]:
    """Return the order that a name and a seed give: (draws,), in as few bytes as will do.

    Shuffling is most of what a stream takes, and an order of two bytes a draw is kept for a whole
    catalog where draws of eight would not be.
    """
    key = int.from_bytes(blake2b(f"{seed}/{name}".encode(), digest_size=16).digest(), "big")
    generator = np.random.Generator(np.random.Philox(key=key))
    return generator.permutation(np.arange(draws, dtype=np.min_scalar_type(draws)))


def _shuffled(ladder: Floats, name: str, seed: int) -> Floats:
    """Return the rungs of a ladder in the order that a name and a seed give: same shape."""
    out: Floats = ladder.take(_order(name, seed, len(ladder)))
    out.flags.writeable = False
    return out


@lru_cache(maxsize=4)
def _shares(draws: int) -> Floats:
    """Return the middles of `draws` slices of equal probability, ascending: (draws,)."""
    return (np.arange(draws) + 0.5) / draws


@lru_cache(maxsize=4)
def _normal_ladder(draws: int) -> Floats:
    out: Floats = special.ndtri(_shares(draws))
    return out


@lru_cache(maxsize=16)
def _student_ladder(draws: int, freedom: float, edge: float) -> Floats:
    out: Floats = special.stdtrit(freedom, np.clip(_shares(draws), edge, 1 - edge))
    return out


@cached(cache=LRUCache(maxsize=CACHE_BYTES * 3 // 4, getsizeof=_size), lock=Lock())
def _uniforms(name: str, seed: int, draws: int) -> Floats:
    return _shuffled(_shares(draws), name, seed)


@cached(cache=LRUCache(maxsize=CACHE_BYTES // 2, getsizeof=_size), lock=Lock())
def _normals(name: str, seed: int, draws: int) -> Floats:
    return _shuffled(_normal_ladder(draws), name, seed)


@cached(cache=LRUCache(maxsize=CACHE_BYTES // 8, getsizeof=_size), lock=Lock())
def _students(name: str, seed: int, draws: int, freedom: float, edge: float) -> Floats:
    return _shuffled(_student_ladder(draws, freedom, edge), name, seed)


@dataclass(frozen=True, slots=True)
class Spread:
    """A range as the engine uses it: floats, already scaled to this car and currency."""

    low: float
    likely: float
    high: float
    bounds: bool = False

    @property
    def is_fixed(self) -> bool:
        """Whether there is no doubt."""
        return self.low == self.high

    @property
    def mean(self) -> float:
        """The exact mean."""
        return _mean_of(self)

    def at(self, z: Floats) -> Floats:
        """Return the amounts at standard normal scores `z`: same shape."""
        if self.bounds:
            return pert_quantile(self.low, self.likely, self.high, special.ndtr(z))
        return two_piece(self.low, self.likely, self.high, z)

    def times(self, factor: float) -> Spread:
        """Return the same doubt about an amount `factor` times as large."""
        return Spread(self.low * factor, self.likely * factor, self.high * factor, self.bounds)


@lru_cache(maxsize=8192)
def _mean_of(spread: Spread) -> float:
    moments = pert_moments if spread.bounds else two_piece_moments
    return moments(spread.low, spread.likely, spread.high)[0]


@cached(cache=LRUCache(maxsize=CACHE_BYTES // 2, getsizeof=_size), lock=Lock())
def _amounts(
    name: str, spread: Spread, common: str | None, rho: float, seed: int, draws: int
) -> Floats:
    out = _drawn(name, spread, common, rho, Streams(seed, draws))
    out.flags.writeable = False
    return out


def _drawn(name: str, spread: Spread, common: str | None, rho: float, streams: Streams) -> Floats:
    if spread.is_fixed:
        return np.full(streams.draws, spread.likely)
    scores = streams.normals(name) if common is None else streams.together(name, common, rho)
    return spread.at(scores)


@dataclass(frozen=True, slots=True)
class PartSpec:
    """A parts line as it is drawn: price each, times how many (and tax)."""

    price: Spread
    times: float
    bought_in: bool


@dataclass(frozen=True, slots=True)
class Means:
    """Exact means of a job, in the same order as its draws."""

    parts: float
    bill: float
    hours: float


@dataclass(frozen=True, slots=True)
class JobSpec:
    """All that a job's draws hang on.

    Attributes
    ----------
    other : fixed consumables.
    deposit : on old units; lost with a chance of 1 - `returned`.
    markup : what a shop adds on parts, as a factor.
    rho_parts, rho_hours : what prices, and hours, have in common with all others.
    """

    name: str
    parts: tuple[PartSpec, ...]
    other: float
    hours: Spread
    deposit: float
    returned: float
    markup: float
    rho_parts: float
    rho_hours: float

    def __hash__(self) -> int:
        """Return a hash of the few fields in which jobs differ: quick, as it is asked for often."""
        return hash((self.name, self.other, self.hours))

    def means(self) -> Means:
        """Return the exact means of what the job comes to; they hang on no correlation."""
        return _means(self)


@lru_cache(maxsize=4096)
def _means(spec: JobSpec) -> Means:
    goods = sum(one.price.mean * one.times for one in spec.parts if not one.bought_in)
    other = spec.other + sum(one.price.mean * one.times for one in spec.parts if one.bought_in)
    lost = spec.deposit * (1 - spec.returned)
    return Means(goods + other + lost, goods * spec.markup + other, spec.hours.mean)


PARTS, BILL, HOURS = range(3)
"""Rows of a job's draws: what the parts come to when bought oneself, with deposits lost; what a
shop would charge for the parts and bought-in work; the hours, whoever works them."""


@cached(cache=LRUCache(maxsize=CACHE_BYTES * 3 // 2, getsizeof=_size), lock=Lock())
def _job(spec: JobSpec, seed: int, draws: int) -> Floats:
    streams = Streams(seed, draws)
    goods = np.zeros(draws)
    other = np.full(draws, spec.other)
    for index, part in enumerate(spec.parts):
        name = f"{spec.name}/parts/{index}"
        price = _drawn(name, part.price, "common/parts", spec.rho_parts, streams)
        if part.bought_in:
            other += price * part.times
        else:
            goods += price * part.times
    out = np.empty((3, draws))
    out[PARTS] = goods + other
    if spec.deposit:
        lost = streams.uniforms(f"{spec.name}/core") >= spec.returned
        out[PARTS] += lost * spec.deposit
    out[BILL] = goods * spec.markup + other
    out[HOURS] = _drawn(f"{spec.name}/hours", spec.hours, "common/hours", spec.rho_hours, streams)
    out.flags.writeable = False
    return out


def _size_with_rows(kept: tuple[Rows, Floats]) -> int:
    return kept[0].most_bytes + kept[1].nbytes


@cached(cache=LRUCache(maxsize=CACHE_BYTES // 2, getsizeof=_size_with_rows), lock=Lock())
def _job_at(spec: JobSpec, rows: Rows, seed: int, draws: int) -> tuple[Rows, Floats]:
    """Return a job's draws in some rows, with the rows, whose size counts as well."""
    out = rows.of(_job(spec, seed, draws))
    out.flags.writeable = False
    return rows, out


@dataclass(frozen=True, slots=True)
class Streams:
    """The draws of one case.

    Attributes
    ----------
    seed : any whole number from 0.
    draws : number of draws of every stream.
    """

    seed: int
    draws: int

    def uniforms(self, name: str) -> Floats:
        """Return the stratified uniform draws of that name: (draws,), read-only."""
        return _uniforms(name, self.seed, self.draws)

    def normals(self, name: str) -> Floats:
        """Return the stratified standard normal draws of that name: (draws,), read-only."""
        return _normals(name, self.seed, self.draws)

    def students(self, name: str, freedom: float, edge: float) -> Floats:
        """Return stratified Student-t draws, held at the quantiles `edge` and 1 - `edge`."""
        return _students(name, self.seed, self.draws, freedom, edge)

    def together(self, name: str, common: str, rho: float) -> Floats:
        """Return normal scores of that name that share `rho` of their variance with `common`.

        ``z = sqrt(rho) g + sqrt(1 - rho) e``: any two such streams correlate by `rho`, and each
        is standard normal whatever `rho` is.

        Parameters
        ----------
        name, common : the streams' names.
        rho : correlation in [0, 1].

        Returns
        -------
        (draws,) standard normal scores.
        """
        out = self.normals(common) * sqrt(rho)
        out += self.normals(name) * sqrt(1 - rho)
        return out

    def amounts(
        self, name: str, spread: Spread, common: str | None = None, rho: float = 0.0
    ) -> Floats:
        """Return the draws of an amount: (draws,), read-only.

        Parameters
        ----------
        name : the amount's own stream.
        spread : what it may come to.
        common, rho : the stream that it moves with, and how much, or None for none.
        """
        return _amounts(name, spread, common, rho, self.seed, self.draws)

    def job(self, spec: JobSpec) -> Floats:
        """Return a job's draws for one time, kept from one appraisal to the next.

        Returns
        -------
        (3, draws), read-only: rows PARTS, BILL and HOURS.
        """
        return _job(spec, self.seed, self.draws)

    def job_at(self, spec: JobSpec, rows: Rows) -> Floats:
        """Return a job's draws where it is needed, as `Rows.of` takes them from `job`.

        They are kept from one appraisal to the next, as the rows have to be.
        """
        if rows.places() is None:
            return self.job(spec)
        return _job_at(spec, rows, self.seed, self.draws)[1]
