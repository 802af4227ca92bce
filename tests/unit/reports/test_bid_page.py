"""The bid on one page: chances in words, warnings first, every figure that of the appraisal."""

from __future__ import annotations

import re

import pytest

from appraise import services
from appraise.errors import Problem
from appraise.models.appraisal import Appraisal
from appraise.models.case import Case
from appraise.models.told import Told
from appraise.reference.load import Reference
from appraise.reports.bid_page import WIDTH, bid_page
from appraise.reports.wording import chance_words, search_words, sentence

REFERENCE = services.reference_values()
EXAMPLES = {case.id: case for case in services.example_cases()}


def page_of(case: Case, appraisal: Appraisal, reference: Reference = REFERENCE) -> list[str]:
    return bid_page(case, appraisal, reference, Told.of(appraisal.problems)).splitlines()


def worked(name: str) -> tuple[Case, Appraisal]:
    case = EXAMPLES[name]
    return case, services.appraise_case(case, REFERENCE)


@pytest.mark.parametrize("name", EXAMPLES)
def test_warnings_stand_before_the_price_and_notes_after_them(name: str) -> None:
    case, appraisal = worked(name)
    told = (
        Problem("a", "Note first in the list.", "note"),
        Problem("b", "Warned.", "warning", "Do this."),
        Problem("c", "Stopped.", "stop"),
    )
    lines = page_of(case, appraisal.model_copy(update={"problems": told}))

    heads = ("WALK-AWAY PRICE", "MOST IT WAS WORTH PAYING")
    price = next(at for at, line in enumerate(lines) if line.startswith(heads))
    shown = [line for line in lines[:price] if line[:2] in ("! ", "- ")]
    assert [line[:2] for line in shown] == ["! ", "! ", "- "]
    assert "Stopped." in shown[0]
    assert "Warned. Do this." in shown[1]
    assert "Note first" in shown[2]


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_problem_of_an_example_is_on_its_page(name: str) -> None:
    case, appraisal = worked(name)
    text = "\n".join(page_of(case, appraisal))

    for problem in appraisal.problems:
        assert sentence(problem.message) in text


def test_a_message_ends_before_its_hint_begins() -> None:
    """Two sentences, not one that runs on."""
    case, appraisal = worked("dusk-curbside")
    told = (Problem("a", "nothing was entered", "warning", "Enter something."),)
    text = "\n".join(page_of(case, appraisal.model_copy(update={"problems": told})))

    assert "entered Enter" not in text
    assert "Enter something." in text


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_figures_of_the_page_are_those_of_the_appraisal(name: str) -> None:
    case, appraisal = worked(name)
    text = "\n".join(page_of(case, appraisal))
    outcome = appraisal.outcome
    assert outcome is not None

    price = appraisal.walk_away_price
    shown = "no bid works" if price is None else f"{price:,} {case.currency}"
    head = "WALK-AWAY PRICE" if case.purchase is None else "MOST IT WAS WORTH PAYING"
    assert f"{head}: {shown}\n" in text
    assert f"AT THE {appraisal.judged.upper()} OF {outcome.bid:,.0f} {case.currency}" in text
    for label, given in (
        ("profit (your time paid)", outcome.margin),
        ("parts, tools, shop", appraisal.repair.money),
        ("price after repair", appraisal.resale.mended),
        ("price as is", appraisal.resale.as_it_stands),
    ):
        row = rf"  {re.escape(label)} +{given.p50:,.0f} +\({given.p10:,.0f} to {given.p90:,.0f}\)"
        assert re.search(row, text), label
    assert f"chance of losing money: {chance_words(outcome.chance_of_loss)};" in text
    assert f"reaching the target: {chance_words(outcome.chance_of_target)}\n" in text
    assert f"repeat number {appraisal.seed}" in text
    assert f"{100 * appraisal.unsourced_share:.0f} %" in text


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_page_says_that_it_is_an_estimate(name: str) -> None:
    assert page_of(*worked(name))[-1].startswith("An estimate, not advice")


def test_a_page_without_a_price_to_judge_still_holds_the_repair_and_the_sale() -> None:
    case, appraisal = worked("premium-overheats")
    text = "\n".join(page_of(case, appraisal.model_copy(update={"outcome": None})))

    assert "AT THE" not in text
    assert "WALK-AWAY PRICE: no bid works" in text
    for part in ("REPAIR", "SALE", "WHAT MAKES IT UNCERTAIN"):
        assert f"\n{part}" in text


@pytest.mark.parametrize("name", EXAMPLES)
def test_rows_of_figures_fit_a_terminal_of_80_columns(name: str) -> None:
    rows = [line for line in page_of(*worked(name)) if re.match(r"  .*\(.* to .*\)$", line)]

    assert len(rows) >= 8
    assert all(len(row) <= WIDTH for row in rows)


def test_what_finding_the_faults_takes_is_one_line_of_the_repair() -> None:
    bare = EXAMPLES["dusk-curbside"].model_copy(update={"findings": (), "papers": ()})
    signed = services.finding_from_symptom(bare, "cooling.runs_hot", REFERENCE)
    found = services.appraise_case(signed, REFERENCE)
    took = found.repair.search_minutes, found.repair.search_money

    assert took[0] > 0
    assert f"  {search_words(*took, signed.currency)}" in page_of(signed, found)
    nothing = services.appraise_case(bare, REFERENCE)
    assert not any("Finding the faults" in line for line in page_of(bare, nothing))
