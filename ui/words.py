"""How numbers and names are written, the same on every page."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum

from appraise.models.appraisal import Quantiles
from appraise.models.findings import Look, Severity, State
from appraise.reports.bid_page import one_in

__all__ = ["ICONS", "SEVERITIES", "STATES", "chance", "money", "name", "one_in", "span"]

STATES = {
    State.FINE: "Fine",
    State.SUSPECT: "Suspect",
    State.FAULTY: "Faulty",
    State.NOT_LOOKED_AT: "Not looked at",
}
ICONS = {
    State.FINE: ":material/check:",
    State.SUSPECT: ":material/question_mark:",
    State.FAULTY: ":material/build:",
    State.NOT_LOOKED_AT: ":material/visibility_off:",
}
SEVERITIES = {
    Severity.DANGEROUS: "Dangerous: not to be driven",
    Severity.MAJOR: "Major",
    Severity.MINOR: "Minor",
    Severity.COSMETIC: "Cosmetic",
}
LOOKS = {
    Look.GLANCE: "A glance",
    Look.CLOSE: "Close, by hand",
    Look.ENGINE_RUNNING: "Engine running",
    Look.ROAD_TEST: "Road test",
    Look.UNDERNEATH: "From underneath",
    Look.MEASURED: "Measured",
}


def name(value: StrEnum | str) -> str:
    """Return an enumeration's value as words: `light_truck` as `Light truck`."""
    return str(value).replace("_", " ").capitalize()


def money(amount: Decimal | float) -> str:
    """Return a whole amount with its thousands marked."""
    return f"{amount:,.0f}"


def span(given: Quantiles) -> str:
    """Return low to high, for small print under the middle."""
    return f"{given.p10:,.0f} to {given.p90:,.0f}"


def chance(value: Decimal) -> str:
    """Return a chance in words with its figure: `1 in 5 (20 %)`."""
    return f"{one_in(value)} ({value:.0%})"
