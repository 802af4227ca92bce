"""The words that people know the choices in a case by, the same on screens, paper and sheets."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

from appraise.models.case import Standing
from appraise.models.findings import Look, Severity, State
from appraise.models.jobs import DoneBy
from appraise.models.ledger import EntryKind
from appraise.models.market import Condition
from appraise.models.work import Purpose, Stage

__all__ = [
    "CONDITIONS",
    "DONE_BY",
    "ENTRY_KINDS",
    "ESTIMATE",
    "LOOKS",
    "NEEDS",
    "PROOFS",
    "PURPOSES",
    "SEVERITIES",
    "STAGES",
    "STANDINGS",
    "STATES",
    "about",
    "chance_words",
    "limit_words",
    "name",
    "percent",
    "search_words",
    "sentence",
]

ESTIMATE = "An estimate, not advice: the maker's data, local law and licensed people decide."
"""On every screen and paper, and under every command, that gives a figure."""
CERTAIN = 100
"""Percent."""


def name(value: StrEnum | str) -> str:
    """Return an enumeration's value as words.

    Examples
    --------
    >>> name("light_truck")
    'Light truck'
    """
    return str(value).replace("_", " ").capitalize()


STANDINGS = {one: name(one) for one in Standing}
STATES = {one: name(one) for one in State} | {State.NOT_LOOKED_AT: "Not inspected"}
SEVERITIES = {one: name(one) for one in Severity} | {
    Severity.DANGEROUS: "Dangerous: not to be driven"
}
LOOKS = {
    Look.GLANCE: "A glance",
    Look.CLOSE: "Close, by hand",
    Look.ENGINE_RUNNING: "Engine running",
    Look.ROAD_TEST: "Road test",
    Look.UNDERNEATH: "From underneath",
    Look.MEASURED: "Measured",
}
CONDITIONS = {
    Condition.TIDIER: "better",
    Condition.ALIKE: "same",
    Condition.ROUGHER: "worse",
}
DONE_BY = {DoneBy.OWN_HANDS: "You", DoneBy.SHOP: "A shop", DoneBy.CHEAPER: "The cheaper"}
NEEDS = {
    "standing": "parked",
    "running": "engine running",
    "driven": "on a drive",
    "raised": "raised",
    "workshop": "in the workshop",
}
"""Where a check can be done."""
STAGES = {one: name(one) for one in Stage} | {Stage.STARTED: "Begun"}
PURPOSES = {one: name(one) for one in Purpose} | {Purpose.BYPASS: "Bypass, to be restored"}
PROOFS = {
    "passes": "Passes",
    "fails": "Fails",
    "cannot tell": "Cannot tell",
    "said why not": "No test, and why",
    "none": "Not tested yet",
}
"""What a proof says, as a whole or line by line."""
ENTRY_KINDS = {
    EntryKind.PART: "Part",
    EntryKind.CORE_DEPOSIT: "Deposit on an old unit (core)",
    EntryKind.CORE_RETURNED: "Deposit back, old unit given back",
    EntryKind.REFUND: "Refund",
    EntryKind.SHOP: "Work by a shop",
    EntryKind.TOOL: "Tool",
    EntryKind.CONSUMABLES: "Consumables",
    EntryKind.HOLDING: "Holding: insurance, space, tax",
    EntryKind.OTHER: "Other",
    EntryKind.HOURS: "Your hours",
}


def percent(chance: Decimal) -> str:
    """Return a chance as a whole percentage; nothing drawn is ever said to be certain.

    Examples
    --------
    >>> percent(Decimal("0.114")), percent(Decimal(0)), percent(Decimal(1))
    ('11 %', 'under 1 %', 'over 99 %')
    """
    shown = _hundredths(chance)
    if shown < 1:
        return "under 1 %"
    return f"{shown} %" if shown < CERTAIN else "over 99 %"


def about(chance: Decimal) -> str:
    """Return a chance as one in so many, where that says the same percentage; else nothing.

    Examples
    --------
    >>> about(Decimal("0.11")), about(Decimal("0.14")), about(Decimal("0.15"))
    ('about 1 in 9', 'about 1 in 7', '')
    """
    shown = _hundredths(chance)
    if not 1 <= shown < CERTAIN:
        return ""
    whole = round(CERTAIN / shown)
    agrees = abs(CERTAIN - shown * whole) * 2 <= whole  # within half a percent, in whole numbers
    return f"about 1 in {whole}" if agrees else ""


def chance_words(chance: Decimal) -> str:
    """Return a chance for a person: one form on every face.

    Examples
    --------
    >>> chance_words(Decimal("0.11")), chance_words(Decimal("0.69"))
    ('11 % (about 1 in 9)', '69 %')
    """
    said = about(chance)
    return f"{percent(chance)} ({said})" if said else percent(chance)


def _hundredths(chance: Decimal) -> int:
    return int((chance * CERTAIN).to_integral_value(ROUND_HALF_UP))


def sentence(text: str) -> str:
    """Return text with a capital first letter."""
    return text[:1].upper() + text[1:]


def limit_words(price: int | None) -> str:
    """Return a walk-away price in words.

    Examples
    --------
    >>> limit_words(1990), limit_words(None)
    ('walk away above 1,990', 'no bid works')
    """
    return "no bid works" if price is None else f"walk away above {price:,}"


def search_words(minutes: Decimal, money: Decimal, currency: str) -> str:
    """Return what finding the faults takes, which the repair holds already.

    Examples
    --------
    >>> search_words(Decimal("23.4"), Decimal("15.2"), "USD")
    'Finding the faults: 23 min, 15 USD (in the repair)'
    """
    return f"Finding the faults: {minutes:,.0f} min, {money:,.0f} {currency} (in the repair)"
