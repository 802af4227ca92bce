"""The one result of reading a car's papers, which every face shows."""

from __future__ import annotations

from dataclasses import dataclass

from appraise.engine.papers.evidence import Strength
from appraise.engine.papers.odometer import History
from appraise.engine.papers.title import Item
from appraise.errors import Problem

__all__ = ["Examined"]


@dataclass(frozen=True, slots=True)
class Examined:
    """Everything that the papers of a case say.

    Attributes
    ----------
    strengths : each claim of each paper with how strongly it stands.
    odometer : the readings of all papers and of the car itself, with what is odd about them.
    in_hand : what must be in hand before money moves, each done or open.
    problems : contradictions and what is amiss, the worst first.
    weak : those of them that only say of a paper that it proves nothing.
    """

    strengths: tuple[Strength, ...]
    odometer: History
    in_hand: tuple[Item, ...]
    problems: tuple[Problem, ...]
    weak: tuple[Problem, ...] = ()
