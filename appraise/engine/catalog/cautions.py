"""Which cautions hold for a piece of work on this very car."""

from __future__ import annotations

from collections.abc import Iterable

from appraise.models.vehicle import Fuel, Vehicle

__all__ = ["READY", "on_this_car"]

READY = "hybrid_ready"
READY_CARS = (Fuel.HYBRID, Fuel.PLUG_IN_HYBRID, Fuel.ELECTRIC)
HANDS_NEAR = {"raised_car", "belts_and_fans", "engine_running", "cranking_or_running", "cooling"}
"""Where hands are, or somebody is, when such a car starts its engine or moves by itself."""


def on_this_car(names: Iterable[str], car: Vehicle) -> tuple[str, ...]:
    """Return the cautions of some work, each once; on a hybrid also that it may start by itself.

    Parameters
    ----------
    names : ids of cautions, as jobs, checks and limits carry them.
    """
    found = dict.fromkeys(names)
    if car.fuel in READY_CARS and HANDS_NEAR & set(found):
        found[READY] = None
    return tuple(found)
