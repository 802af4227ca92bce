"""The car itself."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import Field, StringConstraints, model_validator

from appraise.models.base import SANE, Label, Model, Note, Words

__all__ = [
    "Aspiration",
    "Distance",
    "DriveWheels",
    "Fits",
    "Fuel",
    "PriceClass",
    "TitleBrand",
    "Transmission",
    "ValveDrive",
    "Vehicle",
]

KM_PER_MILE = Decimal("1.609344")
"""Exact: 25.4 mm an inch, 63,360 inches a mile (NIST SP 811, appendix B.8)."""

Name = Annotated[Label, StringConstraints(max_length=80)]

FURTHEST = Decimal(4_000_000)


class PriceClass(StrEnum):
    """What kind of car it is when parts are bought and panels come off."""

    SMALL = "small"
    MID_SIZE = "mid_size"
    LARGE = "large"
    PREMIUM = "premium"
    PERFORMANCE = "performance"
    LIGHT_TRUCK = "light_truck"
    VAN = "van"


class Fuel(StrEnum):
    """What drives it."""

    GASOLINE = "gasoline"
    DIESEL = "diesel"
    HYBRID = "hybrid"
    PLUG_IN_HYBRID = "plug_in_hybrid"
    ELECTRIC = "electric"
    GAS = "gas"


class Aspiration(StrEnum):
    """How the engine gets its air."""

    NATURAL = "natural"
    TURBO = "turbo"
    SUPERCHARGER = "supercharger"


class ValveDrive(StrEnum):
    """What turns the camshafts."""

    BELT = "belt"
    CHAIN = "chain"
    GEARS = "gears"


class Transmission(StrEnum):
    """How it changes gear."""

    MANUAL = "manual"
    AUTOMATIC = "automatic"
    CONTINUOUS = "continuous"
    DUAL_CLUTCH = "dual_clutch"
    SINGLE_SPEED = "single_speed"


class DriveWheels(StrEnum):
    """Which wheels drive it."""

    FRONT = "front"
    REAR = "rear"
    ALL = "all"


class TitleBrand(StrEnum):
    """A mark on the title, named as in the AAMVA D20 list; keyed by name, never by number."""

    CLEAR = "clear"
    REBUILT = "rebuilt"
    RECONSTRUCTED = "reconstructed"
    SALVAGE = "salvage"
    FLOOD_DAMAGE = "flood_damage"
    FIRE_DAMAGE = "fire_damage"
    HAIL_DAMAGE = "hail_damage"
    COLLISION = "collision"
    RECOVERED_THEFT = "recovered_theft"
    WARRANTY_RETURN = "warranty_return"
    PRIOR_TAXI = "prior_taxi"
    PRIOR_POLICE = "prior_police"
    ODOMETER_NOT_ACTUAL = "odometer_not_actual"
    PARTS_ONLY = "parts_only"


class Distance(Model):
    """A distance in the unit it was read in."""

    value: Annotated[Decimal, Field(ge=0, le=FURTHEST), SANE] = Field(description="Reading")
    unit: Literal["mi", "km"] = Field(description="Unit of the reading")

    @property
    def km(self) -> Decimal:
        """The distance in kilometers."""
        return self.value * KM_PER_MILE if self.unit == "mi" else self.value

    @property
    def miles(self) -> Decimal:
        """The distance in statute miles."""
        return self.value if self.unit == "mi" else self.value / KM_PER_MILE


class Vehicle(Model):
    """What the car is, as far as it matters to what it costs and fetches."""

    make: Name = Field(description="Make")
    model: Name = Field(description="Model")
    model_year: Annotated[int, Field(ge=1886, le=2100)] = Field(description="Model year")
    price_class: PriceClass = Field(
        default=PriceClass.MID_SIZE, description="Size and price class, for parts and labor"
    )
    fuel: Fuel = Field(default=Fuel.GASOLINE, description="Fuel")
    transmission: Transmission = Field(default=Transmission.AUTOMATIC, description="Transmission")
    drive: DriveWheels = Field(default=DriveWheels.FRONT, description="Driven wheels")
    engine_liters: Annotated[Decimal, Field(gt=0, le=30), SANE] | None = Field(
        default=None, description="Engine size, liters"
    )
    cylinders: Annotated[int, Field(ge=1, le=16)] | None = Field(
        default=None, description="Cylinders"
    )
    aspiration: Aspiration | None = Field(
        default=None, description="Turbo or supercharger; empty if not known"
    )
    valve_drive: ValveDrive | None = Field(
        default=None, description="Camshafts driven by; empty if not known"
    )
    salted_roads: bool | None = Field(
        default=None, description="Driven on salted roads; empty if not known"
    )
    odometer: Distance = Field(description="Odometer")
    vin: Annotated[Words, StringConstraints(max_length=40)] = Field(
        default="", description="Vehicle identification number, as written on the car"
    )
    plate: Annotated[Words, StringConstraints(max_length=20)] = Field(
        default="", description="License plate"
    )
    title_brand: TitleBrand = Field(
        default=TitleBrand.CLEAR, description="Title brand, the worst if several"
    )
    note: Note = Field(default="", description="Note")

    @model_validator(mode="after")
    def _electric_has_no_engine(self) -> Self:
        engine = (self.engine_liters, self.cylinders, self.aspiration, self.valve_drive)
        if self.fuel is Fuel.ELECTRIC and any(engine):
            raise ValueError("an electric car has no engine size, cylinders, turbo or camshafts")
        return self

    @property
    def name(self) -> str:
        """Year, make and model in one line."""
        return f"{self.model_year} {self.make} {self.model}"

    def age_years(self, on: date) -> float:
        """Years from the middle of the model year to `on`, never below 0."""
        return age_in_years(self.model_year, on)


class Fits(Model):
    """Which cars something is for, or can be wrong with; an empty list is all of them."""

    fuels: tuple[Fuel, ...] = Field(default=(), description="Only for these fuels; empty for all")
    transmissions: tuple[Transmission, ...] = Field(
        default=(), description="Only for these transmissions; empty for all"
    )
    drives: tuple[DriveWheels, ...] = Field(
        default=(), description="Only for these driven wheels; empty for all"
    )
    aspiration: tuple[Aspiration, ...] = Field(
        default=(), description="Only with these kinds of air intake; empty for all"
    )
    valve_drive: tuple[ValveDrive, ...] = Field(
        default=(), description="Only with camshafts driven so; empty for all"
    )

    def allows(self, car: Vehicle) -> bool:
        """Whether it fits a car, by all that is known of the car."""
        pairs: tuple[tuple[tuple[StrEnum, ...], StrEnum | None], ...] = (
            (self.fuels, car.fuel),
            (self.transmissions, car.transmission),
            (self.drives, car.drive),
            (self.aspiration, car.aspiration),
            (self.valve_drive, car.valve_drive),
        )
        return all(not allowed or has is None or has in allowed for allowed, has in pairs)


def age_in_years(model_year: int, on: date) -> float:
    """Return years from the middle of `model_year` to the day `on`, never below 0."""
    return max(0.0, on.year + (on.timetuple().tm_yday - 1) / 365.25 - (model_year + 0.5))
