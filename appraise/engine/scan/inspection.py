"""The readiness gate of an emissions inspection: would the car be let through as it stands.

How many monitors may be incomplete is reference data, by jurisdiction, fuel and model year.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from appraise.engine.scan.monitors import CONTINUOUS, MonitorStatus
from appraise.engine.scan.readiness import Snapshot
from appraise.engine.scan.trouble_codes import parse_code
from appraise.errors import AppraiseError
from appraise.models.vehicle import Fuel
from appraise.reference.schema import Value

__all__ = [
    "Allowance",
    "Gate",
    "GateRules",
    "PermanentRule",
    "gate_rules",
    "inspection_gate",
    "jurisdictions",
]

PREFIX = "readiness."


@dataclass(frozen=True, slots=True)
class Allowance:
    """What may be incomplete from a model year on.

    Attributes
    ----------
    count : how many.
    only : which; any if empty.
    """

    from_year: int
    count: int
    only: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PermanentRule:
    """A permanent code fails from a model year on, but for enough driven since the clear."""

    from_year: int
    warm_ups: int
    distance_km: float


@dataclass(frozen=True, slots=True)
class GateRules:
    """The rules of one jurisdiction.

    Attributes
    ----------
    gasoline, diesel : by first model year, ascending; empty where none is known.
    catalyst_codes : first and last code after which the catalyst monitor has to be complete.
    used : ids of the reference values.
    """

    jurisdiction: str
    gasoline: tuple[Allowance, ...] = ()
    diesel: tuple[Allowance, ...] = ()
    catalyst_codes: tuple[str, str] | None = None
    permanent: PermanentRule | None = None
    used: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Gate:
    """Whether the car would be let through.

    Attributes
    ----------
    why : one sentence a reason.
    """

    result: Literal["passes", "fails", "cannot tell"]
    why: tuple[str, ...]


def jurisdictions(values: Mapping[str, Value]) -> tuple[str, ...]:
    """Return the jurisdictions that the reference values have a limit for."""
    names = {one.split(".")[1] for one in values if one.startswith(PREFIX)}
    return tuple(sorted(names))


def gate_rules(values: Mapping[str, Value], jurisdiction: str) -> GateRules:
    """Return the rules of a jurisdiction from the reference values.

    Raises
    ------
    AppraiseError
        No limit is known there.
    """
    known = jurisdictions(values)
    if jurisdiction not in known:
        raise AppraiseError(
            f"no readiness limit is known for {jurisdiction!r}", hint=f"Known: {', '.join(known)}"
        )
    start = f"{PREFIX}{jurisdiction}."
    tables = {
        value_id.removeprefix(start): value.table
        for value_id, value in values.items()
        if value_id.startswith(start) and value.table is not None
    }
    catalyst = tables.get("catalyst_code")
    permanent = tables.get("permanent")
    return GateRules(
        jurisdiction,
        gasoline=_allowances(tables.get("gasoline", {})),
        diesel=_allowances(tables.get("diesel", {})),
        catalyst_codes=(
            (f"P{int(catalyst['first']):04}", f"P{int(catalyst['last']):04}") if catalyst else None
        ),
        permanent=(
            PermanentRule(
                int(permanent["model_year"]), int(permanent["warm_ups"]), float(permanent["km"])
            )
            if permanent
            else None
        ),
        used=tuple(start + name for name in tables),
    )


def _allowances(table: Mapping[str, object]) -> tuple[Allowance, ...]:
    """Read keys like `2001` (any) and `2007.particulate_filter` (that one)."""
    counts: dict[int, int] = {}
    named: dict[int, list[str]] = {}
    for key, figure in table.items():
        year, _, monitor = key.partition(".")
        counts[int(year)] = counts.get(int(year), 0) + int(str(figure))
        if monitor:
            named.setdefault(int(year), []).append(monitor)
    return tuple(
        Allowance(year, counts[year], tuple(named.get(year, ()))) for year in sorted(counts)
    )


def _key(monitor: str) -> str:
    return monitor.casefold().replace(" ", "_")


def inspection_gate(
    model_year: int,
    fuel: Fuel,
    status: MonitorStatus | None,
    rules: GateRules,
    *,
    failed_for: Collection[str] = (),
    now: Snapshot | None = None,
) -> Gate:
    """Return whether the car would be let through, and why.

    Only monitors that the car has are counted, and not the continuous ones (from memory). The
    light commanded on for a code fails (40 CFR 85.2207); the check is PID 01 (40 CFR 85.2222).

    Parameters
    ----------
    model_year : of the car.
    fuel : of the car; whatever has spark plugs counts as gasoline.
    status : of PID 01.
    rules : of the jurisdiction.
    failed_for : codes that it failed for before; after some the catalyst has to be complete.
    now : permanent codes, warm-ups and distance, where the jurisdiction asks for them.
    """
    unread = _unread(fuel, status)
    if status is None or unread:
        return Gate("cannot tell", (unread,))
    fails: list[str] = []
    doubts: list[str] = []
    if status.light_on:
        fails.append("the malfunction light is commanded on")
    held = _held(model_year, fuel, rules)
    if held is None:
        words = f"{rules.jurisdiction}: no limit known for {fuel.value}, model year {model_year}"
        doubts.append(words)
    else:
        fails += _too_many(status, held)
    _after_catalyst_code(status, rules, failed_for, fails, doubts)
    _permanent(model_year, rules, now, fails, doubts)
    if fails:
        return Gate("fails", (*fails, *doubts))
    if doubts or held is None:
        return Gate("cannot tell", tuple(doubts))
    return Gate("passes", tuple(_passing(status, held)))


def _unread(fuel: Fuel, status: MonitorStatus | None) -> str:
    """Return why the status says nothing, or an empty string."""
    if fuel is Fuel.ELECTRIC:
        return "an electric car has no such monitors"
    if status is None:
        return "the monitors were not read"
    if status.light_on is None:
        return "this is the status of one drive: read PID 01"
    if (fuel is Fuel.DIESEL) != (status.ignition == "compression"):
        return f"the car says {status.ignition} ignition, and the fuel is {fuel.value}"
    if not any(one.supported for one in status.monitors):
        return "the car names no monitor at all: is the ignition on"
    return ""


def _held(model_year: int, fuel: Fuel, rules: GateRules) -> Allowance | None:
    table = rules.diesel if fuel is Fuel.DIESEL else rules.gasoline
    return next((one for one in reversed(table) if one.from_year <= model_year), None)


def _too_many(status: MonitorStatus, held: Allowance) -> Iterator[str]:
    open_ = status.counted
    if held.only:
        strange = [name for name in open_ if _key(name) not in held.only]
        if strange:
            allowed = ", ".join(one.replace("_", " ") for one in held.only)
            yield f"not complete: {', '.join(strange)}; only this may be: {allowed}"
    elif len(open_) > held.count:
        yield f"{len(open_)} not complete ({', '.join(open_)}); {held.count} may be"


def _after_catalyst_code(
    status: MonitorStatus,
    rules: GateRules,
    failed_for: Collection[str],
    fails: list[str],
    doubts: list[str],
) -> None:
    if rules.catalyst_codes is None:
        return
    first, last = rules.catalyst_codes
    owed = [code for code in map(parse_code, failed_for) if first <= code <= last]
    if not owed:
        return
    catalyst = status.find("catalyst")
    if catalyst is None or not catalyst.supported:
        doubts.append(f"after {owed[0]} the catalyst has to be complete; the car has no such")
    elif not catalyst.complete:
        fails.append(f"after {owed[0]} the catalyst has to be complete, whatever the count")


def _permanent(
    model_year: int, rules: GateRules, now: Snapshot | None, fails: list[str], doubts: list[str]
) -> None:
    rule = rules.permanent
    if rule is None or model_year < rule.from_year:
        return
    if now is None or now.permanent is None:
        doubts.append("permanent codes were not read, and one of them fails")
        return
    if not now.permanent:
        return
    names = ", ".join(map(parse_code, now.permanent))
    if now.warm_ups is None or now.distance_km is None:
        doubts.append(f"permanent code {names}: it hangs on warm-ups and distance, not read")
    elif now.warm_ups < rule.warm_ups or now.distance_km < rule.distance_km:
        fails.append(
            f"permanent code {names}, with {now.warm_ups} warm-ups and {now.distance_km:g} km "
            f"since the clear: {rule.warm_ups} and {rule.distance_km:g} are needed"
        )


def _passing(status: MonitorStatus, held: Allowance) -> Iterator[str]:
    open_ = status.counted
    allowed = ", ".join(one.replace("_", " ") for one in held.only) or str(held.count)
    names = f" ({', '.join(open_)})" if open_ else ""
    yield f"{len(open_)} not complete{names}; may be: {allowed}"
    late = [name for name in status.incomplete if name in CONTINUOUS]
    if late:
        yield f"not counted, though not complete: {', '.join(late)}"
