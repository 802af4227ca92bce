"""What the live values of an engine's computer mean: the formulas of mode 01, as a table."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from appraise.reference.load import shipped_list
from appraise.reference.schema import Pid, Pids

__all__ = ["enumeration", "pids"]


@lru_cache(maxsize=1)
def _shipped() -> Pids:
    return shipped_list("pids", Pids)


@lru_cache(maxsize=1)
def pids() -> Mapping[int, Pid]:
    """Return every PID that is read by formula; bits and lists stand in `live_data`."""
    return {one.number: one for one in _shipped().pid}


def enumeration(pid: int) -> Mapping[int, str]:
    """Return what the numbers of PID 03 (fuel system), 1C (standard) or 51 (fuel) say."""
    shipped = _shipped()
    lists = {0x03: shipped.fuel_system, 0x1C: shipped.standard, 0x51: shipped.fuel_type}
    return {one.value: one.words for one in lists[pid]}
