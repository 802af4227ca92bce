"""A data log as text: what it holds, its full-load pulls, and one pull over another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from appraise.engine.measure.full_load import Pull, find_pulls, overlay, plateau
from appraise.engine.measure.manifold import KPA_PER_PSI, LocalPressure
from appraise.errors import Problem, one_line

__all__ = ["LogView", "log_page"]

Columns = Mapping[str, NDArray[np.float64]]
STEPS = 8


@dataclass(frozen=True, slots=True)
class LogView:
    """A log as the page needs it."""

    name: str
    rows: int
    columns: Columns
    mapping: Mapping[str, str]
    problems: tuple[Problem, ...]
    local: LocalPressure


def log_page(log: LogView, rpm_from: float, rpm_to: float, before: LogView | None = None) -> str:
    """Return a log's pulls with their averages between two engine speeds, and one over another.

    Parameters
    ----------
    log : the log.
    rpm_from, rpm_to : range that the averages are taken over.
    before : a log from before the mend, to lay under this one.
    """
    lines = [f"{one_line(log.name)}: {log.rows:,} row{'' if log.rows == 1 else 's'}"]
    known = ", ".join(f"{name} ({one_line(head)})" for head, name in log.mapping.items() if name)
    lines.append(f"  columns known: {known or 'none'}")
    lines += [f"  ! {one_line(one.words)}" for one in log.problems]
    estimated = ", an estimate" if log.local.estimated else ""
    lines.append(f"  air outside: {log.local.kpa:.1f} kPa ({log.local.source.value}{estimated})")
    lines += [f"  ! {one}" for one in log.local.problems]
    found = find_pulls(log.columns)
    lines.append(f"  {found.why}")
    for number, pull in enumerate(found.pulls, start=1):
        lines += _pull(number, log, pull, rpm_from, rpm_to)
    if before is not None:
        lines += ["", *_over(before, log)]
    return "\n".join(lines)


def _pull(number: int, log: LogView, pull: Pull, rpm_from: float, rpm_to: float) -> list[str]:
    flat = plateau(log.columns, pull, log.local, rpm_from, rpm_to)
    seconds = "" if np.isnan(pull.seconds) else f", {pull.seconds:.1f} s"
    head = f"  pull {number}: {pull.rpm_from:,.0f} to {pull.rpm_to:,.0f} rpm{seconds}"
    if not flat.rows:
        return [f"{head}; no rows between {rpm_from:,.0f} and {rpm_to:,.0f} rpm"]
    parts = []
    if flat.boost_kpa is not None:
        parts.append(f"boost {flat.boost_kpa:.0f} kPa = {flat.boost_kpa / KPA_PER_PSI:.1f} psi")
    if flat.target_kpa is not None:
        parts.append(f"wanted {flat.target_kpa:.0f} kPa")
    if flat.short_kpa is not None:
        parts.append(f"short by {flat.short_kpa:.0f} kPa")
    if flat.lambda_ is not None:
        parts.append(f"lambda {flat.lambda_:.2f}")
    lines = [f"{head}; {rpm_from:,.0f} to {rpm_to:,.0f} rpm: {', '.join(parts) or 'no pressure'}"]
    if flat.clipped:
        lines.append("  ! the manifold sensor stands at its ceiling: more than it can show")
    return lines


def _over(before: LogView, after: LogView) -> list[str]:
    pulls = [find_pulls(one.columns).pulls for one in (before, after)]
    if not all(pulls):
        return ["before and after: one of the logs has no pull"]
    longest = [max(some, key=lambda pull: pull.rpm_to - pull.rpm_from) for some in pulls]
    name = "map_kpa" if "map_kpa" in after.columns else "boost_kpa"
    laid = overlay((before.columns, longest[0]), (after.columns, longest[1]), name)
    lines = [f"after over before, {name}:"]
    lines += [f"  ! {one}" for one in laid.problems]
    if laid.gain is None:
        return lines
    step = max(1, len(laid.rpm) // STEPS)
    lines.append(f"  {'rpm':>6} {'before':>7} {'after':>7}")
    lines += [
        f"  {rpm:>6,.0f} {first:>7.0f} {second:>7.0f}"
        for rpm, first, second in zip(
            laid.rpm[::step], laid.before[::step], laid.after[::step], strict=True
        )
    ]
    lines.append(f"  on average {laid.gain:+.0f} kPa = {laid.gain / KPA_PER_PSI:+.1f} psi")
    return lines
