"""Papers: what can be read off each, and what it is said to prove."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Annotated

from pydantic import Field

from appraise.models.base import Id, Label, Model, Money, Note, Words
from appraise.models.files import Attachments
from appraise.models.vehicle import Distance, TitleBrand

__all__ = [
    "Claim",
    "Claimed",
    "Lien",
    "LineKind",
    "Paid",
    "Paper",
    "PaperKind",
    "PaperLine",
    "Signed",
    "TitleMark",
]


class PaperKind(StrEnum):
    """What a paper is."""

    TITLE = "title"
    BILL_OF_SALE = "bill_of_sale"
    ODOMETER_STATEMENT = "odometer_statement"
    LIEN_RELEASE = "lien_release"
    INVOICE = "invoice"
    ESTIMATE = "estimate"
    PARTS_RECEIPT = "parts_receipt"
    CORE_RETURN_SLIP = "core_return_slip"
    INSPECTION_CERTIFICATE = "inspection_certificate"
    AUCTION_CONDITION_SHEET = "auction_condition_sheet"
    IMPORT_OR_EXPORT_PAPER = "import_or_export_paper"
    POWER_OF_ATTORNEY = "power_of_attorney"
    SERVICE_BOOKLET_PAGE = "service_booklet_page"
    DASHBOARD_PHOTO = "dashboard_photo"
    OTHER = "other"


class LineKind(StrEnum):
    """What a line of an invoice is for."""

    PART = "part"
    LABOR = "labor"
    CORE = "core"
    TAX = "tax"
    OTHER = "other"


class Paid(StrEnum):
    """Whether and how a paper shows payment."""

    NOT_SAID = "not_said"
    UNPAID = "unpaid"
    CASH = "cash"
    CARD = "card"
    TRANSFER = "transfer"
    CHEQUE = "cheque"


class Signed(StrEnum):
    """How a paper is signed."""

    NOT_SAID = "not_said"
    UNSIGNED = "unsigned"
    BY_SELLER = "by_seller"
    BY_SELLER_NO_BUYER_NAMED = "by_seller_no_buyer_named"
    BY_BOTH = "by_both"


class Lien(StrEnum):
    """What a title says of a lender's claim."""

    NOT_SAID = "not_said"
    NONE_NAMED = "none_named"
    OPEN = "open"


class TitleMark(StrEnum):
    """What else a title may say of itself."""

    BONDED = "bonded"
    DUPLICATE = "duplicate"
    EXPORT_ONLY = "export_only"
    PARTS_ONLY = "parts_only"
    SCRAP = "scrap"


class Claimed(StrEnum):
    """What a paper is said to show of a part."""

    REPLACED = "replaced"
    SERVICED = "serviced"
    MEASURED_GOOD = "measured_good"


class PaperLine(Model):
    """One line of a paper."""

    label: Label = Field(description="Text of the line")
    kind: LineKind = Field(default=LineKind.PART, description="What it is for")
    amount: Money | None = Field(default=None, description="Amount")


class Claim(Model):
    """What a paper is said to prove about a finding on the car."""

    finding: Id = Field(description="Finding that it speaks to")
    causes: tuple[Id, ...] = Field(
        default=(), max_length=30, description="Causes that it would exclude"
    )
    claimed: Claimed = Field(default=Claimed.REPLACED, description="What is claimed")


class Paper(Model):
    """A paper that came with the car, and what can be read off it."""

    id: Id = Field(description="Stable name within the case")
    kind: PaperKind = Field(description="Kind")
    dated: date | None = Field(default=None, description="Date on it")
    issuer: Words = Field(default="", description="Issued by")
    reach: Words = Field(default="", description="How the issuer can be reached")
    vin: Annotated[Words, Field(max_length=40)] = Field(
        default="", description="Vehicle identification number as written on it"
    )
    plate: Annotated[Words, Field(max_length=20)] = Field(
        default="", description="License plate as written on it"
    )
    odometer: Distance | None = Field(default=None, description="Odometer as written on it")
    lines: tuple[PaperLine, ...] = Field(default=(), max_length=100, description="Lines")
    total: Money | None = Field(default=None, description="Total")
    paid: Paid = Field(default=Paid.NOT_SAID, description="Paid how")
    in_name: Words = Field(default="", description="In whose name")
    brands: tuple[TitleBrand, ...] = Field(
        default=(), max_length=14, description="Title brands on it"
    )
    signed: Signed = Field(default=Signed.NOT_SAID, description="Signed")
    signed_to: Words = Field(default="", description="Name that it is signed over to")
    lien: Lien = Field(default=Lien.NOT_SAID, description="Lender's claim on it")
    title_marks: tuple[TitleMark, ...] = Field(
        default=(), max_length=5, description="What else the title says of itself"
    )
    claims: tuple[Claim, ...] = Field(default=(), max_length=40, description="What it is to prove")
    attachments: Attachments = Field(default=(), description="Photos and PDFs of it")
    note: Note = Field(default="", description="Note")

    @property
    def lines_total(self) -> Decimal:
        """The sum of its lines."""
        return sum((one.amount for one in self.lines if one.amount is not None), Decimal(0))
