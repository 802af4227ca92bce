"""Which jobs are needed in which draws: causes of findings, and faults in areas not looked at."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from appraise.engine.causes import Odds, odds_of
from appraise.engine.claims import claim_factors
from appraise.engine.draws import Streams
from appraise.engine.lookup import Lookup
from appraise.engine.unseen import AreaDoubt
from appraise.models.case import Case
from appraise.models.findings import JobChoice

__all__ = ["Mask", "Need", "Needs", "needs_of_areas", "needs_of_findings"]

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Need:
    """A job that is needed in some of the draws.

    Attributes
    ----------
    rows : (draws,) where it is needed.
    where : path to the field of the case that asks for it.
    """

    choice: JobChoice
    rows: Mask
    where: str


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


def needs_of_findings(case: Case, streams: Streams, lookup: Lookup) -> tuple[Needs, ...]:
    """Pick each finding's cause in every draw.

    One uniform stream a finding decides its cause, so that no finding moves another's draws.
    Causes are exclusive; what their chances leave is "nothing to mend".
    """
    out = []
    papers = claim_factors(case, lookup)
    nowhere, everywhere = np.zeros(streams.draws, bool), np.ones(streams.draws, bool)
    for at, finding in enumerate(case.findings):
        if not finding.trouble:
            continue
        where = f"findings[{at}]"
        share = streams.uniforms(f"finding/{finding.id}")
        checks = lookup.reference.checks if finding.results else {}
        proved = papers.get(finding.id)
        odds = odds_of(finding, checks, lookup.number("suspect.chance"), proved)
        edges = [0.0, *np.cumsum(odds.after).tolist()]
        edges[-1] = 1.0
        below = [share < edge for edge in edges[1:-1]]
        rows = [high & ~low for low, high in pairwise([nowhere, *below, everywhere])]
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
                cause_rows=tuple(rows),
            )
        )
    return tuple(out)


def needs_of_areas(doubts: Iterable[AreaDoubt], streams: Streams) -> tuple[Needs, ...]:
    """Draw for each area whether it hides a fault, and which of its typical repairs that needs."""
    out = []
    for doubt in doubts:
        name = doubt.area.value
        left = streams.uniforms(f"area/{name}/fault") < doubt.chance
        which = streams.uniforms(f"area/{name}/which")
        needs = []
        edge = 0.0
        for index, (job, weight) in enumerate(doubt.typical):
            edge += weight
            rows = left if index == len(doubt.typical) - 1 else left & (which < edge)
            left = left ^ rows
            needs.append(Need(JobChoice(job=job), rows, f"areas.{name}"))
        out.append(Needs(name, doubt.label, tuple(needs), doubt.chance, visible=False))
    return tuple(out)
