"""The reference values together: made once, never changed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from appraise.models.findings import Area
from appraise.models.jobs import Job
from appraise.reference.schema import (
    Access,
    AreaReference,
    Caution,
    Check,
    CodeGroup,
    Fault,
    Limit,
    Provenance,
    Source,
    Symptom,
    Tool,
    Unit,
    Value,
)

__all__ = ["Diagnosing", "JobEntry", "Reference"]


@dataclass(frozen=True, slots=True)
class JobEntry:
    """A job of the catalog with what stands behind its figures."""

    job: Job
    provenance: Provenance
    currency: str
    base_year: int
    file: str


@dataclass(frozen=True, slots=True)
class Diagnosing:
    """What is needed to look behind a symptom; read when first asked for."""

    causes: Mapping[str, Fault]
    symptoms: Mapping[str, Symptom]
    code_groups: Mapping[str, CodeGroup]
    group_of_code: Mapping[str, CodeGroup]
    checks: Mapping[str, Check]
    limits: Mapping[str, Limit]


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """Every reference value, by id.

    Attributes
    ----------
    diagnosing : gives causes, symptoms, codes, checks and limits; reads them if they are not yet.
    """

    sources: Mapping[str, Source]
    units: Mapping[str, Unit]
    values: Mapping[str, Value]
    access: Mapping[str, Access]
    tools: Mapping[str, Tool]
    cautions: Mapping[str, Caution]
    areas: Mapping[Area, AreaReference]
    jobs: Mapping[str, JobEntry]
    diagnosing: Callable[[], Diagnosing]

    @property
    def currency(self) -> str:
        """The currency of the catalog's amounts."""
        return next((entry.currency for entry in self.jobs.values()), "USD")

    def value(self, value_id: str) -> Value:
        """Return the reference value of that id; KeyError if there is none."""
        return self.values[value_id]

    @property
    def causes(self) -> Mapping[str, Fault]:
        """Causes by id."""
        return self.diagnosing().causes

    @property
    def symptoms(self) -> Mapping[str, Symptom]:
        """Symptoms by id."""
        return self.diagnosing().symptoms

    @property
    def code_groups(self) -> Mapping[str, CodeGroup]:
        """Groups of trouble codes by id."""
        return self.diagnosing().code_groups

    @property
    def group_of_code(self) -> Mapping[str, CodeGroup]:
        """The group that each trouble code stands in, by the code."""
        return self.diagnosing().group_of_code

    @property
    def checks(self) -> Mapping[str, Check]:
        """Checks by id."""
        return self.diagnosing().checks

    @property
    def limits(self) -> Mapping[str, Limit]:
        """Limits by id."""
        return self.diagnosing().limits
