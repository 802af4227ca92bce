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
    "KPA_PER_PSI",
    "SEA_LEVEL_KPA",
    "LocalPressure",
    "Outside",
    "boost_kpa",
    "geopotential_m",
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

LEAST_OUTSIDE, MOST_OUTSIDE = 45.0, 115.0
"""Beyond these no road has air: common practice, a little past the lowest and highest roads."""
MAP_CEILING = 255.0
"""Most that the one byte of PID 0B can say (SAE J1979)."""
HEIGHT_APART = 5.0
"""By how much a pressure and the height may differ with the engine off: from memory."""


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


def boost_kpa(map_kpa: Floats, local: LocalPressure) -> Floats:
    """Return gauge pressures of a column: (rows,), gaps stay gaps."""
    return map_kpa - local.kpa
