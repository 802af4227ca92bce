"""The options of a car from today on, weighed against each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from appraise.engine.candidates import Candidate
from appraise.engine.causes import chances_of, sample_value
from appraise.engine.diagnosis import applies, check_cost
from appraise.engine.earned import break_even
from appraise.engine.options import Drawn, Prospects, prospects_of
from appraise.engine.selection import choose, frontier, net_of
from appraise.engine.selection_items import Choice, Selection
from appraise.engine.summary import cents, quantiles, share
from appraise.errors import Problem
from appraise.models.case import Case
from appraise.models.choices import (
    CheckBefore,
    ChoiceKind,
    Choices,
    FrontierPoint,
    ItemView,
    OptionView,
    Spent,
)
from appraise.models.ledger import CORES
from appraise.reference.load import Reference

__all__ = ["choices"]

Floats = NDArray[np.float64]

MOST_POINTS = 6
THIN = 4
Option = tuple[ChoiceKind, str, frozenset[str], Drawn, str]


def choices(case: Case, reference: Reference, on: date) -> Choices:
    """Return every option from today on, its net, and the chance that it is worse than selling now.

    The subsets are chosen on means by an integer programme; each option shown is then reckoned on
    all draws. Jobs that must be done are in every option that sells a running car to a private
    buyer. What is spent is shown and left out.

    Parameters
    ----------
    case : owned, with the jobs planned; findings without a job stand as they are.
    on : today.

    Raises
    ------
    BadCase, CannotPrice
        As `prospects_of`.
    """
    found = prospects_of(case, reference)
    selection = found.selection()
    problems: list[Problem] = list(found.outlook.bench.problems)
    best = choose(selection)
    options = list(_options(found, selection, best, problems))
    now = options[0][3].net
    by_money = frontier(selection, "money", MOST_POINTS, best)
    by_hours = frontier(selection, "hours", MOST_POINTS, best)
    views = [
        OptionView(
            kind=kind,
            label=label,
            jobs=_in_order(found, names),
            net=quantiles(drawn.net),
            price=quantiles(drawn.price, thin=THIN),
            money=quantiles(drawn.money, thin=THIN),
            hours=quantiles(drawn.hours, thin=THIN),
            days=None if drawn.days is None else quantiles(drawn.days, thin=THIN),
            worse_than_selling_now=share(float((drawn.net < now).mean())),
            words=words,
        )
        for kind, label, names, drawn, words in options
    ]
    unsaid = case.work.worth_to_keep is None
    views.sort(key=lambda one: (unsaid and one.kind == "keep", -one.net.mean))
    spent = _spent(case, found)
    return Choices(
        currency=case.currency,
        on=on,
        spent=spent,
        items=tuple(_item(one, found) for one in found.candidates),
        options=tuple(views),
        by_money=tuple(_points(found, by_money.points)),
        by_hours=tuple(_points(found, by_hours.points)),
        capped=by_money.capped or by_hours.capped,
        checks=tuple(_checks(found, options, reference)),
        break_even_price=break_even(case.deal, float(spent.landed + spent.repair)),
        advice=_advice(views, case.currency),
        problems=tuple(problems),
    )


def _options(
    found: Prospects, selection: Selection, best: Choice, problems: list[Problem]
) -> Iterator[Option]:
    """Yield the options; selling as it stands first."""
    yield (
        "as it stands",
        "Sell it as it stands",
        frozenset(),
        found.sold((), (), retail=False),
        "To somebody who mends it; what is known is told.",
    )
    if best.problem:
        problems.append(Problem("work", f"no set of jobs can be chosen: {best.problem}", "warning"))
    else:
        words = "" if best.proven else "The best found; nothing better is proven not to exist."
        yield _sale("best", "Mend what pays best", found, best, words)
    musts = _closed({one.name for one in found.candidates if one.must}, selection)
    if musts:
        least = net_of(selection, musts)
        yield _sale("what must be done", "Mend only what must be done", found, least, least.problem)
    whole = net_of(selection, found.repairs)
    if found.repairs:
        yield _sale("all repairs", "Mend all that is wrong", found, whole, whole.problem)
    broken = found.broken()
    if broken is not None:
        yield "break for parts", "Break it for parts", frozenset(), broken, ""
    words = "As if its worth were money in hand."
    if found.case.work.worth_to_keep is None:
        words = (
            "As if the price of a like car were money in hand: say what it is worth to you, and "
            "it is weighed against the others."
        )
    kept = found.kept(found.repairs, whole.access)
    yield "keep", "Put it right and keep it", found.repairs, kept, words


def _sale(kind: ChoiceKind, label: str, found: Prospects, choice: Choice, words: str) -> Option:
    return kind, label, choice.chosen, found.sold(choice.chosen, choice.access), words


def _closed(names: set[str], selection: Selection) -> frozenset[str]:
    """Return the names with all that they require, and all that those require."""
    requires = {one.name: one.requires for one in selection.items}
    waiting = list(names)
    while waiting:
        for name in requires.get(waiting.pop(), ()):
            if name not in names:
                names.add(name)
                waiting.append(name)
    return frozenset(names)


def _in_order(found: Prospects, names: Iterable[str]) -> tuple[str, ...]:
    wanted = set(names)
    return tuple(one.name for one in found.candidates if one.name in wanted)


def _points(found: Prospects, points: Iterable[Choice]) -> Iterator[FrontierPoint]:
    """Yield the points of a frontier on all draws, evenly thinned to what a chart can show."""
    listed = list(points)
    if len(listed) > MOST_POINTS:
        places = sorted({round(at) for at in np.linspace(0, len(listed) - 1, MOST_POINTS)})
        listed = [listed[at] for at in places]
    for point in listed:
        drawn = found.sold(point.chosen, point.access)
        yield FrontierPoint(
            money=cents(point.money),
            hours=cents(point.hours),
            net=quantiles(drawn.net, thin=THIN),
            jobs=_in_order(found, point.chosen),
        )


def _item(one: Candidate, found: Prospects) -> ItemView:
    kept = 1 - float(found.case.deal.selling_percent) / 100
    adds = found.feared * one.fear + float(one.adds.mean())
    money, hours = float(one.money.mean()), float(one.hours.mean())
    return ItemView(
        id=one.name,
        label=one.label,
        purpose=one.purpose,
        must=one.must,
        sure=one.needs is None,
        money=cents(money),
        hours=cents(hours),
        adds=cents(adds),
        net=cents(kept * adds - money - hours * found.hour_cost),
    )


def _spent(case: Case, found: Prospects) -> Spent:
    entries = case.work.entries
    zero = Decimal(0)
    return Spent(
        landed=cents(found.landed),
        repair=sum((one.paid for one in entries if one.kind not in CORES), zero),
        deposits_out=sum((one.paid for one in entries if one.kind in CORES), zero),
        hours=sum((one.worked for one in entries), zero),
    )


def _checks(found: Prospects, options: list[Option], reference: Reference) -> Iterator[CheckBefore]:
    """Yield the checks that are worth more than they cost before choosing, the best first.

    The actions are the options; keeping it is one only if its worth is said. For a finding they
    are told apart by what each brings under each cause:
    ``sum_o max_a sum_c L[c,o] W[a,c] - max_a sum_c W[a,c]`` on the shared draws.
    """
    out = []
    case, prices = found.case, found.outlook.bench.workshop.prices
    said = case.work.worth_to_keep is not None
    best = next((names for kind, _, names, _, _ in options if kind == "best"), None)
    results = {one.id: {result.check for result in one.results} for one in case.findings}
    for one in found.candidates:
        needs = one.needs
        if needs is None or needs.odds is None:
            continue
        nets = [drawn.net for kind, _, _, drawn, _ in options if kind != "keep" or said]
        nets += _other_way(found, best, one.name)
        worth = np.array(
            [[float(net[rows].sum()) / len(net) for rows in needs.cause_rows] for net in nets]
        )
        for check in reference.checks.values():
            if check.id in results[needs.id] or not applies(check, needs.odds):
                continue
            value = sample_value(worth, chances_of(check, needs.odds.causes))
            cost = check_cost(check, case, prices)
            if cents(value) > cents(cost):
                out.append(
                    CheckBefore(
                        finding=needs.id,
                        finding_label=needs.label,
                        check=check.id,
                        label=check.label,
                        worth=cents(value),
                        cost=cents(cost),
                    )
                )
    yield from sorted(out, key=lambda one: (one.cost - one.worth, one.check))


def _other_way(found: Prospects, best: frozenset[str] | None, name: str) -> Iterator[Floats]:
    """Yield the net of the best set with a finding put right if it leaves it, or the other way."""
    if best is None:
        return
    selection = found.selection()
    if name in best:
        if any(one.must for one in selection.items if one.name == name):
            return
        wanted = best - {name} - {one.name for one in selection.items if name in one.requires}
    else:
        wanted = _closed({*best, name}, selection)
    choice = net_of(selection, wanted)
    if not choice.problem:
        yield found.sold(choice.chosen, choice.access).net


def _advice(views: list[OptionView], currency: str) -> str:
    """Say which option brings most, by how much, and how surely."""
    best = views[0]
    now = next(one for one in views if one.kind == "as it stands")
    if best is now:
        other = views[1] if len(views) > 1 else None
        if other is None:
            return "There is nothing else to do but to sell it."
        more = now.net.mean - other.net.mean
        return (
            f"Selling it as it stands brings most: {more:,.0f} {currency} more on average than the "
            f"next best, which is to {_lower(other.label)}."
        )
    more = best.net.mean - now.net.mean
    odds = 1 - best.worse_than_selling_now
    return (
        f"{best.label}: {more:,.0f} {currency} more on average than selling it as it stands, and "
        f"better in {odds:.0%} of cases."
    )


def _lower(label: str) -> str:
    return label[:1].lower() + label[1:]
