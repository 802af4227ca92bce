"""The options of a car from today on, weighed against each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from decimal import Decimal
from math import inf
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from appraise.engine.bid.looks import looks_at
from appraise.engine.decide.candidates import Candidate
from appraise.engine.decide.frontier import frontier
from appraise.engine.decide.neighbors import CENT, Climb, Weighed
from appraise.engine.decide.options import NOT_INSPECTED, Drawn, Prospects, prospects_of
from appraise.engine.decide.selection import Names, Program, choose
from appraise.engine.decide.selection_items import Choice, Selection
from appraise.engine.draws.rounding import cents, quantiles, share
from appraise.engine.faults.odds import sample_value
from appraise.engine.money.earned import break_even
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
Option = tuple[ChoiceKind, str, frozenset[str], Drawn, str, bool]
"""Kind, label, what is done, draws, words, and whether it may be advised."""


def choices(case: Case, reference: Reference, on: date) -> Choices:
    """Return every option from today on, its net, and the chance that it is worse than selling now.

    Sets of jobs are chosen on means by an integer program; the best of them on all draws is then
    bettered job by job, so that it is never below a set that is shown and keeps the limits. Jobs
    that must be done are in every option that sells a running car to a private buyer. What is
    spent is shown and left out.

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
    planned = choose(selection)
    by_money = frontier(selection, "money", MOST_POINTS)
    by_hours = frontier(selection, "hours", MOST_POINTS)
    program = Program(selection)
    climb = Climb(found, program)
    starts = [one.chosen for one in (planned, *by_money.points, *by_hours.points)]
    best = climb.best([*starts, found.repairs | program.forced])
    if best is None:
        problems.append(_nothing_fits(found, planned))
    options = list(_options(found, program, best))
    now = options[0][3].net
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
            ranked=ranked,
        )
        for kind, label, names, drawn, words, ranked in options
    ]
    views.sort(key=lambda one: (not one.ranked, -one.net.mean))
    weighed = list(climb.seen.values())
    money_points, more_money = _frontier(weighed, "money")
    hours_points, more_hours = _frontier(weighed, "hours")
    spent = _spent(case, found)
    return Choices(
        currency=case.currency,
        on=on,
        spent=spent,
        items=tuple(_item(one, found, selection) for one in found.candidates),
        options=tuple(views),
        by_money=tuple(_point(found, one) for one in money_points),
        by_hours=tuple(_point(found, one) for one in hours_points),
        capped=more_money or more_hours or by_money.capped or by_hours.capped,
        checks=tuple(_checks(found, program, options)),
        break_even_price=break_even(case.deal, float(spent.landed + spent.repair)),
        advice=_advice(views, case.currency),
        problems=tuple(problems),
    )


def _options(found: Prospects, program: Program, best: Weighed | None) -> Iterator[Option]:
    """Yield the options; selling as it stands first."""
    now = found.sold((), (), retail=False)
    yield (
        "as is",
        "Sell it as is",
        frozenset(),
        now,
        "To somebody who repairs it; what is known is told.",
        True,
    )
    if best is not None:
        label, words = "Repair what pays best", ""
        if not best.choice.chosen - {NOT_INSPECTED}:
            label = "Repair nothing, sell retail"
            words = "To a private buyer; what nobody inspected is put right first."
        elif best.net < float(now.net.mean()):
            label, words = "Repair what loses least", "Selling it as is brings more."
        yield _sale("best", label, found, best.choice, words)
    forced = program.forced
    if forced - {NOT_INSPECTED}:
        least = program.of(forced)
        yield _sale("what must be done", "Repair what must be done", found, least)
    whole = program.of(program.with_required(found.repairs | forced))
    if found.repairs:
        yield _sale("all repairs", "Repair all that is wrong", found, whole)
    broken = found.broken()
    if broken is not None:
        yield "part out", "Part out", frozenset(), broken, "", True
    words = "As if its worth were money in hand."
    said = found.case.work.worth_to_keep is not None
    if not said:
        words = (
            "Not ranked: as if the price of a comparable car were money in hand. Say what it is "
            "worth to you, and it is weighed against the others."
        )
    if whole.problem:
        words = f"Not ranked: {whole.problem}."
    kept = found.kept(found.repairs, whole.access)
    yield "keep", "Put it right and keep it", found.repairs, kept, words, said and not whole.problem


def _nothing_fits(found: Prospects, planned: Choice) -> Problem:
    money = float(found.outlook.unseen.mean())
    hours = float(found.outlook.unseen_hours.mean())
    hint = (
        f"What nobody inspected counts with {money:,.0f} {found.case.currency} and {hours:.1f} "
        "hours of your own on average: inspect it, or raise the limit."
        if money or hours
        else ""
    )
    return Problem("work", f"no set of jobs can be chosen: {planned.problem}", "warning", hint)


def _sale(
    kind: ChoiceKind, label: str, found: Prospects, choice: Choice, words: str = ""
) -> Option:
    """Return an option; one that breaks a rule or limit says so and is not ranked."""
    words = f"Not ranked: {choice.problem}." if choice.problem else words
    drawn = found.sold(choice.chosen, choice.access)
    return kind, label, choice.chosen, drawn, words, not choice.problem


def _in_order(found: Prospects, names: Iterable[str]) -> tuple[str, ...]:
    wanted = set(names)
    return tuple(one.name for one in found.candidates if one.name in wanted)


def _frontier(
    weighed: Iterable[Weighed], by: Literal["money", "hours"]
) -> tuple[list[Choice], bool]:
    """Return those of which none takes less and brings as much, and whether some are left out.

    The least spent first, the highest net last; evenly thinned to what a chart can show.
    """
    rising: list[Weighed] = []
    for one in sorted(weighed, key=lambda one: (getattr(one.choice, by), -one.net)):
        if one.net > (rising[-1].net + CENT if rising else -inf):
            rising.append(one)
    listed = [one.choice for one in rising]
    if len(listed) <= MOST_POINTS:
        return listed, False
    places = sorted({round(at) for at in np.linspace(0, len(listed) - 1, MOST_POINTS)})
    return [listed[at] for at in places], True


def _point(found: Prospects, choice: Choice) -> FrontierPoint:
    drawn = found.sold(choice.chosen, choice.access)
    return FrontierPoint(
        money=cents(float(drawn.money.mean())),
        hours=cents(float(drawn.hours.mean())),
        net=quantiles(drawn.net),
        jobs=_in_order(found, choice.chosen),
    )


def _item(one: Candidate, found: Prospects, selection: Selection) -> ItemView:
    gain = next(item.gain for item in selection.items if item.name == one.name)
    kept = 1 - float(found.case.deal.selling_percent) / 100
    money, hours = float(one.money.mean()), float(one.hours.mean())
    return ItemView(
        id=one.name,
        label=one.label,
        purpose=one.purpose,
        must=one.must,
        sure=not one.needs,
        money=cents(money),
        hours=cents(hours),
        adds=cents(gain / kept),
        net=cents(gain - money - hours * found.hour_cost),
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


def _checks(found: Prospects, program: Program, options: list[Option]) -> Iterator[CheckBefore]:
    """Yield the checks that are worth more than they cost before choosing, the best first.

    The actions are the options that are ranked, and the best with a finding put right or left.
    They are told apart by what each brings in each state of the car:
    ``sum_o max_a sum_s L[s,o] W[a,s] - max_a sum_s W[a,s]`` on the shared draws.
    """
    out = []
    case, rest = found.case, found.outlook.rest
    best = next((names for kind, _, names, *_ in options if kind == "best"), None)
    nets = [drawn.net for _, _, _, drawn, _, ranked in options if ranked]
    for one in found.candidates:
        if one.needs:
            nets += _other_way(found, program, best, one.name)
    worth = np.array(nets)
    prices, lookup = rest.workshop.prices, rest.workshop.lookup
    for look in looks_at(case, rest.car, rest.needs, prices, lookup):
        if look.kind != "check":
            continue
        by_state = [np.bincount(look.state, net, len(look.likelihood)) for net in worth]
        value = sample_value(np.array(by_state) / case.draws, look.likelihood)
        if cents(value) > cents(look.cost):
            out.append(
                CheckBefore(
                    check=look.id, label=look.label, worth=cents(value), cost=cents(look.cost)
                )
            )
    yield from sorted(out, key=lambda one: (one.cost - one.worth, one.check))


def _other_way(
    found: Prospects, program: Program, best: Names | None, name: str
) -> Iterator[Floats]:
    """Yield the net of the best set with a finding put right if it leaves it, or the other way."""
    if best is None or name in best & program.must:
        return
    if name in best:
        needing = {one.name for one in program.selection.items if name in one.requires}
        wanted = best - {name} - needing
    else:
        wanted = program.with_required(best | {name})
    choice = program.of(wanted)
    if not choice.problem:
        yield found.sold(choice.chosen, choice.access).net


def _advice(views: list[OptionView], currency: str) -> str:
    """Say which option brings most, by how much, and how surely."""
    best = views[0]
    now = next(one for one in views if one.kind == "as is")
    if best is now:
        other = next((one for one in views[1:] if one.ranked), None)
        if other is None:
            return "There is nothing else to do but to sell it."
        more = now.net.mean - other.net.mean
        return (
            f"Selling it as is brings most: {more:,.0f} {currency} more on average than the "
            f"next best, which is to {_lower(other.label)}."
        )
    more = best.net.mean - now.net.mean
    odds = 1 - best.worse_than_selling_now
    return (
        f"{best.label}: {more:,.0f} {currency} more on average than selling it as is, and "
        f"better in {100 * odds:.0f} % of cases."
    )


def _lower(label: str) -> str:
    return label[:1].lower() + label[1:]
