"""Jobs, access and tools at this car's prices: the catalog moved by price class and level."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

from appraise.engine.catalog.values import Lookup, spread_of
from appraise.engine.draws.streams import Spread
from appraise.errors import BadCase, Problem
from appraise.models.case import Case
from appraise.models.jobs import Job, PartFamily
from appraise.models.vehicle import Vehicle

__all__ = ["PartAt", "PriceList", "PricedJob"]


@dataclass(frozen=True, slots=True)
class PartAt:
    """One parts line at this car's price."""

    label: str
    quantity: int
    price: Spread
    core: float
    bought_in: bool


@dataclass(frozen=True, slots=True, eq=False)
class PricedJob:
    """A job at this car's prices and hours; one object for the same job at the same prices."""

    job: Job
    parts: tuple[PartAt, ...]
    consumables: float
    hours: Spread

    @property
    def likely_goods(self) -> float:
        """Likely price of all parts, without tax and without bought-in work."""
        return sum(part.quantity * part.price.likely for part in self.parts if not part.bought_in)


@lru_cache(maxsize=4096)
def _priced(
    job: Job, parts_factors: tuple[float, ...], level: float, hours_factor: float
) -> PricedJob:
    """Return a job at given factors; all of them 1 for a case's own job, which has its own money.

    Kept from one appraisal to the next: it hangs on nothing but what is passed in.
    """
    return PricedJob(
        job=job,
        parts=tuple(
            PartAt(
                label=part.label,
                quantity=part.quantity,
                price=spread_of(part.price, factor),
                core=float(part.core) * factor,
                bought_in=part.family is PartFamily.SERVICE,
            )
            for part, factor in zip(job.parts, parts_factors, strict=True)
        ),
        consumables=float(job.consumables) * level,
        hours=spread_of(job.hours, hours_factor),
    )


@dataclass(slots=True)
class PriceList:
    """The catalog and the case's own jobs, priced for one car when asked for."""

    lookup: Lookup
    vehicle: Vehicle
    level: float
    own: dict[str, Job]
    priced: dict[str, PricedJob] = field(default_factory=dict)
    factors: dict[str, float] = field(default_factory=dict)
    closures: dict[str, tuple[PricedJob, ...]] = field(default_factory=dict)

    @classmethod
    def of(cls, case: Case, lookup: Lookup) -> PriceList:
        """Return the price list for the car of `case`."""
        own = {job.id: job for job in case.own_jobs}
        return cls(lookup, case.vehicle, float(case.deal.price_level), own)

    def find(self, job_id: str) -> Job | None:
        """Return the job of that id, the case's own before the catalog's, or None."""
        if job_id in self.own:
            return self.own[job_id]
        entry = self.lookup.reference.jobs.get(job_id)
        return entry.job if entry else None

    def job(self, job_id: str, where: str) -> PricedJob:
        """Return a job at this car's prices.

        Raises
        ------
        BadCase
            There is no such job; `where` names the field that asked for it.
        """
        ready = self.priced.get(job_id)
        if ready is not None:
            return ready
        job = self.find(job_id)
        if job is None:
            raise BadCase((Problem(where, f"there is no job {job_id!r}", "stop"),))
        if job_id in self.own:
            ready = _priced(job, (1.0,) * len(job.parts), 1.0, 1.0)
        else:
            self.lookup.used.add(f"job.{job_id}")
            parts_factors = tuple(self._parts_factor(part.family) for part in job.parts)
            hours_factor = self._hours_factor(job.hours_family.value)
            ready = _priced(job, parts_factors, self.level, hours_factor)
        self.priced[job_id] = ready
        return ready

    def closure(self, job_id: str, where: str) -> tuple[PricedJob, ...]:
        """Return the job and all that follow from it on this car, each once, itself first.

        Raises
        ------
        BadCase
            As `job`.
        """
        ready = self.closures.get(job_id)
        if ready is not None:
            return ready
        out: dict[str, PricedJob] = {}
        waiting = [job_id]
        while waiting:
            current = waiting.pop(0)
            if current in out:
                continue
            priced = self.job(current, where)
            if current == job_id or not self.fits(priced.job):
                out[current] = priced
                waiting += priced.job.follows
        self.closures[job_id] = tuple(out.values())
        return self.closures[job_id]

    def access_hours(self, access_id: str) -> Spread:
        """Return the hours that an access group takes on this car."""
        group = self.lookup.reference.access[access_id]
        self.lookup.used.add(f"access.{access_id}")
        return spread_of(group.hours, self._hours_factor(group.hours_family))

    def tool_price(self, tool_id: str) -> Spread:
        """Return what the use of a special tool costs once."""
        self.lookup.used.add(f"tool.{tool_id}")
        return spread_of(self.lookup.reference.tools[tool_id].price, self.level)

    def fits(self, job: Job) -> str:
        """Return why a job does not fit this car, or an empty string."""
        car = self.vehicle
        if job.fuels and car.fuel not in job.fuels:
            return f"is not a job for a {car.fuel.value.replace('_', ' ')} car"
        if job.transmissions and car.transmission not in job.transmissions:
            return f"is not a job for a {car.transmission.value.replace('_', ' ')} transmission"
        if job.drives and car.drive not in job.drives:
            return f"is not a job for a car driven by its {car.drive.value} wheels"
        if not job.allows(car):
            return "is not a job for an engine built like this one"
        return ""

    def _parts_factor(self, family: PartFamily) -> float:
        return self._factor(f"parts.class_factor.{family.value}") * self.level

    def _hours_factor(self, family: str) -> float:
        return self._factor(f"hours.class_factor.{family}")

    def _factor(self, value_id: str) -> float:
        if value_id not in self.factors:
            price_class = self.vehicle.price_class.value
            self.factors[value_id] = self.lookup.entry(value_id, price_class)
        return self.factors[value_id]
