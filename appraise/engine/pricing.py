"""Jobs, access and tools at this car's prices: the catalogue moved by price class and level."""

from __future__ import annotations

from dataclasses import dataclass

from appraise.engine.draws import Spread
from appraise.engine.lookup import Lookup, spread_of
from appraise.errors import BadCase, Problem
from appraise.models.case import Case
from appraise.models.jobs import Job, PartFamily
from appraise.models.ranges import Range
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
    def likely_parts(self) -> float:
        """Likely price of all parts and bought-in work, without tax."""
        return sum(part.quantity * part.price.likely for part in self.parts)


@dataclass(slots=True)
class PriceList:
    """The catalogue and the case's own jobs, priced for one car when asked for."""

    lookup: Lookup
    vehicle: Vehicle
    level: float
    own: dict[str, Job]
    priced: dict[str, PricedJob]

    @classmethod
    def of(cls, case: Case, lookup: Lookup) -> PriceList:
        """Return the price list for the car of `case`."""
        own = {job.id: job for job in case.own_jobs}
        return cls(lookup, case.vehicle, float(case.deal.price_level), own, {})

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
        if job_id not in self.own:
            self.lookup.used.add(f"job.{job_id}")
        ready = PricedJob(
            job=job,
            parts=tuple(
                PartAt(
                    label=part.label,
                    quantity=part.quantity,
                    price=spread_of(part.price, self._parts_factor(part.family)),
                    core=float(part.core) * self._parts_factor(part.family),
                    bought_in=part.family is PartFamily.SERVICE,
                )
                for part in job.parts
            ),
            consumables=float(job.consumables) * self.level,
            hours=spread_of(job.hours, self._hours_factor(job.hours_family.value)),
        )
        self.priced[job_id] = ready
        return ready

    def access_hours(self, access_id: str) -> Spread:
        """Return the hours that an access group takes on this car."""
        group = self.lookup.reference.access[access_id]
        self.lookup.used.add(f"access.{access_id}")
        return spread_of(group.hours, self._hours_factor(group.hours_family))

    def tool_price(self, tool_id: str) -> Spread:
        """Return what the use of a special tool costs once."""
        self.lookup.used.add(f"tool.{tool_id}")
        return spread_of(self.lookup.reference.tools[tool_id].price, self.level)

    def own_amount(self, given: Range) -> Spread:
        """Return a person's own figure as it stands: not moved by class or level."""
        return spread_of(given)

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
        factor = self.lookup.entry(
            f"parts.class_factor.{family.value}", self.vehicle.price_class.value
        )
        return factor * self.level

    def _hours_factor(self, family: str) -> float:
        return self.lookup.entry(f"hours.class_factor.{family}", self.vehicle.price_class.value)
