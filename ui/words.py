"""How numbers, names and a person's own words are written, the same on every page."""

from __future__ import annotations

import re
from decimal import Decimal

from appraise.models.appraisal import Quantiles
from appraise.models.findings import State
from appraise.reports.wording import (
    LOOKS,
    SEVERITIES,
    STATES,
    about,
    chance_words,
    name,
    percent,
)

__all__ = [
    "ICONS",
    "LOOKS",
    "SEVERITIES",
    "STATES",
    "about",
    "chance_words",
    "money",
    "name",
    "percent",
    "plain",
    "span",
]

ICONS = {
    State.FINE: ":material/check:",
    State.SUSPECT: ":material/question_mark:",
    State.FAULTY: ":material/build:",
    State.NOT_LOOKED_AT: ":material/visibility_off:",
}

MARKS = re.compile(r"[!#$&()*+\-./:<=>\[\\\]^_`{|}~]")
"""Punctuation that Markdown acts upon, and that may be escaped (CommonMark 0.31, section 2.4)."""
APART = "\u2060"
"""Joins words, is not seen, and keeps apart what would be made into something else once the marks
are read: an address into a link, `:red[...]` into color, `->` into an arrow."""
TOGETHER = re.compile(r"(?i)(?=[:@])|(?<=www)(?=\.)|(?<=[-<>~])(?=[-=>])")
INDENT = re.compile(r"(?m)^[ \t]+")
"""Four blanks make a block of code."""


def plain(text: str) -> str:
    """Return text of a person's own with what Markdown and HTML would act upon made harmless."""
    apart = TOGETHER.sub(APART, text.replace("\r\n", "\n").replace("\r", "\n"))
    return INDENT.sub(_unseen, MARKS.sub(r"\\\g<0>", apart))


def _unseen(found: re.Match[str]) -> str:
    return "\u00a0" * len(found[0].expandtabs(4))


def money(amount: Decimal | float) -> str:
    """Return a whole amount with its thousands marked."""
    return f"{amount:,.0f}"


def span(given: Quantiles) -> str:
    """Return low to high, for small print under the middle."""
    return f"{given.p10:,.0f} to {given.p90:,.0f}"
