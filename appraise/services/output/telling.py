"""Stops, warnings and law notes of a bid, gathered once for every face."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING

from appraise.models.case import Case
from appraise.models.told import Told
from appraise.reference.load import Reference
from appraise.services.cases.casework import today
from appraise.services.inspection.paperwork import examine
from appraise.services.inspection.selling import seller_counts

if TYPE_CHECKING:
    from appraise.models.appraisal import Appraisal
    from appraise.models.forecast import Forecast
    from appraise.store.cases import SaleRecord

__all__ = ["told_of", "told_of_all"]


def told_of(
    case: Case,
    reference: Reference,
    appraisal: Appraisal | None = None,
    sales: Iterable[SaleRecord] = (),
    on: date | None = None,
) -> Told:
    """Return what has to be known beside the bid of a case: of its figures, papers and the law.

    Papers that prove nothing are left to the page of papers: the odds hold what they are worth.

    Parameters
    ----------
    appraisal : the estimate, or None where the car cannot be priced.
    sales : the person's cars offered or sold, from the store.
    on : the day on which it is told; today if None.
    """
    papers = examine(case, reference)
    grave = (one for one in papers.problems if one not in papers.weak)
    return Told.of(
        (
            *(one for one in grave if one.weight != "note" or one.law),
            *(appraisal.problems if appraisal else ()),
            *seller_counts(sales, on or today(), leaving_out=case.id).problems,
        )
    )


def told_of_all(
    case: Case,
    reference: Reference,
    appraisal: Appraisal | None,
    forecast: Forecast | None,
    sales: Iterable[SaleRecord] = (),
    on: date | None = None,
) -> Told:
    """Return what has to be known of a car: beside its bid, and once it is owned of its repair.

    Parameters
    ----------
    forecast : of an owned car, or None where there is none.
    """
    from appraise.services.ownership.proving import unproved  # noqa: PLC0415 - the bid goes without

    found = told_of(case, reference, appraisal, sales, on).everything
    owned = unproved(case, reference) if case.purchase is not None else ()
    return Told.of((*found, *owned, *(forecast.problems if forecast else ())))
