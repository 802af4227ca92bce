"""One car, from first look to sale: everything known about it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from enum import StrEnum
from typing import Annotated, Self

from pydantic import Field, model_validator

from appraise.models.base import Currency, Id, Label, Model, Money, Note
from appraise.models.deal import Deal
from appraise.models.findings import Finding
from appraise.models.jobs import Job
from appraise.models.market import Market
from appraise.models.measurements import Measurement
from appraise.models.papers import Paper
from appraise.models.vehicle import Vehicle

__all__ = ["SCHEMA_VERSION", "Case", "Purchase", "Standing"]

SCHEMA_VERSION = 1
MOST_FINDINGS = 400


class Standing(StrEnum):
    """Where a car stands on its way."""

    PROSPECT = "prospect"
    OWNED = "owned"
    ON_SALE = "on_sale"
    SOLD = "sold"
    LET_GO = "let_go"


class Purchase(Model):
    """What was paid for the car, once it is owned."""

    bid: Money = Field(description="Price paid, without fees and tax")
    bought_on: date = Field(description="Bought on")


class Case(Model):
    """Everything known about one car."""

    schema_version: Annotated[int, Field(strict=True, ge=1, le=SCHEMA_VERSION)] = Field(
        default=SCHEMA_VERSION, description="Version of this layout"
    )
    id: Id = Field(description="Stable name")
    title: Label = Field(description="Title")
    story: Note = Field(default="", description="What is interesting about it")
    standing: Standing = Field(default=Standing.PROSPECT, description="Standing")
    currency: Currency = Field(default="USD", description="Currency of every amount (ISO 4217)")
    appraised_on: date = Field(description="Day that ages and prices are taken at")
    vehicle: Vehicle = Field(description="The car")
    findings: tuple[Finding, ...] = Field(
        default=(), max_length=MOST_FINDINGS, description="Findings"
    )
    measurements: tuple[Measurement, ...] = Field(
        default=(), max_length=400, description="Measurements"
    )
    papers: tuple[Paper, ...] = Field(default=(), max_length=200, description="Papers")
    own_jobs: tuple[Job, ...] = Field(
        default=(),
        max_length=200,
        description="Jobs that are not in the catalogue, with the figures of this very car",
    )
    market: Market = Field(default=Market(), description="Prices of like cars")
    deal: Deal = Field(default=Deal(), description="The money around it")
    purchase: Purchase | None = Field(default=None, description="The purchase, once owned")
    draws: Annotated[int, Field(strict=True, ge=1000, le=200_000)] = Field(
        default=20_000, description="Number of draws"
    )
    seed: Annotated[int, Field(strict=True, ge=0, lt=2**63)] = Field(
        default=1, description="Seed of the draws"
    )
    note: Note = Field(default="", description="Note")

    @model_validator(mode="after")
    def _names_are_unique(self) -> Self:
        for what, ids in (
            ("findings", [finding.id for finding in self.findings]),
            ("comparables", [comp.id for comp in self.market.comparables]),
            ("papers", [one.id for one in self.papers]),
            ("measurements", [one.id for one in self.measurements]),
            ("own jobs", [job.id for job in self.own_jobs]),
        ):
            twice = _first_repeated(ids)
            if twice is not None:
                raise ValueError(f"two {what} share the id {twice!r}")
        return self

    @model_validator(mode="after")
    def _owned_has_a_purchase(self) -> Self:
        owned = self.standing in (Standing.OWNED, Standing.ON_SALE, Standing.SOLD)
        if owned and self.purchase is None:
            raise ValueError(
                f"standing is {self.standing.value.replace('_', ' ')}, but there is no purchase"
            )
        return self


def _first_repeated(ids: Iterable[str]) -> str | None:
    seen: set[str] = set()
    for one in ids:
        if one in seen:
            return one
        seen.add(one)
    return None
