"""What the papers of a car prove and where they contradict each other, the worst first."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Literal

from appraise.engine.catalog.values import Lookup
from appraise.engine.papers.evidence import Strength, of_another_car, strength_of
from appraise.engine.papers.examined import Examined
from appraise.engine.papers.odometer import Reading, history, possible_year
from appraise.engine.papers.odometer_law import disclosure_duty
from appraise.engine.papers.priced_brand import priced_mark
from appraise.engine.papers.title import HandFacts, TitleFacts, in_hand, right_to_sell
from appraise.engine.papers.vin import read_vin
from appraise.engine.papers.vin_compare import compare
from appraise.errors import AppraiseError, Problem
from appraise.models.case import Case
from appraise.models.papers import Lien, Paper, PaperKind, Signed, TitleMark
from appraise.models.vehicle import TitleBrand
from appraise.reference.load import Reference
from appraise.services.cases.editing import changed

__all__ = ["examine", "price_words", "without_paper"]

ORDER = {"stop": 0, "warning": 1, "note": 2}
BETWEEN = re.compile(r"\s+(?:and|or)\s+|[;/&]", re.IGNORECASE)
"""What stands between the names of two owners."""


def examine(case: Case, reference: Reference) -> Examined:
    """Return what the papers of a case prove, and where they contradict each other.

    Parameters
    ----------
    case : the car with its papers.
    reference : the strengths of papers, common practice.
    """
    lookup = Lookup(reference)
    strengths = tuple(
        strength_of(paper, claim, case, lookup) for paper in case.papers for claim in paper.claims
    )
    year = case.vehicle.model_year
    readings = history(
        _readings(case),
        case.appraised_on,
        model_year=year if possible_year(year, case.appraised_on) else None,
    )
    weak = tuple(_weak(case, strengths))
    problems = [
        *_identity(case),
        *_title(case),
        *(one.problem for one in readings.signs),
        *_undated(case),
        *_marks(case, lookup),
        *_sums(case),
        *weak,
        *_disclosure(case),
    ]
    problems.sort(key=lambda one: ORDER[one.weight])
    return Examined(strengths, readings, in_hand(_hand_facts(case)), tuple(problems), weak)


def without_paper(case: Case, paper_id: str) -> Case:
    """Return the case without a paper."""
    kept = [one.model_dump() for one in case.papers if one.id != paper_id]
    return changed(case, ("papers",), kept)


def _named(paper: Paper) -> str:
    dated = f" of {paper.dated}" if paper.dated else ""
    return paper.kind.value.replace("_", " ") + dated


def _readings(case: Case) -> Iterator[Reading]:
    for paper in case.papers:
        if paper.odometer is not None and paper.dated is not None:
            yield Reading(
                paper.dated, paper.odometer.value, paper.odometer.unit, source=_named(paper)
            )
    here = case.vehicle.odometer
    yield Reading(case.appraised_on, here.value, here.unit, source="the car itself")


def _undated(case: Case) -> Iterator[Problem]:
    for paper in case.papers:
        if paper.odometer is not None and paper.dated is None:
            yield Problem(
                f"papers.{paper.id}",
                f"{_named(paper)}: carries {paper.odometer.value:,} {paper.odometer.unit} and no "
                "date: left out of the odometer's history",
                "note",
                "Enter the date on it, or ask for it.",
            )


def _identity(case: Case) -> Iterator[Problem]:
    """Say what is wrong with the car's number, and which papers carry another one."""
    car = case.vehicle
    if not car.vin:
        yield Problem(
            "vehicle.vin",
            "the car's number is not noted",
            "warning",
            "Read it from the plate on the car and compare it with every paper.",
        )
        return
    yield from read_vin(car.vin, car.model_year).problems
    for paper in case.papers:
        if paper.vin:
            for one in compare(car.vin, paper.vin).problems:
                titled = paper.kind is PaperKind.TITLE and one.weight == "warning"
                yield Problem(
                    f"papers.{paper.id}",
                    f"{_named(paper)}: {one.message}",
                    "stop" if titled else one.weight,
                    one.hint,
                )
        if paper.plate and car.plate and _plain(paper.plate) != _plain(car.plate):
            yield Problem(
                f"papers.{paper.id}",
                f"{_named(paper)}: carries the plate {paper.plate}, the car {car.plate}",
                "warning",
                "Ask whether the plate was changed, and for the paper that shows it.",
            )


def _plain(text: str) -> str:
    return "".join(one for one in text.upper() if one.isalnum())


def _title(case: Case) -> Iterator[Problem]:
    """Say what speaks against the seller's right to sell, once a title was seen."""
    if _kinds(case, PaperKind.TITLE):
        yield from right_to_sell(_title_facts(case))


def _kinds(case: Case, kind: PaperKind) -> list[Paper]:
    """Return the papers of a kind that are not another car's."""
    return [one for one in case.papers if one.kind is kind and not of_another_car(one, case)]


def _title_facts(case: Case) -> TitleFacts:
    title = next(iter(_kinds(case, PaperKind.TITLE)), None)
    if title is None:
        return TitleFacts(seller=case.deal.seller)
    owners = tuple(one.strip() for one in BETWEEN.split(title.in_name) if one.strip())
    lien: Literal["none", "open", "released"] | None = None
    if title.lien is not Lien.NOT_SAID:
        lien = "none" if title.lien is Lien.NONE_NAMED else "open"
    if lien == "open" and _kinds(case, PaperKind.LIEN_RELEASE):
        lien = "released"
    by_owner = (Signed.BY_SELLER, Signed.BY_SELLER_NO_BUYER_NAMED, Signed.BY_BOTH)
    marks = set(title.title_marks)
    return TitleFacts(
        owners=owners,
        joined="or" if " or " in title.in_name.casefold() else "and" if len(owners) > 1 else None,
        seller=case.deal.seller,
        assigned_to=title.signed_to,
        signed=None if title.signed is Signed.NOT_SAID else title.signed in by_owner,
        power_of_attorney=bool(_kinds(case, PaperKind.POWER_OF_ATTORNEY)),
        lien=lien,
        bonded=TitleMark.BONDED in marks,
        duplicate=TitleMark.DUPLICATE in marks,
        export_only=TitleMark.EXPORT_ONLY in marks,
        parts_only=TitleMark.PARTS_ONLY in marks or TitleBrand.PARTS_ONLY in title.brands,
        scrap=TitleMark.SCRAP in marks,
        brands=tuple(one.value.replace("_", " ") for one in title.brands),
    )


def _hand_facts(case: Case) -> HandFacts:
    title = next(iter(_kinds(case, PaperKind.TITLE)), None)
    agrees = None
    if title is not None and title.vin and case.vehicle.vin:
        agrees = compare(case.vehicle.vin, title.vin).result == "same"

    def there(kind: PaperKind) -> bool | None:
        return True if _kinds(case, kind) else None

    return HandFacts(
        title=_title_facts(case),
        original_seen=there(PaperKind.TITLE),
        vin_agrees=agrees,
        brands_read=None if title is None else True,
        power_of_attorney_paper=there(PaperKind.POWER_OF_ATTORNEY),
        lien_release=there(PaperKind.LIEN_RELEASE),
        odometer_due=disclosure_duty(case.vehicle.model_year, case.appraised_on).required,
        odometer_statement=there(PaperKind.ODOMETER_STATEMENT),
        bill_of_sale=there(PaperKind.BILL_OF_SALE),
    )


def _disclosure(case: Case) -> Iterator[Problem]:
    duty = disclosure_duty(case.vehicle.model_year, case.appraised_on)
    if duty.required is None:
        yield Problem("vehicle.model_year", duty.why, "warning", "Look at the car's number again.")
        return
    yield Problem(
        "odometer",
        f"in the United States the mileage is {duty.why} ({duty.section})",
        "note",
        "Check your State / country.",
        law=duty.section,
    )


def _marks(case: Case, lookup: Lookup) -> Iterator[Problem]:
    """Say which marks stand on papers and not on the car as entered, and what each costs."""
    ours = case.vehicle.title_brand
    priced = priced_mark(case, lookup)
    for paper in case.papers:
        if of_another_car(paper, case):
            continue
        for brand in paper.brands:
            if brand not in (TitleBrand.CLEAR, ours):
                so = ""
                if brand is not priced:
                    so = f", and the car is priced as {priced.value.replace('_', ' ')}"
                yield Problem(
                    f"papers.{paper.id}",
                    f"{_named(paper)}: carries the title brand '{brand.value.replace('_', ' ')}': "
                    f"{price_words(brand, lookup.reference)}{so}",
                    "stop" if ours is TitleBrand.CLEAR else "warning",
                    "The price follows the brand that costs most; ask the title office what is on "
                    "record.",
                )


def price_words(brand: TitleBrand, reference: Reference) -> str:
    """Return what a mark does to the price, with the ground that this stands on."""
    value = reference.values[f"brand.{brand.value}"]
    given = value.range
    if given is None:
        raise AppraiseError("has to be a range", where=value.id)
    ground = value.note or value.kind.value
    return (
        f"such a car brings {100 * given.low:.0f} % to {100 * given.high:.0f} % of the price "
        f"with a clear title, most likely {100 * given.likely:.0f} % ({value.kind.value}; {ground})"
    )


def _sums(case: Case) -> Iterator[Problem]:
    for paper in case.papers:
        total, lines = paper.total, paper.lines_total
        complete = paper.lines and all(one.amount is not None for one in paper.lines)
        if total is not None and complete and total != lines:
            yield Problem(
                f"papers.{paper.id}",
                f"{_named(paper)}: the lines come to {lines:,.2f}, the total says {total:,.2f}",
                "warning",
                "Ask which line is missing or was changed.",
            )


def _weak(case: Case, strengths: tuple[Strength, ...]) -> Iterator[Problem]:
    """Say of each claim that proves nothing that it does so, and why."""
    papers = {one.id: one for one in case.papers}
    for one in strengths:
        if one.words in ("nothing", "speaks for the fault"):
            paper = papers[one.paper]
            yield Problem(
                f"papers.{one.paper}",
                f"{_named(paper)}: proves nothing about the repair: {'; '.join(one.reasons)}",
                "note" if paper.kind is PaperKind.OTHER else "warning",
                "Ask for a paid invoice with this car's number, the date and the labor.",
            )
