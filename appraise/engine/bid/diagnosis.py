"""What is wrong with the car, and which look is worth its price, on the draws of the case.

Before the purchase a look is weighed for how high to bid; after it, for what finding the faults
takes. The draws are shared: an outcome reweighs them, nothing is simulated anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from appraise.engine.bid.looks import Outlook, looks_at, states_of
from appraise.engine.bid.simulation import Worked, work_out
from appraise.engine.bid.value_of_checks import Bidding, Known
from appraise.engine.catalog.cautions import on_this_car
from appraise.engine.draws.rounding import cents, share
from appraise.engine.faults.car import CarFaults
from appraise.engine.faults.network import Group, explain
from appraise.engine.faults.search import MINUTES, Step, search_of
from appraise.engine.money.margin import paid_for
from appraise.models.case import Case
from appraise.models.diagnosis import (
    CareView,
    CostRange,
    Diagnosis,
    Done,
    FaultOdds,
    NextLook,
    OutcomeView,
    SearchView,
    SignView,
    Trial,
)
from appraise.reference.load import Reference

__all__ = ["diagnose", "worth_of_looks"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LEAST_SHOWN = 0.005
NAMED_ALONE, NO_LONGER = 0.15, 0.05
"""Chance from which a fault is named by one sign alone, and under which the others rule it out."""
SPEAKS = 1.25
"""How many times likelier or less likely something has to make a fault to be named."""
MOST_NEXT, AHEAD = 8, 5
"""Looks that are shown, and those of which the next after each is weighed too."""
MOST_KNOWN = 8
"""Faults of which certainty is weighed: the likeliest, a person's own causes among them."""
USUAL, BETTER, WORSE = "about as usual", "better than most", "worse than most"


def diagnose(
    case: Case,
    reference: Reference,
    minutes: float | None = None,
    tools: Sequence[str] | None = None,
    *,
    drive: bool = True,
) -> Diagnosis:
    """Return what is wrong with a car, and what to look at next.

    Parameters
    ----------
    case : the car.
    reference : faults, signs, checks and the rest.
    minutes : that are left for looking, or None for as many as it takes.
    tools : ids of those at hand, or None for any, each at its price.
    drive : whether the car may be driven.

    Raises
    ------
    BadCase, CannotPrice
        As for `appraise`.
    """
    worked = work_out(case, reference)
    bidding = Bidding.of(worked)
    owned = worked.judged == "price paid"
    car = worked.car
    looks = [
        one
        for one in looks_at(case, car, worked.repair.needs, worked.prices, worked.lookup)
        if _possible(one, minutes, tools, drive=drive)
    ]
    values, certain = worth_of_looks(worked, bidding, looks)
    order = _in_order(worked, bidding, looks, values, minutes)
    listed = tuple(_next_look(worked, bidding, looks[at], values[at]) for at in order[:MOST_NEXT])
    done = tuple(
        Done(check=one.check, label=reference.checks[one.check].label, outcome=one.outcome)
        for one in {one.check: one for one in case.results}.values()
    )
    return Diagnosis(
        decision="which repair first" if owned else "how high to bid",
        price=worked.price,
        walk_away_price=worked.walk_away,
        short_counts=None if owned or not len(bidding.edges) else cents(bidding.short),
        faults=tuple(_faults(worked)),
        something_else=share(_any(car.otherwise.values(), case.draws)),
        single_fault=share(car.single),
        error=share(car.error),
        signs=tuple(_signs(car)),
        explained=tuple(_explained(car)),
        care=_care(worked),
        search=_search(worked, reference),
        most=cents(certain),
        next=listed,
        done=done,
        advice=_advice(listed, worked, minutes),
        problems=worked.repair.problems,
    )


def _possible(
    look: Outlook, minutes: float | None, tools: Sequence[str] | None, *, drive: bool
) -> bool:
    if minutes is not None and (look.minutes > minutes or look.needs == "workshop"):
        return False
    if look.needs == "driven" and not drive:
        return False
    raised = ("jack",) if look.needs == "raised" else ()
    return tools is None or all(one in tools for one in (*look.tools, *raised))


def worth_of_looks(
    worked: Worked, bidding: Bidding, looks: Sequence[Outlook]
) -> tuple[list[float], float]:
    """Return what each look is worth before it is paid for, and what certainty is.

    Before a purchase the action is the bid; after it, the order in which faults are looked for.
    """
    if worked.judged == "price paid":
        now = float(_search_cost(worked, np.ones(worked.case.draws)).mean())
        return [_saved(worked, one, now) for one in looks], now
    values = [
        bidding.worth_of(bidding.known(one.state, len(one.likelihood)), one.likelihood)
        for one in looks
    ]
    rows = [worked.car.shows[one] for one in sorted(worked.car.behind)]
    rows += [
        mask
        for one in worked.repair.needs
        if one.odds is not None
        for _, mask in zip(one.odds.causes[:-1], one.cause_rows, strict=False)
    ]
    rows.sort(key=lambda mask: -float(mask.mean()))
    state, there = states_of(rows[:MOST_KNOWN], worked.case.draws)
    known = bidding.known(state, there.shape[1])
    return values, max([bidding.certainty(known), *values])


def _saved(worked: Worked, look: Outlook, now: float) -> float:
    """Return what a look saves in finding the faults, on average."""
    informed = 0.0
    for chances in look.likelihood.T:
        weights = chances[look.state]
        if weights.any():
            informed += float((_search_cost(worked, weights) * weights).mean())
    return max(0.0, now - informed)


def _search_cost(worked: Worked, weights: Floats) -> Floats:
    """Return what finding the faults costs in each draw, in the best order by these weights."""
    found = search_of(
        worked.car, worked.case, worked.prices, worked.repair.cost_of, worked.case.draws, weights
    )
    return found.money + found.hours * float(worked.case.deal.own_rate)


def _in_order(
    worked: Worked,
    bidding: Bidding,
    looks: Sequence[Outlook],
    values: Sequence[float],
    minutes: float | None,
) -> list[int]:
    """Return the looks in the order to take them, by worth less cost for each minute.

    Of the first few, what the best look after each of its outcomes would earn in the minutes that
    are left is counted too.
    """
    rate = [
        (value - one.cost) / max(one.minutes, 0.5) for value, one in zip(values, looks, strict=True)
    ]
    order = sorted(range(len(looks)), key=lambda at: (-rate[at], looks[at].id))
    first = [at for at in order[:AHEAD] if values[at] > looks[at].cost]
    if worked.judged == "price paid" or len(first) < 2:  # noqa: PLR2004
        return order
    ahead = {}
    for at in first:
        one = looks[at]
        best = values[at] - one.cost
        for after in first:
            other = looks[after]
            if after != at and (minutes is None or one.minutes + other.minutes <= minutes):
                both = _both(bidding, one, other) - one.cost - other.cost
                best = max(best, both)
        ahead[at] = best
    chosen = sorted(first, key=lambda at: (-ahead[at], -rate[at], looks[at].id))
    return chosen + [at for at in order if at not in first]


def _both(bidding: Bidding, one: Outlook, other: Outlook) -> float:
    """Return what two looks are worth together."""
    width = len(other.likelihood)
    state = one.state * width + other.state
    likelihood = np.einsum("ao,bp->abop", one.likelihood, other.likelihood)
    outcomes = len(one.outcomes) * len(other.outcomes)
    joint = likelihood.reshape(len(one.likelihood) * width, outcomes)
    used, state = np.unique(state, return_inverse=True)
    known = bidding.known(state, len(used))
    return bidding.worth_of(known, joint[used])


def _any(masks: Iterable[Bools], draws: int) -> float:
    listed = list(masks)
    return float(np.logical_or.reduce(listed).mean()) if listed else 0.0 * draws


def _faults(worked: Worked) -> Iterable[FaultOdds]:
    """Yield the faults behind what was seen, a person's own causes among them, likeliest first."""
    car = worked.car
    rows: dict[str, tuple[str, float, Bools]] = {
        name: (car.faults[name].label, chance, car.shows[name])
        for name, chance in car.behind.items()
        if chance >= LEAST_SHOWN
    }
    own: dict[str, list[str]] = {}
    findings = {one.id: one for one in worked.case.findings}
    area = {name: car.faults[name].area for name in rows}
    for needs in worked.repair.needs:
        if needs.odds is None or not findings[needs.id].causes:
            continue
        for at, cause in enumerate(needs.odds.causes[:-1]):
            mask = needs.cause_rows[at]
            chance = float(needs.odds.after[at])
            if chance < LEAST_SHOWN:
                continue
            if cause in rows:
                mask = mask | rows[cause][2]
                chance = float(mask.mean())
            rows[cause] = needs.odds.labels[at], chance, mask
            own.setdefault(cause, []).append(f"{needs.label} (your own cause)")
            area.setdefault(cause, findings[needs.id].area)
    settled = {step.fault: step.check for step in worked.repair.search.steps if step.check}
    checks = worked.lookup.reference.checks
    for name, (label, chance, mask) in sorted(rows.items(), key=lambda one: (-one[1][1], one[0])):
        speaks = _speaks(name, car)
        yield FaultOdds(
            id=name,
            label=label,
            area=area[name],
            chance=share(chance),
            cost=_cost(worked, name, mask),
            speaks_for=(*own.get(name, ()), *(words for words, factor in speaks if factor > 1)),
            speaks_against=tuple(words for words, factor in reversed(speaks) if factor < 1),
            settled_by=checks[settled[name]].label if name in settled else "",
        )


def _speaks(name: str, car: CarFaults) -> list[tuple[str, float]]:
    """Return what speaks for a fault and against it, by how many times likelier it makes it."""
    out = []
    for sign in car.seen.signs:
        chance = sign.links.get(name)
        if chance:
            others = 1 - (1 - sign.leak) * float(
                np.prod(
                    [
                        1 - car.faults[cause].rate * q
                        for cause, q in sign.links.items()
                        if cause != name and cause in car.faults
                    ]
                )
            )
            out.append((sign.labels[0], chance / max(others, 1e-6)))
    out += [(one.label, one.factor) for one in car.seen.speaks.get(name, ())]
    kept = [one for one in out if one[1] >= SPEAKS or one[1] <= 1 / SPEAKS]
    return sorted(kept, key=lambda one: -one[1])


def _cost(worked: Worked, name: str, mask: Bools) -> CostRange:
    draws = worked.repair.fault_cost(name, mask)
    if not len(draws):
        return CostRange(p10=Decimal(0), p50=Decimal(0), p90=Decimal(0))
    low, middle, high = np.quantile(draws, (0.1, 0.5, 0.9))
    return CostRange(p10=cents(low), p50=cents(middle), p90=cents(high))


def _signs(car: CarFaults) -> Iterable[SignView]:
    for sign in car.seen.signs:
        yield SignView(
            id=sign.name,
            label="; ".join(sign.labels),
            findings=sign.findings,
            shown_by=tuple((name, share(chance)) for name, chance in sign.links.items()),
            alone=tuple(
                (name, share(chance)) for name, chance in _alone(sign.links, sign.leak, car)
            ),
            something_else=share(
                float(car.otherwise[sign.name].mean()) if sign.name in car.otherwise else 0.0
            ),
        )


def _alone(links: Mapping[str, float], leak: float, car: CarFaults) -> list[tuple[str, float]]:
    """Return each fault's chance to be behind a sign, had only that been seen of the car."""
    names = sorted(links)
    group = Group(
        names=tuple(names),
        chances=np.array([[1 - np.exp(-car.faults[name].rate) for name in names]]),
        weights=np.ones(len(names)),
        links=tuple(((0, links[name]),) for name in names),
        leaks=np.array([leak]),
    )
    found = explain(group)
    behind = found.chances[0] - found.silent[0]
    return list(zip(names, behind.tolist(), strict=True))


def _explained(car: CarFaults) -> Iterable[str]:
    """Yield in words what explains several signs, and what is then no longer needed to."""
    signs = [one for one in car.seen.signs if one.findings]
    for name, chance in sorted(car.behind.items(), key=lambda one: -one[1]):
        mine = [one for one in signs if name in one.links]
        if chance < 1 - NO_LONGER * 4 or len(mine) < 2:  # noqa: PLR2004
            continue
        label = car.faults[name].label
        gone: dict[str, float] = {}
        for sign in mine:
            for other, alone in _alone(sign.links, sign.leak, car):
                if other != name and alone >= NAMED_ALONE and car.behind[other] < NO_LONGER:
                    gone[other] = max(gone.get(other, 0.0), alone)
        count = "both signs" if len(mine) == 2 else f"{len(mine)} of the signs"  # noqa: PLR2004
        words = f"{label}: explains {count}."
        if gone:
            others = ", ".join(
                car.faults[one].label for one in sorted(gone, key=lambda one: -gone[one])
            )
            words += f" No longer needed to explain them: {others}."
        yield words


def _care(worked: Worked) -> CareView:
    """Say how well the car was kept, and what that does to what nobody has inspected."""
    care = worked.car.care
    hidden = worked.repair.total.money.mean() - worked.repair.found.money.mean()
    usual = float(hidden) / care.mean if care.mean else 0.0
    kept = USUAL
    if care.mean > 1.15:  # noqa: PLR2004
        kept = WORSE
    elif care.mean < 0.87:  # noqa: PLR2004
        kept = BETTER
    words = f"Kept {kept}, by what was found and what was fine"
    if kept != USUAL:
        money = f"{abs(float(hidden) - usual):,.0f} {worked.case.currency}"
        more = "more" if kept is WORSE else "less"
        words += f": the rest is expected to hide {care.mean:.1f} times as much, {money} {more}"
    return CareView(
        mean=share(care.mean),
        p10=share(care.quantile(0.1)),
        p90=share(care.quantile(0.9)),
        words=f"{words}.",
    )


def _search(worked: Worked, reference: Reference) -> SearchView:
    found = worked.repair.search
    return SearchView(
        minutes=cents(float(found.hours.mean()) * MINUTES),
        money=cents(float(found.money.mean())),
        steps=tuple(_trial(step, worked.car, reference) for step in found.steps),
    )


def _trial(step: Step, car: CarFaults, reference: Reference) -> Trial:
    label = car.faults[step.fault].label
    return Trial(
        fault=step.fault,
        label=label,
        chance=share(step.chance),
        by="repair" if step.check is None else "check",
        step=label if step.check is None else reference.checks[step.check].label,
        cost=cents(step.cost),
    )


def _next_look(worked: Worked, bidding: Bidding, look: Outlook, value: float) -> NextLook:
    known = bidding.known(look.state, len(look.likelihood))
    return NextLook(
        check=look.id,
        kind=look.kind,
        label=look.label,
        how=look.how,
        needs=look.needs,
        tools=look.tools,
        minutes=cents(look.minutes),
        cost=cents(look.cost),
        worth=cents(value),
        net=cents(value - look.cost),
        outcomes=tuple(_outcomes(worked, bidding, look, known)),
        cautions=on_this_car(look.cautions, worked.case.vehicle),
    )


def _outcomes(
    worked: Worked, bidding: Bidding, look: Outlook, known: Known
) -> Iterable[OutcomeView]:
    landed = 0.0 if worked.price is None else float(paid_for(worked.case, worked.price))
    margin = worked.reach.net() - landed * worked.reach.growth
    chance = known.chance @ look.likelihood
    for at, label in enumerate(look.outcomes):
        if chance[at] <= 0:
            continue
        weights = look.likelihood[:, at][look.state]
        yield OutcomeView(
            label=label,
            chance=share(float(chance[at])),
            mean_profit=cents(float(weights @ margin) / float(weights.sum())),
            walk_away_price=bidding.walk_away(weights),
        )


def _advice(listed: Sequence[NextLook], worked: Worked, minutes: float | None) -> str:
    """Say what to look at next, or that nothing is worth it."""
    owned = worked.judged == "price paid"
    within = "" if minutes is None else f" in {minutes:.0f} minutes"
    if not listed:
        return f"There is nothing left to look at{within} that tells these faults apart."
    best = listed[0]
    if best.net <= 0:
        if owned:
            return f"Stop checking: nothing{within} saves more than it costs."
        return f"Stop looking: nothing{within} would move the walk-away price by enough to pay."
    words = (
        f"{best.label}: worth {best.worth:,.0f} on average, costs {best.cost:,.0f} "
        f"({best.minutes:.0f} minutes)."
    )
    if owned:
        return words
    leads = ", ".join(
        f"{_bid(one.walk_away_price)} after {one.label!r} ({100 * float(one.chance):.0f} %)"
        for one in best.outcomes
    )
    return f"{words} Walk-away price: {_bid(worked.walk_away)} now; {leads}."


def _bid(price: int | None) -> str:
    return "no bid" if price is None else f"{price:,}"
