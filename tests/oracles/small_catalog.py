"""A catalog small enough for a calculator: a few faults, signs and checks of one's own."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from appraise.reference.schema import Check, CodeGroup, Fault, Symptom
from appraise.reference.tables import Diagnosing, Reference

__all__ = ["check", "codes", "fault", "small_catalog", "symptom"]

OURS = {"kind": "own"}


def fault(name: str, often: float, *jobs: str, area: str = "brakes", **more: Any) -> Fault:
    """Return a fault with one remedy of those jobs."""
    raw = {
        "id": name,
        "label": name.capitalize(),
        "area": area,
        "often": str(often),
        "remedies": [{"jobs": list(jobs), "weight": 1}],
    }
    return Fault.model_validate(raw | more)


def _links(shares: dict[str, tuple[float, str]]) -> list[dict[str, Any]]:
    return [
        {"cause": cause, "share": str(share), "shows": word}
        for cause, (share, word) in shares.items()
    ]


def symptom(name: str, area: str = "brakes", phenomenon: str = "", **shares: Any) -> Symptom:
    """Return a symptom with (share, word) of each fault that may be behind it."""
    raw = {"id": name, "label": name.capitalize(), "area": area, "severity": "major"}
    return Symptom.model_validate(OURS | raw | {"causes": _links(shares), "phenomenon": phenomenon})


def codes(name: str, code: str, area: str = "brakes", phenomenon: str = "", **shares: Any):  # noqa: ANN201
    """Return a group of one code."""
    raw = {
        "id": name,
        "system": "Brakes",
        "area": area,
        "urgency": "high",
        "codes": [{"code": code, "label": name}],
        "causes": _links(shares),
        "phenomenon": phenomenon,
    }
    return CodeGroup.model_validate(OURS | raw)


def check(name: str, otherwise: Any, outcomes: Any = ("good", "bad"), **given: Any) -> Check:
    """Return a check with the chances of its outcomes under each fault, and under none."""
    raw = {
        "id": name,
        "label": name.capitalize(),
        "minutes": {"low": 6, "likely": 6, "high": 6},
        "how": "Look at it closely, then decide.",
        "needs": "standing",
        "outcomes": list(outcomes),
        "given": [
            {"causes": [cause], "chances": [str(one) for one in row]}
            for cause, row in given.items()
        ],
        "otherwise": [str(one) for one in otherwise],
    }
    return Check.model_validate(OURS | raw)


def small_catalog(reference: Reference, *entries: Any) -> Reference:
    """Return the reference with these faults, signs and checks and no others."""
    kinds = (Fault, Symptom, CodeGroup, Check)
    causes, symptoms, groups, checks = (
        {one.id: one for one in entries if isinstance(one, kind)} for kind in kinds
    )
    tables = Diagnosing(
        causes=causes,
        symptoms=symptoms,
        code_groups=groups,
        group_of_code={one.code: group for group in groups.values() for one in group.codes},
        checks=checks,
        limits={},
    )
    return replace(reference, diagnosing=lambda: tables)
