"""What the papers of a car prove and where they contradict each other, the worst first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from appraise.engine.claims import Strength, strength_of
from appraise.engine.lookup import Lookup
from appraise.engine.odometer import History, Reading, history
from appraise.engine.vin import read_vin
from appraise.engine.vin_pair import compare
from appraise.errors import Problem
from appraise.models.case import Case
from appraise.models.papers import Paper, PaperKind
from appraise.models.vehicle import TitleBrand
from appraise.reference.load import Reference
from appraise.services.editing import changed

__all__ = ["Examined", "examine", "without_paper"]

ORDER = {"stop": 0, "warning": 1, "note": 2}
TENTHS = 1


@dataclass(frozen=True, slots=True)
class Examined:
    """Everything that the papers of a case say.

    Attributes
    ----------
    strengths : each claim of each paper with how strongly it stands.
    odometer : the readings of all papers and of the car itself, with what is odd about them.
    problems : contradictions and what is amiss, the worst first.
    """

    strengths: tuple[Strength, ...]
    odometer: History
    problems: tuple[Problem, ...]


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
    readings = history(_readings(case), case.appraised_on, model_year=case.vehicle.model_year)
    problems = [
        *_identity(case),
        *(one.problem for one in readings.signs),
        *_marks(case),
        *_sums(case),
        *_weak(case, strengths),
    ]
    problems.sort(key=lambda one: ORDER[one.weight])
    return Examined(strengths, readings, tuple(problems))


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
                yield Problem(
                    f"papers.{paper.id}", f"{_named(paper)}: {one.message}", one.weight, one.hint
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


def _marks(case: Case) -> Iterator[Problem]:
    """Say which marks stand on papers and not on the car as entered."""
    for paper in case.papers:
        for brand in paper.brands:
            if brand is not TitleBrand.CLEAR and case.vehicle.title_brand is TitleBrand.CLEAR:
                yield Problem(
                    f"papers.{paper.id}",
                    f"{_named(paper)}: carries the mark '{brand.value.replace('_', ' ')}', and the "
                    "car is priced as clear",
                    "stop",
                    "Enter the mark on the car itself, so that the price follows.",
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
                "Ask for a paid invoice with this car's number, the date and the labour.",
            )
