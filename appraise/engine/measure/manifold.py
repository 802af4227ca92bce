"""Manifold pressure against the air outside: boost, vacuum, and what makes a reading doubtful.

A weather service's pressure is reduced to sea level and has no place here: the air outside is what
the car itself logged, or what the standard atmosphere gives at the height of the place.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "KPA_PER_INHG",
    "KPA_PER_PSI",
    "SEA_LEVEL_KPA",
    "Boost",
    "LocalPressure",
    "Outside",
    "boost",
    "boost_kpa",
    "geopotential_m",
    "key_on_problems",
    "local_pressure",
    "standard_pressure_kpa",
]

Floats = NDArray[np.float64]

SEA_LEVEL_KPA = 101.325
SEA_LEVEL_KELVIN = 288.15
LAPSE = 0.0065
EXPONENT = 9.80665 * 0.0289644 / (8.31432 * LAPSE)
"""g M/(R L) = 5.255876 (U.S. Standard Atmosphere 1976, the same as ISO 2533 below 11 km)."""
EARTH_RADIUS_M = 6_356_766.0
LOWEST_M, HIGHEST_M = -2000.0, 11_000.0
"""Where ISO 2533 begins, and where its lapse rate ends."""

KPA_PER_PSI = 4.4482216152605 / 0.0254**2 / 1000
"""6.894757 (NIST SP 811, appendix B.8), from the exact pound-force and inch."""
KPA_PER_INHG = 133.322387415 * 25.4 / 1000
"""3.386389, the conventional inch of mercury (NIST SP 811, appendix B.8)."""

LEAST_OUTSIDE, MOST_OUTSIDE = 45.0, 115.0
"""Beyond these no road has air: common practice, a little past the lowest and highest roads."""
MAP_CEILING = 255.0
"""Most that the one byte of PID 0B can say (SAE J1979)."""
KEY_ON_APART = 3.0
HEIGHT_APART = 5.0
"""By how much manifold and barometer, and either and the height, may differ with the engine off:
from memory."""


class Outside(StrEnum):
    """Where the pressure of the air outside comes from."""

    LOGGED = "barometer logged by the car"
    KEY_ON = "manifold pressure with key on, engine off"
    HEIGHT = "standard atmosphere at the height of the place"
    SEA_LEVEL = "standard atmosphere at sea level"


@dataclass(frozen=True, slots=True)
class LocalPressure:
    """The air outside.

    Attributes
    ----------
    kpa : absolute.
    estimated : whether it was not measured on the day.
    problems : what is odd about it, each a sentence.
    """

    kpa: float
    source: Outside
    estimated: bool
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Boost:
    """Manifold pressure over the air outside; below nothing it is vacuum.

    Attributes
    ----------
    kpa : gauge.
    ratio : absolute over absolute.
    estimated : whether the air outside is.
    clipped : whether the sensor's message may have reached its ceiling: then it is a least.
    problems : what makes the figure doubtful, each a sentence.
    """

    kpa: float
    ratio: float
    estimated: bool
    clipped: bool
    problems: tuple[str, ...] = ()

    @property
    def psi(self) -> float:
        """Gauge, in psi."""
        return self.kpa / KPA_PER_PSI

    @property
    def bar(self) -> float:
        """Gauge, in bar."""
        return self.kpa / 100

    @property
    def vacuum_inhg(self) -> float:
        """Vacuum in inches of mercury, nothing when the manifold is above the air outside."""
        return max(0.0, -self.kpa / KPA_PER_INHG)


def geopotential_m(height_m: float) -> float:
    """Return the geopotential height of a height on a map: ``r z/(r + z)``."""
    return EARTH_RADIUS_M * height_m / (EARTH_RADIUS_M + height_m)


def standard_pressure_kpa(geopotential: float) -> float:
    """Return the pressure of the standard atmosphere: ``101.325 (1 - 0.0065 h/288.15)^5.255876``.

    ISO 2533, the same as the U.S. Standard Atmosphere 1976 below 11 km.

    Parameters
    ----------
    geopotential : meters, from -2,000 to 11,000.

    Examples
    --------
    >>> round(standard_pressure_kpa(0.0), 3)
    101.325
    """
    if not LOWEST_M <= geopotential <= HIGHEST_M:
        raise ValueError("a height for the standard atmosphere lies between -2,000 and 11,000 m")
    return float(SEA_LEVEL_KPA * (1 - LAPSE * geopotential / SEA_LEVEL_KELVIN) ** EXPONENT)


def local_pressure(
    *,
    logged_kpa: float | None = None,
    key_on_kpa: float | None = None,
    height_m: float | None = None,
) -> LocalPressure:
    """Return the air outside from the best that there is.

    The car's own barometer; else its manifold sensor with key on and engine off; else the standard
    atmosphere at the height of the place; else that at sea level. The last two are estimates.

    Parameters
    ----------
    logged_kpa : barometer of the car, absolute (PID 33); never a weather service's.
    key_on_kpa : manifold pressure with the engine standing, absolute.
    height_m : of the place above the sea, as a map gives it.
    """
    by_height = None if height_m is None else standard_pressure_kpa(geopotential_m(height_m))
    problems = []
    for kpa, source in ((logged_kpa, Outside.LOGGED), (key_on_kpa, Outside.KEY_ON)):
        if kpa is None:
            continue
        if not LEAST_OUTSIDE <= kpa <= MOST_OUTSIDE:
            problems.append(f"{source.value}: {kpa:g} kPa cannot be; it is left out")
            continue
        if by_height is not None and abs(kpa - by_height) > HEIGHT_APART:
            problems.append(
                f"{source.value}: {kpa:g} kPa, while {height_m:g} m gives {by_height:.1f} kPa; a "
                "weather service's pressure, reduced to sea level, does not belong here"
            )
        return LocalPressure(kpa, source, estimated=False, problems=tuple(problems))
    if by_height is not None:
        return LocalPressure(by_height, Outside.HEIGHT, estimated=True, problems=tuple(problems))
    return LocalPressure(SEA_LEVEL_KPA, Outside.SEA_LEVEL, estimated=True, problems=tuple(problems))


def boost(map_kpa: float, local: LocalPressure, *, wide_range: bool = False) -> Boost:
    """Return manifold pressure less the air outside, both absolute.

    Parameters
    ----------
    map_kpa : absolute.
    local : the air outside.
    wide_range : whether the reading comes from a message that goes beyond 255 kPa (PID 70, 87, a
        maker's own); otherwise a reading at that ceiling is marked as possibly clipped.

    Examples
    --------
    >>> round(boost(172.0, local_pressure(logged_kpa=101.0)).psi, 2)
    10.3
    """
    if not np.isfinite(map_kpa) or map_kpa < 0:
        raise ValueError("an absolute pressure is a number not below 0")
    clipped = not wide_range and map_kpa >= MAP_CEILING
    problems = list(local.problems)
    if local.estimated:
        problems.append(f"the air outside is an estimate: {local.source.value}")
    if clipped:
        problems.append(f"{map_kpa:g} kPa is the most that this reading can say: it may be higher")
    return Boost(
        map_kpa - local.kpa, map_kpa / local.kpa, local.estimated, clipped, tuple(problems)
    )


def boost_kpa(map_kpa: Floats, local: LocalPressure) -> Floats:
    """Return gauge pressures of a column: (rows,), gaps stay gaps."""
    return map_kpa - local.kpa


def key_on_problems(
    map_kpa: float, baro_kpa: float | None = None, height_m: float | None = None
) -> tuple[str, ...]:
    """Return what is odd about the pressures with key on and engine off, each a sentence.

    Manifold and barometer agree within 3 kPa, and both with the height within 5: from memory.

    Parameters
    ----------
    map_kpa, baro_kpa : absolute.
    height_m : of the place above the sea, as a map gives it.
    """
    problems = []
    if baro_kpa is not None and abs(map_kpa - baro_kpa) > KEY_ON_APART:
        problems.append(
            f"manifold {map_kpa:g} and barometer {baro_kpa:g} kPa differ by more than "
            f"{KEY_ON_APART:g} kPa with the engine off: one of the sensors is wrong"
        )
    if height_m is not None:
        expected = standard_pressure_kpa(geopotential_m(height_m))
        for name, kpa in (("manifold", map_kpa), ("barometer", baro_kpa)):
            if kpa is not None and abs(kpa - expected) > HEIGHT_APART:
                problems.append(
                    f"{name} {kpa:g} kPa is more than {HEIGHT_APART:g} kPa off the "
                    f"{expected:.1f} kPa of {height_m:g} m"
                )
    return tuple(problems)
