"""The page of the papers as text: its order, its marks, and what a person typed on one line."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from appraise import services
from appraise.engine.papers.evidence import Strength
from appraise.engine.papers.examined import Examined
from appraise.engine.papers.odometer import History, Reading
from appraise.engine.papers.title import Item
from appraise.errors import Problem
from appraise.models.case import Case
from appraise.models.papers import Claim
from appraise.reports.papers_page import papers_page


@pytest.fixture(scope="module")
def car() -> Case:
    case = services.load_case_file("auction-engine-light")
    paper = {"id": "slip", "kind": "core_return_slip", "dated": "2026-08-14", "issuer": "Yard"}
    return services.changed(case, ("papers",), [paper, {"id": "bare", "kind": "title"}])


def page(car: Case, **given: Any) -> list[str]:
    strength = Strength("slip", Claim(finding="misfire"), 0.95, ("a slip", "it names no car"))
    parts: dict[str, Any] = {
        "strengths": (strength,),
        "readings": (Reading(date(2026, 11, 20), Decimal("121400.9"), "mi", "the car itself"),),
        "problems": (Problem("papers.slip", "is odd", "stop", "Ask."), Problem("a", "so", "note")),
        "in_hand": (Item("Bill of sale", "done", ""), Item("Title, the original", "open", "")),
    }
    odometer = History(parts.pop("readings"), ())
    return papers_page(car, Examined(odometer=odometer, **{**parts, **given})).splitlines()


def test_a_mark_stands_before_what_is_amiss_and_a_dash_before_a_note(car: Case) -> None:
    lines = page(car)

    assert lines[0] == f"{car.title}: 2 papers"
    assert lines[1].startswith("! ")
    assert "is odd" in lines[1]
    assert lines[2].startswith("- ")


def test_a_claim_stands_under_its_paper_with_the_label_of_its_finding_and_reasons(
    car: Case,
) -> None:
    lines = page(car)
    at = lines.index("core return slip, 2026-08-14, Yard")

    assert lines[at + 1] == (
        "  on Cylinder 2 misfires: P0302 stored: speaks for the fault (factor 0.9)"
    )
    assert lines[at + 2] == "    a slip; it names no car"


def test_a_paper_that_speaks_to_nothing_is_said_to(car: Case) -> None:
    lines = page(car)

    assert lines[lines.index("title") + 1] == "  speaks to no finding"


def test_what_is_in_hand_is_ticked_and_a_reading_has_no_tenths(car: Case) -> None:
    """49 CFR 580.5(c)(1): without tenths."""
    lines = page(car)

    assert "  [x] Bill of sale" in lines
    assert "  [ ] Title, the original" in lines
    assert lines[-1] == "  121,400 mi on 2026-11-20, the car itself"


def test_no_words_of_a_problem_can_make_a_line_of_their_own(car: Case) -> None:
    sly = Problem("papers.slip", "one\n  [x] Title, the original\x1b[31m", "warning")
    lines = page(car, problems=(sly,), in_hand=())

    assert "  [x] Title, the original" not in lines
    assert all(line.isprintable() for line in lines)


def test_a_finding_without_words_is_called_by_its_area_and_never_by_its_id(car: Case) -> None:
    raw = [{**one.model_dump(), "label": ""} for one in car.findings]
    lines = page(services.changed(car, ("findings",), raw))

    assert any(one.startswith("  on Engine: ") for one in lines)
    assert not any("misfire" in one for one in lines)
