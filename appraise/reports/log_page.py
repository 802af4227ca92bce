"""A data log as text: what it holds, its full-load pulls, and one pull over another."""

from __future__ import annotations

import numpy as np

from appraise.engine.measure.full_load import Overlay, Plateau, Pull
from appraise.engine.measure.logged import LoggedPulls
from appraise.engine.measure.manifold import KPA_PER_PSI
from appraise.errors import one_line

__all__ = ["log_page"]

STEPS = 8


def log_page(found: LoggedPulls) -> str:
    """Return a log's pulls with their averages between two engine speeds, and one over another."""
    log = found.log
    lines = [f"{one_line(log.name)}: {log.rows:,} row{'' if log.rows == 1 else 's'}"]
    known = ", ".join(f"{name} ({one_line(head)})" for head, name in log.mapping.items() if name)
    lines.append(f"  columns known: {known or 'none'}")
    lines += [f"  ! {one_line(one.words)}" for one in log.problems]
    estimated = ", an estimate" if log.local.estimated else ""
    lines.append(f"  air outside: {log.local.kpa:.1f} kPa ({log.local.source.value}{estimated})")
    lines += [f"  ! {one}" for one in log.local.problems]
    lines.append(f"  {found.why}")
    for number, (pull, flat) in enumerate(found.pulls, start=1):
        lines += _pull(number, pull, flat, f"{found.rpm_from:,.0f} to {found.rpm_to:,.0f} rpm")
    if found.compared:
        lines += ["", *_over(found.over, found.column)]
    return "\n".join(lines)


def _pull(number: int, pull: Pull, flat: Plateau, rpm: str) -> list[str]:
    seconds = "" if np.isnan(pull.seconds) else f", {pull.seconds:.1f} s"
    head = f"  pull {number}: {pull.rpm_from:,.0f} to {pull.rpm_to:,.0f} rpm{seconds}"
    if not flat.rows:
        return [f"{head}; no rows between {rpm.replace(' to ', ' and ')}"]
    parts = []
    if flat.boost_kpa is not None:
        parts.append(f"boost {flat.boost_kpa:.0f} kPa = {flat.boost_kpa / KPA_PER_PSI:.1f} psi")
    if flat.target_kpa is not None:
        parts.append(f"wanted {flat.target_kpa:.0f} kPa")
    if flat.short_kpa is not None:
        parts.append(f"short by {flat.short_kpa:.0f} kPa")
    if flat.lambda_ is not None:
        parts.append(f"lambda {flat.lambda_:.2f}")
    lines = [f"{head}; {rpm}: {', '.join(parts) or 'no pressure'}"]
    if flat.clipped:
        lines.append("  ! the manifold sensor stands at its ceiling: more than it can show")
    return lines


def _over(laid: Overlay | None, column: str) -> list[str]:
    if laid is None:
        return ["before and after: one of the logs has no pull"]
    lines = [f"after over before, {column}:"]
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
