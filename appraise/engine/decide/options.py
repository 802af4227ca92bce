"""From today on: sell as it stands, mend some, mend all, break for parts, keep.

Every option is the net of what still comes in and goes out, on the draws of the case; what is
spent already is left out. What is known is told to the buyer, so a fault left as it is costs its
share of what a buyer fears.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import inf

import numpy as np
from numpy.typing import NDArray

from appraise.engine.catalog.values import spread_of
from appraise.engine.decide.candidates import (
    Candidate,
    access_of,
    candidate_of_findings,
    candidate_of_job,
    with_own_access,
    with_requirements,
)
from appraise.engine.decide.selection_items import Access, Clean, Item, Selection
from appraise.engine.money.margin import paid_for
from appraise.engine.money.returns import simple_interest
from appraise.engine.repair.repair import unseen_bill
from appraise.engine.resale.resale import (
    as_it_stands,
    days_to_sell,
    fit_market,
    mended_draws,
)
from appraise.engine.work.forecast import Outlook, outlook_of
from appraise.models.case import Case
from appraise.models.findings import Severity
from appraise.reference.load import Reference

__all__ = ["NOT_INSPECTED", "Drawn", "Prospects", "prospects_of"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Drawn:
    """One option: each array (draws,)."""

    net: Floats
    price: Floats
    money: Floats
    hours: Floats
    days: Floats | None


NOT_INSPECTED = "what nobody inspected"
"""The item of a selection that stands for it: no id, which has no spaces."""


@dataclass(frozen=True, slots=True)
class Prospects:
    """All that options are reckoned from: each array (draws,).

    Attributes
    ----------
    access : money and hours of each group, once; by its name in the selection.
    mended : price with everything put right.
    """

    case: Case
    outlook: Outlook
    candidates: tuple[Candidate, ...]
    access: Mapping[str, tuple[Floats, Floats]]
    covers: Mapping[str, tuple[str, ...]]
    mended: Floats
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
        return simple_interest(self.landed, float(self.case.deal.finance_percent) / 100, 1.0)

    @property
    def landed(self) -> float:
        """What the car cost until it stood in the yard: as paid, else as planned."""
        purchase = self.case.purchase
        return 0.0 if purchase is None else float(paid_for(self.case, purchase.bid))

    def price(
        self, chosen: Iterable[str], floor: float | None = None, unseen: float = 0.0
    ) -> Floats:
        """Return what the next buyer pays once these are done and the rest is left: (draws,).

        Parameters
        ----------
        chosen : names of candidates.
        floor : what it brings at least; None for scrap.
        unseen : what a shop would charge for what nobody inspected, if that is left as it is.
        """
        names = set(chosen)
        mended = self.mended
        for one in self.candidates:
            if one.name in names:
                mended = mended + one.adds
        bill = self.bill(self.repairs - names)
        workshop = self.outlook.bench.workshop
        least = self.scrap if floor is None else floor
        return np.maximum(
            as_it_stands(mended, bill, least, workshop.streams, workshop.lookup, unseen=unseen),
            least,
        )

    @property
    def _unseen_bill(self) -> float:
        lookup = self.outlook.bench.workshop.lookup
        return unseen_bill(self.case, self.outlook.rest.by_area.values(), lookup)

    def bill(self, left: Iterable[str]) -> Floats:
        """Return what a shop would charge for what is left, each teardown once: (draws,).

        Whoever does the work in the end, the next buyer reckons with a shop, and with all of it.
        """
        bench, names = self.outlook.bench, set(left)
        groups = bench.workshop.lookup.reference.access
        bill = np.zeros(len(self.mended))
        needed: set[str] = set()
        for one in self.candidates:
            if one.name in names:
                bill += one.bill
                needed.update(one.opens)
        covered = {inner for name in needed for inner in groups[name].covers}
        for name in sorted(needed - covered):
            bill += bench.access(name) * bench.shop_rate
        return bill

    def _worth(self) -> tuple[dict[str, float], float]:
        """Return what each repair adds to the price on average, and what the last of them adds.

        What a buyer takes off is no sum over the faults: part of it goes off as long as anything at
        all is left. With ``d(i)`` taken off for fault i left alone and ``D`` for all n of them,
        ``bonus = (sum d(i) - D) / (n - 1)``, at least 0 and at most the least ``d(i)``; the rest of
        ``D`` is shared out as ``d(i) - bonus``. So the sum is right for all repairs and for none,
        of a price that may fall below scrap.
        """
        names = sorted(self.repairs)
        if not names:
            return {}, 0.0
        best = float(self.price(names, -inf).mean())
        whole = max(best - float(self.price((), -inf).mean()), 0.0)
        alone = np.array(
            [best - float(self.price(self.repairs - {name}, -inf).mean()) for name in names]
        )
        alone = np.maximum(alone, 0.0)
        bonus = 0.0
        if len(names) > 1:
            even = (float(alone.sum()) - whole) / (len(names) - 1)
            bonus = min(max(even, 0.0), float(alone.min()), whole)
        shares = alone - bonus
        if not shares.any():
            shares = np.ones(len(names))
        shares *= (whole - bonus) / shares.sum()
        return dict(zip(names, shares.tolist(), strict=True)), bonus

    def selection(self) -> Selection:
        """Return the choice as an integer program on means; see `_worth`.

        What nobody inspected still has to be put right before a sale to a private buyer, as in the
        estimate before the purchase: it is in every choice, and counts towards the limits.
        """
        deal, work = self.case.deal, self.case.work
        kept = 1 - float(deal.selling_percent) / 100
        worth, bonus = self._worth()
        names = {one.name for one in self.candidates}
        items = [
            Item(
                name=one.name,
                gain=kept * (worth.get(one.name, 0.0) + float(one.adds.mean())),
                money=float(one.money.mean()),
                hours=float(one.hours.mean()),
                access=one.access,
                requires=one.requires,
                must=one.must,
            )
            for one in self.candidates
        ]
        unseen, unseen_hours = self.outlook.unseen, self.outlook.unseen_hours
        items.append(
            Item(NOT_INSPECTED, 0.0, float(unseen.mean()), float(unseen_hours.mean()), must=True)
        )
        access = tuple(
            Access(
                name,
                float(money.mean()),
                float(hours.mean()),
                tuple(inner for inner in self.covers.get(name, ()) if inner in self.access),
            )
            for name, (money, hours) in self.access.items()
        )
        groups = tuple(tuple(name for name in group if name in names) for group in work.at_most_one)
        return Selection(
            items=tuple(items),
            access=access,
            clean=Clean(kept * bonus, tuple(sorted(self.repairs))) if worth else None,
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
        price = self.price(names, unseen=0.0 if retail else self._unseen_bill)
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
        candidate_of_findings(lot, tally, outlook, must=any(needs.id in severe for needs in lot))
        for lot, tally in outlook.rest.together()
        if any(needs.needs and needs.chance > 0 for needs in lot)
    ]
    candidates = with_requirements(candidates, outlook)
    access, covers = access_of(candidates, outlook)
    own, shared = with_own_access(_billed_together(candidates, outlook), access, covers)
    level = float(case.deal.price_level)
    return Prospects(
        case=case,
        outlook=outlook,
        candidates=own,
        access=shared,
        covers=covers,
        mended=mended,
        scrap=lookup.entry("scrap.value", case.vehicle.price_class.value) * level,
        sell_days=days_to_sell(case, market.middle, streams, lookup),
    )


def _billed_together(candidates: Iterable[Candidate], outlook: Outlook) -> list[Candidate]:
    """Return the candidates with the findings' bills summing to that of all findings together.

    What several findings share is in the bill of each: each is cut by the same share, draw by draw.
    """
    listed = list(candidates)
    alone = sum((one.bill for one in listed if one.needs), np.zeros(1))
    together = outlook.rest.found.bill
    part = np.divide(together, alone, out=np.zeros_like(together), where=alone > 0)
    return [replace(one, bill=one.bill * part) if one.needs else one for one in listed]
