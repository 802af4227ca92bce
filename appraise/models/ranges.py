"""A number with doubt: low, likely, high."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator

from appraise.models.base import Amount, Model

__all__ = ["Range"]

WIDEST = 10_000
"""Times that high may be low: beyond, no doubt is meant, and means and their squares overflow."""


class Range(Model):
    """Low / likely / high of something that cannot be below nothing.

    Read as tenths, one time in ten it comes in below low, half the time below likely, one time in
    ten above high. Read as bounds, low and high are never passed and likely is the mode.
    """

    low: Amount = Field(description="Low: one time in ten it comes in below this")
    likely: Amount = Field(description="Likely: half the time it comes in below this")
    high: Amount = Field(description="High: one time in ten it comes in above this")
    reads_as: Literal["tenths", "bounds"] = Field(
        default="tenths", description="Whether low and high are one-in-ten points or true bounds"
    )

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.low > self.likely:
            raise ValueError(f"low ({self.low}) is above likely ({self.likely})")
        if self.high < self.likely:
            raise ValueError(f"high ({self.high}) is below likely ({self.likely})")
        if self.reads_as == "tenths" and self.low == 0 < self.high:
            raise ValueError(
                "low is 0: a cost that may not arise at all is a chance, not a range from 0"
            )
        if self.reads_as == "tenths" and self.high > WIDEST * self.low:
            raise ValueError(f"high ({self.high}) is more than {WIDEST:,} times low ({self.low})")
        return self

    @property
    def is_fixed(self) -> bool:
        """Whether there is no doubt at all."""
        return self.low == self.high
