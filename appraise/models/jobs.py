"""A repair operation: parts, hours, what has to come off, what follows from it."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from appraise.models.base import Id, Label, Model, Money, Note
from appraise.models.ranges import Range
from appraise.models.vehicle import Fits

__all__ = ["DoneBy", "HoursFamily", "Job", "Lead", "PartFamily", "PartLine", "System"]


class System(StrEnum):
    """The part of the car a job belongs to."""

    BRAKES = "brakes"
    STEERING = "steering"
    SUSPENSION = "suspension"
    TIRES_AND_WHEELS = "tires_and_wheels"
    ENGINE_MECHANICAL = "engine_mechanical"
    ENGINE_MANAGEMENT = "engine_management"
    INDUCTION_AND_BOOST = "induction_and_boost"
    FUEL = "fuel"
    IGNITION = "ignition"
    COOLING = "cooling"
    EXHAUST = "exhaust"
    TRANSMISSION = "transmission"
    CLUTCH = "clutch"
    DRIVELINE = "driveline"
    DIFFERENTIAL = "differential"
    ELECTRICAL = "electrical"
    LIGHTS = "lights"
    CLIMATE = "climate"
    RESTRAINTS = "restraints"
    GLASS = "glass"
    BODY_AND_PAINT = "body_and_paint"
    INTERIOR = "interior"
    HYBRID_AND_ELECTRIC = "hybrid_and_electric"
    FLUIDS_AND_SERVICE = "fluids_and_service"
    PREPARATION = "preparation"


class PartFamily(StrEnum):
    """Parts whose price moves alike from one price class to another."""

    WEAR = "wear"
    CHASSIS = "chassis"
    ENGINE = "engine"
    UNIT = "unit"
    ELECTRONIC = "electronic"
    BODY = "body"
    LIGHT = "light"
    GLASS = "glass"
    TRIM = "trim"
    TIRE = "tire"
    FLUID = "fluid"
    BATTERY = "battery"
    SERVICE = "service"


class HoursFamily(StrEnum):
    """Work whose hours move alike from one price class to another."""

    WHEEL_END = "wheel_end"
    ENGINE_BAY = "engine_bay"
    UNDERSIDE = "underside"
    INSIDE = "inside"
    OUTSIDE = "outside"
    SAME = "same"


class Lead(StrEnum):
    """How long a part takes to come."""

    SHELF = "shelf"
    ORDER = "order"
    RARE = "rare"


class DoneBy(StrEnum):
    """Who does a job."""

    OWN_HANDS = "own_hands"
    SHOP = "shop"
    CHEAPER = "cheaper"


class PartLine(Model):
    """One line of a parts list."""

    label: Label = Field(description="Part")
    family: PartFamily = Field(
        default=PartFamily.WEAR, description="How its price moves with the price class"
    )
    quantity: Annotated[int, Field(ge=1, le=100)] = Field(default=1, description="Quantity")
    price: Range = Field(description="Price each, for a mid-size car")
    core: Money = Field(
        default=Decimal(0), description="Deposit each on the old unit, for a mid-size car"
    )


class Job(Fits):
    """A repair operation as it stands in the catalog or in a person's own list.

    Hours are those of an experienced person with hand tools and the car on stands, without what
    the access group takes. In the catalog prices and hours are for a mid-size car and move with
    the price class; a case's own job holds the figures of that very car.
    """

    id: Id = Field(description="Stable name")
    label: Label = Field(description="Job")
    system: System = Field(description="System")
    hours: Range = Field(description="Hours, without access")
    hours_family: HoursFamily = Field(
        default=HoursFamily.SAME, description="How the hours move with the price class"
    )
    access: tuple[Id, ...] = Field(default=(), description="What has to come off first")
    parts: tuple[PartLine, ...] = Field(default=(), max_length=30, description="Parts")
    consumables: Money = Field(
        default=Decimal(0), description="Grease, sealer, cleaner, one-use bolts"
    )
    lead: Lead = Field(default=Lead.SHELF, description="How long the parts take to come")
    tools: tuple[Id, ...] = Field(default=(), description="Special tools")
    follows: tuple[Id, ...] = Field(default=(), description="Jobs made necessary by this one")
    shop_only: bool = Field(default=False, description="Needs a specialist's equipment or license")
    emission_control: bool = Field(default=False, description="Touches an emission control")
    safety_system: bool = Field(default=False, description="Touches a safety system")
    cautions: tuple[Id, ...] = Field(default=(), description="Cautions")
    kind: Literal["repair", "service", "measure", "sale"] = Field(
        default="repair", description="Repair, service, measurement or preparation for sale"
    )
    note: Note = Field(default="", description="Note")

    @model_validator(mode="after")
    def _not_after_itself(self) -> Self:
        if self.id in self.follows:
            raise ValueError("a job cannot follow from itself")
        return self
