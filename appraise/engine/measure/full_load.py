"""Full-load pulls in a log: where they are, what they average, and before against after.

A column is an array with NaN for gaps; the names are those of the log (`time_s`, `rpm`,
`pedal_pct`, `throttle_pct`, `map_kpa`, `boost_kpa`, `map_target_kpa`, `boost_target_kpa`, `lambda`,
`intake_c`, `baro_kpa`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from appraise.engine.measure.manifold import MAP_CEILING, LocalPressure

__all__ = [
    "Found",
    "Overlay",
    "Plateau",
    "Pull",
    "PullRules",
    "find_pulls",
    "overlay",
    "plateau",
]

Floats = NDArray[np.float64]
Columns = Mapping[str, Floats]

LEAST_POINTS = 3


@dataclass(frozen=True, slots=True)
class PullRules:
    """What counts as a pull, and as like another; all common practice, no published source.

    Attributes
    ----------
    full_pct : pedal or throttle from here on is full load.
    least_top_pct : some pedals read 15 at rest and 80 on the floor: where the log's own top is at
        least this, full load is what lies near it, if throttle or load say so too.
    near_top : of the log's own range, that still counts as its top.
    open_pct, loaded_pct : throttle and load of full load, in the middle over those rows; the
        calculated load is 100 % at full throttle (SAE J1979, mode 01, PID 04), an absolute throttle
        less (PID 11).
    moves_pct : a column that moves by less says nothing of load: the throttle of many diesels.
    least_seconds : that it is held for.
    least_rise_rpm : by which the engine speed rises meanwhile.
    fall_rpm : a fall by more than this ends it: a gear change, or the foot lifted.
    longest_gap_s : over which a column polled in turn is read by a straight line.
    grid_rpm : step of the common grid.
    least_common_rpm : that two pulls must share.
    baro_apart_kpa, intake_apart_c, rise_apart : beyond which two pulls are not quite alike: air
        outside, intake air, and rate of rise of the engine speed as a share (another gear).
    """

    full_pct: float = 90.0
    least_top_pct: float = 60.0
    near_top: float = 0.05
    open_pct: float = 75.0
    loaded_pct: float = 85.0
    moves_pct: float = 10.0
    least_seconds: float = 2.0
    least_rise_rpm: float = 1000.0
    fall_rpm: float = 150.0
    longest_gap_s: float = 1.0
    grid_rpm: float = 100.0
    least_common_rpm: float = 500.0
    baro_apart_kpa: float = 3.0
    intake_apart_c: float = 15.0
    rise_apart: float = 0.25


RULES = PullRules()


@dataclass(frozen=True, slots=True)
class Pull:
    """Rows of one pull.

    Attributes
    ----------
    start, stop : first row, and the one after the last.
    seconds : how long; NaN if the log has no time.
    """

    start: int
    stop: int
    seconds: float
    rpm_from: float
    rpm_to: float


@dataclass(frozen=True, slots=True)
class Found:
    """The pulls of a log.

    Attributes
    ----------
    why : one sentence: which column showed full load, or why there is no pull.
    """

    pulls: tuple[Pull, ...]
    why: str


@dataclass(frozen=True, slots=True)
class Plateau:
    """Averages of a pull between two engine speeds; None for what the log does not hold.

    Attributes
    ----------
    boost_kpa, target_kpa : gauge.
    short_kpa : target less boost, above nothing if boost is missing.
    rows : in the range.
    clipped : whether the manifold sensor stands at its ceiling in any of them.
    """

    map_kpa: float | None
    boost_kpa: float | None
    target_kpa: float | None
    short_kpa: float | None
    lambda_: float | None
    rows: int
    clipped: bool


@dataclass(frozen=True, slots=True)
class Overlay:
    """One column of two pulls over the same engine speeds.

    Attributes
    ----------
    rpm : (points,) the common grid; empty if they cannot be compared.
    before, after : (points,) each.
    problems : why they cannot be compared or are not quite alike, each a sentence.
    """

    rpm: Floats
    before: Floats
    after: Floats
    problems: tuple[str, ...] = ()

    @property
    def gain(self) -> float | None:
        """Mean of after less before over the common engine speeds, or None."""
        return float(np.mean(self.after - self.before)) if len(self.rpm) else None


def find_pulls(columns: Columns, rules: PullRules = RULES) -> Found:
    """Return where pedal, or for want of one throttle, is held full while the engine revs up.

    Parameters
    ----------
    columns : of a log.
    rules : what counts.
    """
    by = next((one for one in ("pedal_pct", "throttle_pct") if one in columns), None)
    if by is None:
        return Found((), "the log holds neither pedal nor throttle: full load cannot be seen")
    if "rpm" not in columns:
        return Found((), "the log holds no engine speed: a pull cannot be seen")
    name = "pedal" if by == "pedal_pct" else "throttle"
    rows = len(columns["rpm"])
    time: Floats = columns.get("time_s", np.full(rows, np.nan))
    rpm, load = _bridged(columns, "rpm", rules), _bridged(columns, by, rules)
    most = float(np.nanmax(load)) if np.isfinite(load).any() else 0.0
    full = np.isfinite(rpm) & (load >= rules.full_pct)
    own_range = ""
    if not full.any():
        full, own_range = _near_own_top(columns, by, load, rules)
        full &= np.isfinite(rpm)
    if not full.any():
        return Found(
            (),
            f"the log never reaches full load: the {name} goes to {most:.0f} %, and full load "
            f"starts at {rules.full_pct:.0f} %",
        )
    pulls = tuple(
        pull
        for start, stop in _stretches(full, time, rules)
        for pull in _rising(start, stop, rpm, time, rules)
    )
    if pulls:
        timed = "" if np.isfinite(time).any() else "; without a time, how long is not checked"
        return Found(pulls, f"full load by the {name}, up to {most:.0f} %{own_range}{timed}")
    return Found(
        (),
        f"the {name} reaches full load, but never for {rules.least_seconds:g} s with the engine "
        f"speed rising by {rules.least_rise_rpm:g} rpm",
    )


def _near_own_top(
    columns: Columns, by: str, load: Floats, rules: PullRules
) -> tuple[NDArray[np.bool_], str]:
    """Return the rows near the top of a pedal that never reads full, if the engine was loaded then.

    Without throttle or load to say so, or with one of them that says otherwise, there are none.
    """
    none = np.zeros(len(load), dtype=bool)
    if not np.isfinite(load).any():
        return none, ""
    least, most = float(np.nanmin(load)), float(np.nanmax(load))
    if most < rules.least_top_pct:
        return none, ""
    top = load >= most - rules.near_top * (most - least)
    said = []
    for name, words, wanted in (
        ("throttle_pct", "throttle", rules.open_pct),
        ("load_pct", "load", rules.loaded_pct),
    ):
        if name == by or name not in columns:
            continue
        values = _bridged(columns, name, rules)
        if not np.isfinite(values[top]).any():
            continue
        if np.nanmax(values) - np.nanmin(values) < rules.moves_pct:
            continue
        middle = float(np.nanmedian(values[top]))
        if middle < wanted:
            return none, ""
        said.append(f"{words} {middle:.0f} %")
    return (top, f", its top in this log, with {' and '.join(said)}") if said else (none, "")


def _bridged(columns: Columns, name: str, rules: PullRules) -> Floats:
    """Return a column whose short gaps are bridged by straight lines in time; long ones stay."""
    values = columns[name]
    known = np.flatnonzero(np.isfinite(values))
    time = columns.get("time_s")
    if time is None or len(known) in (0, len(values)) or not (np.diff(time) >= 0).all():
        return values
    after = np.searchsorted(known, np.arange(len(values)))
    inside = (after > 0) & (after < len(known))
    right = known[np.clip(after, 0, len(known) - 1)]
    left = known[np.clip(after - 1, 0, len(known) - 1)]
    near = inside & (time[right] - time[left] <= rules.longest_gap_s)
    out = values.copy()
    fill = near & ~np.isfinite(values)
    out[fill] = np.interp(time[fill], time[known], values[known])
    return out


def _stretches(full: NDArray[np.bool_], time: Floats, rules: PullRules) -> list[tuple[int, int]]:
    """Return the stretches of rows at full load, cut where the log itself has a hole."""
    with np.errstate(invalid="ignore"):
        steps = np.diff(time)
        hole = np.concatenate([[False], (steps > rules.longest_gap_s) | (steps < 0)])
    begins = full & ~np.concatenate([[False], full[:-1] & ~hole[1:]])
    ends = full & ~np.concatenate([full[1:] & ~hole[1:], [False]])
    starts, stops = np.flatnonzero(begins), np.flatnonzero(ends) + 1
    return list(zip(starts.tolist(), stops.tolist(), strict=True))


def _rising(start: int, stop: int, rpm: Floats, time: Floats, rules: PullRules) -> list[Pull]:
    """Return the pulls of one stretch, each from a low of the engine speed to its peak."""
    out = []
    begin = peak = start
    for row in range(start, stop + 1):
        ended = row == stop or rpm[row] < rpm[peak] - rules.fall_rpm
        if ended:
            seconds = float(time[peak] - time[begin])
            rise = float(rpm[peak] - rpm[begin])
            # a comparison with NaN is false: without a time the length is let be
            if rise >= rules.least_rise_rpm and not seconds < rules.least_seconds:
                out.append(Pull(begin, peak + 1, seconds, float(rpm[begin]), float(rpm[peak])))
            begin = peak = row
        elif rpm[row] < rpm[begin] and peak == begin:
            begin = peak = row
        elif rpm[row] > rpm[peak]:
            peak = row
    return out


def plateau(
    columns: Columns,
    pull: Pull,
    local: LocalPressure,
    rpm_from: float,
    rpm_to: float,
    rules: PullRules = RULES,
) -> Plateau:
    """Return the averages of a pull between two engine speeds, boost against the air outside.

    Parameters
    ----------
    columns : of the log in which the pull was found.
    pull : one of its pulls.
    local : the air outside; an absolute target is made gauge by it too.
    rpm_from, rpm_to : both included.
    rules : over which gaps a column is bridged.
    """
    rows = slice(pull.start, pull.stop)
    rpm = _bridged(columns, "rpm", rules)[rows]
    with np.errstate(invalid="ignore"):
        inside = (rpm >= rpm_from) & (rpm <= rpm_to)

    def mean(name: str) -> float | None:
        values = _bridged(columns, name, rules)[rows][inside] if name in columns else np.empty(0)
        values = values[np.isfinite(values)]
        return float(values.mean()) if len(values) else None

    absolute, gauge = mean("map_kpa"), mean("boost_kpa")
    if absolute is not None:
        gauge = absolute - local.kpa
    wanted, wanted_absolute = mean("boost_target_kpa"), mean("map_target_kpa")
    if wanted is None and wanted_absolute is not None:
        wanted = wanted_absolute - local.kpa
    short = wanted - gauge if wanted is not None and gauge is not None else None
    readings = columns["map_kpa"][rows][inside] if "map_kpa" in columns else np.empty(0)
    # a sensor that goes beyond the ceiling anywhere in the log is no sensor of one byte
    wide = "map_kpa" in columns and bool(np.nanmax(columns["map_kpa"], initial=0.0) > MAP_CEILING)
    clipped = not wide and bool((readings >= MAP_CEILING).any())
    return Plateau(absolute, gauge, wanted, short, mean("lambda"), int(inside.sum()), clipped)


def overlay(
    before: tuple[Columns, Pull],
    after: tuple[Columns, Pull],
    name: str,
    rules: PullRules = RULES,
) -> Overlay:
    """Return one column of two pulls, read by straight lines at the same engine speeds.

    Parameters
    ----------
    before, after : each with the columns of its log and a pull in it.
    name : column to compare.
    rules : grid, and what makes two pulls unlike.
    """
    curves = [_curve(columns, pull, name, rules) for columns, pull in (before, after)]
    nothing = np.empty(0)
    if any(len(rpm) < LEAST_POINTS for rpm, _ in curves):
        return Overlay(nothing, nothing, nothing, (f"one of the pulls holds too little {name}",))
    low = max(rpm[0] for rpm, _ in curves)
    high = min(rpm[-1] for rpm, _ in curves)
    if high - low < rules.least_common_rpm:
        said = f"the pulls share less than {rules.least_common_rpm:g} rpm: not comparable"
        return Overlay(nothing, nothing, nothing, (said,))
    step = rules.grid_rpm
    grid = np.arange(np.ceil(low / step) * step, high + 1e-9, step)
    first, second = (np.interp(grid, rpm, values) for rpm, values in curves)
    return Overlay(grid, first, second, _unlike(before, after, rules))


def _curve(columns: Columns, pull: Pull, name: str, rules: PullRules) -> tuple[Floats, Floats]:
    """Return engine speeds in ascending order, each once, and the mean of the column at each."""
    rows = slice(pull.start, pull.stop)
    if name not in columns:
        return np.empty(0), np.empty(0)
    rpm, values = (_bridged(columns, one, rules)[rows] for one in ("rpm", name))
    known = np.isfinite(rpm) & np.isfinite(values)
    speeds, place = np.unique(rpm[known], return_inverse=True)
    counts = np.bincount(place, minlength=len(speeds))
    return speeds, np.bincount(place, weights=values[known], minlength=len(speeds)) / counts


def _unlike(
    before: tuple[Columns, Pull], after: tuple[Columns, Pull], rules: PullRules
) -> tuple[str, ...]:
    problems = []
    for name, apart, what in (
        ("baro_kpa", rules.baro_apart_kpa, "air outside, kPa"),
        ("intake_c", rules.intake_apart_c, "intake air, °C"),
    ):
        first, second = (_mean(columns, pull, name) for columns, pull in (before, after))
        if first is not None and second is not None and abs(first - second) > apart:
            problems.append(f"not quite alike: {what}: {first:.0f} before, {second:.0f} after")
    rates = [(pull.rpm_to - pull.rpm_from) / pull.seconds for _, pull in (before, after)]
    if np.isfinite(rates).all() and abs(rates[1] / rates[0] - 1) > rules.rise_apart:
        problems.append(
            f"the engine revs up by {rates[0]:.0f} rpm a second before and {rates[1]:.0f} after: "
            "another gear or slope, unless the repair made that much power"
        )
    return tuple(problems)


def _mean(columns: Columns, pull: Pull, name: str) -> float | None:
    values = columns.get(name, np.empty(0))[pull.start : pull.stop]
    values = values[np.isfinite(values)]
    return float(values.mean()) if len(values) else None
