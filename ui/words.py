"""How numbers and names are written, the same on every page."""

from __future__ import annotations

from decimal import Decimal

from appraise.models.appraisal import Quantiles
from appraise.models.findings import State
from appraise.reports.bid_page import one_in
from appraise.reports.wording import LOOKS, SEVERITIES, STATES, name

__all__ = [
    "ICONS",
    "LOOKS",
    "SEVERITIES",
    "STATES",
    "chance",
    "money",
    "name",
    "one_in",
    "span",
]

ICONS = {
    State.FINE: ":material/check:",
    State.SUSPECT: ":material/question_mark:",
    State.FAULTY: ":material/build:",
    State.NOT_LOOKED_AT: ":material/visibility_off:",
}


def money(amount: Decimal | float) -> str:
    """Return a whole amount with its thousands marked."""
    return f"{amount:,.0f}"


def span(given: Quantiles) -> str:
    """Return low to high, for small print under the middle."""
    return f"{given.p10:,.0f} to {given.p90:,.0f}"


def chance(value: Decimal) -> str:
    """Return a chance in words with its figure: `1 in 5 (20 %)`."""
    return f"{one_in(value)} ({value:.0%})"
