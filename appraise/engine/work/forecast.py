"""Where the budget of a repair stands and where it will end, learning from the jobs done."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.rounding import cents, quantiles, share
from appraise.engine.faults.car import car_faults
from appraise.engine.money.margin import landed_cost, landed_lines
from appraise.engine.repair.repair import RepairDraws, repair
from appraise.engine.work.day_plan import PUT_BACK, day_plan
from appraise.engine.work.learning import Done, Learned, adjusted, learn
from appraise.engine.work.plan import Bench, PlannedDraws, bench_of, openings
from appraise.engine.work.schedule import Plan
from appraise.errors import Problem
from appraise.models.case import Case
from appraise.models.forecast import (
    CurvePoint,
    Forecast,
    JobForecast,
    LandedLine,
    LearnedFactor,
)
from appraise.models.ledger import CORES, Entry, EntryKind
from appraise.models.work import PlannedJob, Stage
from appraise.reference.load import Reference

__all__ = ["JobOutlook", "Outlook", "forecast", "outlook_of", "without_jobs"]

Floats = NDArray[np.float64]

NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class JobOutlook:
    """One planned job with its ledger: each array (draws,).

    Attributes
    ----------
    budget, hours : as expected, with the access and tools that it opens first.
    to_come, hours_to_come : what is still to be put in, after what was learned.
    bare_hours : of the hours to come, those without access: a middle figure.
    """

    drawn: PlannedDraws
    budget: Floats
    hours: Floats
    committed: Decimal
    paid: Decimal
    worked: Decimal
    to_come: Floats
    hours_to_come: Floats
    bare_hours: float


@dataclass(frozen=True, slots=True)
class Outlook:
    """All planned jobs with the ledger, and what has no job yet: each array (draws,).

    Attributes
    ----------
    rest : the repair of the findings that have no job yet, and of areas not looked at.
    money, hours : what the jobs done taught.
    """

    bench: Bench
    jobs: tuple[JobOutlook, ...]
    rest: RepairDraws
    without_jobs: Floats
    without_hours: Floats
    unseen: Floats
    unseen_hours: Floats
    money: Learned
    hours: Learned


def without_jobs(case: Case) -> Case:
    """Return the case with only those findings for which no job is planned or done yet."""
    planned = {
        name for one in case.work.jobs if one.stage is not Stage.DROPPED for name in one.findings
    }
    left = tuple(one for one in case.findings if one.id not in planned)
    return case.model_copy(update={"findings": left})


def outlook_of(case: Case, reference: Reference) -> Outlook:
    """Return what is spent and still to come, on the draws of the case.

    Access and tools are charged to the first job in order that needs them: in the budget of all, in
    what is to come of those that are open. What the planned jobs
    share with findings that have no job yet is counted in both.

    Raises
    ------
    BadCase
        The case names a job, access, tool or check that does not exist.
    """
    lookup = Lookup(reference)
    bench = bench_of(case, reference, lookup)
    groups = {name: tuple(one.covers) for name, one in reference.access.items()}
    opens = openings(bench.jobs, groups)
    spent, worked = _by_job(case.work.entries)
    with_shares = [_with_shares(one, opens[one.planned.id], bench) for one in bench.jobs]
    tools: set[str] = set()
    budgets = []
    for one, (extra_money, extra_hours) in zip(bench.jobs, with_shares, strict=True):
        new = [name for name in one.tools if name not in tools]
        tools |= set(new)
        money = extra_money + sum(bench.tool(name) for name in new)
        budgets.append((one.budget + money, one.hours + extra_hours))
    done = [
        (one, budget, spent[one.planned.id], worked[one.planned.id])
        for one, budget in zip(bench.jobs, budgets, strict=True)
        if one.planned.stage is Stage.DONE
    ]
    money_learned = learn(_done(budget[0], float(paid)) for _, budget, paid, _ in done)
    hours_learned = learn(
        _done(budget[1], float(hours)) for one, budget, _, hours in done if not one.by_shop
    )
    left = _left(bench, groups)
    jobs = tuple(
        _outlook(
            one,
            budget,
            left.get(one.planned.id),
            spent[one.planned.id],
            worked[one.planned.id],
            case.work.entries,
            money_learned,
            hours_learned,
        )
        for one, budget in zip(bench.jobs, budgets, strict=True)
    )
    streams, prices = bench.workshop.streams, bench.workshop.prices
    car = car_faults(case, streams, lookup)
    rest = repair(without_jobs(case), car, streams, prices, lookup)
    return Outlook(
        bench=bench,
        jobs=jobs,
        rest=rest,
        without_jobs=adjusted(rest.found.money, money_learned),
        without_hours=adjusted(rest.found.hours, hours_learned),
        unseen=adjusted(rest.total.money - rest.found.money, money_learned),
        unseen_hours=adjusted(rest.total.hours - rest.found.hours, hours_learned),
        money=money_learned,
        hours=hours_learned,
    )


def _by_job(
    entries: Iterable[Entry],
) -> tuple[defaultdict[str, Decimal], defaultdict[str, Decimal]]:
    """Return money without deposits, and hours, by planned job."""
    money: defaultdict[str, Decimal] = defaultdict(Decimal)
    hours: defaultdict[str, Decimal] = defaultdict(Decimal)
    for one in entries:
        if one.job is not None:
            hours[one.job] += one.worked
            if one.kind not in CORES:
                money[one.job] += one.paid
    return money, hours


def _with_shares(one: PlannedDraws, opens: tuple[str, ...], bench: Bench) -> tuple[Floats, Floats]:
    """Return the money and hours of the access that a job opens first: each (draws,)."""
    hours = np.zeros(bench.workshop.streams.draws)
    for name in opens:
        hours += bench.access(name)
    if one.by_shop:
        return hours * bench.shop_rate, np.zeros_like(hours)
    return np.zeros_like(hours), hours


def _left(bench: Bench, groups: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[Floats, Floats]]:
    """Return money and hours of access and tools still to come, with the open job that is first.

    What a job done had open is shut again; what a begun one has open is only put back.
    """
    jobs = [one for one in bench.jobs if one.planned.open]
    opens = openings(jobs, groups)
    tools = set(bench.had)
    out = {}
    for one in jobs:
        new = [name for name in one.tools if name not in tools]
        tools.update(new)
        names = opens[one.planned.id]
        begun = tuple(name for name in names if name in bench.opened and not one.by_shop)
        money, hours = _with_shares(one, names, bench)
        _, open_now = _with_shares(one, begun, bench)
        money = money + sum(bench.tool(name) for name in new)
        out[one.planned.id] = (money, hours - (1 - PUT_BACK) * open_now)
    return out


def _done(budget: Floats, actual: float) -> Done:
    low, likely, high = (float(one) for one in np.quantile(budget, (0.1, 0.5, 0.9)))
    return Done(likely, low, high, actual)


def _outlook(
    one: PlannedDraws,
    budget: tuple[Floats, Floats],
    left: tuple[Floats, Floats] | None,
    paid: Decimal,
    worked: Decimal,
    entries: Iterable[Entry],
    money_learned: Learned,
    hours_learned: Learned,
) -> JobOutlook:
    planned = one.planned
    expected, hours = budget
    committed = _committed(planned, entries)
    draws = len(expected)
    if left is None:
        to_come, hours_to_come, bare = np.full(draws, float(committed)), np.zeros(draws), 0.0
    else:
        shared, opening = left
        open_money = adjusted(np.maximum(one.money - one.known, 0), money_learned)
        to_come = np.maximum(one.known + open_money - float(paid), float(committed))
        to_come = to_come + adjusted(shared, money_learned)
        hours_to_come = np.maximum(adjusted(one.hours, hours_learned) - float(worked), 0)
        hours_to_come = hours_to_come + adjusted(opening, hours_learned)
        bare = max(0.0, float(np.median(one.hours)) * hours_learned.factor - float(worked))
    return JobOutlook(one, expected, hours, committed, paid, worked, to_come, hours_to_come, bare)


def _committed(planned: PlannedJob, entries: Iterable[Entry]) -> Decimal:
    """Return what is ordered at a known price and not paid yet."""
    ordered = sum(
        (part.cost or NOTHING for part in planned.parts if part.ordered_on is not None), NOTHING
    )
    bought = (EntryKind.PART, EntryKind.REFUND)
    paid = sum(
        (one.paid for one in entries if one.job == planned.id and one.kind in bought), NOTHING
    )
    return max(NOTHING, ordered - paid)


def forecast(case: Case, reference: Reference, on: date) -> Forecast:
    """Return budget, actual and forecast at completion of the repair.

    Completion is ``paid + to come``; what is still to come are the draws of the jobs not done,
    moved by what the done ones taught (normal-normal on the log of actual over likely), less what
    was paid for them already and never below what is ordered.

    Parameters
    ----------
    on : today.

    Raises
    ------
    BadCase
        As `outlook_of`.
    """
    found = outlook_of(case, reference)
    entries = case.work.entries
    paid = sum((one.paid for one in entries if one.kind not in CORES), NOTHING)
    worked = sum((one.worked for one in entries), NOTHING)
    to_come = found.without_jobs + found.unseen
    hours_to_come = found.without_hours + found.unseen_hours
    for one in found.jobs:
        to_come = to_come + one.to_come
        hours_to_come = hours_to_come + one.hours_to_come
    at_end = to_come + float(paid)
    plan, problems = _planned_days(case, found, on)
    expected = case.purchase.expected if case.purchase else None
    planned = found.without_jobs + found.unseen + sum(one.budget for one in found.jobs)
    budget = expected.money if expected else quantiles(planned)
    landed = _landed(case)
    return Forecast(
        currency=case.currency,
        on=on,
        jobs=tuple(_job_forecast(one) for one in found.jobs),
        without_jobs=quantiles(found.without_jobs),
        unseen=quantiles(found.unseen),
        budget=budget,
        budget_from="the purchase" if expected else "the plan",
        paid=paid,
        general=sum(
            (one.paid for one in entries if one.job is None and one.kind not in CORES), NOTHING
        ),
        committed=sum((one.committed for one in found.jobs), NOTHING),
        deposits_out=sum((one.paid for one in entries if one.kind in CORES), NOTHING),
        worked=worked,
        to_come=quantiles(to_come),
        hours_to_come=quantiles(hours_to_come),
        at_end=quantiles(at_end),
        chance_over_budget=share(float((at_end > float(budget.p50)).mean())),
        hours_at_end=quantiles(hours_to_come + float(worked)),
        learned=tuple(_learned(found)),
        landed=landed,
        landed_planned=None if case.purchase is None else landed_cost(case.deal, case.purchase.bid),
        landed_paid=case.purchase.landed if case.purchase else None,
        curve=_curve(case, found, plan, on, paid),
        ends_on=plan.finish if plan else None,
        problems=(*found.bench.problems, *problems),
    )


def _job_forecast(one: JobOutlook) -> JobForecast:
    return JobForecast(
        id=one.drawn.planned.id,
        label=one.drawn.label,
        stage=one.drawn.planned.stage,
        money=quantiles(one.budget, thin=4),
        hours=quantiles(one.hours, thin=4),
        committed=one.committed,
        paid=one.paid,
        worked=one.worked,
        to_come=quantiles(one.to_come, thin=4),
        hours_to_come=quantiles(one.hours_to_come, thin=4),
    )


def _learned(found: Outlook) -> Iterable[LearnedFactor]:
    for of, one in (("money", found.money), ("hours", found.hours)):
        if one.count:
            yield LearnedFactor.model_validate(
                {
                    "of": of,
                    "factor": share(one.factor),
                    "low": share(one.factor_low),
                    "high": share(one.factor_high),
                    "jobs": one.count,
                }
            )


def _landed(case: Case) -> tuple[LandedLine, ...]:
    """Return the lines of the purchase, planned beside paid, by their labels."""
    if case.purchase is None:
        return ()
    planned = dict(landed_lines(case.deal, case.purchase.bid))
    if not case.purchase.paid:
        return tuple(
            LandedLine(label=label, planned=amount, paid=None) for label, amount in planned.items()
        )
    out = []
    for at, line in enumerate(case.purchase.paid):
        label = "Bid" if at == 0 else line.label
        out.append(LandedLine(label=label, planned=planned.pop(label, None), paid=line.amount))
    out += [LandedLine(label=label, planned=amount, paid=None) for label, amount in planned.items()]
    return tuple(out)


def _planned_days(case: Case, found: Outlook, on: date) -> tuple[Plan | None, tuple[Problem, ...]]:
    """Return the day plan of what is open, from the later of today and the day work begins."""
    start = max(on, case.work.start_on or on)
    hours: Mapping[str, float] = {
        one.drawn.planned.id: one.bare_hours for one in found.jobs if one.drawn.planned.open
    }
    plan = day_plan(found.bench, start, hours, on)
    if plan.problem:
        return None, (Problem("work.jobs", plan.problem),)
    return plan, ()


def _curve(
    case: Case, found: Outlook, plan: Plan | None, on: date, paid: Decimal
) -> tuple[CurvePoint, ...]:
    """Return money against time: budget of what is done, what was paid, where it is going."""
    days = sorted({one.on for one in case.work.entries if one.on <= on})
    begin = case.purchase.bought_on if case.purchase else min([*days, on])
    points = [CurvePoint(on=begin, planned=NOTHING, actual=NOTHING)]
    done = [
        (one.drawn.planned.done_on, float(np.median(one.budget)))
        for one in found.jobs
        if one.drawn.planned.done_on is not None
    ]
    days = sorted({*days, *(day for day, _ in done if day <= on), on})
    for day in days:
        if day < begin:
            continue
        actual = sum(
            (one.paid for one in case.work.entries if one.on <= day and one.kind not in CORES),
            NOTHING,
        )
        earned = sum(amount for when, amount in done if when <= day)
        points.append(CurvePoint(on=day, planned=cents(earned), actual=actual))
    if plan is None or plan.finish is None:
        return tuple(points)
    now = float(paid)
    points.append(_fan(on, np.full(1, now)))
    by_name = {one.drawn.planned.id: one for one in found.jobs}
    ends: defaultdict[date, list[str]] = defaultdict(list)
    for slot in plan.slots:
        ends[slot.ends].append(slot.name)
    running = np.full(found.bench.workshop.streams.draws, now)
    for one in found.jobs:
        if not one.drawn.planned.open:
            running = running + one.to_come
    for day in sorted(ends):
        for name in ends[day]:
            running = running + by_name[name].to_come
        last = day == max(ends)
        whole = running + found.without_jobs + found.unseen if last else running
        points.append(_fan(day, whole))
    return tuple(points)


def _fan(day: date, draws: Floats) -> CurvePoint:
    low, likely, high = (float(one) for one in np.quantile(draws[::4], (0.1, 0.5, 0.9)))
    return CurvePoint(on=day, low=cents(low), likely=cents(likely), high=cents(high))
