"""A log with its full-load pulls and what each averages, one log over another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from appraise.engine.measure.full_load import Overlay, Plateau, Pull, find_pulls, overlay, plateau
from appraise.engine.measure.manifold import LocalPressure
from appraise.errors import Problem

__all__ = ["LogView", "LoggedPulls", "logged_pulls"]


@dataclass(frozen=True, slots=True)
class LogView:
    """A log with the air outside that it is held against."""

    name: str
    rows: int
    columns: Mapping[str, NDArray[np.float64]]
    mapping: Mapping[str, str]
    problems: tuple[Problem, ...]
    local: LocalPressure


@dataclass(frozen=True, slots=True)
class LoggedPulls:
    """The pulls of a log, and the longest of them over that of an earlier log.

    Attributes
    ----------
    why : how many pulls there are, or why none, in words.
    compared : whether there was an earlier log; `over` is None if one of the two has no pull.
    column : name of what is laid over.
    """

    log: LogView
    rpm_from: float
    rpm_to: float
    why: str
    pulls: tuple[tuple[Pull, Plateau], ...]
    compared: bool
    over: Overlay | None
    column: str


def logged_pulls(
    log: LogView, rpm_from: float, rpm_to: float, before: LogView | None = None
) -> LoggedPulls:
    """Return a log's pulls with their averages between two engine speeds.

    Parameters
    ----------
    rpm_from, rpm_to : range that the averages are taken over.
    before : a log from before the repair, to lay under this one.
    """
    found = find_pulls(log.columns)
    flat = ((one, plateau(log.columns, one, log.local, rpm_from, rpm_to)) for one in found.pulls)
    column = "map_kpa" if "map_kpa" in log.columns else "boost_kpa"
    over = None
    earlier = find_pulls(before.columns).pulls if before is not None else ()
    if before is not None and earlier and found.pulls:
        first, second = (
            max(some, key=lambda pull: pull.rpm_to - pull.rpm_from)
            for some in (earlier, found.pulls)
        )
        over = overlay((before.columns, first), (log.columns, second), column)
    return LoggedPulls(
        log, rpm_from, rpm_to, found.why, tuple(flat), before is not None, over, column
    )
