"""Stops, warnings and law notes: gathered once, the same on the command line, screen and paper."""

from __future__ import annotations

import json
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from appraise import services
from appraise.cli import app
from appraise.errors import Problem
from appraise.models.case import Case
from appraise.models.told import Told
from appraise.reports.bid_page import bid_page
from appraise.reports.wording import sentence
from appraise.services.output.printing import bid_sheet
from appraise.services.output.tables import car_tables
from appraise.services.output.telling import told_of
from appraise.store.cases import SaleRecord

ON = date(2026, 11, 25)
REFERENCE = services.reference_values()
EXAMPLES = {case.id: case for case in services.example_cases()}
CHANGES = ("as it is", "open lien", "another number on the title", "a flood on a paper")


def changed(name: str, change: str) -> Case:
    case = EXAMPLES[name]
    title: dict[str, Any] = {
        "id": "title-seen",
        "kind": "title",
        "in_name": case.deal.seller or "A. Seller",
        "signed": "by_seller",
        "lien": "none_named",
        "vin": case.vehicle.vin,
    }
    more = {
        "as it is": None,
        "open lien": title | {"lien": "open"},
        "another number on the title": title | {"vin": "1M8GDM9AXKP042788"},
        "a flood on a paper": {"id": "sheet", "kind": "other", "brands": ["flood_damage"]},
    }[change]
    papers = [one.model_dump() for one in case.papers]
    return services.changed(case, ("papers",), papers + ([more] if more else []))


def told(case: Case) -> Told:
    return told_of(case, REFERENCE, services.appraise_case(case, REFERENCE), on=ON)


def squeezed(text: str) -> str:
    return "".join(text.replace("\u200b", "").split())


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("name", EXAMPLES)
def test_every_face_shows_the_same_stops_and_laws(name: str, change: str) -> None:
    case = changed(name, change)
    found = told(case)
    appraisal = services.appraise_case(case, REFERENCE)
    text = bid_page(case, appraisal, REFERENCE, found)
    paper = PdfReader(BytesIO(bid_sheet(case, REFERENCE, ON)))
    printed = squeezed("".join(page.extract_text() for page in paper.pages))
    listed = services.bid_summary(appraisal, found)["problems"]

    assert len(paper.pages) == 1
    assert bool(found.stops) is (change != "as it is")
    assert found.laws
    for one in (*found.stops, *found.laws):
        assert sentence(one.words) in text
        assert squeezed(one.message) in printed or squeezed(sentence(one.message)) in printed
        assert one.message in [line["message"] for line in listed]
    assert len(listed) == len(found.everything)


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("name", EXAMPLES)
def test_the_command_prints_stops_first_and_laws_last_a_line_each(
    name: str, change: str, tmp_path: Path
) -> None:
    case = changed(name, change)
    file = tmp_path / "case.json"
    file.write_text(services.case_text(case), encoding="utf-8")
    result = CliRunner().invoke(app, ["bid", str(file)])
    assert result.exit_code == 0, result.output
    lines = result.output.splitlines()
    found = told(case)

    first = lines[2 : 2 + len(found.stops)]
    assert first == [f"! {sentence(one.words)}" for one in found.stops]
    price = next(at for at, line in enumerate(lines) if "WALK-AWAY PRICE" in line or "MOST" in line)
    law = lines.index("LAW")
    assert law > price > 2 + len(found.stops)
    assert lines[law + 1 : law + 1 + len(found.laws)] == [
        f"  {sentence(one.words)}" for one in found.laws
    ]
    assert not any(one.law in line for one in found.laws for line in lines[:price])

    summary = json.loads(CliRunner().invoke(app, ["bid", str(file), "--json"]).output)
    weights = [one["weight"] for one in summary["problems"] if not one["law"]]
    assert weights == sorted(weights, key=["stop", "warning", "note"].index)
    assert [one["law"] for one in summary["problems"]][-len(found.laws) :] == [
        one.law for one in found.laws
    ]


def test_an_open_lien_and_another_number_stop_the_bid() -> None:
    lien = told(changed("dusk-curbside", "open lien")).stops
    number = told(changed("dusk-curbside", "another number on the title")).stops

    assert any("a lien is not released" in one.message for one in lien)
    assert any("may speak of two cars" in one.message for one in number)


def test_each_law_is_told_once_with_every_job_that_it_is_about() -> None:
    """Two emission controls and a safety system: two laws of jobs, and that on the odometer."""
    case = EXAMPLES["dusk-curbside"]
    jobs = ("exhaust.egr_valve", "fuel.purge_valve", "brakes.front_pads")
    known = [one for one in jobs if one in REFERENCE.jobs]
    assert len(known) == len(jobs), set(jobs) - set(known)
    raw = [
        {"id": f"f-{at}", "area": "engine", "state": "faulty", "jobs": [{"job": one}]}
        for at, one in enumerate(jobs)
    ]
    found = told(services.changed(case, ("findings",), raw))

    by_law = {one.law: one.message for one in found.laws}
    assert len(by_law) == len(found.laws) == 3
    emission = by_law["42 U.S.C. 7522(a)(3)"]
    for job in jobs[:2]:
        assert REFERENCE.jobs[job].job.label in emission
    assert REFERENCE.jobs[jobs[2]].job.label in by_law["49 U.S.C. 30122(b)"]


def test_the_law_on_safety_devices_is_told_in_its_own_terms() -> None:
    """49 U.S.C. 30122(b): who may not make a device inoperative; nobody has to put one back."""
    found = {one.law: one for one in told(EXAMPLES["auction-engine-light"]).laws}
    says = found["49 U.S.C. 30122(b)"].message

    for named in ("manufacturer", "distributor", "dealer", "rental company", "repair business"):
        assert named in says
    assert "may not knowingly make one inoperative" in says
    assert "asks nobody to replace one that is gone; State law may" in says


def test_a_car_without_a_price_still_has_its_stops() -> None:
    case = services.changed(changed("dusk-curbside", "open lien"), ("market", "comparables"), [])

    assert told_of(case, REFERENCE, on=ON).stops


def test_papers_that_prove_nothing_are_left_to_the_page_of_papers() -> None:
    case = EXAMPLES["auction-engine-light"]
    estimate = {"id": "quote", "kind": "estimate", "claims": [{"finding": "misfire"}]}
    found = told(services.changed(case, ("papers",), [estimate]))

    assert not any("proves nothing about the repair" in one.message for one in found.everything)


def test_cars_sold_before_count_on_every_face_alike() -> None:
    """16 CFR 455.1(d)(3): after five in twelve months the next one offered is a dealer's."""
    sales = [
        SaleRecord(f"car-{at}", "Car", "sold", {"sold_on": "2026-10-01"}, "2026-09-01", "clear")
        for at in range(5)
    ]
    case = EXAMPLES["dusk-curbside"]
    found = told_of(case, REFERENCE, services.appraise_case(case, REFERENCE), sales, ON)
    paper = PdfReader(BytesIO(bid_sheet(case, REFERENCE, ON, sales)))
    printed = squeezed("".join(page.extract_text() for page in paper.pages))

    (rule,) = [one for one in found.warnings if one.law == "16 CFR 455.1(d)(3)"]
    assert squeezed(rule.message) in printed


def test_what_is_told_is_sorted_and_told_once() -> None:
    note, law = Problem("a", "note", "note"), Problem("b", "law", "note", law="1 U.S.C. 1")
    warning, stop = Problem("c", "warning", law="1 U.S.C. 2"), Problem("d", "stop", "stop")
    found = Told.of([law, note, warning, stop, law, note])

    assert found.everything == (stop, warning, note, law)
    assert found.first == (stop, warning, note)


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("name", EXAMPLES)
def test_the_sheet_of_warnings_has_what_the_other_faces_show(name: str, change: str) -> None:
    case = changed(name, change)
    sales = tuple(
        SaleRecord(f"car-{at}", "Car", "sold", {"sold_on": "2026-10-01"}, "2026-09-01", "clear")
        for at in range(6)
    )
    found = told_of(case, REFERENCE, services.appraise_case(case, REFERENCE), sales, ON)
    tables = car_tables(case, REFERENCE, ON, sales).tables
    (rows,) = [one.rows for one in tables if one.name == "Warnings"]
    shown = [(sentence(one.message), one.hint) for one in found.everything]

    assert [row[1:] for row in rows if row[1:] in shown] == shown
    others = [row[1:] for row in rows if row[1:] not in shown]
    assert not others or case.purchase is not None  # of an owned car also its repair
