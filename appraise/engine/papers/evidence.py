"""What a paper proves: a likelihood ratio on the causes it speaks to, with its reasons in words.

A paper that names a part does not prove that the part was fitted to this car. A ratio is how many
times likelier such a paper is if the work was done than if it was not; what is lacking weakens
only what is over 1, so that nothing ever proves more for being worse.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from appraise.engine.catalog.values import Lookup
from appraise.engine.papers.vin_compare import compare
from appraise.models.case import Case
from appraise.models.papers import Claim, LineKind, Paid, Paper, PaperKind

__all__ = ["Strength", "claim_factors", "of_another_car", "strength_of"]

WORK = (PaperKind.INVOICE, PaperKind.ESTIMATE)
MONEY = (PaperKind.INVOICE, PaperKind.PARTS_RECEIPT)
OPENERS = {
    PaperKind.INVOICE: "an invoice",
    PaperKind.ESTIMATE: "an estimate: somebody quoted, nobody says it was repaired",
    PaperKind.PARTS_RECEIPT: "a receipt for a part: not that it was fitted, nor to which car",
    PaperKind.CORE_RETURN_SLIP: (
        "a slip for the return of an old unit: no proof that a new one was fitted"
    ),
    PaperKind.INSPECTION_CERTIFICATE: "a certificate: it passed on one day",
    PaperKind.SERVICE_BOOKLET_PAGE: "a page of the service booklet: a stamp",
    PaperKind.AUCTION_CONDITION_SHEET: "a condition sheet: somebody's look",
}


@dataclass(frozen=True, slots=True)
class Strength:
    """How strongly a claim stands.

    Attributes
    ----------
    ratio : likelihood ratio against the fault; 1 says nothing, below 1 it speaks for the fault.
    reasons : in words, the kind of paper first.
    """

    paper: str
    claim: Claim
    ratio: float
    reasons: tuple[str, ...]

    @property
    def words(self) -> str:
        """The verdict in a few words."""
        if self.ratio >= STRONG:
            return "strong"
        if self.ratio >= SOME:
            return "some"
        return "nothing" if self.ratio >= NOTHING_SAID else "speaks for the fault"


STRONG, SOME, NOTHING_SAID = 5.0, 1.3, 0.97
SAME_CAR = ("same", "same if misread", "cannot tell")


def strength_of(paper: Paper, claim: Claim, case: Case, lookup: Lookup) -> Strength:
    """Return how strongly a paper supports a claim about a finding.

    Parameters
    ----------
    paper, claim : one of the case's papers, and one of its claims.
    case : for the car's number and the day of the appraisal.
    lookup : the ratios, common practice, and a record of their use.
    """
    ratio = lookup.number(f"paper.kind.{paper.kind.value}")
    reasons = [OPENERS.get(paper.kind, f"a paper ({paper.kind.value.replace('_', ' ')})")]
    if not claim.causes:
        reasons.append("it is not said which cause of the finding it speaks to")
        return Strength(paper.id, claim, 1.0, tuple(reasons))
    if of_another_car(paper, case):
        reasons.append("its number is another car's: it says nothing about this one")
        return Strength(paper.id, claim, 1.0, tuple(reasons))
    left = lookup.number(f"paper.claim.{claim.claimed.value}")
    for name, words in _lacks(paper, case):
        left *= lookup.number(f"paper.lacks.{name}")
        reasons.append(words)
    if len(reasons) == 1 and paper.kind is PaperKind.INVOICE:
        reasons.append("it names this car, the part and the labor, and is paid")
    if ratio > 1:
        ratio = 1 + (ratio - 1) * left
    return Strength(paper.id, claim, ratio, tuple(reasons))


def _plain(number: str) -> str:
    return "".join(one for one in number.upper() if one.isalnum())


def of_another_car(paper: Paper, case: Case) -> bool:
    """Return whether a paper carries a number or a plate, and not this car's."""
    ours, theirs = _plain(case.vehicle.plate), _plain(paper.plate)
    if ours and theirs and ours != theirs:
        return True
    if not (_plain(case.vehicle.vin) and _plain(paper.vin)):
        return False
    return compare(case.vehicle.vin, paper.vin).result not in SAME_CAR


def _lacks(paper: Paper, case: Case) -> Iterable[tuple[str, str]]:
    """Yield what a paper lacks, by the name of its value, with the words for it."""
    if not paper.vin and not paper.plate:
        yield "no_vin", "it names no car"
    kinds = {one.kind for one in paper.lines}
    if paper.kind in MONEY and LineKind.PART not in kinds:
        yield "part_not_named", "no line names a part"
    if paper.kind in WORK and LineKind.LABOR not in kinds:
        yield "no_labor", "no labor line"
    if paper.kind in MONEY and paper.paid is Paid.UNPAID:
        yield "unpaid", "marked unpaid"
    elif paper.kind in MONEY and paper.paid is Paid.NOT_SAID:
        yield "not_paid", "payment is not shown"
    yield from _date_lacks(paper, case)
    if paper.odometer is not None and paper.odometer.km > case.vehicle.odometer.km:
        yield "odometer_off", "its odometer reading is above the car's today"
    if not paper.issuer or not paper.reach:
        yield "issuer_unknown", "nobody to call about it"


def _date_lacks(paper: Paper, case: Case) -> Iterable[tuple[str, str]]:
    if paper.dated is None:
        yield "no_date", "no date"
    elif paper.dated > case.appraised_on:
        yield "date_cannot_be", "its date lies ahead"
    elif paper.dated.year < case.vehicle.model_year - 1:
        yield "date_cannot_be", "dated before the car was built"


def claim_factors(case: Case, lookup: Lookup) -> dict[str, dict[str, float]]:
    """Return the factor on the chance of each cause that papers speak to: finding, cause, factor.

    Papers on one cause are not independent (one job leaves several papers): of those that speak
    against the fault the strongest alone counts, and of those that speak for it likewise. Where
    papers disagree, the two are multiplied: ``factor = 1 / (max(1, ratios) min(1, ratios))``. So
    one more paper never makes likelier what it speaks against, nor less likely what it speaks for.
    """
    out: dict[str, dict[str, float]] = {}
    sides: dict[tuple[str, str], tuple[float, float]] = {}
    for paper in case.papers:
        for claim in paper.claims:
            ratio = strength_of(paper, claim, case, lookup).ratio
            for cause in claim.causes:
                key = (claim.finding, cause)
                against, speaks_for = sides.get(key, (1.0, 1.0))
                sides[key] = max(against, ratio), min(speaks_for, ratio)
    for (finding, cause), (against, speaks_for) in sides.items():
        out.setdefault(finding, {})[cause] = 1 / (against * speaks_for)
    return out
