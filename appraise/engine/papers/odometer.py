"""What a car's odometer readings say together: falls, jumps and what may explain them.

Simple reasons come before fraud: the wrong unit, tenths read as whole, an old odometer that began
again at nought. A reason that fits is a question to settle, no proof that nothing was turned back.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Literal

from appraise.errors import AppraiseError, Problem
from appraise.models.vehicle import FURTHEST, KM_PER_MILE

__all__ = [
    "CHECK",
    "PRACTICE",
    "History",
    "Rates",
    "Reading",
    "Reason",
    "Sign",
    "Unit",
    "below",
    "history",
    "possible_year",
    "whole",
]

Unit = Literal["mi", "km"]
Kind = Literal["fall", "jump", "impossible", "same day", "future day", "before the car", "value"]
SignKind = Kind | Literal["no unit", "title"]
Reason = Literal["unit", "tenths", "roll-over", ""]

CHECK = "Check your State or country."
LAW_SECTION = "49 U.S.C. 32703(2), 49 CFR 580.5(e)"
PRACTICE = "common practice"
ROLL = 100_000
MOST = 200
FIVE_DIGITS = 5
FIRST_CAR, LAST_CAR = 1886, 2100
"""Between which years a model year may lie, as in the model of a vehicle."""
AHEAD = 2
"""Years that a model year may lie ahead of the calendar: common practice, one and one to spare."""


@dataclass(frozen=True, slots=True)
class Rates:
    """What is much and what cannot be; all common practice, from memory.

    Attributes
    ----------
    much_km_a_year : above this rate between two readings it is a jump.
    most_km_a_day : above this rate it cannot have been driven: two drivers, day and night.
    apart_days : a rate by the year is judged only over at least so many days.
    same_day_km : readings of one day up to so far apart are a drive or a rounding.
    slip_km : a fall up to this is a slip of the pen or an estimate.
    five_digits_to : last model year in which an odometer of five digits is likely.
    """

    much_km_a_year: Decimal = Decimal(80_000)
    most_km_a_day: Decimal = Decimal(2_000)
    apart_days: int = 60
    same_day_km: Decimal = Decimal(300)
    slip_km: Decimal = Decimal(50)
    five_digits_to: int = 1995


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading as it was written down.

    Attributes
    ----------
    value : in `unit`; a fraction is not carried on (49 CFR 580.5(c)(1)).
    unit : None if the paper does not say.
    source : where it was read: title, inspection, invoice, photograph.
    tenths : whether the last digit, written without a point, is a tenth.
    """

    day: date
    value: Decimal
    unit: Unit | None = None
    source: str = ""
    tenths: bool = False

    @property
    def words(self) -> str:
        """The reading on one line."""
        place = f", {self.source}" if self.source else ""
        return f"{whole(self):,} {self.unit or '(no unit)'} on {self.day.isoformat()}{place}"


@dataclass(frozen=True, slots=True)
class Sign:
    """What is odd about one reading or two.

    Attributes
    ----------
    readings : the one or two that it speaks of.
    reason : a simple one that would make it vanish; empty if none is found.
    message : what is seen.
    means : what that says.
    to_do : what would settle it.
    """

    kind: SignKind
    readings: tuple[Reading, ...]
    message: str
    means: str
    to_do: str
    section: str = PRACTICE
    weight: Literal["stop", "warning", "note"] = "warning"
    reason: Reason = ""

    @property
    def problem(self) -> Problem:
        """The same as a problem of a case."""
        text = f"{self.message}: {self.means} ({self.section})"
        return Problem("odometer", text, self.weight, f"{self.to_do} {CHECK}")


@dataclass(frozen=True, slots=True)
class History:
    """Readings by day, those that can be compared, and what is odd about them.

    Attributes
    ----------
    readings : ordered, each with a unit; those that cannot be are left out.
    """

    readings: tuple[Reading, ...]
    signs: tuple[Sign, ...]


# --- readings -------------------------------------------------------------------------------------


def whole(reading: Reading) -> int:
    """Return the reading without tenths (49 CFR 580.5(c)(1)).

    Examples
    --------
    >>> whole(Reading(date(2024, 5, 1), Decimal("87654.3"), "mi"))
    87654
    >>> whole(Reading(date(2024, 5, 1), Decimal(876543), "mi", tenths=True))
    87654
    """
    return int(reading.value / 10) if reading.tenths else int(reading.value)


def possible_year(model_year: int, on: date) -> bool:
    """Return whether a car may be of a model year on a day."""
    return FIRST_CAR <= model_year <= min(on.year + AHEAD, LAST_CAR)


def _unit_km(reading: Reading) -> Decimal:
    return KM_PER_MILE if reading.unit == "mi" else Decimal(1)


def _km(reading: Reading) -> Decimal:
    return whole(reading) * _unit_km(reading)


def below(one: Reading, other: Reading) -> bool:
    """Return whether a reading is below another for sure.

    What stands on an odometer is cut to whole units, so `one` may be up to a unit more.
    """
    return _km(one) + _unit_km(one) <= _km(other)


def _sorted(readings: Iterable[Reading]) -> tuple[Reading, ...]:
    return tuple(sorted(readings, key=lambda one: (one.day, _km(one))))


def _unusable(one: Reading, on: date, model_year: int | None) -> Sign | None:
    """Return why a reading cannot be compared, or None."""
    if not one.value.is_finite() or not 0 <= one.value <= FURTHEST:
        shown = f"{one.value} on {one.day.isoformat()}"
        means = f"a reading lies between 0 and {FURTHEST:,}; left out"
        return Sign("value", (one,), shown, means, "Read it again on the paper.")
    if one.day > on:
        means = f"the day is after {on.isoformat()}; left out"
        return Sign("future day", (one,), one.words, means, "Read the day again.")
    if model_year is not None and one.day < date(model_year - 1, 1, 1):
        means = f"the day is before a car of {model_year} was built; left out"
        to_do = "Compare the identification number on that paper with the car's."
        return Sign("before the car", (one,), one.words, means, to_do)
    return None


def _with_unit(readings: Sequence[Reading], unit: Unit) -> Iterator[tuple[Reading, Sign | None]]:
    """Yield readings with a unit: a missing one is that of most others, or else `unit`."""
    count = {name: sum(one.unit == name for one in readings) for name in ("mi", "km")}
    taken: Unit = unit
    if count["mi"] != count["km"]:
        taken = "mi" if count["mi"] > count["km"] else "km"
    for one in readings:
        if one.unit is not None:
            yield one, None
            continue
        means = f"the paper names no unit; taken as {taken}"
        to_do = "Look which unit the car's instrument counts in."
        yield (
            replace(one, unit=taken),
            Sign("no unit", (one,), one.words, means, to_do, weight="note"),
        )


# --- from one reading to the next -----------------------------------------------------------------


def _verdict(first: Reading, second: Reading, rates: Rates) -> Kind | None:
    """Return what is odd from one reading to the next, or None."""
    days, km = (second.day - first.day).days, _km(second) - _km(first)
    if below(second, first):
        return "fall"
    if days == 0:
        return "same day" if km > 0 else None
    if km > rates.most_km_a_day * (days + 1):
        return "impossible"
    if days >= rates.apart_days and km * Decimal("365.25") > rates.much_km_a_year * days:
        return "jump"
    return None


def _bad(first: Reading, second: Reading, rates: Rates) -> bool:
    if first.day == second.day:
        return abs(_km(second) - _km(first)) > rates.same_day_km
    return _verdict(first, second, rates) is not None


def _other_unit(one: Reading) -> Reading:
    return replace(one, unit="km" if one.unit == "mi" else "mi")


def _changes(
    at: int, readings: Sequence[Reading], assumed: frozenset[Reading]
) -> Iterator[tuple[Reason, str, list[Reading]]]:
    """Yield what may have been misread about the step from `at` to the next.

    One reading may be in the other unit; several together only if no paper of them named one, as
    else most falls could be talked away.
    """
    start, end = list(readings[: at + 1]), list(readings[at + 1 :])
    turned = {one: _other_unit(one) for one in readings}
    yield "unit", end[0].words, [*start, turned[end[0]], *end[1:]]
    yield "unit", start[-1].words, [*start[:-1], turned[start[-1]], *end]
    if assumed.issuperset(end):
        yield "unit", "every reading from the later on", [*start, *(turned[one] for one in end)]
    if assumed.issuperset(start):
        yield "unit", "every reading up to the earlier", [*(turned[one] for one in start), *end]
    for one in (end[0], start[-1]):
        if not one.tenths and one.value == int(one.value) >= ROLL:
            place = readings.index(one, at)
            other = [*readings[:place], replace(one, tenths=True), *readings[place + 1 :]]
            yield "tenths", one.words, other


def _clean(at: int, before: Sequence[Reading], after: Sequence[Reading], rates: Rates) -> bool:
    """Return whether the step is good after a change and no other that was good is bad."""
    steps = zip(pairwise(before), pairwise(after), strict=True)
    return all(
        old == new or not _bad(*new, rates) or (place != at and _bad(*old, rates))
        for place, (old, new) in enumerate(steps)
    ) and not _bad(after[at], after[at + 1], rates)


def _rolls(first: Reading, second: Reading, rates: Rates, *, five: bool) -> bool:
    """Return whether an odometer of five digits may have begun again between the two."""
    if not five or first.unit != second.unit or max(whole(first), whole(second)) >= ROLL:
        return False
    further = replace(second, value=Decimal(whole(second) + ROLL), tenths=False)
    return not _bad(first, further, rates)


MEANS: dict[Reason, str] = {
    "unit": "it vanishes if this was written in the other unit: {what}",
    "tenths": "it vanishes if the last digit is a tenth: {what}",
    "roll-over": "an odometer of five digits begins again after 99,999; mileage would be in excess "
    "of its mechanical limits",
}
TO_DO: dict[Reason, str] = {
    "unit": "Look which unit the instrument counts in and what that paper's issuer writes.",
    "tenths": "Look whether the instrument shows tenths, and count the digits on the paper.",
    "roll-over": "Count the digits of the instrument; compare wear and older papers.",
    "": "Ask for the papers behind both readings; look for a notice on the left door frame.",
}
UNEXPLAINED: dict[Kind, str] = {
    "fall": "no wrong unit, tenths or roll-over explains it; a slip of the pen, a replaced "
    "instrument or one turned back would",
    "impossible": "more than can be driven in the time; one reading is wrong, or not this car's",
    "jump": "more than most cars are driven; hire, taxi or delivery work would, or a wrong reading",
    "same day": "two readings of one day so far apart: one of them is wrong",
}
SEEN: dict[Kind, str] = {"fall": "fell", "impossible": "rose", "jump": "rose", "same day": "differ"}


def _sign(
    at: int, readings: Sequence[Reading], assumed: frozenset[Reading], rates: Rates, *, five: bool
) -> Sign | None:
    first, second = readings[at], readings[at + 1]
    kind = _verdict(first, second, rates)
    if kind is None:
        return None
    km = abs(_km(second) - _km(first))
    message = f"{SEEN[kind]} by {km:,.0f} km: {first.words}; {second.words}"
    pair = (first, second)
    section = LAW_SECTION if kind == "fall" else PRACTICE
    if kind == "same day" and km <= rates.same_day_km:
        means = "a drive or a rounding explains it"
        return Sign(kind, pair, message, means, "Nothing, unless a paper matters.", weight="note")
    small = kind == "fall" and km <= rates.slip_km
    for reason, what, changed in _changes(at, readings, assumed) if not small else ():
        if _clean(at, readings, changed, rates):
            means = MEANS[reason].format(what=what)
            return Sign(kind, pair, message, means, TO_DO[reason], section, reason=reason)
    if kind == "fall" and _rolls(first, second, rates, five=five):
        means, to_do = MEANS["roll-over"], TO_DO["roll-over"]
        return Sign(kind, pair, message, means, to_do, section, reason="roll-over")
    means = "so little that an estimate or a slip of the pen fits" if small else UNEXPLAINED[kind]
    weight: Literal["warning", "note"] = "note" if small or kind == "jump" else "warning"
    return Sign(kind, pair, message, means, TO_DO[""], section, weight)


def history(
    readings: Iterable[Reading],
    on: date,
    *,
    model_year: int | None = None,
    digits: int | None = None,
    unit: Unit = "mi",
    rates: Rates | None = None,
) -> History:
    """Return readings ordered by day with falls, jumps, impossible rates and what may explain them.

    Parameters
    ----------
    readings : in any order.
    on : day of the look; later days cannot be.
    model_year : of the car.
    digits : whole digits of the instrument, if counted; five on an old car if not.
    unit : that of readings without one, where no other reading settles it.
    rates : what is much.

    Raises
    ------
    AppraiseError
        If there are more than 200 readings, or the model year cannot be.
    """
    rates = rates or Rates()
    given = list(readings)
    if len(given) > MOST:
        raise AppraiseError(f"{len(given)} readings; at most {MOST}", where="odometer")
    if model_year is not None and not possible_year(model_year, on):
        raise AppraiseError(f"{model_year} is no model year", where="vehicle.model_year")
    signs = []
    usable = []
    for one in given:
        found = _unusable(one, on, model_year)
        if found:
            signs.append(found)
        else:
            usable.append(one)
    pairs = list(_with_unit(usable, unit))
    signs += [sign for _, sign in pairs if sign]
    assumed = frozenset(one for one, sign in pairs if sign)
    ordered = _sorted(dict.fromkeys(one for one, _ in pairs))
    old = model_year is not None and model_year <= rates.five_digits_to
    five = digits == FIVE_DIGITS or (digits is None and old)
    steps = (_sign(at, ordered, assumed, rates, five=five) for at in range(len(ordered) - 1))
    signs += [sign for sign in steps if sign]
    return History(ordered, tuple(signs))
