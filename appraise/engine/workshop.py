"""Draws each job, access group and tool once and hands the draws out to whoever needs them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from appraise.engine.draws import JobSpec, Means, PartSpec, Spread, Streams
from appraise.engine.lookup import Lookup, spread_of
from appraise.engine.needs import Needs
from appraise.engine.pricing import PricedJob, PriceList
from appraise.engine.rows import Rows
from appraise.errors import Problem
from appraise.models.case import Case
from appraise.models.findings import JobChoice
from appraise.models.jobs import DoneBy

__all__ = ["Workshop"]

Floats = NDArray[np.float64]


@dataclass(slots=True)
class Workshop:
    """What the jobs of one case come to."""

    case: Case
    prices: PriceList
    lookup: Lookup
    streams: Streams
    shop_rate: Spread
    own: dict[str, JobChoice] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    shop_jobs: dict[str, bool] = field(default_factory=dict)
    jobs: dict[str, Floats] = field(default_factory=dict)
    specs: dict[str, JobSpec] = field(default_factory=dict)
    access_hours: dict[str, Floats] = field(default_factory=dict)

    def set_own_figures(self, all_needs: Iterable[Needs]) -> None:
        """Let one finding's own figures for a job hold wherever that job is needed."""
        said: set[str] = set()
        for needs in sorted(all_needs, key=lambda one: one.id):
            for need in needs.needs:
                choice = need.choice
                figures = (choice.parts, choice.hours, choice.done_by)
                if figures == (None, None, None):
                    continue
                before = self.own.setdefault(choice.job, choice)
                if (before.parts, before.hours, before.done_by) != figures:
                    if choice.job not in said:
                        message = (
                            f"two findings give different figures for {choice.job}; those of the "
                            "first by name are used"
                        )
                        self.problems.append(Problem(need.where, message))
                    said.add(choice.job)

    def by_shop(self, priced: PricedJob) -> bool:
        """Whether a shop's labour is paid for this job; its own bought-in lines are no labour."""
        ready = self.shop_jobs.get(priced.job.id)
        if ready is None:
            ready = self._decide(priced)
            self.shop_jobs[priced.job.id] = ready
        return ready

    def _decide(self, priced: PricedJob) -> bool:
        if priced.job.shop_only:
            return False
        choice = self.own.get(priced.job.id)
        done_by = (choice.done_by if choice else None) or self.case.deal.done_by
        if done_by is not DoneBy.CHEAPER:
            return done_by is DoneBy.SHOP
        owned = set(self.case.deal.tools_owned)
        hours = float(choice.hours.likely) if choice and choice.hours else priced.hours.likely
        mine = hours * float(self.case.deal.own_rate) + sum(
            self.prices.tool_price(tool).likely for tool in priced.job.tools if tool not in owned
        )
        parts = float(choice.parts.likely) if choice and choice.parts else priced.likely_goods
        tax = 1 + float(self.case.deal.parts_tax_percent) / 100
        markup = self.lookup.number("shop.parts_markup")
        theirs = hours * self.shop_rate.likely + (markup - 1) * parts * tax
        return theirs < mine

    def job(self, priced: PricedJob) -> Floats:
        """Return a job's draws: (3, draws), rows as in `Streams.job`."""
        ready = self.jobs.get(priced.job.id)
        if ready is None:
            ready = self.streams.job(self.spec(priced))
            self.jobs[priced.job.id] = ready
        return ready

    def job_at(self, priced: PricedJob, rows: Rows) -> Floats:
        """Return a job's draws where it is needed, as `Rows.of` takes them from `job`."""
        if rows.kept:
            return self.streams.job_at(self.spec(priced), rows)
        return rows.of(self.job(priced))

    def means(self, priced: PricedJob) -> Means:
        """Return the exact means of a job."""
        return self.spec(priced).means()

    def access(self, access_id: str) -> Floats:
        """Return the hours of an access group: (draws,)."""
        ready = self.access_hours.get(access_id)
        if ready is None:
            rho = self.lookup.number("dependence.hours")
            spread = self.prices.access_hours(access_id)
            ready = self.streams.amounts(f"access/{access_id}", spread, "common/hours", rho)
            self.access_hours[access_id] = ready
        return ready

    def tool(self, tool_id: str) -> Floats:
        """Return what the use of a special tool costs once: (draws,)."""
        return self.streams.amounts(f"tool/{tool_id}", self.prices.tool_price(tool_id))

    def spec(self, priced: PricedJob) -> JobSpec:
        """Return all that a job's draws hang on."""
        ready = self.specs.get(priced.job.id)
        if ready is None:
            ready = self._made_spec(priced)
            self.specs[priced.job.id] = ready
        return ready

    def _made_spec(self, priced: PricedJob) -> JobSpec:
        spec = _catalogue_spec(
            priced,
            tax=1 + float(self.case.deal.parts_tax_percent) / 100,
            returned=self.lookup.number("core.returned"),
            markup=self.lookup.number("shop.parts_markup"),
            rho_parts=self.lookup.number("dependence.parts"),
            rho_hours=self.lookup.number("dependence.hours"),
        )
        choice = self.own.get(priced.job.id)
        if choice is None:
            return spec
        if choice.parts is not None:
            parts = (PartSpec(spread_of(choice.parts), 1.0, bought_in=False),)
            spec = replace(spec, parts=parts, other=0.0, deposit=0.0)
        if choice.hours is not None:
            spec = replace(spec, hours=spread_of(choice.hours))
        return spec


@lru_cache(maxsize=4096)
def _catalogue_spec(
    priced: PricedJob,
    *,
    tax: float,
    returned: float,
    markup: float,
    rho_parts: float,
    rho_hours: float,
) -> JobSpec:
    """Return a job's spec where a case has no figures of its own for it.

    Kept from one appraisal to the next: it hangs on nothing but what is passed in.
    """
    return JobSpec(
        name=f"job/{priced.job.id}",
        parts=tuple(
            PartSpec(part.price, part.quantity * (1.0 if part.bought_in else tax), part.bought_in)
            for part in priced.parts
        ),
        other=priced.consumables,
        hours=priced.hours,
        deposit=sum(part.core * part.quantity for part in priced.parts),
        returned=returned,
        markup=markup,
        rho_parts=rho_parts,
        rho_hours=rho_hours,
    )
