"""Draws each job, access group and tool once and hands the draws out to whoever needs them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from appraise.engine.catalog.prices import PricedJob, PriceList
from appraise.engine.catalog.values import Lookup, spread_of
from appraise.engine.draws.streams import JobSpec, Means, PartSpec, Spread, Streams
from appraise.engine.draws.subset import Rows
from appraise.engine.faults.needed_jobs import Needs
from appraise.engine.repair.done_by import Doable, Hour, Shared
from appraise.errors import Problem
from appraise.models.case import Case
from appraise.models.findings import JobChoice
from appraise.models.jobs import DoneBy

__all__ = ["Workshop"]

Floats = NDArray[np.float64]

SELDOM = 40
"""A job needed in fewer than one draw in so many is needed seldom."""


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
        """Whether a shop's labor is paid for this job; its own bought-in lines are no labor.

        Where the cheaper does it, it has to be settled before.
        """
        ready = self.shop_jobs.get(priced.job.id)
        if ready is None:
            ready = self.said(priced) is DoneBy.SHOP
            self.shop_jobs[priced.job.id] = ready
        return ready

    def said(self, priced: PricedJob) -> DoneBy:
        """Return who is to do this job; what is bought in whole is fetched by own hands."""
        if priced.job.shop_only:
            return DoneBy.OWN_HANDS
        choice = self.own.get(priced.job.id)
        return (choice.done_by if choice else None) or self.case.deal.done_by

    def doable(self, priced: PricedJob, times: float, rows: int) -> Doable:
        """Return a job as `cheaper` compares it, before the parts tax.

        Where a tax moved a job to other hands, the bid would move by what one is surer of than the
        other, and might rise.

        Parameters
        ----------
        times : how often it is done, on average.
        rows : where it is needed.
        """
        said, means = self.said(priced), self._made_spec(priced, 1.0).means()
        owned = self.case.deal.tools_owned
        tools = (f"tool {one}" for one in priced.job.tools if one not in owned)
        return Doable(
            own=means.parts * times,
            shop=means.bill * times,
            hours=means.hours * times,
            shared=(*priced.job.access, *tools),
            rows=rows,
            by_shop=None if said is DoneBy.CHEAPER else said is DoneBy.SHOP,
        )

    def shared(self, jobs: Iterable[Doable]) -> dict[str, Shared]:
        """Return what these jobs may share, by name."""
        groups = self.lookup.reference.access
        out = {}
        for name in sorted({one for job in jobs for one in job.shared}):
            kind, _, tool = name.partition(" ")
            if kind == "tool" and tool:
                out[name] = Shared(self.prices.tool_price(tool).mean, 0.0)
            else:
                hours = self.prices.access_hours(name).mean
                out[name] = Shared(0.0, hours, tuple(groups[name].covers))
        return out

    @property
    def usual_rate(self) -> float:
        """What a shop's hour costs on average where nobody says what it costs."""
        return self.lookup.spread("shop.rate", float(self.case.deal.price_level)).mean

    @property
    def hour(self) -> Hour:
        """What an own hour and a shop's cost, with the days on which the car waits."""
        deal = self.case.deal
        day = float(deal.holding_per_day)
        mine = float(deal.own_rate) + day / float(deal.hours_per_day)
        return Hour(mine, self.shop_rate.mean + day / self.lookup.number("shop.hours_a_day"))

    def job(self, priced: PricedJob) -> Floats:
        """Return a job's draws: (3, draws), rows as in `Streams.job`."""
        ready = self.jobs.get(priced.job.id)
        if ready is None:
            ready = self.streams.job(self.spec(priced))
            self.jobs[priced.job.id] = ready
        return ready

    def job_at(self, priced: PricedJob, rows: Rows, *, seldom_mean: bool = False) -> Floats:
        """Return a job's draws where it is needed, as `Rows.of` takes them from `job`.

        Parameters
        ----------
        seldom_mean : whether a job that is needed in few draws takes its mean there; whether it is
            needed says nearly all of its doubt.
        """
        places = rows.places()
        if seldom_mean and places is not None and len(places) * SELDOM < self.streams.draws:
            means = self.means(priced)
            return np.repeat([[means.parts], [means.bill], [means.hours]], len(places), axis=1)
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
            tax = 1 + float(self.case.deal.parts_tax_percent) / 100
            ready = self._made_spec(priced, tax)
            self.specs[priced.job.id] = ready
        return ready

    def _made_spec(self, priced: PricedJob, tax: float) -> JobSpec:
        spec = _catalog_spec(
            priced,
            tax=tax,
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
def _catalog_spec(
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
