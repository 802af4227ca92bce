"""Which marks stand on a car's title and papers, and which one its price is taken at."""

from __future__ import annotations

from appraise.engine.catalog.values import Lookup
from appraise.engine.papers.evidence import of_another_car
from appraise.models.case import Case
from appraise.models.vehicle import TitleBrand

__all__ = ["marks_of", "priced_mark"]


def marks_of(case: Case) -> tuple[TitleBrand, ...]:
    """Return the marks on the car as entered and on its papers, each once, `clear` left out.

    A paper that is another car's marks nothing.
    """
    found = [case.vehicle.title_brand]
    for paper in case.papers:
        if not of_another_car(paper, case):
            found += paper.brands
    return tuple(dict.fromkeys(one for one in found if one is not TitleBrand.CLEAR))


def priced_mark(case: Case, lookup: Lookup) -> TitleBrand:
    """Return the mark that the car is priced with: of several, the one that costs most.

    Two marks on one car mostly tell of one event; their factors are not multiplied.
    """
    marks = marks_of(case)
    if not marks:
        return TitleBrand.CLEAR
    return min(marks, key=lambda one: lookup.spread(f"brand.{one.value}").likely)
