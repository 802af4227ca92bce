"""One car, from first look to sale: everything known about it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from enum import StrEnum
from typing import Annotated, Any, Self

from pydantic import Field, model_validator

from appraise.given import check_extent
from appraise.models.base import Currency, Id, Label, Model, Note
from appraise.models.deal import Deal
from appraise.models.findings import CheckResult, Finding
from appraise.models.jobs import Job
from appraise.models.market import Market
from appraise.models.measurements import Measurement
from appraise.models.papers import Paper
from appraise.models.trade import Purchase, Sale
from appraise.models.vehicle import Vehicle
from appraise.models.work import Work

__all__ = ["SCHEMA_VERSION", "Case", "Standing"]

SCHEMA_VERSION = 5
MOST_FINDINGS = 400
MOST_CHOICES = 4_000
"""Jobs that all findings and their causes name together."""
MOST_WORKED_OUT = 50_000_000
"""Draws of all jobs and parts together: some ten seconds and half a gigabyte."""


class Standing(StrEnum):
    """Where a car stands on its way."""

    PROSPECT = "prospect"
    OWNED = "owned"
    ON_SALE = "on_sale"
    SOLD = "sold"
    LET_GO = "let_go"


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
    not_seen: tuple[Id, ...] = Field(
        default=(), max_length=200, description="Symptoms looked for and not there"
    )
    results: tuple[CheckResult, ...] = Field(
        default=(), max_length=200, description="Results of checks, the first done first"
    )
    measurements: tuple[Measurement, ...] = Field(
        default=(), max_length=400, description="Measurements"
    )
    papers: tuple[Paper, ...] = Field(default=(), max_length=200, description="Papers")
    own_jobs: tuple[Job, ...] = Field(
        default=(),
        max_length=200,
        description="Jobs that are not in the catalog, with the figures of this very car",
    )
    market: Market = Field(default=Market(), description="Prices of comparable cars")
    deal: Deal = Field(default=Deal(), description="The money around it")
    purchase: Purchase | None = Field(default=None, description="The purchase, once owned")
    work: Work = Field(default=Work(), description="Work on it, once owned")
    sale: Sale | None = Field(default=None, description="The sale, once it is offered")
    draws: Annotated[int, Field(strict=True, ge=1000, le=200_000)] = Field(
        default=20_000, description="Number of draws"
    )
    seed: Annotated[int, Field(strict=True, ge=0, lt=2**63)] = Field(
        default=1, description="Repeat number of the draws"
    )
    note: Note = Field(default="", description="Note")

    @model_validator(mode="before")
    @classmethod
    def _not_without_end(cls, given: Any) -> Any:  # noqa: ANN401 - whatever came
        check_extent(given)
        return given

    @model_validator(mode="after")
    def _can_be_worked_out(self) -> Self:
        jobs = sum(
            len(one.jobs) + sum(len(cause.jobs) for cause in one.causes) for one in self.findings
        )
        parts = sum(1 + len(job.parts) for job in self.own_jobs)
        if jobs > MOST_CHOICES:
            raise ValueError(f"the findings name {jobs:,} jobs; they may name {MOST_CHOICES:,}")
        if (jobs + parts) * self.draws > MOST_WORKED_OUT:
            raise ValueError(
                f"{self.draws:,} draws of {jobs + parts:,} jobs and parts are too much to work "
                f"out; it may have {MOST_WORKED_OUT // (jobs + parts):,} draws"
            )
        return self

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

    @model_validator(mode="after")
    def _work_fits(self) -> Self:
        wrong = self.work.in_currency(self.currency)
        if wrong:
            raise ValueError(wrong)
        if self.purchase is None:
            return self
        bought, sale = self.purchase.bought_on, self.sale
        for what, day in (
            ("offered", sale.offered_on if sale else None),
            ("sold", sale.sold_on if sale else None),
        ):
            if day is not None and day < bought:
                raise ValueError(f"{what} on {day}, before the car was bought on {bought}")
        early = next((one for one in self.work.entries if one.on < self.purchase.bought_on), None)
        if early is not None:
            raise ValueError(
                f"entry {early.id} is of {early.on}, before the car was bought on "
                f"{self.purchase.bought_on}: enter it under what was paid for the purchase"
            )
        return self

    @model_validator(mode="after")
    def _bypasses_are_disclosed(self) -> Self:
        if self.standing not in (Standing.ON_SALE, Standing.SOLD):
            return self
        for job in self.work.open_bypasses:
            if job.id not in self.work.disclosed:
                raise ValueError(
                    f"{job.bypass.what if job.bypass else job.id} is bypassed and not disclosed: "
                    "restore it, or name it to the buyer in writing, before it is offered"
                )
        return self


def _first_repeated(ids: Iterable[str]) -> str | None:
    seen: set[str] = set()
    for one in ids:
        if one in seen:
            return one
        seen.add(one)
    return None
