"""From today on: sell as it stands, mend some, mend all, break for parts, keep.

Every option is the net of what still comes in and goes out, on the draws of the case; what is
spent already is left out. What is known is told to the buyer, so a fault left as it is costs its
share of what a buyer fears.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from appraise.engine.candidates import (
    Candidate,
    access_of,
    candidate_of_finding,
    candidate_of_job,
    with_own_access,
    with_requirements,
)
from appraise.engine.forecast import Outlook, outlook_of
from appraise.engine.lookup import spread_of
from appraise.engine.margin import paid_for
from appraise.engine.resale import days_to_sell, fit_market, mended_draws
from appraise.engine.selection_items import Access, Clean, Item, Selection
from appraise.engine.worked import DAYS_A_YEAR
from appraise.models.case import Case
from appraise.models.findings import Severity
from appraise.reference.load import Reference

__all__ = ["Drawn", "Prospects", "prospects_of"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Drawn:
    """One option: each array (draws,)."""

    net: Floats
    price: Floats
    money: Floats
    hours: Floats
    days: Floats | None


@dataclass(frozen=True, slots=True)
class Prospects:
    """All that options are reckoned from: each array (draws,).

    Attributes
    ----------
    mended : price with everything put right.
    hassle : share of it that a buyer wants off as long as anything is left.
    feared : what a buyer takes off for all that is wrong, together.
    access : hours or money of each group, once; by its name in the selection.
    """

    case: Case
    outlook: Outlook
    candidates: tuple[Candidate, ...]
    access: Mapping[str, tuple[Floats, Floats]]
    covers: Mapping[str, tuple[str, ...]]
    mended: Floats
    hassle: Floats
    feared: float
    scrap: float
    sell_days: Floats

    @property
    def repairs(self) -> frozenset[str]:
        """Names of all that a buyer would miss."""
        return frozenset(one.name for one in self.candidates if one.repairs)

    @property
    def hour_cost(self) -> float:
        """What an own hour is worth, with a share of the day of holding that it takes."""
        deal = self.case.deal
        a_day = float(deal.holding_per_day) + self._interest_a_day()
        return float(deal.own_rate) + a_day / float(deal.hours_per_day)

    def _interest_a_day(self) -> float:
        return self.landed * float(self.case.deal.finance_percent) / 100 / DAYS_A_YEAR

    @property
    def landed(self) -> float:
        """What the car cost until it stood in the yard: as paid, else as planned."""
        purchase = self.case.purchase
        return 0.0 if purchase is None else float(paid_for(self.case, purchase.bid))

    def selection(self, *, with_adding: bool = True) -> Selection:
        """Return the choice as an integer programme on means.

        A repair gains its share of what the buyer fears; the hassle is spared once nothing is left
        undone. Commission goes off both.
        """
        deal, work = self.case.deal, self.case.work
        kept = 1 - float(deal.selling_percent) / 100
        offered = [one for one in self.candidates if with_adding or one.repairs]
        names = {one.name for one in offered}
        items = tuple(
            Item(
                name=one.name,
                gain=kept * (self.feared * one.fear + float(one.adds.mean())),
                money=float(one.money.mean()),
                hours=float(one.hours.mean()),
                access=one.access,
                requires=tuple(name for name in one.requires if name in names),
                must=one.must,
            )
            for one in offered
        )
        needed = {name for one in offered for name in one.access}
        access = tuple(
            Access(
                name,
                float(money.mean()),
                float(hours.mean()),
                tuple(inner for inner in self.covers.get(name, ()) if inner in needed),
            )
            for name, (money, hours) in self.access.items()
            if name in needed
        )
        repairs = tuple(sorted(self.repairs))
        bonus = kept * float((self.mended * self.hassle).mean())
        groups = tuple(tuple(name for name in group if name in names) for group in work.at_most_one)
        return Selection(
            items=items,
            access=access,
            clean=Clean(bonus, repairs) if repairs else None,
            at_most_one=tuple(group for group in groups if len(group) > 1),
            hour_cost=self.hour_cost,
            money_limit=None if work.money_limit is None else float(work.money_limit),
            hours_limit=None if work.hours_limit is None else float(work.hours_limit),
        )

    def sold(self, chosen: Iterable[str], access: Iterable[str], *, retail: bool = True) -> Drawn:
        """Return what doing these and then selling comes to, draw by draw.

        ``price (1 - commission) - selling costs - money - hours x own rate - days x holding``.

        Parameters
        ----------
        chosen : names of candidates.
        access : names of the groups paid for them.
        retail : whether what nobody looked at still has to be put right before the sale, as in the
            estimate before the purchase.
        """
        names = set(chosen)
        picked = [one for one in self.candidates if one.name in names]
        money, hours = self._spent(picked, access)
        if retail:
            money = money + self.outlook.unseen
            hours = hours + self.outlook.unseen_hours
        left = self.repairs - names
        price = self.mended
        if left:
            share = sum(one.fear for one in self.candidates if one.name in left)
            price = price * (1 - self.hassle) - self.feared * share
        for one in picked:
            price = price + one.adds
        price = np.maximum(price, self.scrap)
        deal = self.case.deal
        waiting = max((one.lead for one in picked), default=0.0)
        days = hours / float(deal.hours_per_day) + waiting + self.sell_days
        net = (
            price * (1 - float(deal.selling_percent) / 100)
            - float(deal.selling_flat)
            - money
            - hours * float(deal.own_rate)
            - days * (float(deal.holding_per_day) + self._interest_a_day())
        )
        return Drawn(net, price, money, hours, days)

    def kept(self, chosen: Iterable[str], access: Iterable[str]) -> Drawn:
        """Return what putting it right and keeping it comes to, as if its worth were money."""
        names = set(chosen)
        picked = [one for one in self.candidates if one.name in names]
        money, hours = self._spent(picked, access)
        money = money + self.outlook.unseen
        hours = hours + self.outlook.unseen_hours
        worth = self.case.work.worth_to_keep
        streams = self.outlook.bench.workshop.streams
        price = self.mended if worth is None else streams.amounts("keep/worth", spread_of(worth))
        net = price - money - hours * float(self.case.deal.own_rate)
        return Drawn(net, price, money, hours, None)

    def broken(self) -> Drawn | None:
        """Return what breaking it for parts comes to, or None if nothing is said of it."""
        breaking = self.case.work.breaking
        if breaking is None:
            return None
        streams = self.outlook.bench.workshop.streams
        draws = streams.draws
        scrap = self.scrap if breaking.scrap is None else float(breaking.scrap)
        price = np.full(draws, scrap)
        hours = 0.0
        for at, line in enumerate(breaking.lines):
            name = f"break/{at}/{line.label}"
            brings = streams.amounts(name, spread_of(line.price))
            sells = streams.uniforms(f"{name}/sells") < float(line.chance)
            price = price + brings * sells
            hours += float(line.hours)
        deal = self.case.deal
        days = np.full(draws, float(breaking.days))
        worked = np.full(draws, hours)
        a_day = float(deal.holding_per_day) + self._interest_a_day()
        net = price - worked * float(deal.own_rate) - days * a_day
        return Drawn(net, price, np.zeros(draws), worked, days)

    def _spent(self, picked: Iterable[Candidate], access: Iterable[str]) -> tuple[Floats, Floats]:
        draws = len(self.mended)
        money, hours = np.zeros(draws), np.zeros(draws)
        for one in picked:
            money = money + one.money
            hours = hours + one.hours
        for name in access:
            group_money, group_hours = self.access[name]
            money = money + group_money
            hours = hours + group_hours
        return money, hours


def prospects_of(case: Case, reference: Reference) -> Prospects:
    """Return what the options of an owned car are reckoned from.

    Raises
    ------
    BadCase
        The case names a job, access, tool or check that does not exist.
    CannotPrice
        There is no comparable to price the car from.
    """
    outlook = outlook_of(case, reference)
    workshop = outlook.bench.workshop
    lookup, streams = workshop.lookup, workshop.streams
    market = fit_market(case, lookup)
    mended = mended_draws(market, streams)
    candidates = [candidate_of_job(one, outlook) for one in outlook.jobs if one.drawn.planned.open]
    severe = {
        one.id for one in case.findings if one.severity in (Severity.DANGEROUS, Severity.MAJOR)
    }
    candidates += [
        candidate_of_finding(
            needs, outlook.rest.by_finding[needs.id], outlook, must=needs.id in severe
        )
        for needs in outlook.rest.needs
        if needs.needs and needs.chance > 0
    ]
    candidates = with_requirements(candidates, outlook)
    access, covers = access_of(candidates, outlook)
    bill = outlook.rest.found.bill + _access_bill(candidates, outlook)
    for one in candidates:
        if one.repairs and one.needs is None:
            bill = bill + one.bill
    feared = float(np.quantile(bill, lookup.number("as_it_stands.eyes"))) if candidates else 0.0
    total = sum(float(one.bill.mean()) for one in candidates if one.repairs)
    own, shared = with_own_access(candidates, access, covers)
    hassle = streams.amounts("resale/hassle", lookup.spread("as_it_stands.hassle"))
    level = float(case.deal.price_level)
    return Prospects(
        case=case,
        outlook=outlook,
        candidates=tuple(
            replace(one, fear=float(one.bill.mean()) / total if total and one.repairs else 0.0)
            for one in own
        ),
        access=shared,
        covers=covers,
        mended=mended,
        hassle=hassle,
        feared=feared,
        scrap=lookup.entry("scrap.value", case.vehicle.price_class.value) * level,
        sell_days=days_to_sell(case, market.middle, streams, lookup),
    )


def _access_bill(candidates: Iterable[Candidate], outlook: Outlook) -> Floats:
    """Return what a shop would charge for the teardown that the open repairs need: (draws,).

    Whoever does the work in the end, the next buyer reckons with a shop, and with all of it.
    """
    bench = outlook.bench
    groups = bench.workshop.lookup.reference.access
    needed = {
        name.removeprefix("shop ")
        for one in candidates
        if one.repairs
        for name in one.access
        if not name.startswith("tool ")
    }
    covered = {inner for name in needed for inner in groups[name].covers}
    hours = np.zeros(bench.workshop.streams.draws)
    for name in sorted(needed - covered):
        hours += bench.access(name)
    return hours * bench.shop_rate
