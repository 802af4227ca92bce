"""A scan tool's raw answers as text."""

from __future__ import annotations

from appraise.engine.scan.inspection import Gate
from appraise.engine.scan.live_data import Reading
from appraise.engine.scan.readiness import ClearSign
from appraise.engine.scan.trouble_codes import Message
from appraise.errors import one_line

__all__ = ["answers_page", "reading_words"]


def reading_words(reading: Reading) -> str:
    """Return a live value in words, with what is to be known about it."""
    if reading.value is None:
        return reading.state
    value = f"{reading.value:g}" if isinstance(reading.value, float) else str(reading.value)
    said = "" if reading.state == "measured" else f" ({reading.state})"
    note = f"; {reading.note}" if reading.note else ""
    return f"{value} {reading.unit}".strip() + said + note


def answers_page(
    codes: tuple[Message, ...],
    readings: tuple[Reading, ...],
    cleared: ClearSign,
    gates: tuple[tuple[str, Gate], ...],
    notes: tuple[str, ...],
) -> str:
    """Return codes, live values, the sign of a recent clear and the inspections on one page."""
    lines = [f"{one.mode} codes: {', '.join(one.codes) or 'none'}" for one in codes]
    lines += [f"  {one.name:<44} {reading_words(one)}" for one in readings if one.value is not None]
    lines += ["", f"cleared not long ago: {cleared.result}"]
    lines += [f"  {one}" for one in cleared.why]
    if cleared.missing:
        lines.append(f"  not read: {', '.join(cleared.missing)}")
    lines += ["", "would be let through an inspection (check your State / country):"]
    lines += [
        f"  {name.replace('_', ' '):<14} {gate.result}: {'; '.join(gate.why)}"
        for name, gate in gates
    ]
    lines += [f"- {one_line(one)}" for one in notes]
    return "\n".join(lines)
