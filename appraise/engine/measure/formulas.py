"""The few measures that take some arithmetic before they are held against a limit.

Everything is in `Decimal`, so that a figure on a limit is on the limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from typing import Literal

__all__ = [
    "BATTERY_TABLE",
    "Charge",
    "Compression",
    "Result",
    "between",
    "compression",
    "days_to_half",
    "imbalance_percent",
    "leak_down_percent",
    "pedal_travel_percent",
    "side_slip",
    "state_of_charge",
    "stopping_deceleration",
    "toe_factor",
]

Result = Literal["passes", "fails", "cannot tell"]

BATTERY_TABLE = tuple(
    (Decimal(volts), Decimal(percent))
    for volts, percent in (
        ("11.89", 0),
        ("12.06", 25),
        ("12.24", 50),
        ("12.45", 75),
        ("12.65", 100),
    )
)
"""Rested open-circuit volts and percent at 26.7 °C, flooded: table of the Battery Council
International as its members print it."""
SURFACE_CHARGE = Decimal("12.9")
"""Above this a flooded battery has not rested or is on charge: from memory."""
REST_HOURS = Decimal(6)
"""Rest after a charge before a voltage says anything: common practice."""
EVEN, LEAST = Decimal(90), Decimal(75)
"""Lowest cylinder in percent of the highest: even above the first, worn below the second. Common
practice; the second from memory of makers' manuals."""
FEET_A_MILE = 5280


def between(left: tuple[Decimal, Decimal], right: tuple[Decimal, Decimal], at: Decimal) -> Decimal:
    """Return the height of a straight line at a place between two points."""
    return left[1] + (right[1] - left[1]) * (at - left[0]) / (right[0] - left[0])


def imbalance_percent(
    left: Decimal, right: Decimal, *, base: Literal["larger", "smaller"]
) -> Decimal:
    """Return the difference between two brake forces of one axle, in percent of one of them.

    49 CFR 570.5(d)(1) compares each wheel with the other: strictly read the smaller force is the
    base, which gives the larger figure. A wheel that does not brake at all is off by without end.

    Parameters
    ----------
    left, right : in one unit, not both nothing.
    base : which of the two the percentage is of; has to be said with the result.

    Examples
    --------
    >>> imbalance_percent(Decimal(1000), Decimal(800), base="smaller")
    Decimal('25')
    >>> imbalance_percent(Decimal(1000), Decimal(800), base="larger")
    Decimal('20')
    """
    low, high = sorted((left, right))
    if not low.is_finite() or not high.is_finite() or low < 0:
        raise ValueError("brake forces are numbers not below 0")
    if high == 0:
        raise ValueError("neither wheel brakes: there is no difference to speak of")
    under = high if base == "larger" else low
    return 100 * (high - low) / under if under else Decimal("Infinity")


def pedal_travel_percent(free: Decimal, left: Decimal) -> Decimal:
    """Return how much of its travel a pressed pedal has used: ``100 (free - left)/free``.

    Parameters
    ----------
    free : height of the pedal above the floor, let go.
    left : height left under the force of the test, in the same unit.
    """
    if not 0 <= left <= free or free == 0:
        raise ValueError("a pedal's height left lies between 0 and its free height, which is above")
    return 100 * (free - left) / free


@dataclass(frozen=True, slots=True)
class Charge:
    """How full a battery is.

    Attributes
    ----------
    percent : in [0, 100].
    marks : what makes the figure doubtful or worth a word; none if nothing does.
    """

    percent: Decimal
    marks: tuple[str, ...] = ()


def state_of_charge(
    volts: Decimal,
    hours_since_charge: Decimal | None = None,
    table: Sequence[tuple[Decimal, Decimal]] = BATTERY_TABLE,
) -> Charge:
    """Return the charge of a rested battery by straight lines between the points of a table.

    The voltage is not corrected for temperature: the voltage of an open circuit hardly moves.

    Parameters
    ----------
    volts : between the poles, nothing switched on.
    hours_since_charge : since the engine last ran or a charger was taken off; None if not known.
    table : (volts, percent) in ascending order; flooded unless another is given.

    Examples
    --------
    >>> round(state_of_charge(Decimal("12.33")).percent, 1)
    Decimal('60.7')
    """
    if not volts.is_finite() or volts < 0:
        raise ValueError("a battery's voltage is a number not below 0")
    marks = []
    if hours_since_charge is not None and hours_since_charge < REST_HOURS:
        marks.append(f"read within {REST_HOURS} h of a charge: may read high")
    (lowest, empty), (highest, full) = table[0], table[-1]
    if volts < lowest:
        return Charge(empty, ("flat", *marks))
    if volts > highest:
        if volts > SURFACE_CHARGE:
            marks.insert(0, "surface charge, or still charging")
        return Charge(full, tuple(marks))
    for left, right in pairwise(table):
        if volts <= right[0]:
            return Charge(between(left, right, volts), tuple(marks))
    return Charge(full, tuple(marks))


def days_to_half(capacity_ah: Decimal, draw_ma: Decimal) -> Decimal | None:
    """Return the days in which a steady draw takes half a full battery; None if nothing draws.

    ``capacity / 2 / draw / 24``; no battery gives its whole capacity when old, so it is a most.

    Examples
    --------
    >>> days_to_half(Decimal(60), Decimal(50))
    Decimal('25')
    """
    if capacity_ah <= 0 or draw_ma < 0:
        raise ValueError("a capacity is above 0 and a draw not below 0")
    return capacity_ah * 1000 / (2 * draw_ma * 24) if draw_ma else None


@dataclass(frozen=True, slots=True)
class Compression:
    """How even the cylinders of an engine are.

    Attributes
    ----------
    percent : lowest of highest.
    low_cylinders : numbers, from 1, of those below 90 % of the highest.
    result : passes from 90 % on, fails below 75 %, open between.
    """

    lowest: Decimal
    highest: Decimal
    percent: Decimal
    low_cylinders: tuple[int, ...]
    result: Result


def compression(readings: Sequence[Decimal]) -> Compression:
    """Return the lowest cylinder against the highest, with the lines at 90 and 75 %.

    Parameters
    ----------
    readings : one a cylinder in their order, in one unit, at least two.
    """
    if len(readings) < 2:  # noqa: PLR2004
        raise ValueError("two cylinders or more are compared")
    if not all(one.is_finite() and one >= 0 for one in readings) or max(readings) == 0:
        raise ValueError("compressions are numbers not below 0, and not all 0")
    lowest, highest = min(readings), max(readings)
    low = tuple(at for at, one in enumerate(readings, start=1) if one * 100 < EVEN * highest)
    result: Result = "passes" if not low else "cannot tell"
    if lowest * 100 < LEAST * highest:
        result = "fails"
    return Compression(lowest, highest, 100 * lowest / highest, low, result)


def leak_down_percent(supplied: Decimal, held: Decimal) -> Decimal:
    """Return how much of the air put into a cylinder leaks out: ``100 (supplied - held)/supplied``.

    Examples
    --------
    >>> leak_down_percent(Decimal(80), Decimal(60))
    Decimal('25')
    """
    if not 0 <= held <= supplied or supplied == 0:
        raise ValueError("the pressure held lies between 0 and the pressure supplied")
    return 100 * (supplied - held) / supplied


def toe_factor(measured: Decimal, makers: Decimal) -> Decimal:
    """Return measured toe as a multiple of the maker's, whichever way both point.

    49 CFR 570.7(d) allows 1.5 times; toe that points the other way than the maker's is not
    a multiple of it, and a maker's figure of nothing has none.
    """
    if makers == 0:
        raise ValueError("the maker's toe is 0: nothing is a multiple of it")
    if measured * makers < 0:
        raise ValueError("measured toe points the other way than the maker's")
    return measured / makers


def side_slip(toe: Decimal, tire_diameter: Decimal) -> Decimal:
    """Return feet of side-slip in a mile: ``5280 toe / diameter``, both in one unit.

    Meets rows 13 and 14 of the table in 49 CFR 570.7(d) exactly; its rows 15 and 16 are rounded.
    """
    if tire_diameter <= 0:
        raise ValueError("a tire's diameter is above 0")
    return FEET_A_MILE * toe / tire_diameter


def stopping_deceleration(speed_ms: Decimal, distance_m: Decimal) -> Decimal:
    """Return the mean deceleration of a stop in m/s²: ``v²/(2 s)``."""
    if distance_m <= 0:
        raise ValueError("a stop takes some distance")
    return speed_ms**2 / (2 * distance_m)
