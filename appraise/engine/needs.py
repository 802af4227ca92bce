"""Which jobs are needed in which draws: causes of findings, and faults in areas not looked at."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from appraise.engine.draws import Streams
from appraise.engine.lookup import Lookup
from appraise.engine.unseen import AreaDoubt
from appraise.models.case import Case
from appraise.models.findings import Finding, JobChoice, State

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
    visible : whether the next buyer would see it, as the car stands.
    """

    id: str
    label: str
    needs: tuple[Need, ...]
    chance: float
    visible: bool = True


def needs_of_findings(case: Case, streams: Streams, lookup: Lookup) -> tuple[Needs, ...]:
    """Pick each finding's cause in every draw.

    One uniform stream a finding decides its cause, so that no finding moves another's draws.
    Causes are exclusive; what their chances leave is "nothing to mend".
    """
    out = []
    for at, finding in enumerate(case.findings):
        if not finding.trouble:
            continue
        where = f"findings[{at}]"
        share = streams.uniforms(f"finding/{finding.id}")
        chance = _chance_of_anything(finding, lookup)
        needs: list[Need] = []
        if finding.causes:
            anything, chance = chance, 0.0
            for number, cause in enumerate(finding.causes):
                upper = chance + anything * float(cause.chance)
                rows = (share >= chance) & (share < upper)
                needs += [
                    Need(choice, rows, f"{where}.causes[{number}].jobs[{index}].job")
                    for index, choice in enumerate(cause.jobs)
                ]
                chance = upper
        else:
            rows = share < chance
            needs = [
                Need(choice, rows, f"{where}.jobs[{index}].job")
                for index, choice in enumerate(finding.jobs)
            ]
        label = finding.label or finding.area.value.replace("_", " ")
        out.append(
            Needs(finding.id, label, tuple(needs), min(1.0, chance), visible=finding.visible)
        )
    return tuple(out)


def _chance_of_anything(finding: Finding, lookup: Lookup) -> float:
    if finding.chance is not None:
        return float(finding.chance)
    if finding.state is State.SUSPECT and not finding.causes:
        return lookup.number("suspect.chance")
    return 1.0


def needs_of_areas(doubts: Iterable[AreaDoubt], streams: Streams) -> tuple[Needs, ...]:
    """Draw for each area whether it hides a fault, and which of its typical repairs that needs."""
    out = []
    for doubt in doubts:
        name = doubt.area.value
        faulty = streams.uniforms(f"area/{name}/fault") < doubt.chance
        which = streams.uniforms(f"area/{name}/which")
        needs = []
        edge = 0.0
        for index, (job, weight) in enumerate(doubt.typical):
            last = index == len(doubt.typical) - 1
            upper = 1.0 if last else edge + weight
            rows = faulty & (which >= edge) & (which < upper)
            needs.append(Need(JobChoice(job=job), rows, f"areas.{name}"))
            edge = upper
        out.append(Needs(name, doubt.label, tuple(needs), doubt.chance, visible=False))
    return tuple(out)
