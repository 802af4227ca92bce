"""The purchase, and what each finding turned out to be once the car was taken apart."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from appraise.errors import AppraiseError, BadCase, Problem
from appraise.models.case import Case, Standing
from appraise.models.findings import Finding
from appraise.models.forecast import Itemized
from appraise.reference.load import Reference
from appraise.services.cases.editing import changed

__all__ = ["buy", "itemize_case", "settle", "unsettle"]


def buy(case: Case, bid: Decimal, on: date, reference: Reference) -> Case:
    """Return the case as owned, with what is expected of it on that day kept beside it.

    Raises
    ------
    BadCase
        The price or the day cannot be.
    """
    purchase: dict[str, Any] = {"bid": bid, "bought_on": on}
    bought = changed(changed(case, ("purchase",), purchase), ("standing",), Standing.OWNED)
    return changed(bought, ("purchase", "expected"), _expectation(bought, on, reference))


def _expectation(case: Case, on: date, reference: Reference) -> dict[str, Any] | None:
    """Return what the estimate says on the day of the purchase; None if there is no price yet."""
    from appraise.engine.bid.appraisal import appraise  # noqa: PLC0415 - the engine only when needed

    try:
        found = appraise(case, reference)
    except AppraiseError:
        return None
    return {
        "on": on,
        "findings": [
            {
                "id": one.id,
                "label": one.label,
                "chance": one.chance,
                "money": one.money.model_dump(),
                "own_hours": one.own_hours,
            }
            for one in found.repair.by_finding
        ],
        "found": found.repair.found.model_dump(),
        "unseen": found.repair.unseen.model_dump(),
        "money": found.repair.money.model_dump(),
        "own_hours": found.repair.own_hours.model_dump(),
        "resale": found.resale.mended.model_dump(),
        "margin": found.outcome.margin.model_dump() if found.outcome else None,
        "days": found.repair.days.model_dump(),
    }


def settle(case: Case, finding_id: str, on: date, *, fault: bool, cause: str | None = None) -> Case:
    """Return the case with what a finding turned out to be.

    Raises
    ------
    BadCase
        The finding is not there, or the cause is none of its own.
    """
    _finding(case, finding_id)
    truth = {"fault": fault, "cause": cause if fault else None, "on": on}
    return changed(case, ("findings", finding_id, "truth"), truth)


def unsettle(case: Case, finding_id: str) -> Case:
    """Return the case with a finding open again."""
    return changed(case, ("findings", finding_id, "truth"), None)


def _finding(case: Case, finding_id: str) -> Finding:
    found = next((one for one in case.findings if one.id == finding_id), None)
    if found is None:
        raise BadCase((Problem("findings", f"there is no finding {finding_id!r}", "stop"),))
    return found


def itemize_case(case: Case, reference: Reference) -> Itemized:
    """Return what became of the faults expected at the purchase; see `engine.itemize.itemize`."""
    from appraise.engine.work.came_true import itemize  # noqa: PLC0415 - the engine only when needed

    return itemize(case, reference)
