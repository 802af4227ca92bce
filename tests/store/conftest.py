"""Databases to test on: a file of one's own, and a database of one's own on a server."""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from sqlalchemy import Engine

from appraise.models.case import Case, Standing
from appraise.models.deal import Deal, FeeSchedule, FeeStep
from appraise.models.findings import Area, Cause, Finding, JobChoice, Look, Severity, State
from appraise.models.jobs import DoneBy, Job, PartFamily, PartLine, System
from appraise.models.market import Comparable, Condition, Market, PriceKind
from appraise.models.ranges import Range
from appraise.models.trade import Purchase
from appraise.models.vehicle import Distance, Fuel, PriceClass, TitleBrand, Transmission, Vehicle
from appraise.store.database import open_database


@dataclass
class Clock:
    """Goes on by a second each time it is asked."""

    moment: datetime = field(
        default_factory=lambda: datetime(2026, 3, 29, 1, 59, 58, 123456, tzinfo=UTC)
    )

    def __call__(self) -> datetime:
        self.moment += timedelta(seconds=1)
        return self.moment


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def postgresql_url(postgresql_server: Any) -> str:
    address: str = postgresql_server.new_database()
    return address


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    return f"sqlite:///{quote(str(tmp_path / 'cases.sqlite'))}"


@pytest.fixture(
    params=["sqlite", pytest.param("postgresql", marks=pytest.mark.server)],
)
def url(request: pytest.FixtureRequest) -> str:
    """Return an address with nothing at it yet, once for each kind of database."""
    address: str = request.getfixturevalue(f"{request.param}_url")
    return address


@pytest.fixture
def opened() -> Iterator[Callable[..., Engine]]:
    """`open_database`, with everything closed after the test."""
    engines: list[Engine] = []

    def open_one(url: str, **options: Any) -> Engine:
        engines.append(open_database(url, **options))
        return engines[-1]

    yield open_one
    for engine in engines:
        engine.dispose()


@pytest.fixture
def engine(url: str, opened: Callable[..., Engine]) -> Engine:
    return opened(url)


@pytest.fixture
def full_case() -> Case:
    """Return a case with something in every field that has a kind of its own."""
    brake_hose = Job(
        id="own.brake_hose",
        label="Front brake hose",
        system=System.BRAKES,
        hours=Range(low=Decimal("0.4"), likely=Decimal("0.7"), high=Decimal("1.3")),
        parts=(
            PartLine(
                label="Hose",
                family=PartFamily.CHASSIS,
                quantity=2,
                price=Range(
                    low=Decimal("11.10"),
                    likely=Decimal("14.00"),
                    high=Decimal("30.05"),
                    reads_as="bounds",
                ),
            ),
        ),
        consumables=Decimal("6.50"),
        safety_system=True,
        fuels=(Fuel.DIESEL,),
        transmissions=(Transmission.MANUAL, Transmission.DUAL_CLUTCH),
    )
    return Case(
        id="tarn-2011",
        title="Brasquell Dovvet, läuft auf 3 Zylindern 🚗",
        story='It "shakes" at 50%;\n\tthe seller blames the mounts.',
        standing=Standing.OWNED,
        currency="EUR",
        appraised_on=date(2026, 2, 28),
        vehicle=Vehicle(
            make="Brasquell",
            model="Dovvet",
            model_year=2011,
            price_class=PriceClass.VAN,
            fuel=Fuel.DIESEL,
            transmission=Transmission.MANUAL,
            engine_liters=Decimal("1.90"),
            cylinders=4,
            odometer=Distance(value=Decimal("187654.30"), unit="km"),
            title_brand=TitleBrand.HAIL_DAMAGE,
        ),
        findings=(
            Finding(
                id="shake",
                area=Area.ENGINE,
                state=State.SUSPECT,
                label="Shakes when idling",
                look=Look.ENGINE_RUNNING,
                severity=Severity.MAJOR,
                chance=Decimal("0.90"),
                causes=(
                    Cause(id="mounts", label="Engine mounts", chance=Decimal("0.1")),
                    Cause(
                        id="injector",
                        label="Injector",
                        chance=Decimal("0.333333333333"),
                        jobs=(JobChoice(job="engine.injector", done_by=DoneBy.SHOP),),
                    ),
                ),
            ),
            Finding(
                id="hose",
                area=Area.BRAKES,
                state=State.FAULTY,
                severity=Severity.DANGEROUS,
                jobs=(
                    JobChoice(
                        job="own.brake_hose",
                        parts=Range.model_validate(
                            dict.fromkeys(("low", "likely", "high"), "28.00")
                        ),
                    ),
                ),
                visible=False,
            ),
            Finding(id="glass", area=Area.GLASS_AND_LIGHTS, state=State.NOT_LOOKED_AT),
        ),
        own_jobs=(brake_hose,),
        market=Market(
            comparables=(
                Comparable(
                    id="c1",
                    price=Decimal("4999.90"),
                    kind=PriceKind.SOLD,
                    currency="CHF",
                    model_year=2012,
                    odometer=Distance(value=Decimal(98000), unit="mi"),
                    condition=Condition.ROUGHER,
                    seen_on=date(2024, 2, 29),
                ),
            ),
            days_to_sell=Range(low=Decimal(7), likely=Decimal(21), high=Decimal(60)),
        ),
        deal=Deal(
            asking_price=Decimal("1800.00"),
            fees=(
                FeeSchedule(
                    name="Buyer's fee",
                    steps=(
                        FeeStep(starts_at=Decimal(0), flat=Decimal(50)),
                        FeeStep(
                            starts_at=Decimal(1000), percent=Decimal("7.5"), cap=Decimal("250.00")
                        ),
                    ),
                ),
            ),
            target_margin=Decimal("-250.50"),
        ),
        purchase=Purchase(bid=Decimal("1500.00"), bought_on=date(2026, 3, 1)),
        draws=50_000,
        seed=2**63 - 1,
        note="line\r\nline",
    )


@pytest.fixture
def small_case() -> Case:
    """Return the least a case can be."""
    return Case(
        id="small",
        title="Small",
        appraised_on=date(2026, 1, 2),
        vehicle=Vehicle(
            make="Brasquell",
            model="Tivvet",
            model_year=2001,
            odometer=Distance(value=Decimal(100), unit="mi"),
        ),
    )


# --- work cut short -------------------------------------------------------------------------------

Stop = Callable[[str, Callable[[], object]], None]
"""Called before each step with its name and what does half of it."""

CALLS = ("fsync", "replace", "rename", "link", "unlink", "write", "ftruncate", "mkdir")


class Pieces(io.FileIO):
    """A file whose every write is a step."""

    stop: Stop

    def write(self, data: Any) -> int:
        self.stop("file.write", lambda: super(Pieces, self).write(data[: len(data) // 2]))
        return super().write(data)


def nothing() -> None:
    """Do no half of what has no halves."""


def tell_of_steps(patch: pytest.MonkeyPatch, stop: Stop) -> None:
    """Let it be called before each thing that the program does to files by itself."""

    def telling(name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*given: Any, **named: Any) -> Any:
            if name == "write":
                stop(name, lambda: real(given[0], given[1][: len(given[1]) // 2]))
            elif name != "open" or given[1] & os.O_CREAT:
                stop(name, nothing)
            return real(*given, **named)

        return call

    for name in (*CALLS, "open"):
        patch.setattr(os, name, telling(name, getattr(os, name)))
    usual = Path.open

    def opened(self: Path, mode: str = "r", *given: Any, **named: Any) -> Any:
        if mode not in ("wb", "xb", "ab"):
            return usual(self, mode, *given, **named)
        stop("file.open", nothing)
        raw = Pieces(self, mode)
        raw.stop = stop
        return io.BufferedWriter(raw)

    patch.setattr(Path, "open", opened)


@pytest.fixture(scope="session")
def steps() -> Callable[[pytest.MonkeyPatch, Stop], None]:
    return tell_of_steps
