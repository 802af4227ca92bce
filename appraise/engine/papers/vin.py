"""Read a vehicle identification number: what it says, and what is wrong with it.

The rules are those of 49 CFR 565. A number that reads well proves no car: the check digit is
against misreading, not against theft.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from appraise.engine.papers.vin_country import ORDER, maker_place
from appraise.engine.papers.vin_parts import (
    CYCLE,
    DIGITS,
    LENGTH,
    NEVER,
    STANDARD_FROM,
    VALUES,
    CheckDigit,
    Correction,
    Vin,
    alike,
    check_digit,
    model_years,
    tidy,
)
from appraise.errors import Problem, one_line

__all__ = ["FIELD", "LOOK_AGAIN", "Vin", "check_digit", "model_years", "read_vin"]

FIRST_LETTERED: Final = 2010
"""Model year from which position 7 of a light vehicle is a letter (565.15(b), Table VII)."""
MOST_NAMED: Final = 3
LOW_VOLUME: Final = "9"
FIELD: Final = "vehicle.vin"
LOOK_AGAIN: Final = "Read it again from the plate on the car, not from a paper or an advertisement"


def read_vin(text: str, model_year: int | None = None, *, light: bool = True) -> Vin:
    """Return what a vehicle identification number says, whatever was written for it.

    Outside North America the rule of position 7 is used only if the check digit holds, which is
    the sign of a car built for the American market (and holds by chance once in 11).

    Parameters
    ----------
    text : as written.
    model_year : as the papers have it, to compare.
    light : a car, or a truck or van up to 10,000 lb gross.
    """
    plain = tidy(text)
    amiss = _form(plain, model_year)
    if amiss is not None:
        return Vin(plain, problems=(amiss,))
    corrections = tuple(
        Correction(at, one, NEVER[one]) for at, one in enumerate(plain, 1) if one in NEVER
    )
    number = "".join(NEVER.get(one, one) for one in plain)
    place = maker_place(number)
    check = check_digit(number)
    required = place.region == "North America" or place.country == "United States"
    years = model_years(number, light=light and (required or check.holds))
    low_volume = number[2] == LOW_VOLUME
    found = Vin(
        text=plain,
        number=number,
        corrections=corrections,
        check=check,
        required=required,
        years=years,
        maker=number[:3] + (number[11:14] if low_volume else ""),
        low_volume=low_volume,
        place=place,
    )
    problems = (
        *_corrected(found, check),
        *_checked(found, check),
        *_positions(found, light=light),
        *_year(found, model_year, light=light),
        *_maker(found),
    )
    return replace(found, problems=problems)


# --- what is no number of this standard -----------------------------------------------------------


def _form(plain: str, model_year: int | None) -> Problem | None:
    """Return what keeps a text from being a number of 17 characters, or None."""
    if not plain:
        message = f"no number is written; it has {LENGTH} characters (49 CFR 565.13(b))"
        return Problem(FIELD, message, "stop", "Read it from the plate on the car.")
    strange = [
        (at, one) for at, one in enumerate(plain, 1) if one not in VALUES and one not in NEVER
    ]
    if strange:
        named = ", ".join(f"{_name(one)} at position {at}" for at, one in strange[:MOST_NAMED])
        more = len(strange) - MOST_NAMED
        named += f", and {more} more" if more > 0 else ""
        message = (
            f"{named}: a number holds only the letters A to Z without I, O, Q and the digits 0 "
            "to 9 (49 CFR 565.13(g))"
        )
        return Problem(FIELD, message, "stop", "Type it again with Latin letters and digits only.")
    if len(plain) == LENGTH:
        return None
    return _length(len(plain), model_year)


def _name(one: str) -> str:
    if one.isascii():
        return repr(one)
    seen = one_line(one) == one and not unicodedata.combining(one)
    shown = f"{one} " if seen else ""
    return f"{shown}(U+{ord(one):04X} {unicodedata.name(one, 'without a name').lower()})"


def _length(count: int, model_year: int | None) -> Problem:
    of = "character" if count == 1 else "characters"
    if count > LENGTH:
        message = (
            f"{count} {of}, {count - LENGTH} too many: a number has {LENGTH} (49 CFR 565.13(b))"
        )
        return Problem(FIELD, message, "stop", f"{LOOK_AGAIN}; one may be written twice.")
    old = f"before model year {STANDARD_FROM} each maker had its own form of number"
    if model_year is not None and model_year < STANDARD_FROM:
        message = f"{count} {of}: {old}, not of this standard, so nothing is read from it"
        hint = "Compare it character by character with the car and its papers."
        return Problem(FIELD, message, "note", hint)
    short = f"{count} {of}, {LENGTH - count} too few: a number has {LENGTH} (49 CFR 565.13(b))"
    if model_year is not None:
        return Problem(FIELD, short, "stop", f"{LOOK_AGAIN}.")
    return Problem(FIELD, f"{short}; {old}", "stop", f"{LOOK_AGAIN}, or say the model year.")


# --- what is amiss in a number of 17 characters ---------------------------------------------------


def _corrected(found: Vin, check: CheckDigit) -> Iterator[Problem]:
    if not found.corrections:
        return
    swaps = ", ".join(
        f"{one.written} at position {one.position} read as {one.read}" for one in found.corrections
    )
    holds = "holds" if check.holds else "does not hold"
    yield Problem(
        FIELD,
        f"I, O and Q never stand in a number (49 CFR 565.13(g)): {swaps}; the check digit then "
        f"{holds}. What follows is read from {found.number}",
        "warning",
        f"{LOOK_AGAIN}, and write it as it is there.",
    )


def _checked(found: Vin, check: CheckDigit) -> Iterator[Problem]:
    number = found.number
    if len(set(number)) == 1:
        message = f"{number[0]} seventeen times: a placeholder, though its check digit may hold"
        yield Problem(FIELD, message, "warning", f"{LOOK_AGAIN}.")
    if check.holds:
        return
    there = f"position 9 is {check.found} and the check digit would be {check.due}"
    if not found.required:
        yield Problem(
            FIELD,
            f"{there}, but only a car built for sale in the United States "
            "needs it (49 CFR 565.15(c))",
            "note",
            "If it was sold new in the United States, take it as misread.",
        )
        return
    never = "" if check.found in DIGITS else f", and {check.found} is never one"
    again = "; ".join(_readings_that_hold(number))
    yield Problem(
        FIELD,
        f"{there}{never} (49 CFR 565.15(c)): the number is misread, or it is not the one the maker "
        "gave",
        "warning",
        f"{LOOK_AGAIN}{f': it would hold with {again}' if again else ''}. If the plate itself "
        "reads so, do not buy before the police or the registry has looked at it.",
    )


def _readings_that_hold(number: str) -> list[str]:
    """Return the likely misreadings of one character that would make the check digit hold."""
    found = []
    for at, one in enumerate(number):
        for other in (two for two in ORDER if alike(one, two)):
            tried = number[:at] + other + number[at + 1 :]
            if check_digit(tried).holds:
                found.append(f"{other} for {one} at position {at + 1}")
    return found[:MOST_NAMED]


def _positions(found: Vin, *, light: bool) -> Iterator[Problem]:
    """Yield what stands where the American rule does not allow it."""
    if not found.required:
        return
    count, whose = (5, "a light vehicle") if light else (4, "a heavy vehicle or a trailer")
    start = LENGTH - count
    wrong = [
        f"{one} at position {at}"
        for at, one in enumerate(found.number[start:], start + 1)
        if not one.isdecimal()
    ]
    if wrong:
        yield Problem(
            FIELD,
            f"{', '.join(wrong)}: the last {count} characters of {whose} are digits (49 CFR "
            "565.15(d)), so the number is misread or not the maker's",
            "warning",
            f"{LOOK_AGAIN}.",
        )


def _year(found: Vin, model_year: int | None, *, light: bool) -> Iterator[Problem]:
    code, seventh = found.number[9], found.number[6]
    if not found.years:
        stands = f"{code} in position 10 names no model year (49 CFR 565.15(d)(1), Table VII)"
        if found.required:
            yield Problem(FIELD, f"{stands}: misread", "warning", f"{LOOK_AGAIN}.")
        else:
            hint = "Take the model year from the registration."
            yield Problem(FIELD, f"{stands}: unknown, not wrong", "note", hint)
        return
    if len(found.years) > 1:
        why = "outside North America" if light else "of a heavy vehicle or a trailer"
        yield Problem(
            FIELD,
            f"{code} in position 10 is {found.years[0]} or {found.years[1]}: position 7 does not "
            f"tell {why} (49 CFR 565.15(d)(1), note to Table VII)",
            "note",
            "Take the model year from the registration.",
        )
    either = (found.years[0] - CYCLE, *found.years, found.years[-1] + CYCLE)
    if model_year is None or model_year in (found.years if found.required else either):
        return
    said = " or ".join(str(one) for one in found.years)
    letter = ""
    if light and found.required and model_year >= FIRST_LETTERED and seventh.isdecimal():
        letter = f"; from {FIRST_LETTERED} on position 7 is a letter, here it is {seventh}"
    heavy = (
        ", and of a heavy vehicle the code recurs after 30 years" if model_year in either else ""
    )
    yield Problem(
        FIELD,
        f"the number says model year {said}, the papers say {model_year}{letter} (49 CFR 565.15)",
        "warning" if found.required else "note",
        "Compare with the date of making on the door label; a paper may give the year of first "
        f"registration{heavy}.",
    )


def _maker(found: Vin) -> Iterator[Problem]:
    if found.low_volume:
        yield Problem(
            FIELD,
            f"position 3 is 9: a maker of fewer than 1,000 a year, known by {found.maker[:3]} "
            f"with positions 12 to 14, {found.maker[3:]} (49 CFR 565.15(a), (d)(3))",
            "note",
        )
    if not found.place.country:
        yield Problem(
            FIELD,
            f"{found.number[:2]} is given to no country in the public lists of maker codes",
            "note",
            "The lists are not complete; if the car is common where you are, look again.",
        )
