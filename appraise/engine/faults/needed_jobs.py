"""Which jobs are needed in which draws: causes of findings, and faults in areas not looked at."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from threading import Lock

import numpy as np
from cachetools import LRUCache, cached

from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Streams
from appraise.engine.draws.subset import Mask, Rows
from appraise.engine.faults.odds import Odds, odds_of
from appraise.engine.faults.unseen import AreaDoubt, Typical, typical_of_fault
from appraise.engine.papers.evidence import claim_factors
from appraise.models.case import Case
from appraise.models.findings import Area, JobChoice

__all__ = ["Mask", "Need", "Needs", "needs_of_areas", "needs_of_findings"]

CACHE_BYTES = 16 * 2**20


@dataclass(frozen=True, slots=True)
class Need:
    """A job that is needed in some of the draws.

    Attributes
    ----------
    at : the draws in which it is needed.
    where : path to the field of the case that asks for it.
    """

    choice: JobChoice
    at: Rows
    where: str

    @property
    def rows(self) -> Mask:
        """Where it is needed: (draws,)."""
        return self.at.mask


@dataclass(frozen=True, slots=True)
class Needs:
    """All that one finding, or one area not looked at, may need.

    Attributes
    ----------
    chance : the exact chance that there is anything to mend.
    odds : the chances of its causes before and after checks; None for an area.
    cause_rows : (draws,) where each cause holds, in the order of the odds; empty for an area.
    visible : whether the next buyer would see it, as the car stands.
    stands_for : the area whose typical repairs stand for jobs that nobody named, or None.
    """

    id: str
    label: str
    needs: tuple[Need, ...]
    chance: float
    visible: bool = True
    odds: Odds | None = None
    cause_rows: tuple[Mask, ...] = ()
    stands_for: Area | None = None


def _size(rows: tuple[Rows, ...]) -> int:
    return sum(one.most_bytes for one in rows)


def needs_of_findings(
    case: Case, streams: Streams, prices: PriceList, lookup: Lookup
) -> tuple[Needs, ...]:
    """Pick each finding's cause in every draw.

    One uniform stream a finding decides its cause, so that no finding moves another's draws.
    Causes are exclusive; what their chances leave is "nothing to mend". They share out the stream
    by their ids, so that their order in the list says nothing. A fault that names no job and no
    cause takes one of its area's typical repairs.
    """
    out = []
    papers = claim_factors(case, lookup)
    for at, finding in enumerate(case.findings):
        if not finding.trouble:
            continue
        where = f"findings[{at}]"
        checks = lookup.reference.checks if finding.results else {}
        proved = papers.get(finding.id)
        odds = odds_of(finding, checks, lookup.number("suspect.chance"), proved)
        by_id = sorted(range(len(odds.causes) - 1), key=odds.causes.__getitem__)
        edges = np.cumsum(odds.after[by_id]).tolist()
        drawn = _cause_rows(finding.id, tuple(edges), streams)
        rows = (*(drawn[by_id.index(at)] for at in range(len(by_id))), drawn[-1])
        if finding.unpriced:
            typical = typical_of_fault(finding.area, finding.severity, prices, lookup)
            needs = _typical_needs(f"finding/{finding.id}", edges[-1], typical, streams, where)
        else:
            choices = [cause.jobs for cause in finding.causes] or [finding.jobs]
            named = [f".causes[{number}]" for number in range(len(finding.causes))] or [""]
            needs = tuple(
                Need(choice, rows[number], f"{where}{named[number]}.jobs[{index}].job")
                for number in by_id
                for index, choice in enumerate(choices[number])
            )
        out.append(
            Needs(
                id=finding.id,
                label=finding.label or finding.area.value.replace("_", " "),
                needs=needs,
                chance=edges[-1],
                visible=finding.visible,
                odds=odds,
                cause_rows=tuple(one.mask for one in rows),
                stands_for=finding.area if finding.unpriced else None,
            )
        )
    return tuple(out)


def needs_of_areas(doubts: Iterable[AreaDoubt], streams: Streams) -> tuple[Needs, ...]:
    """Draw for each area whether it hides a fault, and which of its typical repairs that needs."""
    out = []
    for doubt in doubts:
        name = doubt.area.value
        stream = f"area/{name}/fault"
        needs = _typical_needs(stream, doubt.chance, doubt.typical, streams, f"areas.{name}")
        out.append(Needs(name, doubt.label, needs, doubt.chance, visible=False))
    return tuple(out)


def _typical_needs(
    stream: str, chance: float, typical: Typical, streams: Streams, where: str
) -> tuple[Need, ...]:
    """Return the typical repairs, each where it is needed: one of them where there is a fault.

    Parameters
    ----------
    stream : its draws say where there is a fault.
    """
    rows = _typical_rows(stream, chance, typical, streams)
    return tuple(
        Need(JobChoice(job=job), rows[index], where) for index, (job, _) in enumerate(typical)
    )


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


@cached(cache=LRUCache(maxsize=CACHE_BYTES, getsizeof=_size), lock=Lock())
def _typical_rows(
    stream: str, chance: float, typical: Typical, streams: Streams
) -> tuple[Rows, ...]:
    """Return where each typical repair is needed."""
    left = streams.uniforms(stream) < chance
    which = streams.uniforms(f"{stream.removesuffix('/fault')}/which")
    out = []
    edge = 0.0
    for index, (_, weight) in enumerate(typical):
        edge += weight
        rows = left if index == len(typical) - 1 else left & (which < edge)
        left = left ^ rows
        out.append(_kept_rows(rows))
    return tuple(out)
