"""Which jobs are needed in which draws: by findings, and by what nobody has inspected."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from itertools import pairwise
from math import log2
from threading import Lock
from zlib import crc32

import numpy as np
from cachetools import LRUCache, cached

from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Streams
from appraise.engine.draws.subset import Mask, Places, Rows
from appraise.engine.faults.car import CarFaults
from appraise.engine.faults.odds import Odds, odds_of
from appraise.engine.faults.rates import CarFault
from appraise.engine.papers.evidence import claim_factors
from appraise.models.case import Case
from appraise.models.findings import Area, Finding, JobChoice, Severity
from appraise.reference.signs import is_sign

__all__ = ["Mask", "Need", "Needs", "needs_of_areas", "needs_of_findings", "needs_of_remedies"]

CACHE_BYTES = 16 * 2**20
Like = Callable[[Area, Severity | None], tuple[tuple[CarFault, float], ...]]
"""What an unknown fault of an area may be, by how severe it is."""


@dataclass(frozen=True, slots=True)
class Need:
    """A job that is needed in some of the draws.

    Attributes
    ----------
    at : the draws in which it is needed.
    where : path to the field of the case that asks for it.
    cause : the person's own cause that asks for it, or an empty string.
    """

    choice: JobChoice
    at: Rows
    where: str
    cause: str = ""

    @property
    def rows(self) -> Mask:
        """Where it is needed: (draws,)."""
        return self.at.mask


@dataclass(frozen=True, slots=True)
class Needs:
    """All that one finding, or one area that was not inspected, may need.

    Attributes
    ----------
    chance : that there is anything to repair; exact, but for a finding that faults are behind.
    odds : the chances of the causes that a person states; None where there are none.
    cause_rows : (draws,) where each of those holds, and last where none does.
    visible : whether the next buyer would see it, as the car stands.
    typical : whether a typical fault of the area stands for jobs that nobody named.
    """

    id: str
    label: str
    needs: tuple[Need, ...]
    chance: float
    visible: bool = True
    odds: Odds | None = None
    cause_rows: tuple[Mask, ...] = ()
    typical: bool = False


def _size(rows: tuple[Rows, ...]) -> int:
    return sum(one.most_bytes for one in rows)


def needs_of_findings(
    case: Case, car: CarFaults, streams: Streams, prices: PriceList, lookup: Lookup
) -> tuple[Needs, ...]:
    """Return what each finding needs in every draw.

    A finding that names a symptom or codes needs what the faults behind it need, in the draws in
    which they are; several findings of one fault need the same job in the same draws. A finding
    with causes or jobs of a person's own takes those: one uniform stream a finding decides, the
    causes exclude each other, and what their chances leave is nothing to repair. A fault that
    names nothing takes one of its area.
    """
    out = []
    like = lru_cache(maxsize=64)(partial(_faults_like, car=car, prices=prices, lookup=lookup))
    papers = claim_factors(case, lookup)
    checks = lookup.reference.checks if case.results else {}
    for at, finding in enumerate(case.findings):
        if not finding.trouble:
            continue
        where = f"findings[{at}]"
        if is_sign(finding, lookup.reference) and any(
            finding.id in sign.findings for sign in car.seen.signs
        ):
            out.append(_of_signs(finding, car, where, streams, like))
            continue
        odds = odds_of(
            finding,
            case.results,
            checks,
            lookup.number("suspect.chance"),
            papers.get(finding.id),
        )
        out.append(_as_stated(finding, odds, where, streams, like))
    return tuple(out)


def _as_stated(
    finding: Finding,
    odds: Odds,
    where: str,
    streams: Streams,
    like: Like,
) -> Needs:
    """Return what a finding needs by a person's own causes or jobs."""
    by_id = sorted(range(len(odds.causes) - 1), key=odds.causes.__getitem__)
    edges = np.cumsum(odds.after[by_id]).tolist()
    drawn = _cause_rows(finding.id, tuple(edges), streams)
    needs: tuple[Need, ...]
    if finding.unpriced or not (finding.causes or finding.jobs):
        kinds = like(finding.area, finding.severity)
        stream = f"finding/{finding.id}/which"
        rows = np.logical_or.reduce([one.mask for one in drawn[:-1]])
        needs = tuple(_one_of(kinds, rows, stream, where, streams))
    else:
        choices = [cause.jobs for cause in finding.causes] or [finding.jobs]
        named = [f".causes[{number}]" for number in range(len(finding.causes))] or [""]
        needs = tuple(
            Need(
                choice,
                drawn[place],
                f"{where}{named[number]}.jobs[{index}].job",
                odds.causes[number] if finding.causes else "",
            )
            for place, number in enumerate(by_id)
            for index, choice in enumerate(choices[number])
        )
    return Needs(
        id=finding.id,
        label=_label(finding),
        needs=needs,
        chance=edges[-1],
        visible=finding.visible,
        odds=odds,
        cause_rows=tuple(drawn[at].mask for at in (*np.argsort(by_id).tolist(), -1)),
        typical=finding.unpriced,
    )


def _label(finding: Finding) -> str:
    return finding.label or finding.area.value.replace("_", " ")


def _of_signs(
    finding: Finding,
    car: CarFaults,
    where: str,
    streams: Streams,
    like: Like,
) -> Needs:
    """Return what a finding needs by the faults behind the signs that it names."""
    signs = [sign for sign in car.seen.signs if finding.id in sign.findings]
    needs: list[Need] = []
    any_of_them = np.zeros(streams.draws, dtype=bool)
    for name in sorted({cause for sign in signs for cause in sign.links}):
        rows = car.shows.get(name)
        if rows is not None and rows.any():
            any_of_them |= rows
            needs += needs_of_remedies(car.faults[name], rows, where, streams)
    for sign in signs:
        rows = car.otherwise[sign.name]
        if rows.any():
            any_of_them |= rows
            kinds = like(sign.area, sign.severity)
            needs += _one_of(kinds, rows, f"sign/{sign.name}/which", where, streams)
    return Needs(
        id=finding.id,
        label=_label(finding),
        needs=tuple(needs),
        chance=float(any_of_them.mean()),
        visible=finding.visible,
    )


def needs_of_areas(car: CarFaults, streams: Streams) -> tuple[Needs, ...]:
    """Return what each area may need for faults that nobody has found."""
    hidden: defaultdict[Area, list[str]] = defaultdict(list)
    for name in sorted(car.hidden):
        hidden[car.faults[name].area].append(name)
    out = []
    for doubt in car.doubts:
        where = f"areas.{doubt.area.value}"
        needs = tuple(
            need
            for name in hidden[doubt.area]
            for need in needs_of_remedies(car.faults[name], car.hidden[name], where, streams)
        )
        out.append(Needs(doubt.area.value, doubt.label, needs, doubt.chance, visible=False))
    return tuple(out)


@lru_cache(maxsize=4096)
def _choice(job: str) -> JobChoice:
    return JobChoice(job=job)


def needs_of_remedies(fault: CarFault, rows: Mask, where: str, streams: Streams) -> Iterator[Need]:
    """Yield the jobs of a fault where it is there, of one remedy in each draw.

    One stream decides for all faults, turned by a part of its own for each, so that it is as
    evenly spread for every fault and hangs on no other.
    """
    if len(fault.remedies) == 1:
        yield from _jobs_at([(fault.remedies[0][0], rows)], where)
        return
    places = np.flatnonzero(rows)
    turn = crc32(fault.id.encode()) / 2**32
    share = (streams.uniforms("remedy")[places] + turn) % 1
    pick = np.searchsorted(np.cumsum([chance for _, chance in fault.remedies]), share, "right")
    yield from _jobs_at(_picked([jobs for jobs, _ in fault.remedies], pick, places, rows), where)


def _one_of(
    kinds: Iterable[tuple[CarFault, float]],
    rows: Mask,
    stream: str,
    where: str,
    streams: Streams,
) -> Iterator[Need]:
    """Yield the jobs of one fault of several, by one remedy, in each of the draws given."""
    ways = [(jobs, share * chance) for fault, share in kinds for jobs, chance in fault.remedies]
    if not ways:
        return
    places = np.flatnonzero(rows)
    edges = np.cumsum([share for _, share in ways])
    pick = np.searchsorted(edges, streams.uniforms(stream)[places] * edges[-1], "right")
    yield from _jobs_at(_picked([jobs for jobs, _ in ways], pick, places, rows), where)


def _picked(
    ways: Sequence[tuple[str, ...]], pick: Places, places: Places, rows: Mask
) -> Iterator[tuple[tuple[str, ...], Mask]]:
    """Yield each way that is taken, with the draws in which it is."""
    pick = np.minimum(pick, len(ways) - 1)
    for at in np.unique(pick):
        mask = np.zeros(len(rows), dtype=bool)
        mask[places[pick == at]] = True
        yield ways[at], mask


def _jobs_at(ways: Iterable[tuple[tuple[str, ...], Mask]], where: str) -> Iterator[Need]:
    """Yield each job once, where any of the ways that name it is taken."""
    by_job: dict[str, Mask] = {}
    for jobs, mask in ways:
        for job in dict.fromkeys(jobs):
            by_job[job] = by_job[job] | mask if job in by_job else mask
    for job, mask in by_job.items():
        yield Need(_choice(job), Rows(mask), where)


def _faults_like(
    area: Area, severity: Severity | None, *, car: CarFaults, prices: PriceList, lookup: Lookup
) -> tuple[tuple[CarFault, float], ...]:
    """Return what an unknown fault of an area may be, by share, by how severe it is.

    A fault that costs twice as much as another is ``f`` times likelier, f by severity: its rate is
    times ``cost^log2(f)``, at the catalog's rates, so that no rate, tax or level of the deal moves
    the shares. An electric car's fault in a system that it does not have is taken as one of its
    electrical system.
    """
    here = [one for one in car.faults.values() if one.area is area and any_jobs(one)]
    if not here:
        here = [one for one in car.faults.values() if one.area is Area.ELECTRICAL]
    rates = np.array([one.rate for one in here])
    if severity is not None:
        power = log2(lookup.entry("unpriced.dearer", severity.value))
        costs = np.array([_usual_cost(one, prices, lookup) for one in here])
        rates = rates * costs**power
    return tuple(zip(here, (rates / rates.sum()).tolist(), strict=True))


def any_jobs(fault: CarFault) -> bool:
    """Whether a fault ever takes a job."""
    return any(jobs for jobs, _ in fault.remedies)


def _usual_cost(fault: CarFault, prices: PriceList, lookup: Lookup) -> float:
    """Return about what a shop charges for a fault by itself, by likely figures."""
    rate = lookup.spread("shop.rate", prices.level).likely
    markup = lookup.number("shop.parts_markup")
    total = 0.0
    for jobs, chance in fault.remedies:
        every = {
            priced.job.id: priced for job in jobs for priced in prices.closure(job, f"job.{job}")
        }
        money = hours = 0.0
        access: set[str] = set()
        for priced in every.values():
            parts = sum(part.quantity * part.price.likely for part in priced.parts)
            money += parts + priced.consumables + (markup - 1) * priced.likely_goods
            hours += 0.0 if priced.job.shop_only else priced.hours.likely
            access |= set(priced.job.access)
        covered = {inner for one in access for inner in lookup.reference.access[one].covers}
        hours += sum(prices.access_hours(one).likely for one in sorted(access - covered))
        total += chance * (money + hours * rate)
    return max(total, prices.level)


def _kept_rows(mask: Mask) -> Rows:
    """Return rows that are kept from one appraisal to the next: they hang on nothing else."""
    mask.flags.writeable = False
    return Rows(mask, kept=True)


@cached(cache=LRUCache(maxsize=CACHE_BYTES, getsizeof=_size), lock=Lock())
def _cause_rows(name: str, edges: tuple[float, ...], streams: Streams) -> tuple[Rows, ...]:
    """Return where each cause of a finding holds, and last where none does.

    Parameters
    ----------
    edges : shares, ascending, at which one cause ends and the next begins.
    """
    share = streams.uniforms(f"finding/{name}")
    nowhere, everywhere = np.zeros(streams.draws, bool), np.ones(streams.draws, bool)
    below = [nowhere, *(share < edge for edge in edges), everywhere]
    # each holds wherever the one before does: where they differ is what lies between
    return tuple(_kept_rows(low ^ high) for low, high in pairwise(below))
