"""What a scan tool's raw answers say: codes, live values, monitors, a recent clear, a mend."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace

from appraise.engine.scan.answers import BadAnswer
from appraise.engine.scan.inspection import Gate, gate_rules, inspection_gate, jurisdictions
from appraise.engine.scan.live_data import PidValue, Reading, decode_answer
from appraise.engine.scan.monitors import Monitor, MonitorStatus, monitor_status
from appraise.engine.scan.readiness import (
    ClearSign,
    Proof,
    Snapshot,
    Thresholds,
    mend_proved,
    recently_cleared,
)
from appraise.engine.scan.trouble_codes import Message, decode_messages
from appraise.errors import AppraiseError
from appraise.models.vehicle import Vehicle
from appraise.reference.load import Reference

__all__ = ["Scan", "judge_mend", "read_scan", "thresholds_of"]

MONITORS, WARM_UPS, DISTANCE, MINUTES = 0x01, 0x30, 0x31, 0x4E
OTHER_KIND = (
    "left out, no list of codes",
    "left out, no live data",
    "holds no list of codes",
    "holds no live data",
)
"""What one decoder says of the lines that the other takes."""

LAST_WITHOUT_PERMANENT = 2009
"""Permanent codes came in with model year 2010 (from memory)."""


@dataclass(frozen=True, slots=True)
class Scan:
    """Everything that a pasted text of raw answers says.

    Attributes
    ----------
    codes : lists of codes, by what they are.
    readings : live values by name.
    snapshot : what is needed to judge a clear and a mend.
    cleared : whether codes were cleared not long ago.
    gates : would the car be let through an inspection, by jurisdiction.
    notes : what was assumed or left out.
    """

    codes: tuple[Message, ...]
    readings: tuple[Reading, ...]
    snapshot: Snapshot
    cleared: ClearSign
    gates: tuple[tuple[str, Gate], ...]
    notes: tuple[str, ...]


def thresholds_of(reference: Reference) -> Thresholds:
    """Return what is few and what is many since a clear, as the reference values say."""
    given = {
        field.name: int(reference.values[f"cleared.{field.name}"].value or 0)
        for field in fields(Thresholds)
    }
    return Thresholds(**given)


def read_scan(text: str, car: Vehicle, reference: Reference) -> Scan:
    """Return what the raw answers in a text say about a car.

    Parameters
    ----------
    text : answers of modes 01, 02, 03, 07 and 0A as a scan tool prints them, in any order.
    car : for its model year and fuel.
    reference : thresholds and the rules of inspections.

    Raises
    ------
    AppraiseError
        There is no answer in the text that can be read.
    """
    codes, more = _codes(text)
    values, notes = _values(text)
    if not codes and not values:
        raise BadAnswer("holds no answer that can be read", hint="Paste lines such as 41 01 00 07")
    snapshot, units = _snapshot(codes, values, car)
    gates = tuple(
        (
            name,
            inspection_gate(
                car.model_year,
                car.fuel,
                snapshot.status,
                gate_rules(reference.values, name),
                now=snapshot,
            ),
        )
        for name in jurisdictions(reference.values)
    )
    return Scan(
        codes=codes,
        readings=tuple(reading for one in values for reading in one.readings),
        snapshot=snapshot,
        cleared=recently_cleared(snapshot, thresholds_of(reference)),
        gates=gates,
        notes=tuple(
            one for one in dict.fromkeys((*more, *notes, *units)) if not one.startswith(OTHER_KIND)
        ),
    )


def judge_mend(
    codes: Iterable[str], at_clear: Scan | None, now: Scan, reference: Reference
) -> tuple[tuple[str, Proof], ...]:
    """Return for each code whether the car's own test has shown its mend to hold.

    Parameters
    ----------
    codes : the codes mended.
    at_clear : as read right after clearing; None if nothing was.
    now : as read after driving.
    """
    before = at_clear.snapshot if at_clear else None
    limits = thresholds_of(reference)
    out = []
    for code in codes:
        group = reference.group_of_code.get(code)
        monitor = group.monitor if group else ""
        out.append((code, mend_proved([code], monitor, before, now.snapshot, limits=limits)))
    return tuple(out)


def _codes(text: str) -> tuple[tuple[Message, ...], tuple[str, ...]]:
    try:
        messages = decode_messages(text)
    except AppraiseError as error:
        return (), (_unread(error),)
    return messages, tuple(note for one in messages for note in one.notes)


def _values(text: str) -> tuple[tuple[PidValue, ...], tuple[str, ...]]:
    try:
        live = decode_answer(text)
    except AppraiseError as error:
        return (), (_unread(error),)
    return live.values, live.notes


def _unread(error: AppraiseError) -> str:
    """Return what a decoder could not read; of the other's lines it says so in its own words."""
    words = error.message
    return words if words.startswith(OTHER_KIND) else f"not read: {words}"


def _snapshot(
    codes: tuple[Message, ...], values: tuple[PidValue, ...], car: Vehicle
) -> tuple[Snapshot, tuple[str, ...]]:
    """Return what is needed to judge a clear, over all control units that answered, with notes."""
    lists = {one.mode: one.codes for one in codes}
    live = [one for one in values if one.frame is None]
    answers = [one for one in live if one.pid == MONITORS]

    def least(pid: int) -> float | None:
        """Return the smallest: what one control unit counts since its own clear."""
        found = [one.readings[0].value for one in live if one.pid == pid]
        return min((one for one in found if isinstance(one, float)), default=None)

    warm_ups, minutes = least(WARM_UPS), least(MINUTES)
    snapshot = Snapshot(
        status=_joined(answers),
        stored=lists.get("confirmed"),
        pending=lists.get("pending"),
        permanent=lists.get("permanent"),
        warm_ups=None if warm_ups is None else int(warm_ups),
        distance_km=least(DISTANCE),
        minutes=None if minutes is None else int(minutes),
        keeps_permanent=car.model_year > LAST_WITHOUT_PERMANENT,
    )
    many = len({one.source for one in answers}) > 1
    note = "the monitors of several control units are put together: one open in any is open"
    return snapshot, (note,) if many else ()


def _joined(answers: list[PidValue]) -> MonitorStatus | None:
    """Return the monitors of all control units as one: open in any is open, any light is the light.

    The kind of ignition is that of the unit with most monitors, which is the engine's; a unit of
    the other kind of bits says nothing of monitors that the engine does not have.
    """
    if not answers:
        return None
    units = [monitor_status(one.data) for one in {one.source: one for one in answers}.values()]
    main = max(units, key=lambda one: sum(monitor.supported for monitor in one.monitors))
    return replace(
        main,
        light_on=any(one.light_on for one in units),
        confirmed=sum(one.confirmed or 0 for one in units),
        monitors=tuple(
            _worst([other for one in units if (other := one.find(monitor.name)) is not None])
            for monitor in main.monitors
        ),
    )


def _worst(same: list[Monitor]) -> Monitor:
    there = [one for one in same if one.supported]
    return next((one for one in there if not one.complete), there[0] if there else same[0])
