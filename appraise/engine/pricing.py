"""Jobs, access and tools at this car's prices: the catalogue moved by price class and level."""

from __future__ import annotations

from dataclasses import dataclass, field

from appraise.engine.draws import Spread
from appraise.engine.lookup import Lookup, spread_of
from appraise.errors import BadCase, Problem
from appraise.models.case import Case
from appraise.models.jobs import Job, PartFamily, PartLine
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


@dataclass(frozen=True, slots=True)
class PricedJob:
    """A job at this car's prices and hours."""

    job: Job
    parts: tuple[PartAt, ...]
    consumables: float
    hours: Spread

    @property
    def likely_goods(self) -> float:
        """Likely price of all parts, without tax and without bought-in work."""
        return sum(part.quantity * part.price.likely for part in self.parts if not part.bought_in)


@dataclass(slots=True)
class PriceList:
    """The catalogue and the case's own jobs, priced for one car when asked for."""

    lookup: Lookup
    vehicle: Vehicle
    level: float
    own: dict[str, Job]
    priced: dict[str, PricedJob] = field(default_factory=dict)
    factors: dict[str, float] = field(default_factory=dict)

    @classmethod
    def of(cls, case: Case, lookup: Lookup) -> PriceList:
        """Return the price list for the car of `case`."""
        own = {job.id: job for job in case.own_jobs}
        return cls(lookup, case.vehicle, float(case.deal.price_level), own)

    def find(self, job_id: str) -> Job | None:
        """Return the job of that id, the case's own before the catalogue's, or None."""
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
        own = job_id in self.own
        if not own:
            self.lookup.used.add(f"job.{job_id}")
        ready = PricedJob(
            job=job,
            parts=tuple(self._part(part, own=own) for part in job.parts),
            consumables=float(job.consumables) * (1.0 if own else self.level),
            hours=spread_of(job.hours, 1.0 if own else self._hours_factor(job.hours_family.value)),
        )
        self.priced[job_id] = ready
        return ready

    def _part(self, part: PartLine, *, own: bool) -> PartAt:
        """Return a parts line at this car's price; a case's own job is in its own money already."""
        factor = 1.0 if own else self._parts_factor(part.family)
        return PartAt(
            label=part.label,
            quantity=part.quantity,
            price=spread_of(part.price, factor),
            core=float(part.core) * factor,
            bought_in=part.family is PartFamily.SERVICE,
        )

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
        if job.gearboxes and car.gearbox not in job.gearboxes:
            return f"is not a job for a {car.gearbox.value.replace('_', ' ')} gearbox"
        if job.drives and car.drive not in job.drives:
            return f"is not a job for a car driven by its {car.drive.value} wheels"
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
