"""Pure functions from a case and the reference values to an appraisal: no clock, no files."""

from __future__ import annotations

from appraise.engine.bid.appraisal import appraise

__all__ = ["appraise"]
