"""Text in columns for a terminal: cut, padded and folded by what a letter takes up on it."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator
from datetime import date
from decimal import Decimal

from appraise.errors import Problem, one_line
from appraise.models.appraisal import Quantiles
from appraise.models.case import Case

__all__ = [
    "WIDTH",
    "amount",
    "cells",
    "clip",
    "folded",
    "left",
    "problem_lines",
    "right",
    "row",
    "spread",
    "title_lines",
]

WIDTH = 100
"""Columns of the terminal that a page is made for."""
CUT = "…"
WIDE = ("W", "F")
MARKS = ("Mn", "Me")
WEIGHTS = ("stop", "warning", "note")


def cells(text: str) -> int:
    """Return how many columns a text takes up: East Asian wide letters two, accents none.

    Examples
    --------
    >>> cells("axle"), cells("車軸"), cells("e\u0301")
    (4, 4, 1)
    """
    return sum(map(_cells, text))


def _cells(letter: str) -> int:
    if unicodedata.category(letter) in MARKS:
        return 0
    return 2 if unicodedata.east_asian_width(letter) in WIDE else 1


def clip(text: str, width: int) -> str:
    """Return a text on one line, cut to `width` columns.

    Examples
    --------
    >>> clip("Front brake pads", 8), clip("Front", 8)
    ('Front b…', 'Front')
    """
    line = one_line(text)
    if cells(line) <= width:
        return line
    out, used = "", 0
    for letter in line:
        used += _cells(letter)
        if used > width - 1:
            break
        out += letter
    return out + CUT


def left(text: str, width: int) -> str:
    """Return a text cut and padded to `width` columns, at their left."""
    line = clip(text, width)
    return line + " " * (width - cells(line))


def right(text: str, width: int) -> str:
    """Return a text padded to `width` columns, at their right; figures are never cut."""
    return " " * (width - cells(text)) + text


def row(widths: Iterable[int], *cells_: str) -> str:
    """Return texts side by side: at the left of a width below zero and cut, else at the right.

    Examples
    --------
    >>> row((-6, 4), "brakes, front", "12")
    'brake…  12'
    """
    pairs = zip(widths, cells_, strict=True)
    return "".join(left(one, -width) if width < 0 else right(one, width) for width, one in pairs)


def folded(text: str, indent: str = "", hang: str | None = None) -> list[str]:
    """Return a text folded to the width of the page.

    Parameters
    ----------
    indent : before the first line.
    hang : before the others; as many blanks as the indent if not given.
    """
    then = " " * cells(indent) if hang is None else hang
    lines: list[str] = []
    line, used = indent, cells(indent)
    empty = True
    for word in _words(one_line(text), WIDTH - max(cells(indent), cells(then))):
        more = cells(word) + (0 if empty else 1)
        if not empty and used + more > WIDTH:
            lines.append(line)
            line, used, more = then, cells(then), cells(word)
            empty = True
        line += word if empty else f" {word}"
        used += more
        empty = False
    return [*lines, line]


def _words(text: str, width: int) -> Iterator[str]:
    """Yield the words of a text, those that are too long for a line in pieces."""
    for word in text.split():
        piece, used = "", 0
        for letter in word:
            wide = _cells(letter)
            if used + wide > width:
                yield piece
                piece, used = "", 0
            piece += letter
            used += wide
        yield piece


def amount(value: Decimal, places: int = 0) -> str:
    """Return an amount with thousands apart; nought has no sign.

    Examples
    --------
    >>> amount(Decimal("-1234.5")), amount(Decimal("-0.4")), amount(Decimal(2), 2)
    ('-1,234', '0', '2.00')
    """
    text = f"{value:,.{places}f}"
    return text if any(one in "123456789" for one in text) else text.removeprefix("-")


def spread(given: Quantiles, places: int = 0) -> str:
    """Return a number with its doubt: the middle, and in brackets low and high."""
    low, middle, high = (amount(one, places) for one in (given.p10, given.p50, given.p90))
    return f"{middle}   ({low} to {high})"


def title_lines(case: Case, on: date) -> list[str]:
    """Return the head of a page: the case, the day, the currency, the car."""
    about = f"{on}, {case.currency}"
    car = case.vehicle
    return [
        left(case.title, WIDTH - len(about) - 2) + "  " + about,
        clip(f"{car.name}, {car.odometer.value:,.0f} {car.odometer.unit}", WIDTH),
        "=" * WIDTH,
    ]


def problem_lines(problems: tuple[Problem, ...]) -> list[str]:
    """Return problems, the gravest first."""
    lines: list[str] = []
    for weight in WEIGHTS:
        mark = "- " if weight == "note" else "! "
        for one in problems:
            if one.weight == weight:
                lines += folded(one.words, mark)
    return lines
