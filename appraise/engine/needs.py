"""Which jobs are needed in which draws: causes of findings, and faults in areas not looked at."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from threading import Lock

import numpy as np
from cachetools import LRUCache, cached

from appraise.engine.causes import Odds, odds_of
from appraise.engine.claims import claim_factors
from appraise.engine.draws import Streams
from appraise.engine.lookup import Lookup
from appraise.engine.rows import Mask, Rows
from appraise.engine.unseen import AreaDoubt
from appraise.models.case import Case
from appraise.models.findings import JobChoice

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
    """

    id: str
    label: str
    needs: tuple[Need, ...]
    chance: float
    visible: bool = True
    odds: Odds | None = None
    cause_rows: tuple[Mask, ...] = ()


def _size(rows: tuple[Rows, ...]) -> int:
    return sum(one.most_bytes for one in rows)


def needs_of_findings(case: Case, streams: Streams, lookup: Lookup) -> tuple[Needs, ...]:
    """Pick each finding's cause in every draw.

    One uniform stream a finding decides its cause, so that no finding moves another's draws.
    Causes are exclusive; what their chances leave is "nothing to mend".
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
        edges = [0.0, *np.cumsum(odds.after).tolist()]
        edges[-1] = 1.0
        rows = _cause_rows(finding.id, tuple(edges[1:-1]), streams)
        choices = [cause.jobs for cause in finding.causes] or [finding.jobs]
        named = [f".causes[{number}]" for number in range(len(finding.causes))] or [""]
        needs = tuple(
            Need(choice, rows[number], f"{where}{named[number]}.jobs[{index}].job")
            for number, jobs in enumerate(choices)
            for index, choice in enumerate(jobs)
        )
        out.append(
            Needs(
                id=finding.id,
                label=finding.label or finding.area.value.replace("_", " "),
                needs=needs,
                chance=edges[-2],
                visible=finding.visible,
                odds=odds,
                cause_rows=tuple(one.mask for one in rows),
            )
        )
    return tuple(out)


def needs_of_areas(doubts: Iterable[AreaDoubt], streams: Streams) -> tuple[Needs, ...]:
    """Draw for each area whether it hides a fault, and which of its typical repairs that needs."""
    out = []
    for doubt in doubts:
        name = doubt.area.value
        rows = _area_rows(name, doubt.chance, doubt.typical, streams)
        needs = tuple(
            Need(JobChoice(job=job), rows[index], f"areas.{name}")
            for index, (job, _) in enumerate(doubt.typical)
        )
        out.append(Needs(name, doubt.label, needs, doubt.chance, visible=False))
    return tuple(out)


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
def _area_rows(
    name: str, chance: float, typical: tuple[tuple[str, float], ...], streams: Streams
) -> tuple[Rows, ...]:
    """Return where each typical repair of an area is needed."""
    left = streams.uniforms(f"area/{name}/fault") < chance
    which = streams.uniforms(f"area/{name}/which")
    out = []
    edge = 0.0
    for index, (_, weight) in enumerate(typical):
        edge += weight
        rows = left if index == len(typical) - 1 else left & (which < edge)
        left = left ^ rows
        out.append(_kept_rows(rows))
    return tuple(out)
