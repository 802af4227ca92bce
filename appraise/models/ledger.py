"""Money and hours that went into a car: entries, corrected by new entries and never changed.

The photos and PDFs of an entry are no part of what it says: they may be added and removed.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Self

from pydantic import Field, model_validator

from appraise.models.base import SANE, Currency, Day, Id, Model, Money, Note, Words
from appraise.models.files import Attachments

__all__ = ["BACK", "Entry", "EntryKind", "check_entries"]

HOURS_A_DAY = Decimal(24)


class EntryKind(StrEnum):
    """What an entry is for."""

    PART = "part"
    CORE_DEPOSIT = "core_deposit"
    CORE_RETURNED = "core_returned"
    REFUND = "refund"
    SHOP = "shop"
    TOOL = "tool"
    CONSUMABLES = "consumables"
    HOLDING = "holding"
    OTHER = "other"
    HOURS = "hours"


BACK = (EntryKind.CORE_RETURNED, EntryKind.REFUND)
"""Money that comes back."""
CORES = (EntryKind.CORE_DEPOSIT, EntryKind.CORE_RETURNED)


class Entry(Model):
    """One receipt, refund, deposit or stretch of own work.

    An entry that corrects another one takes it back whole: same kind, job, amount and hours, with
    the opposite sign. What should have stood there is a further entry.
    """

    id: Id = Field(description="Stable name within the case")
    on: Day = Field(description="Day")
    kind: EntryKind = Field(description="For")
    amount: Money = Field(default=Decimal(0), description="Amount")
    hours: Annotated[Decimal, Field(ge=0, le=24, decimal_places=2), SANE] = Field(
        default=Decimal(0), description="Your hours"
    )
    job: Id | None = Field(default=None, description="Job; empty for the car as a whole")
    part: Id | None = Field(default=None, description="Part of that job")
    supplier: Words = Field(default="", description="Paid to")
    number: Words = Field(default="", description="Number of the receipt")
    currency: Currency | None = Field(default=None, description="Currency; empty for the car's")
    corrects: Id | None = Field(default=None, description="Entry that this one takes back")
    attachments: Attachments = Field(default=(), description="Photos and PDFs of it")
    note: Note = Field(default="", description="Note")

    @model_validator(mode="after")
    def _amount_or_hours(self) -> Self:
        if self.kind is EntryKind.HOURS:
            if self.amount:
                raise ValueError("your hours carry no amount: enter the money as its own line")
            if not self.hours:
                raise ValueError("your hours of 0: enter how many")
        elif self.hours:
            raise ValueError("carries hours: enter own work as its own line")
        elif not self.amount:
            raise ValueError("an amount of 0: enter what was paid")
        return self

    @property
    def sign(self) -> int:
        """+1 for money or hours put in, -1 for money back and for what is taken back."""
        back = self.kind in BACK
        return -1 if back != (self.corrects is not None) else 1

    @property
    def paid(self) -> Decimal:
        """Money out, negative for money back."""
        return self.sign * self.amount

    @property
    def worked(self) -> Decimal:
        """Own hours, negative where they are taken back."""
        return self.sign * self.hours


def check_entries(entries: Sequence[Entry]) -> None:
    """Refuse entries that cannot be.

    Raises
    ------
    ValueError
        Two share an id; one corrects what it cannot; a day of more than 24 hours; more money back
        than was paid for the same job.
    """
    names = Counter(one.id for one in entries)
    twice = next((name for name, count in names.items() if count > 1), None)
    if twice is not None:
        raise ValueError(f"two entries share the id {twice!r}")
    _check_corrections(entries)
    hours: defaultdict[date, Decimal] = defaultdict(Decimal)
    parts: defaultdict[str | None, Decimal] = defaultdict(Decimal)
    cores: defaultdict[str | None, Decimal] = defaultdict(Decimal)
    for one in entries:
        hours[one.on] += one.worked
        (cores if one.kind in CORES else parts)[one.job] += one.paid
    for day, worked in hours.items():
        if worked > HOURS_A_DAY:
            raise ValueError(f"{worked} hours of your own on {day}: a day has 24")
    for what, sums in (("refunds", parts), ("deposits given back", cores)):
        for job, left in sums.items():
            if left < 0:
                of = f"the job {job}" if job else "the car as a whole"
                raise ValueError(f"{what} for {of} are {-left:,.2f} more than was paid")


def _check_corrections(entries: Sequence[Entry]) -> None:
    before: dict[str, Entry] = {}
    taken: set[str] = set()
    for one in entries:
        if one.corrects is not None:
            other = before.get(one.corrects)
            if other is None or other.corrects is not None:
                raise ValueError(f"entry {one.id} corrects {one.corrects}, which is not before it")
            if one.corrects in taken:
                raise ValueError(f"entry {one.corrects} is corrected already")
            same = ("kind", "amount", "hours", "job", "part")
            if any(getattr(one, name) != getattr(other, name) for name in same):
                raise ValueError(f"entry {one.id} has to take back {one.corrects} whole")
            taken.add(one.corrects)
        before[one.id] = one
