"""Readiness: were codes cleared lately, and does the car's own test prove a mend.

A monitor that is not complete shows no intent: a flat battery and a proper repair leave the same.
Missing data give `unknown`, never a clean bill.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from typing import Literal

from appraise.engine.scan.monitors import CONTINUOUS, Monitor, MonitorStatus, monitor_status
from appraise.engine.scan.trouble_codes import parse_code

__all__ = [
    "CONTINUOUS",
    "ClearSign",
    "Monitor",
    "MonitorStatus",
    "Proof",
    "Snapshot",
    "Thresholds",
    "mend_proved",
    "monitor_status",
    "recently_cleared",
]

WORDS = "cleared or battery disconnected"


@dataclass(frozen=True, slots=True)
class Thresholds:
    """What is few and what is many since a clear; all common practice, from memory.

    Attributes
    ----------
    few_warm_ups : at most these are few.
    few_km, few_minutes : less than these is little; the minutes are about what the km take.
    many_warm_ups, many_km : more than these is no recent clear.
    several : incomplete monitors from which on they say something.
    good_drives : warm-ups that a continuous monitor has to go through without its code.
    """

    few_warm_ups: int = 5
    few_km: int = 160
    few_minutes: int = 180
    many_warm_ups: int = 30
    many_km: int = 500
    several: int = 2
    good_drives: int = 3


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What was read from a car at one time; None is not read.

    Attributes
    ----------
    status : PID 01, not 41.
    stored, pending, permanent : codes of modes 03, 07 and 0A.
    warm_ups, distance_km, minutes : since codes were cleared; PIDs 30, 31 and 4E.
    keeps_permanent : False for a car that has no permanent codes at all, being too old for them.
    """

    status: MonitorStatus | None = None
    stored: tuple[str, ...] | None = None
    pending: tuple[str, ...] | None = None
    permanent: tuple[str, ...] | None = None
    warm_ups: int | None = None
    distance_km: float | None = None
    minutes: int | None = None
    keeps_permanent: bool = True


@dataclass(frozen=True, slots=True)
class ClearSign:
    """Whether codes were cleared, or the battery was off, not long ago.

    Attributes
    ----------
    why : one sentence a sign.
    missing : what was not read and could tell more.
    """

    result: Literal["strong sign", "sign", "no sign", "unknown"]
    why: tuple[str, ...]
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Proof:
    """Whether a mend is proved by the car's own test."""

    result: Literal["proved", "not proved", "unknown"]
    why: tuple[str, ...]


# --- cleared lately -------------------------------------------------------------------------------


@dataclass(slots=True)
class _Counters:
    """What the counters since a clear say together."""

    small: list[str] = field(default_factory=list)
    large: list[str] = field(default_factory=list)
    between: bool = False

    def take(self, value: float, what: str, *, few: bool, many: bool | None) -> None:
        words = f"{value:g} {what}"
        if few:
            self.small.append(words)
        elif many:
            self.large.append(words)
        elif many is not None:
            self.between = True


def _counters(seen: Snapshot, limits: Thresholds) -> _Counters:
    out = _Counters()
    if seen.warm_ups is not None:
        few, many = seen.warm_ups <= limits.few_warm_ups, seen.warm_ups > limits.many_warm_ups
        out.take(seen.warm_ups, "warm-ups", few=few, many=many)
    if seen.distance_km is not None:
        few, many = seen.distance_km < limits.few_km, seen.distance_km > limits.many_km
        out.take(seen.distance_km, "km", few=few, many=many)
    if seen.minutes is not None:
        few = seen.minutes < limits.few_minutes
        out.take(seen.minutes, "reported minutes", few=few, many=None)
    return out


def recently_cleared(seen: Snapshot, limits: Thresholds | None = None) -> ClearSign:
    """Return whether codes were cleared, or the battery disconnected, not long ago.

    A permanent code without its stored one is the strongest sign. Else: no codes, light off and
    several monitors not complete; or few warm-ups, km or minutes since the clear. Many of them
    with monitors still open is no recent clear: those monitors cannot run.

    Parameters
    ----------
    seen : what was read.
    limits : what is few and what is many; the usual ones if left out.
    """
    limits = limits or Thresholds()
    missing = tuple(_unread(seen))
    unproved = _unproved(seen)
    counters = _counters(seen, limits)
    why = []
    if unproved:
        why.append(
            f"permanent code {', '.join(unproved)} without a stored one: {WORDS}, "
            "and the repair not proved since"
        )
    if counters.small:
        why.append(f"only {', '.join(counters.small)} since: {WORDS} not long ago")
        if counters.large:
            why.append(f"yet {', '.join(counters.large)}: the counters do not agree")
    long_ago = counters.large and not counters.small and not counters.between
    open_ = seen.status.counted if seen.status else ()
    if _quiet(seen) and len(open_) >= limits.several:
        if long_ago:
            far = ", ".join(counters.large)
            left = ", ".join(open_)
            why.append(f"{far} since, and still not complete: {left}; something keeps them off")
        else:
            why.append(
                f"no codes and the light off, but not complete: {', '.join(open_)}; "
                f"{WORDS} not long ago, or never driven so that they could run"
            )
    if unproved:
        return ClearSign("strong sign", tuple(why), missing)
    if counters.small or (_quiet(seen) and len(open_) >= limits.several and not long_ago):
        return ClearSign("sign", tuple(why), missing)
    if missing:
        return ClearSign("unknown", (*why, f"not read: {', '.join(missing)}"), missing)
    return ClearSign("no sign", (*why, "nothing that was read points to a recent clear"))


def _unread(seen: Snapshot) -> Iterator[str]:
    if seen.status is None or seen.status.light_on is None:
        yield "monitors and light (PID 01)"
    if seen.stored is None:
        yield "stored codes (mode 03)"
    if seen.permanent is None and seen.keeps_permanent:
        yield "permanent codes (mode 0A)"
    if seen.warm_ups is None:
        yield "warm-ups since the clear (PID 30)"
    if seen.distance_km is None:
        yield "distance since the clear (PID 31)"


def _unproved(seen: Snapshot) -> list[str]:
    """Return the permanent codes that are not stored; a count of nothing stands for no list."""
    stored = seen.stored
    if stored is None and seen.status is not None and seen.status.confirmed == 0:
        stored = ()
    if seen.permanent is None or stored is None:
        return []
    there = {parse_code(one) for one in stored}
    return [code for code in map(parse_code, seen.permanent) if code not in there]


def _quiet(seen: Snapshot) -> bool:
    """Whether the light is off and there is no code, by the list or else by the count."""
    if seen.status is None or seen.status.light_on is not False or seen.status.confirmed:
        return False
    return not seen.stored


# --- a mend proved --------------------------------------------------------------------------------


def mend_proved(
    codes: Collection[str],
    monitor: str,
    at_clear: Snapshot | None,
    now: Snapshot,
    *,
    bypass_open: bool = False,
    limits: Thresholds | None = None,
) -> Proof:
    """Return whether the car's own test has shown that a mend holds.

    Proved only if the monitor that owns the code was seen not complete right after the clear, is
    complete now, and none of the codes is stored, pending or permanent. A continuous monitor is
    complete at once; it has to go through some warm-ups instead. A clear alone, or the light
    going out alone, proves nothing.

    Parameters
    ----------
    codes : the code mended, and any other that the same monitor owns.
    monitor : the monitor that owns it; empty if none does.
    at_clear : as read right after clearing.
    now : as read after driving.
    bypass_open : an emission control is by-passed for a test; nothing is proved meanwhile.
    limits : the usual ones if left out.
    """
    wanted = [parse_code(one) for one in codes]
    no = tuple(_against(wanted, monitor, at_clear, now, limits or Thresholds()))
    if bypass_open:
        no = ("an emission control is by-passed: put it back first", *no)
    if no:
        return Proof("not proved", no)
    doubts = tuple(_doubts(wanted, monitor, at_clear, now))
    if doubts:
        return Proof("unknown", doubts)
    return Proof("proved", (f"{monitor} ran to its end since the clear, and no code came back",))


def _against(
    codes: list[str], monitor: str, at_clear: Snapshot | None, now: Snapshot, limits: Thresholds
) -> Iterator[str]:
    """Say what speaks against it, of what was read."""
    lists = (("stored", now.stored), ("pending", now.pending), ("permanent", now.permanent))
    for name, there in lists:
        back = set(codes) & {parse_code(one) for one in there or ()}
        if back:
            yield f"{', '.join(sorted(back))} is {name}"
    found = now.status.find(monitor) if now.status else None
    if found is not None and found.complete is False:
        yield f"{monitor} has not run to its end since the clear"
    few = now.warm_ups is not None and now.warm_ups < limits.good_drives
    if monitor in CONTINUOUS and few:
        yield f"only {now.warm_ups} warm-ups since the clear: {limits.good_drives} are needed"
    if at_clear is None:
        return
    for before, after, what in (
        (at_clear.warm_ups, now.warm_ups, "warm-ups"),
        (at_clear.distance_km, now.distance_km, "distance"),
    ):
        if before is not None and after is not None and after < before:
            yield f"the {what} count went back: {WORDS} again, start over"


def _doubts(
    codes: list[str], monitor: str, at_clear: Snapshot | None, now: Snapshot
) -> Iterator[str]:
    """Say what would have to be known and is not."""
    if not codes:
        yield "no code is named: there is nothing for the car to test"
    if not monitor:
        yield "no monitor owns the code: prove the repair by measuring"
        return
    if at_clear is None or at_clear.status is None:
        yield "the monitors were not read right after the clear"
    elif monitor not in CONTINUOUS and monitor not in at_clear.status.incomplete:
        yield f"{monitor} was not seen reset by the clear"
    yield from _doubts_now(monitor, now)


def _doubts_now(monitor: str, now: Snapshot) -> Iterator[str]:
    if now.status is None or now.status.light_on is None:
        yield "the monitors were not read since (PID 01)"
    elif not any(one.supported for one in now.status.monitors if one.name == monitor):
        yield f"the car has no monitor {monitor}: prove the repair by measuring"
    elif (now.status.light_on or now.status.confirmed) and not now.stored:
        yield "the light is on or a code is counted, though none was read"
    if now.stored is None or now.pending is None:
        yield "stored or pending codes were not read"
    if now.permanent is None and now.keeps_permanent:
        yield "permanent codes were not read"
    if monitor in CONTINUOUS and now.warm_ups is None:
        yield "warm-ups since the clear were not read (PID 30)"
