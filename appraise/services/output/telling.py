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
    from appraise.store.cases import SaleRecord

__all__ = ["told_of"]


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
