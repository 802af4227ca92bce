"""One car, one set of faults: what is wrong with it, from everything that was seen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Streams
from appraise.engine.draws.subset import Mask
from appraise.engine.faults.care import Care
from appraise.engine.faults.many_signs import Sampled, sampled
from appraise.engine.faults.network import MOST_SIGNS, Behind, Group, explain
from appraise.engine.faults.rates import CarFault, faults_of_car
from appraise.engine.faults.seen import Seen, Sign, seen_on
from appraise.errors import Problem
from appraise.models.case import Case
from appraise.models.findings import Area, Look
from appraise.reference.schema import Check

__all__ = ["AreaDoubt", "CarFaults", "car_faults"]

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

Found = Behind | Sampled

MOST_HIDDEN = 12
"""Faults that one area may hide in one draw."""
IMPOSSIBLE = 1e-280
ONLY_ELSE = 0.9
"""Chance of something else from which a sign is said to contradict all others."""


@dataclass(frozen=True, slots=True)
class AreaDoubt:
    """What an area may hide that nobody has found.

    Attributes
    ----------
    chance : that it hides anything, in [0, 1], after all that was seen.
    before : the same, had nobody seen anything of the car.
    faults : how many it hides on average.
    look : the look that finds most among those made, or None.
    kinds : by fault, how many of those it is.
    """

    area: Area
    label: str
    chance: float
    before: float
    faults: float
    look: Look | None
    kinds: tuple[tuple[CarFault, float], ...]


@dataclass(frozen=True, slots=True)
class CarFaults:
    """What is wrong with the car, in chances and in draws.

    Attributes
    ----------
    faults : those that the car can have, by id.
    seen : the evidence.
    care : how well the car was kept.
    chances : by fault that anything speaks for or against, the chance that the car has it.
    behind : by fault behind a sign, the chance that it is.
    shows : by fault, the draws in which it is behind a sign.
    hidden : by fault, the draws in which it is there and behind no finding's sign: it may be behind
        the result of a check alone.
    otherwise : by sign, the draws in which something else that needs repair is behind it.
    single : chance that exactly one fault is behind all the signs.
    doubts : what each area may still hide.
    groups : names of the faults, and of the signs of findings, that hang together.
    checks : every check by id.
    error : standard error of the chances; 0 where they are exact.
    """

    faults: dict[str, CarFault]
    seen: Seen
    care: Care
    chances: dict[str, float]
    behind: dict[str, float]
    shows: dict[str, Mask]
    hidden: dict[str, Mask]
    otherwise: dict[str, Mask]
    single: float
    doubts: tuple[AreaDoubt, ...]
    groups: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]
    checks: Mapping[str, Check]
    error: float
    problems: tuple[Problem, ...]

    def there(self, fault: str) -> Mask | None:
        """Return the draws in which the car has a fault; None if that is in none."""
        found = [part[fault] for part in (self.shows, self.hidden) if fault in part]
        return np.logical_or.reduce(found) if found else None


def car_faults(case: Case, streams: Streams, lookup: Lookup) -> CarFaults:
    """Return what is wrong with a car, from everything that was seen of it.

    Raises
    ------
    BadCase
        A result names a check or an outcome that does not exist.
    """
    faults = faults_of_car(case, lookup)
    seen = seen_on(case, faults, lookup)
    care = Care.of(lookup.number("care.shape"))
    groups, problems = _explained(_groups(seen, faults, care), seen, care)
    grouped = {name for one, _ in groups for name in one.group.names}
    free = _free(faults, grouped)
    hiding = _hiding(free, seen)
    for behind, _ in groups:
        care.saw(behind.evidence)
    for name, there in seen.proved.items():
        chance = care.has(faults[name].rate)
        care.saw(chance if there else 1 - chance)
    for area, (unfound, found) in hiding.items():
        care.saw(np.exp(-care.factor * found))
        for real in sorted(seen.stated[area]):
            has = care.has(unfound + found)
            care.saw(real * has / max(float(care.before @ has), IMPOSSIBLE) + 1 - real)
    state = _drawn_care(care, streams)
    return _all_drawn(
        _Known(faults, seen, care, groups, free, hiding, problems), state, streams, lookup
    )


@dataclass(frozen=True, slots=True)
class _Known:
    """What is known before the draws."""

    faults: dict[str, CarFault]
    seen: Seen
    care: Care
    groups: list[tuple[Found, tuple[Sign, ...]]]
    free: dict[Area, list[CarFault]]
    hiding: dict[Area, tuple[float, float]]
    problems: tuple[Problem, ...]


def _together(signs: Sequence[Sign]) -> list[list[Sign]]:
    """Return the signs that share faults, or share them with others that do."""
    left = list(signs)
    out = []
    while left:
        group = [left.pop(0)]
        causes = set(group[0].links)
        grown = True
        while grown:
            grown = False
            for sign in list(left):
                if causes & sign.links.keys():
                    left.remove(sign)
                    group.append(sign)
                    causes |= sign.links.keys()
                    grown = True
        out.append(group)
    return out


def _groups(
    seen: Seen, faults: Mapping[str, CarFault], care: Care
) -> list[tuple[Group, tuple[Sign, ...]]]:
    """Return the groups of signs, and each fault alone that only something else speaks of."""
    out = []
    linked: set[str] = set()
    for signs in _together(seen.signs):
        names = sorted({cause for sign in signs for cause in sign.links})
        linked |= set(names)
        out.append((_group(names, signs, seen, faults, care), tuple(signs)))
    alone = sorted((seen.speaks.keys() | seen.proved.keys()) & faults.keys() - linked)
    out += [(_group([name], (), seen, faults, care), ()) for name in alone]
    return out


def _group(
    names: Sequence[str],
    signs: Sequence[Sign],
    seen: Seen,
    faults: Mapping[str, CarFault],
    care: Care,
) -> Group:
    chances = np.stack([care.has(faults[name].rate) for name in names], axis=1)
    for at, name in enumerate(names):
        if name in seen.proved:
            chances[:, at] = float(seen.proved[name])
    weights = [
        1.0 if name in seen.proved else np.prod([one.factor for one in seen.speaks.get(name, ())])
        for name in names
    ]
    return Group(
        names=tuple(names),
        chances=chances,
        weights=np.array(weights),
        links=tuple(
            tuple(
                (place, sign.links[name]) for place, sign in enumerate(signs) if name in sign.links
            )
            for name in names
        ),
        leaks=np.array([sign.leak for sign in signs]),
    )


def _explained(
    groups: Iterable[tuple[Group, tuple[Sign, ...]]], seen: Seen, care: Care
) -> tuple[list[tuple[Found, tuple[Sign, ...]]], tuple[Problem, ...]]:
    """Return each group worked out; a result that nothing can give with the others is left out."""
    out: list[tuple[Found, tuple[Sign, ...]]] = []
    problems = []
    for first, listed in groups:
        group, signs = first, listed
        behind = _worked(group, care)
        while behind.evidence.max() <= IMPOSSIBLE and signs:
            last = max(
                (at for at, one in enumerate(signs) if not one.findings), default=len(signs) - 1
            )
            message = "nothing can give this together with all else that was seen: it is left out"
            problems.append(Problem("results", f"{signs[last].labels[0]}: {message}"))
            group, signs = _without(group, last), signs[:last] + signs[last + 1 :]
            behind = _worked(group, care)
        out.append((behind, signs))
    seen.signs[:] = [sign for _, signs in out for sign in signs]
    return out, tuple(problems)


def _worked(group: Group, care: Care) -> Found:
    return explain(group) if len(group.leaks) <= MOST_SIGNS else sampled(group, care.before)


def _without(group: Group, gone: int) -> Group:
    links = tuple(
        tuple((at - (at > gone), chance) for at, chance in one if at != gone) for one in group.links
    )
    leaks = np.delete(group.leaks, gone)
    return Group(group.names, group.chances, group.weights, links, leaks)


def _free(faults: Mapping[str, CarFault], grouped: set[str]) -> dict[Area, list[CarFault]]:
    """Return by area the faults that nothing speaks of; every area that this car has any in."""
    out: dict[Area, list[CarFault]] = {}
    for one in faults.values():
        if one.rate:
            out.setdefault(one.area, []).extend([] if one.id in grouped else [one])
    return out


def _hiding(free: Mapping[Area, Sequence[CarFault]], seen: Seen) -> dict[Area, tuple[float, float]]:
    """Return by area how many such faults no look would have found, and how many one would."""
    out = {}
    for area, kinds in free.items():
        rate = sum(one.rate for one in kinds)
        finds = seen.looks[area][1] if area in seen.looks else 0.0
        out[area] = rate * (1 - finds), rate * finds
    return out


def _drawn_care(care: Care, streams: Streams) -> Places:
    edges = np.cumsum(care.now)
    return np.minimum(
        np.searchsorted(edges, streams.uniforms("car/care"), side="right"), len(edges) - 1
    )


@dataclass(slots=True)
class _Collected:
    """What the groups come to, one after the other; see `CarFaults`.

    Attributes
    ----------
    count : (draws,) how many faults are behind the signs of findings.
    silent : by fault, (care,) chance that it is there and behind no finding.
    """

    chances: dict[str, float]
    behind: dict[str, float]
    shows: dict[str, Mask]
    hidden: dict[str, Mask]
    otherwise: dict[str, Mask]
    count: Places
    silent: dict[str, Floats]

    def take(
        self,
        found: Found,
        signs: Sequence[Sign],
        known: _Known,
        state: Places,
        streams: Streams,
    ) -> None:
        """Take a group's faults and what else is behind its signs.

        A fault that only checks speak of is behind no finding: it hides in its area. One that
        turned out to be there is behind its finding whatever else shows the sign.
        """
        drawn = found.draw(state, lambda name: streams.uniforms(f"fault/{name}"))
        now, proved = known.care.now, known.seen.proved
        named = {name for sign in signs if sign.findings for name in sign.links}
        named |= {name for name in found.group.names if proved.get(name)}
        for at, name in enumerate(found.group.names):
            self.chances[name] = float(now @ found.chances[:, at])
            quiet, there, shows = found.silent[:, at], drawn.there[at], drawn.shows[at]
            if proved.get(name):
                quiet, shows = np.zeros(len(now)), there
            if name in named:
                self.shows[name] = shows
                self.behind[name] = self.chances[name] - float(now @ quiet)
                self.count += shows
                there = there & ~shows
            else:
                quiet = found.chances[:, at]
            if there.any():
                self.hidden[name] = there
            self.silent[name] = quiet
        for sign, other in zip(signs, drawn.otherwise, strict=True):
            if sign.findings:
                real = streams.uniforms(f"sign/{sign.name}/nothing") >= sign.nothing
                self.otherwise[sign.name] = other & real
                self.count += self.otherwise[sign.name]


def _all_drawn(known: _Known, state: Places, streams: Streams, lookup: Lookup) -> CarFaults:
    all_of = _Collected({}, {}, {}, {}, {}, np.zeros(streams.draws, dtype=np.intp), {})
    for found, signs in known.groups:
        all_of.take(found, signs, known, state, streams)
    return CarFaults(
        faults=known.faults,
        seen=known.seen,
        care=known.care,
        chances=all_of.chances,
        behind=all_of.behind,
        shows=all_of.shows,
        hidden=all_of.hidden | dict(_hidden_in_areas(known, state, streams)),
        otherwise=all_of.otherwise,
        single=float((all_of.count == 1).mean()) if all_of.otherwise else 0.0,
        doubts=_doubts(known, all_of.silent, lookup),
        groups=tuple(
            (one.group.names, tuple(sign.name for sign in signs if sign.findings))
            for one, signs in known.groups
            if any(sign.findings for sign in signs)
        ),
        checks=lookup.reference.checks,
        error=max((one.error for one, _ in known.groups), default=0.0),
        problems=(*known.problems, *_contradictions(known.seen, all_of.otherwise)),
    )


def _contradictions(seen: Seen, otherwise: Mapping[str, Mask]) -> Iterable[Problem]:
    """Yield the signs that hardly any listed fault can be behind, with all else that was seen."""
    for sign in seen.signs:
        if len(sign.links) and sign.name in otherwise:
            alone = float(otherwise[sign.name].mean())
            if alone > ONLY_ELSE * (1 - sign.nothing):
                yield Problem(
                    f"finding.{sign.findings[0]}",
                    f"{sign.labels[0]}: no fault in the catalog fits this together with all else "
                    "that was seen; it is priced as something else",
                )


def _doubts(known: _Known, silent: Mapping[str, Floats], lookup: Lookup) -> tuple[AreaDoubt, ...]:
    """Return what each area may hide: its faults that nothing speaks of, and those of no finding.

    Parameters
    ----------
    silent : by fault that anything speaks for or against, the chance that it hides: (care,).
    """
    care, seen = known.care, known.seen
    out = []
    for area, free in known.free.items():
        here = [one for one in known.faults.values() if one.area is area]
        unfound = known.hiding[area][0]
        rate = sum(one.rate for one in free)
        kinds = [(one, care.mean * unfound * one.rate / rate) for one in free]
        nothing = np.exp(-care.factor * unfound)
        for one in here:
            if one.id in silent:
                nothing = nothing * (1 - silent[one.id])
                kinds.append((one, float(care.now @ silent[one.id])))
        out.append(
            AreaDoubt(
                area=area,
                label=lookup.reference.areas[area].label,
                chance=1 - float(care.now @ nothing),
                before=float(care.before @ care.has(sum(one.rate for one in here))),
                faults=sum(count for _, count in kinds),
                look=seen.looks[area][0] if area in seen.looks else None,
                kinds=tuple(kinds),
            )
        )
    return tuple(sorted(out, key=lambda one: list(Area).index(one.area)))


def _hidden_in_areas(known: _Known, state: Places, streams: Streams) -> Iterator[tuple[str, Mask]]:
    """Yield the draws in which each fault hides that nothing speaks of.

    The number of faults in an area is Poisson, and each is of a kind by its share: that is every
    kind present by itself with its chance ``1 - exp(-g rate)``, in a handful of draws' worth of
    work for the whole area.
    """
    for area, free in known.free.items():
        unfound = known.hiding[area][0]
        if not unfound:
            continue
        edges = _at_most(known.care.factor * unfound)
        share = streams.uniforms(f"area/{area.value}/faults")
        kinds = np.cumsum([one.rate for one in free])
        where: list[Places] = []
        which: list[Places] = []
        rows = np.arange(streams.draws)
        for place in range(MOST_HIDDEN):
            rows = rows[share[rows] >= edges[state[rows], place]]
            if not len(rows):
                break
            pick = streams.uniforms(f"area/{area.value}/which/{place}")[rows] * kinds[-1]
            which.append(np.minimum(np.searchsorted(kinds, pick, side="right"), len(kinds) - 1))
            where.append(rows)
        if where:
            yield from _masks(np.concatenate(where), np.concatenate(which), free, streams.draws)


def _masks(
    where: Places, which: Places, kinds: Sequence[CarFault], draws: int
) -> Iterable[tuple[str, Mask]]:
    order = np.argsort(which, kind="stable")
    where, which = where[order], which[order]
    starts = np.searchsorted(which, np.arange(len(kinds) + 1))
    for at, fault in enumerate(kinds):
        mine = where[starts[at] : starts[at + 1]]
        if len(mine):
            mask = np.zeros(draws, dtype=bool)
            mask[mine] = True
            yield fault.id, mask


def _at_most(means: Floats) -> Floats:
    """Return the chance of at most 0, 1, 2 ... faults by their mean number: (care, places)."""
    terms = np.empty((len(means), MOST_HIDDEN))
    terms[:, 0] = np.exp(-means)
    for place in range(1, MOST_HIDDEN):
        terms[:, place] = terms[:, place - 1] * means / place
    return np.cumsum(terms, axis=1)
