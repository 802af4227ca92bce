"""What is to be bought for a car, and old units whose deposit is not back yet."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

__all__ = ["CoreRow", "PartRow"]


@dataclass(frozen=True, slots=True)
class PartRow:
    """One line of what to buy.

    Attributes
    ----------
    each, total : known price, or what the catalog expects; None where neither is there.
    expected : whether the price is the catalog's.
    state : to order, ordered, late or here.
    due : day on which it is here, if it is known.
    """

    job: str
    job_label: str
    part: str
    label: str
    grade: str
    supplier: str
    quantity: int
    each: Decimal | None
    expected: bool
    shipping: Decimal
    tax: Decimal
    total: Decimal | None
    core: Decimal
    warranty_months: int | None
    state: str
    due: date | None


@dataclass(frozen=True, slots=True)
class CoreRow:
    """Old units of a job whose deposit is not back yet.

    Attributes
    ----------
    paid, back : deposit entered as paid and as given back.
    left : what can still be claimed.
    """

    job: str
    job_label: str
    parts: tuple[str, ...]
    paid: Decimal
    back: Decimal
    left: Decimal
