"""Contradictions between papers, the title and what must be in hand: what a person is told."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from appraise import services
from appraise.engine.bid.simulation import work_out
from appraise.engine.papers.examined import Examined
from appraise.errors import Problem
from appraise.models.case import Case
from appraise.reference.load import Reference, load_reference
from appraise.services.inspection.paperwork import examine, without_paper

ON = date(2026, 11, 20)
OTHER = "1XXZA05AXKA042788"
VALVE = [{"finding": "misfire", "causes": ["engine.valve_burnt"]}]
TITLE: dict[str, Any] = {
    "kind": "title",
    "vin": "AS1CL5BE6EA104417",
    "in_name": "Ada Quessern",
    "signed": "by_both",
    "signed_to": "Own Name",
    "lien": "none_named",
}
INVOICE: dict[str, Any] = {
    "kind": "invoice",
    "vin": "AS1CL5BE6EA104417",
    "dated": "2026-09-01",
    "issuer": "Corner garage",
    "reach": "555 0100",
    "paid": "card",
    "lines": [
        {"label": "Exhaust valve", "kind": "part", "amount": "48.00"},
        {"label": "Labor", "kind": "labor", "amount": "600.00"},
    ],
    "total": "648.00",
}


@pytest.fixture(scope="module")
def reference() -> Reference:
    return load_reference()


@pytest.fixture(scope="module")
def car() -> Case:
    """Return a car of 2014 with 121,400 mi, its number noted, offered by the owner on the title."""
    case = services.load_case_file("auction-engine-light")
    return services.changed(case, ("deal", "seller"), "Ada Quessern")


def carrying(car: Case, *papers: dict[str, Any]) -> Case:
    rows = [{"id": f"paper-{at}", **one} for at, one in enumerate(papers, 1)]
    return services.changed(car, ("papers",), rows)


@pytest.fixture
def look(car: Case, reference: Reference) -> Any:
    def go(*papers: dict[str, Any]) -> Examined:
        return examine(carrying(car, *papers), reference)

    return go


def about(found: Examined, words: str) -> Problem:
    (one,) = [one for one in found.problems if words in one.words]
    return one


def silent(found: Examined, words: str) -> bool:
    return not [one for one in found.problems if words in one.words]


def hand(found: Examined) -> dict[str, str]:
    return {one.label: one.state for one in found.in_hand}


# --- contradictions -------------------------------------------------------------------------------


def test_the_worst_comes_first_whatever_the_order_of_the_papers(look: Any) -> None:
    sheet = {"kind": "auction_condition_sheet", "brands": ["flood_damage"]}
    papers = (INVOICE | {"total": "900.00"}, INVOICE | {"vin": OTHER}, sheet)

    for rows in (papers, papers[::-1]):
        weights = [one.weight for one in look(*rows).problems]
        assert weights == sorted(weights, key=["stop", "warning", "note"].index)
        assert set(weights) == {"stop", "warning", "note"}


def test_another_cars_number_on_a_paper_is_named_with_the_paper(look: Any) -> None:
    found = about(look(INVOICE | {"vin": OTHER}), "differ at")

    assert found.where == "papers.paper-1"
    assert found.weight == "warning"
    assert "invoice of 2026-09-01" in found.message


@pytest.mark.parametrize("written", ["as1cl5be6ea104417", " AS1CL-5BE6E A104417 "])
def test_the_number_with_spaces_or_in_lower_case_is_the_same(look: Any, written: str) -> None:
    found = look(INVOICE | {"vin": written, "claims": VALVE})

    assert not [one for one in found.problems if one.where == "papers.paper-1"]
    assert [one.words for one in found.strengths] == ["strong"]


def test_a_letter_that_no_number_holds_does_not_make_it_another_cars(look: Any) -> None:
    """49 CFR 565.13(g): I, O and Q never stand in one, so I is a 1 misread."""
    found = look(INVOICE | {"vin": "ASICL5BE6EA104417", "claims": VALVE})

    assert about(found, "I, O and Q").weight == "note"
    assert silent(found, "another car")
    assert [one.words for one in found.strengths] == ["strong"]


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("AS1CL5BE6EA10441", "one lacks 7 at position 17"),
        ("AS1CL5BE6EA1044177", "one lacks 7 at position 18"),
        ("\N{CYRILLIC CAPITAL LETTER A}S1CL5BE6EA104417", "at position 1"),
    ],
)
def test_a_number_too_short_too_long_or_in_other_letters_is_told(
    look: Any, written: str, words: str
) -> None:
    assert about(look(INVOICE | {"vin": written}), words).weight == "warning"


def test_another_plate_is_told_and_the_same_with_other_spaces_is_not(
    car: Case, reference: Reference
) -> None:
    plated = services.changed(car, ("vehicle", "plate"), "KLM 482")

    def one(plate: str) -> Examined:
        return examine(carrying(plated, INVOICE | {"plate": plate}), reference)

    assert about(one("KLM 483"), "carries the plate KLM 483, the car KLM 482").weight == "warning"
    assert silent(one("klm-482"), "plate")


def test_a_car_without_its_number_is_told_so(car: Case, reference: Reference) -> None:
    bare = services.changed(car, ("vehicle", "vin"), "")

    assert about(examine(bare, reference), "number is not noted").weight == "warning"


def test_a_mark_on_a_paper_is_grave_and_told_with_what_it_costs_and_on_what_ground(
    car: Case, reference: Reference
) -> None:
    sheet = carrying(car, {"kind": "auction_condition_sheet", "brands": ["flood_damage"]})
    entered = services.changed(sheet, ("vehicle", "title_brand"), "flood_damage")

    told = about(examine(sheet, reference), "'flood damage'")
    assert told.weight == "stop"
    assert "30 % to 65 % of the price with a clear title, most likely 48 %" in told.message
    assert "common practice" in told.message
    assert silent(examine(entered, reference), "carries the title brand")


def test_the_price_follows_a_mark_on_a_paper(car: Case, reference: Reference) -> None:
    """As if it had been entered on the car; not if the paper is another car's."""
    flood = {"kind": "auction_condition_sheet", "brands": ["flood_damage"]}

    def bid(case: Case) -> Any:
        return services.appraise_case(case, reference).resale.mended.p50

    clear = bid(car)
    entered = bid(services.changed(car, ("vehicle", "title_brand"), "flood_damage"))
    assert entered < Decimal("0.65") * clear
    assert bid(carrying(car, flood)) == entered
    assert bid(carrying(car, flood | {"vin": "1XXZA05AXKA042788"})) == clear


def test_of_two_marks_the_dearer_alone_is_priced(car: Case, reference: Reference) -> None:
    both = {"kind": "title", "brands": ["rebuilt", "flood_damage"]}
    one = {"kind": "title", "brands": ["flood_damage"]}

    def bid(paper: dict[str, Any]) -> Any:
        return services.appraise_case(carrying(car, paper), reference).resale.mended.p50

    assert bid(both) == bid(one)


def test_lines_that_do_not_add_up_are_told_with_both_sums(look: Any) -> None:
    found = about(look(INVOICE | {"total": "648.01"}), "the lines come to")

    assert "648.00, the total says 648.01" in found.message
    assert silent(look(INVOICE), "the lines come to")


def test_lines_without_every_amount_are_not_held_against_the_total(look: Any) -> None:
    lines = [*INVOICE["lines"], {"label": "Sundries", "kind": "other"}]

    assert silent(look(INVOICE | {"lines": lines, "total": "700.00"}), "the lines come to")


def test_a_slip_and_an_estimate_are_said_to_prove_nothing_with_the_reason(look: Any) -> None:
    slip = {"kind": "core_return_slip", "claims": VALVE}
    found = look(slip, INVOICE | {"kind": "estimate", "claims": VALVE})

    assert "no proof that a new one was fitted" in about(found, "core return slip: ").message
    assert "nobody says it was repaired" in about(found, "estimate of 2026-09-01: ").message
    assert silent(look(INVOICE | {"claims": VALVE}), "proves nothing")


def test_a_paper_taken_out_leaves_the_others(car: Case) -> None:
    both = carrying(car, TITLE, INVOICE)

    assert [one.id for one in without_paper(both, "paper-1").papers] == ["paper-2"]
    assert without_paper(both, "paper-9") == both


# --- the odometer over the papers -----------------------------------------------------------------


def reads(value: str, unit: str = "mi", dated: str = "2025-09-01") -> dict[str, Any]:
    paper = {"kind": "inspection_certificate", "dated": dated}
    return paper | {"odometer": {"value": value, "unit": unit}}


def test_a_paper_with_more_than_the_car_is_a_fall(look: Any) -> None:
    """No other unit explains it: 140,000 km would be 34,000 mi too few ten days before."""
    found = about(look(reads("140000", dated="2026-11-10")), "fell by")

    assert "140,000 mi on 2026-11-10" in found.message
    assert "turned back" in found.message
    assert found.weight == "warning"


def test_the_wrong_unit_is_proposed_before_anything_worse(look: Any) -> None:
    """195,000 km are 121,167 mi: no fall at all, if km were written as mi."""
    found = about(look(reads("195000")), "fell by")

    assert "in the other unit" in found.message
    assert "turned back" not in found.message


def test_kilometers_on_a_paper_are_compared_as_kilometers(look: Any) -> None:
    assert silent(look(reads("195000", "km")), "fell by")


def test_tenths_on_a_paper_are_not_carried_on(look: Any) -> None:
    """49 CFR 580.5(c)(1): a reading goes without tenths."""
    found = look(reads("121400.9", dated="2026-11-01"))

    assert silent(found, "fell by")
    assert "121,400 mi on 2026-11-01" in found.odometer.readings[0].words


def test_a_paper_dated_ahead_is_told_and_left_out(look: Any) -> None:
    found = look(reads("121000", dated="2027-01-01"))

    assert "after 2026-11-20" in about(found, "2027-01-01").message
    assert [one.source for one in found.odometer.readings] == ["the car itself"]


@pytest.mark.parametrize(
    ("model_year", "on", "due"),
    [
        (2010, date(2019, 12, 31), True),
        (2010, date(2020, 1, 1), False),
        (2011, date(2030, 12, 31), True),
        (2011, date(2031, 1, 1), False),
        (2014, ON, True),
    ],
)
def test_whether_the_mileage_is_to_be_disclosed_hangs_on_model_year_and_day(
    car: Case, reference: Reference, model_year: int, on: date, *, due: bool
) -> None:
    """49 CFR 580.17(a)(3), (4); the published examples are 2020 for 2010 and 2031 for 2011."""
    aged = services.changed(carrying(car), ("vehicle", "model_year"), model_year)
    found = examine(services.changed(aged, ("appraised_on",), on), reference)

    assert ("Odometer statement, complete" in hand(found)) is due
    word = "to be disclosed" if due else "exempt"
    assert about(found, "in the United States the mileage").message.count(word) == 1


def test_a_model_year_that_cannot_be_is_told_and_not_refused(
    car: Case, reference: Reference
) -> None:
    ahead = services.changed(carrying(car), ("vehicle", "model_year"), 2030)

    told = [one.message for one in examine(ahead, reference).problems]
    assert any(one.startswith("2030 is no model year on 2026-11-20") for one in told)


def test_a_reading_without_a_date_is_left_out_with_a_word(look: Any) -> None:
    found = look({"kind": "invoice", "odometer": {"value": 300_000, "unit": "mi"}})

    assert "300,000 mi and no date" in about(found, "left out of the odometer").message
    assert [one.source for one in found.odometer.readings] == ["the car itself"]


def test_a_mark_other_than_the_cars_own_is_told(car: Case, reference: Reference) -> None:
    marked = services.changed(car, ("vehicle", "title_brand"), "flood_damage")
    sheet = {"kind": "auction_condition_sheet", "brands": ["rebuilt"]}

    told = about(examine(carrying(marked, sheet), reference), "priced as flood damage")
    assert told.weight == "warning"


# --- the title ------------------------------------------------------------------------------------


def test_the_owners_own_signed_title_without_lien_raises_nothing(look: Any) -> None:
    found = look(TITLE)

    assert not [one for one in found.problems if one.where.startswith("title")]
    assert hand(found)["Seller's right to sign"] == "done"


@pytest.mark.parametrize(
    ("changes", "words", "weight"),
    [
        ({"in_name": "Bo Quorlind"}, "neither named owner nor holds a power", "stop"),
        ({"in_name": ""}, "no owner's name is read", "stop"),
        ({"signed": "unsigned"}, "not signed over", "warning"),
        (
            {"signed": "by_seller_no_buyer_named", "signed_to": ""},
            "signed open: signed over with no buyer named",
            "warning",
        ),
        ({"signed": "not_said"}, "whether it is signed over is not seen", "note"),
        ({"lien": "open"}, "a lien is not released", "stop"),
        ({"lien": "not_said"}, "whether a lender has a claim is not seen", "note"),
        ({"title_marks": ["duplicate"]}, "a duplicate", "warning"),
        ({"title_marks": ["bonded"]}, "bonded: ownership was not proved", "warning"),
        ({"title_marks": ["export_only"]}, "export only", "stop"),
        ({"title_marks": ["parts_only"]}, "parts only", "stop"),
        ({"title_marks": ["scrap"]}, "scrap: a junk automobile", "stop"),
        (
            {"in_name": "Ada Quessern and Bo Quorlind"},
            '2 owners: joined by "and", all sign',
            "warning",
        ),
    ],
)
def test_what_is_amiss_with_a_title_is_told_by_its_weight(
    look: Any, changes: dict[str, Any], words: str, weight: str
) -> None:
    """49 CFR 580.5(c), (f); 49 U.S.C. 30501(4); the rest is common practice."""
    assert about(look(TITLE | changes), words).weight == weight


def test_a_fault_of_the_title_is_placed_by_its_field(look: Any) -> None:
    assert about(look(TITLE | {"lien": "open"}), "a lien is not released").where == "title.lien"


@pytest.mark.parametrize("name", ["Ada Quessern or Bo Quorlind", "ADA QUESSERN OR BO QUORLIND"])
def test_one_of_two_owners_joined_by_or_may_sell(look: Any, name: str) -> None:
    found = look(TITLE | {"in_name": name})

    assert not [one for one in found.problems if one.where.startswith("title")]


def test_an_open_lien_is_settled_by_the_lenders_release_for_this_car(look: Any) -> None:
    release = {"kind": "lien_release", "vin": TITLE["vin"]}
    before, after = look(TITLE | {"lien": "open"}), look(TITLE | {"lien": "open"}, release)

    assert hand(before)["Release of every lien"] == "open"
    assert hand(after)["Release of every lien"] == "done"
    assert silent(after, "a lien is not released")


def test_a_release_for_another_car_settles_no_lien(look: Any) -> None:
    found = look(TITLE | {"lien": "open"}, {"kind": "lien_release", "vin": OTHER})

    assert about(found, "a lien is not released").weight == "stop"
    assert hand(found)["Release of every lien"] == "open"


def test_a_seller_with_a_power_of_attorney_may_sign_for_the_owner(look: Any) -> None:
    """49 CFR 580.13, 580.14."""
    stranger, power = TITLE | {"in_name": "Bo Quorlind"}, {"kind": "power_of_attorney"}

    assert hand(look(stranger))["Seller's right to sign"] == "open"
    assert hand(look(stranger, power))["Seller's right to sign"] == "done"
    assert about(look(stranger, power), "signs by a power of attorney").weight == "note"


# --- in hand --------------------------------------------------------------------------------------


def test_the_list_ticks_itself_off_as_the_papers_come(look: Any) -> None:
    steps = {
        "Title, the original": TITLE,
        "Odometer statement, complete": {"kind": "odometer_statement"},
        "Bill of sale": {"kind": "bill_of_sale"},
    }
    papers: list[dict[str, Any]] = []
    assert set(hand(look()).values()) == {"open"}
    for label, paper in steps.items():
        assert hand(look(*papers))[label] == "open"
        papers.append(paper)
        assert hand(look(*papers))[label] == "done"


def test_what_no_paper_shows_stays_open_and_a_lien_that_is_none_is_not_asked_for(look: Any) -> None:
    found = hand(look(TITLE, {"kind": "odometer_statement"}, {"kind": "bill_of_sale"}))

    assert {label for label, state in found.items() if state == "open"} == {
        "Seller's identity document",
        "Not reported stolen",
    }
    assert "Release of every lien" not in found


def test_a_title_with_another_number_does_not_agree(look: Any) -> None:
    assert hand(look(TITLE))["Identification number agrees"] == "done"
    assert hand(look(TITLE | {"vin": OTHER}))["Identification number agrees"] == "open"


# --- the examples ---------------------------------------------------------------------------------


def most_paid(case: Case, reference: Reference) -> float:
    """Return what the car may cost at most, before it is brought down to a round step."""
    return work_out(case, reference).budget


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [("auction-engine-light", 2, 60), ("hybrid-battery-light", 200, 500)],
)
def test_a_paid_invoice_moves_the_bid_by_what_it_leaves_of_the_causes(
    reference: Reference, name: str, least: int, most: int
) -> None:
    """One that rules out a cheap fault pays a little; one that rules out a dear one pays."""
    case = services.load_case_file(name)
    assert case.papers

    gain = most_paid(case, reference) - most_paid(carrying(case), reference)
    assert least <= gain <= most
