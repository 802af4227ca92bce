"""Readiness monitors: the bits of PIDs 01 and 41.

A monitor that is complete shows that its test ran, not that the part is good.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from appraise.engine.scan.answers import BadAnswer

__all__ = ["CONTINUOUS", "Monitor", "MonitorStatus", "monitor_status"]

SINCE_CLEAR = 0x01
THIS_DRIVE = 0x41
STATUS_BYTES = 4

CONTINUOUS = ("misfire", "fuel system", "components")
"""Bits 0 to 2 of the second byte say supported, bits 4 to 6 not complete."""
SPARK = (
    "catalyst",
    "heated catalyst",
    "evaporative system",
    "secondary air",
    "",
    "oxygen sensor",
    "oxygen sensor heater",
    "EGR and VVT",
)
COMPRESSION = (
    "NMHC catalyst",
    "NOx aftertreatment",
    "",
    "boost pressure",
    "",
    "exhaust gas sensor",
    "particulate filter",
    "EGR and VVT",
)
"""Bits 0 to 7 of the third byte (supported) and the fourth (not complete); nameless is reserved."""


@dataclass(frozen=True, slots=True)
class Monitor:
    """One self-test of the car.

    Attributes
    ----------
    complete : None where the car has no such monitor.
    """

    name: str
    supported: bool
    complete: bool | None


@dataclass(frozen=True, slots=True)
class MonitorStatus:
    """What the car says about its light and its self-tests.

    Attributes
    ----------
    light_on : commanded on; None in a status of this drive, which does not say.
    confirmed : number of confirmed codes; None likewise.
    """

    light_on: bool | None
    confirmed: int | None
    ignition: Literal["spark", "compression"]
    monitors: tuple[Monitor, ...]

    @property
    def incomplete(self) -> tuple[str, ...]:
        """Monitors that the car has and has not completed."""
        return tuple(one.name for one in self.monitors if one.supported and not one.complete)

    @property
    def counted(self) -> tuple[str, ...]:
        """Those of the incomplete ones that are counted: not the continuous ones (from memory)."""
        return tuple(name for name in self.incomplete if name not in CONTINUOUS)

    def find(self, name: str) -> Monitor | None:
        """Return the monitor of that name, or None if this kind of engine has no such."""
        return next((one for one in self.monitors if one.name == name), None)


def monitor_status(data: bytes, pid: int = SINCE_CLEAR) -> MonitorStatus:
    """Return what the four bytes of PID 01 or 41 say; reserved bits are passed over.

    Bit order as in the open library `obd` 0.7.3 (decoders.py, codes.py). That 41 means "enabled"
    and "complete on this drive" is from memory.

    Raises
    ------
    AppraiseError
        As `BadAnswer`: another PID, or not four bytes.

    Examples
    --------
    >>> monitor_status(bytes.fromhex("00790303")).incomplete
    ('misfire', 'NMHC catalyst', 'NOx aftertreatment')
    """
    if pid not in (SINCE_CLEAR, THIS_DRIVE):
        raise BadAnswer(f"PID {pid:02X} is no monitor status: that is 01 or 41")
    if len(data) != STATUS_BYTES:
        raise BadAnswer(f"a monitor status has {STATUS_BYTES} data bytes, not {len(data)}")
    light, base, have, left = data
    compression = bool(base >> 3 & 1)
    bits = [(name, base >> at & 1, base >> at + 4 & 1) for at, name in enumerate(CONTINUOUS)]
    bits += [
        (name, have >> at & 1, left >> at & 1)
        for at, name in enumerate(COMPRESSION if compression else SPARK)
        if name
    ]
    since_clear = pid == SINCE_CLEAR
    return MonitorStatus(
        light_on=bool(light >> 7) if since_clear else None,
        confirmed=light & 0x7F if since_clear else None,
        ignition="compression" if compression else "spark",
        monitors=tuple(
            Monitor(name, bool(there), None if not there else not open_)
            for name, there, open_ in bits
        ),
    )
